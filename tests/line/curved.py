"""Drawings with arcs whose truth is known, seeded: what the search for arcs is measured by."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Part = tuple[str, float] | tuple[str, float, float]
FINE_M = 0.1


def traced(parts: list[Part], *, step_m: float, sigma_m: float, rng: np.random.Generator) -> Floats:
    """A path as traced: straights ("s", metres), corners ("t", radians), arcs ("a", radius right positive, radians).

    A vertex every `step_m`, ± 20 %, each off by normal noise in east and in north; the first and the last are drawn.
    """
    path = true_path(parts)
    steps = rng.uniform(0.8, 1.2, int(2.0 * len(path) * FINE_M / step_m) + 2) * step_m / FINE_M
    pick = np.concatenate([[0.0], np.cumsum(steps)])
    pick = pick[pick < len(path) - 0.6 * step_m / FINE_M].astype(int)
    points = path[np.append(pick, len(path) - 1)]
    return points + rng.normal(0.0, sigma_m, points.shape)


def true_path(parts: list[Part]) -> Floats:
    """Points every 10 cm along the path, from (0, 0) north."""
    place, heading, path = np.zeros(2), 0.0, [np.zeros((1, 2))]
    for kind, first, *rest in parts:
        if kind == "t":
            heading += first
            continue
        length, turn = (first, 0.0) if kind == "s" else (abs(first) * rest[0], float(np.copysign(rest[0], first)))
        count = max(1, round(length / FINE_M))
        ahead = heading + turn * (np.arange(count) + 0.5) / count
        track = place + length / count * np.cumsum(np.column_stack([np.sin(ahead), np.cos(ahead)]), axis=0)
        path.append(track)
        place, heading = track[-1], heading + turn
    return np.vstack(path)


def road(rng: np.random.Generator) -> list[Part]:
    """A frontage: straight, a curve of 60 to 300 m radius either way, straight."""
    radius = float(rng.uniform(60.0, 300.0) * rng.choice([-1.0, 1.0]))
    ends = rng.uniform(80, 300, 2)
    return [("s", float(ends[0])), ("a", radius, float(rng.uniform(0.5, 1.5))), ("s", float(ends[1]))]


def arena(rng: np.random.Generator) -> list[Part]:
    """A loop of two straights and two half circles; the last step closes it."""
    length, radius = float(rng.uniform(40, 80)), float(rng.uniform(15, 30))
    return [("s", length), ("a", radius, np.pi), ("s", length), ("a", radius, np.pi - 0.1)]


def yard(rng: np.random.Generator) -> list[Part]:
    """A circle; the last step closes it."""
    return [("a", float(rng.uniform(8, 30)), 2.0 * np.pi - 0.15)]


def corner_and_curve(rng: np.random.Generator) -> list[Part]:
    """Straight, a corner, a curve that begins there, straight."""
    turn = float(rng.uniform(0.5, 1.2) * rng.choice([-1.0, 1.0]))
    return [("s", 150.0), ("t", turn), ("a", float(rng.uniform(60, 200)), float(rng.uniform(0.8, 1.5))), ("s", 150.0)]


# name, parts, closed, what it is made of (of a loop in any order that comes round), joints that are corners
SHAPES = {
    "road": (road, False, ["straight", "arc", "straight"], 0),
    "arena": (arena, True, ["straight", "arc", "straight", "arc"], 0),
    "yard": (yard, True, ["arc", "arc"], 0),
    "corner and curve": (corner_and_curve, False, ["straight", "arc", "straight"], 1),
}

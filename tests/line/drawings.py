"""Drawings whose truth is known, seeded: what the search for runs and corners is measured by.

A true line has 3–9 legs of 80–600 m and bends of 8–120° either way, and does not cross itself; it is drawn in one of
three ways, each vertex off by normal noise in east and in north. A loop of three legs would need three bends of exactly
120°, so loops have four legs or more.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int_]

KINDS = ("sparse", "mixed", "dense")
SIGMAS_M = (0.3, 0.7, 1.5)
LEGS = (3, 9)
LEG_M = (80.0, 600.0)
BEND_DEG = (8.0, 120.0)
CLICKS_A_LEG, FREE_END = 1.0, 0.1  # Poisson; no stray click nearer an end than a tenth of the leg
STEP_M, IRREGULAR = (3.0, 20.0), 0.2  # of a trace


@dataclass(frozen=True, eq=False)
class Drawing:
    """`corners` (k, 2) are true, an open line's ends included; of a loop the first is not repeated.

    `points` (n, 2) are as drawn; vertex i was meant `share[i]` of the way along leg `leg[i]`: on a corner if that is
    0 or 1.
    """

    corners: Floats
    closed: bool
    points: Floats
    leg: Whole
    share: Floats

    @property
    def legs(self) -> tuple[Floats, Floats]:
        """Where each leg begins and ends."""
        begin = self.corners if self.closed else self.corners[:-1]
        return begin, np.roll(self.corners, -1, axis=0)[: len(begin)]

    @property
    def leg_m(self) -> Floats:
        begin, end = self.legs
        return np.hypot(*(end - begin).T)

    @property
    def on_corner(self) -> Whole:
        """Which corner each vertex was clicked on, −1 for none."""
        return np.where(self.share == 0.0, self.leg, np.where(self.share == 1.0, self.leg + 1, -1))

    @property
    def bends(self) -> Whole:
        """Which corners are bends: all but an open line's ends."""
        return np.arange(len(self.corners)) if self.closed else np.arange(1, len(self.corners) - 1)


def drawing(kind: str, *, sigma_m: float, closed: bool, seed: int) -> Drawing:
    """Return drawing number `seed` of a cell: of this kind, noise and shape."""
    rng = np.random.default_rng([seed, KINDS.index(kind), round(1000 * sigma_m), int(closed)])
    corners = loop(rng) if closed else open_line(rng)
    steps = np.diff(np.vstack([corners, corners[:1]]) if closed else corners, axis=0)
    length = np.hypot(*steps.T)
    leg, share = traced(length, closed, rng) if kind == "dense" else clicked(length, closed, kind == "mixed", rng)
    if closed:  # a loop may be begun anywhere
        first = int(rng.integers(len(leg)))
        leg, share = np.roll(leg, -first), np.roll(share, -first)
    true = corners[leg] + share[:, None] * steps[leg]
    return Drawing(corners, closed, true + rng.normal(0.0, sigma_m, true.shape), leg, share)


def open_line(rng: np.random.Generator) -> Floats:
    legs = int(rng.integers(LEGS[0], LEGS[1] + 1))
    while True:
        corners = np.vstack(
            [[0.0, 0.0], np.cumsum(rng.uniform(*LEG_M, (legs, 1)) * ahead(bends(legs - 1, rng)), axis=0)]
        )
        if shapely.linestrings(corners).is_simple:
            return corners


def loop(rng: np.random.Generator) -> Floats:
    """All but one bend and two lengths are drawn; those follow from closing, and must lie within the same limits."""
    legs = int(rng.integers(LEGS[0] + 1, LEGS[1] + 1))
    while True:
        turn = bends(legs - 1, rng)
        last = np.array([360.0, -360.0]) - turn.sum()
        if not ((np.abs(last) >= BEND_DEG[0]) & (np.abs(last) <= BEND_DEG[1])).any():
            continue
        unit = ahead(turn)
        free = rng.uniform(*LEG_M, legs - 2)
        closing = np.linalg.solve(unit[-2:].T, -(free @ unit[:-2]))
        if (closing < LEG_M[0]).any() or (closing > LEG_M[1]).any():
            continue
        corners = np.cumsum(np.append(free, closing)[:, None] * unit, axis=0)
        if shapely.linearrings(corners).is_simple:
            return corners


def bends(count: int, rng: np.random.Generator) -> Floats:
    return rng.uniform(*BEND_DEG, count) * rng.choice([-1.0, 1.0], count)


def ahead(turn_deg: Floats) -> Floats:
    """Unit vectors of legs that bend by these turns."""
    heading = np.radians(np.concatenate([[0.0], np.cumsum(turn_deg)]))
    return np.column_stack([np.sin(heading), np.cos(heading)])


def clicked(length: Floats, closed: bool, stray: bool, rng: np.random.Generator) -> tuple[Whole, Floats]:
    """A vertex on each corner, and stray clicks between."""
    leg, share = [], []
    for place in range(len(length)):
        between = np.sort(rng.uniform(FREE_END, 1.0 - FREE_END, rng.poisson(CLICKS_A_LEG) if stray else 0))
        leg += [place] * (1 + len(between))
        share += [0.0, *between]
    if not closed:
        leg.append(len(length) - 1)
        share.append(1.0)
    return np.array(leg), np.array(share)


def traced(length: Floats, closed: bool, rng: np.random.Generator) -> tuple[Whole, Floats]:
    """A vertex every so many metres, its step that much irregular; an open line's ends are drawn, no corner is."""
    corner_m = np.concatenate([[0.0], np.cumsum(length)])
    step = rng.uniform(*STEP_M)
    steps = step * rng.uniform(1.0 - IRREGULAR, 1.0 + IRREGULAR, int(corner_m[-1] / step / (1.0 - IRREGULAR)) + 1)
    places = np.cumsum(steps)
    if closed:
        places = places[places <= corner_m[-1]] - steps[0] * rng.random()
    else:
        places = np.concatenate([[0.0], places[places < corner_m[-1]], corner_m[-1:]])
    leg = np.clip(np.searchsorted(corner_m, places, side="right") - 1, 0, len(length) - 1)
    share = (places - corner_m[leg]) / length[leg]
    if not closed:
        share[-1] = 1.0
    return leg, share

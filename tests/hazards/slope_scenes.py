"""Random scenes of rough, tilted ground, and a plain twin that fits a plane at every half metre by least squares.

Agreement is asked for outside a quarter of a degree of the level at which a fall, or the steepest ground, is flagged; a
flagged stretch begins and ends within the spacing of places, 2 m, and the twin's own step.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import SimpleNamespace
from typing import TYPE_CHECKING

import numpy as np

from fencegis.hazards.found import Scene
from fencegis.hazards.side_slope import side_slope
from fencegis.hazards.slope_limits import limits_of
from fencegis.line.chainage import Line
from fencegis.records.spec import Spec

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt
    import pandas as pd

    Floats = npt.NDArray[np.float64]
    Ground = Callable[[Floats], Floats]

OVER_DEG, STEP_M, SPACING_M = 0.25, 0.5, 2.0
OWN = {  # a machine weighed and taped: the driver of the catalogue's row in front
    "track_m": 1.30,
    "wheelbase_m": 1.80,
    "pivot_m": 0.45,
    "mass_kg": 1300.0,
    "ahead_m": 0.80,
    "height_m": 0.65,
    "driver_kg": 450.0,
    "driver_ahead_m": 2.50,
    "driver_height_m": 1.80,
}


@dataclass(frozen=True)
class Slope:
    """A line of four legs over a plane with five waves on it."""

    line: Line
    ground: Ground
    spec: Spec


@dataclass(frozen=True)
class Compared:
    """Places of one scene: how many are over, how many of those are missed, and flags that no place asks for."""

    near: int
    missed: int
    wrong: int


def scene(seed: int) -> Slope:
    """Return a seeded scene."""
    draw = np.random.default_rng(seed)
    waves = [
        (draw.uniform(-1, 1, 2) / draw.uniform(6.0, 25.0), draw.uniform(0, 6), draw.uniform(0.2, 1.5)) for _ in range(5)
    ]
    tilt = draw.uniform(-0.1, 0.1, 2)

    def level(points: Floats) -> Floats:
        return np.asarray(points @ tilt + sum(size * np.sin(points @ wave + lag) for wave, lag, size in waves))

    corners = np.cumsum([[0.0, 0.0], *draw.uniform([20.0, -40.0], [60.0, 40.0], (4, 2))], axis=0)
    line = Line("A", closed=False, corners=corners)
    return Slope(line, level, Spec.model_validate({"elevation": {"vertical_error_m": 0.05}, "machine": OWN}))


def hazards_of(one: Slope) -> pd.DataFrame:
    """Return what is flagged of a scene, by the program."""
    site = SimpleNamespace(spec=one.spec, terrain=SimpleNamespace(cell_m=1.0))
    return side_slope(Scene([SimpleNamespace(line=one.line)], site, one.ground)).hazards


def twin(line: Line, ground: Ground, spec: Spec, step_m: float) -> list[tuple[float, float]]:
    """Return chainages with by how much each is over what flags it, both sides, run by run, in degrees."""
    limits = limits_of(spec)
    level_deg = min(8.0, limits.first_tip_deg / 2.0)
    places = []
    for begin, end, start_m in zip(line.corners[:-1], line.corners[1:], line.run_m[:-1], strict=True):
        length_m = math.dist(begin, end)
        ahead = (end - begin) / length_m
        right = np.array([ahead[1], -ahead[0]])
        for at_m in np.linspace(0.0, length_m, math.ceil(length_m / step_m) + 1):
            over_deg = -math.inf
            for off_m in (-2.0, 2.0):
                u, v = (grid.ravel() for grid in np.meshgrid(*[np.linspace(-4.0, 4.0, 5)] * 2))
                points = begin + at_m * ahead + off_m * right + u[:, None] * ahead + v[:, None] * right
                (_, up, over), rest, *_ = np.linalg.lstsq(
                    np.column_stack([np.ones(25), u, v]), ground(points), rcond=None
                )
                error = 0.114 * max(spec.elevation.vertical_error_m, math.sqrt(rest[0] / 22.0))
                fall_deg = math.degrees(math.atan(abs(over)) + 2.0 * error / (1.0 + over**2))
                steep = math.hypot(up, over)
                steep_deg = math.degrees(math.atan(steep) + 2.0 * error / (1.0 + steep**2))
                tips_deg = limits.tips_deg(ahead=np.array([up]), right=np.array([over]))[0]
                over_deg = max(over_deg, fall_deg - level_deg, steep_deg - tips_deg / 2.0)
            places.append((start_m + at_m, over_deg))
    return places


def compared(one: Slope, hazards: pd.DataFrame) -> Compared:
    """Hold what was flagged against the twin."""
    flags = hazards[["from_m", "to_m"]].to_numpy()
    places = twin(one.line, one.ground, one.spec, STEP_M)
    over = np.array([at_m for at_m, over_deg in places if over_deg > OVER_DEG])
    near = np.array([at_m for at_m, over_deg in places if over_deg > -OVER_DEG])
    held = [((flags[:, 0] <= at_m + 1e-6) & (flags[:, 1] >= at_m - 1e-6)).any() for at_m in over]
    idle = [not ((near >= start_m) & (near <= end_m)).any() for start_m, end_m in flags]
    loose = [float(np.abs(near - end_m).min(initial=np.inf)) > SPACING_M + STEP_M for end_m in flags.ravel()]
    return Compared(len(over), len(over) - int(sum(held)), int(sum(idle)) + int(sum(loose)))

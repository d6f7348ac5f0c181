"""Random scenes of one tree or stand, and a plain twin that tries every station, point of the disc and of the crown.

The twin's steps: stations 0.2 m and the line's end, disc 0.12 m with its rim every 0.05 m; of the crown its rim every
0.03 m and every point of the disc that lies under it. Two standard errors of a limb's height come off, as they do in
the program whatever the site says. Agreement is asked for outside 20 mm of the distance asked for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import shapely

from fencegis.hazards.limbs import limbs
from fencegis.line.chainage import Line, points_at
from fencegis.records.spec import Spec

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt
    import pandas as pd

    Floats = npt.NDArray[np.float64]
    Ground = Callable[[Floats], Floats]

NEAR_M, STATION_M, REQUIRED_M, LIMB_OFF_M = 0.02, 0.2, 0.5, 2.0
NAN = float("nan")


@dataclass(frozen=True)
class Scene:
    """A line with one bend, and a crown round a stem beside it or a stand of five corners."""

    line: Line
    shape: shapely.Geometry
    spread_m: float
    limb_m: float
    height_m: float
    working_height_m: float
    reach_m: float


def scene(seed: int) -> Scene:
    """Return a seeded scene with a tree near enough to matter, its limbs about as high as the machine."""
    draw = np.random.default_rng(seed)
    bend = [9.0 + draw.uniform(3, 7), draw.uniform(2, 7)]
    line = Line("A", closed=False, corners=np.array([[0.0, 0.0], [9.0, 0.0], bend]))
    middle, working_height_m = draw.uniform([0, -7], [15, 9]), draw.uniform(3.0, 5.5)
    shape: shapely.Geometry = shapely.Point(middle)
    if draw.random() < 0.4:
        turn = np.sort(draw.uniform(0.0, 2.0 * math.pi, 5))
        shape = shapely.Polygon(middle + draw.uniform(1.0, 3.0, (5, 1)) * np.column_stack([np.cos(turn), np.sin(turn)]))
        shape = shapely.convex_hull(shape)
    limb_m = working_height_m + draw.uniform(0.0, 3.5)
    spread_m, reach_m = draw.uniform(2.0, 7.0), draw.uniform(0.8, 1.8)
    return Scene(line, shape, spread_m, limb_m, limb_m + draw.uniform(1, 8), working_height_m, reach_m)


def hazards_of(one: Scene, level: Ground) -> pd.DataFrame:
    """Return what is flagged of a scene, by the program."""
    own = {"limb_m": one.limb_m, "height_m": one.height_m, "spread_m": one.spread_m, "dead": False, "name": None}
    layer = gpd.GeoDataFrame([{"feature": "feature 1", **own}], geometry=[one.shape])
    spec = Spec.model_validate(
        {
            "boundary": {"drawn_from": "survey", "position_error_m": 0.0},
            "elevation": {"vertical_error_m": 1e-9},
            "machine": {"working_height_m": one.working_height_m, "reach_m": one.reach_m},
        }
    )
    return limbs([one.line], ground=level, layer=layer, spec=spec).hazards


def twin(one: Scene, level: Ground) -> tuple[Floats, Floats]:
    """Return stations, and the least distance from the envelope at each to the crown after allowances."""
    stand = isinstance(one.shape, shapely.Polygon)
    crown = one.shape if stand else shapely.buffer(one.shape, one.spread_m / 2.0, quad_segs=256)
    rim = shapely.get_coordinates(shapely.segmentize(crown, 0.03))
    stem = shapely.get_coordinates(shapely.centroid(one.shape))
    stations = np.append(np.arange(0.0, one.line.length_m, STATION_M), one.line.length_m)
    disc = _disc(one.reach_m)
    least = np.empty(len(stations))
    for row, station in enumerate(stations):
        points = points_at(one.line, station) + disc
        under = shapely.intersects_xy(crown, points)
        plan, foot = np.zeros(len(points)), points.copy()
        if (~under).any():
            apart = np.hypot(points[~under, :1] - rim[:, 0], points[~under, 1:] - rim[:, 1])
            plan[~under], foot[~under] = apart.min(axis=1), rim[apart.argmin(axis=1)]
        rise = level(foot if stand else stem) - level(points)  # of a tree its heights are above the ground at its stem
        over = rise + one.limb_m - LIMB_OFF_M - one.working_height_m
        below = -(rise + one.height_m + LIMB_OFF_M)
        least[row] = np.hypot(plan, np.maximum(0.0, np.maximum(over, below))).min()
    return stations, least


def compared(one: Scene, level: Ground, hazards: pd.DataFrame) -> tuple[int, int, int]:
    """Return stations that are near, those of them that are not flagged, and flagged ones far from any that is near."""
    stations, least = twin(one, level)
    flagged, inner = np.zeros(len(stations), dtype=bool), np.zeros(len(stations), dtype=bool)
    for row in hazards.itertuples():
        flagged |= (stations >= row.from_m - STATION_M / 2) & (stations <= row.to_m + STATION_M / 2)
        inner |= (stations >= row.from_m + 0.5) & (stations <= row.to_m - 0.5)
    near = stations[least < REQUIRED_M + NEAR_M]
    wrong = [
        float(np.abs(near - station).min(initial=np.inf)) > 0.5
        for station in stations[inner & (least > REQUIRED_M + NEAR_M)]
    ]
    must = least < REQUIRED_M - NEAR_M
    return int(must.sum()), int((must & ~flagged).sum()), sum(wrong)


def _disc(reach_m: float) -> Floats:
    rings = [np.zeros((1, 2))]
    for radius in [*np.arange(0.12, reach_m, 0.12), reach_m]:
        angle = np.arange(0.0, 2.0 * math.pi, (0.05 if radius == reach_m else 0.12) / radius)
        rings.append(radius * np.column_stack([np.cos(angle), np.sin(angle)]))
    return np.concatenate(rings)

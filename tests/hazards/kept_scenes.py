"""Random scenes of a buried service or a keep-out, and a plain twin that tries every station and point of the thing.

The twin's steps: stations 0.05 m and the line's end, the thing every 0.02 m of its outline. Margins off; agreement is
asked for outside 20 mm of the distance asked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import shapely

from fencegis.hazards.found import Scene
from fencegis.hazards.kept_clear import kept_clear
from fencegis.line.chainage import Line, points_at
from fencegis.records.spec import Spec

if TYPE_CHECKING:
    import numpy.typing as npt
    import pandas as pd

    Floats = npt.NDArray[np.float64]

NEAR_M, STATION_M = 0.02, 0.05
HALF_POST_M, LEVEL_B_M = 0.1, 0.3


@dataclass(frozen=True)
class Kept:
    """A line with one bend, and a service with the buffer that its owner asks for, or an area with a margin."""

    line: Line
    shape: shapely.Geometry
    asked_m: float


def scene(seed: int) -> Kept:
    """Return a seeded scene."""
    draw = np.random.default_rng(seed)
    bend = [9.0 + draw.uniform(3, 7), draw.uniform(2, 7)]
    line = Line("A", closed=False, corners=np.array([[0.0, 0.0], [9.0, 0.0], bend]))
    corners = draw.uniform([-3, -6], [18, 9], (3, 2))
    area = draw.random() < 0.5
    shape: shapely.Geometry = shapely.Polygon(corners) if area else shapely.LineString(corners)
    return Kept(line, shape, draw.uniform(0.0, 2.0) if area else draw.uniform(0.7, 3.0))


def near_m(one: Kept) -> float:
    """Return the distance from the line within which a stretch is flagged."""
    own_m = 0.0 if isinstance(one.shape, shapely.Polygon) else LEVEL_B_M
    return one.asked_m + own_m + HALF_POST_M


def hazards_of(one: Kept) -> pd.DataFrame:
    """Return what is flagged of a scene, by the program."""
    spec = Spec.model_validate(
        {"boundary": {"drawn_from": "survey", "position_error_m": 0.0}, "fence": {"post_mm": 2000.0 * HALF_POST_M}}
    )
    row = {"feature": "feature 1", "name": None}
    site = SimpleNamespace(spec=spec, services=None, keepout=None, pegs=None)
    if isinstance(one.shape, shapely.Polygon):
        site.keepout = gpd.GeoDataFrame([{**row, "radius_m": one.asked_m, "reason": None}], geometry=[one.shape])
    else:
        site.services = gpd.GeoDataFrame([{**row, "buffer_m": one.asked_m, "quality": "B"}], geometry=[one.shape])
    return kept_clear(Scene([SimpleNamespace(line=one.line, line_id="A")], site, None)).hazards


def twin(one: Kept) -> tuple[Floats, Floats]:
    """Return stations and the plan distance from each to the thing."""
    stations = np.append(np.arange(0.0, one.line.length_m, STATION_M), one.line.length_m)
    points = points_at(one.line, stations)
    outline = shapely.get_coordinates(shapely.segmentize(one.shape, 0.02))
    away = np.hypot(points[:, :1] - outline[:, 0], points[:, 1:] - outline[:, 1]).min(axis=1)
    if isinstance(one.shape, shapely.Polygon):
        away[shapely.intersects_xy(one.shape, points)] = 0.0
    return stations, away


def compared(one: Kept, hazards: pd.DataFrame) -> tuple[int, int, int]:
    """Return stations that are near, those of them that are not flagged, and flagged ones that are not near."""
    stations, away = twin(one)
    flagged, inner = np.zeros(len(stations), dtype=bool), np.zeros(len(stations), dtype=bool)
    for row in hazards.itertuples():
        flagged |= (stations >= row.from_m - 1e-6) & (stations <= row.to_m + 1e-6)
        inner |= (stations >= row.from_m) & (stations <= row.to_m)
    near = stations[away < near_m(one) + NEAR_M]
    wrong = [  # a gap of half a metre is not worth walking out of
        float(np.abs(near - station).min(initial=np.inf)) > 0.5
        for station in stations[inner & (away > near_m(one) + NEAR_M)]
    ]
    must = away < near_m(one) - NEAR_M
    return int(must.sum()), int((must & ~flagged).sum()), sum(wrong)

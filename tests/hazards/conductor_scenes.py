"""Random scenes of one conductor, and a plain twin that tries every station, point of the disc and of the conductor.

The twin's steps: stations 0.2 m and the line's end, disc 0.12 m with its rim every 0.05 m and what is right under the
conductor, conductor 0.1 m. Ground is bilinear over cells of 2 m with bumps of a third of a metre, or a third of that.
Agreement is asked for within 20 mm, and of flags outside 20 mm of the distance asked for: the twin's own steps err by
as much.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import shapely

from fencegis.hazards.handling import handling_of
from fencegis.hazards.overhead import overhead
from fencegis.line.chainage import Line, points_at
from fencegis.records.spec import Spec

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt
    import pandas as pd

    Floats = npt.NDArray[np.float64]
    Ground = Callable[[Floats], Floats]

NEAR_M, STATION_M, REQUIRED_M = 0.02, 0.2, 3.0
SWING = math.sin(math.radians(60.0))  # of the sag; of a span of unknown sag 3 %
USUAL_SAG = 0.03


@dataclass(frozen=True)
class Scene:
    """A line and a conductor over it; `own` is its height above ground, or the sag between vertices with heights."""

    line: Line
    vertices: Floats
    own: dict[str, float]
    working_height_m: float
    reach_m: float
    half_width_m: float
    height_error_m: float
    position_m: float
    swings: bool


@dataclass(frozen=True)
class Compared:
    """Stations of one scene: how many are near, and where ours and the twin disagree by more than the twin errs."""

    near: int
    missed: int
    wrong: int
    distances: int
    off: int  # of the distances, those that are out by more than 20 mm


def scene(seed: int, *, margins: bool) -> Scene:
    """Return a seeded scene: a line with one bend, a conductor across it at any angle, low enough to matter."""
    draw = np.random.default_rng(seed)
    bend = [9.0 + draw.uniform(3, 7), draw.uniform(2, 7)]
    line = Line("A", closed=False, corners=np.array([[0.0, 0.0], [9.0, 0.0], bend]))
    middle, turn, half = draw.uniform([2, -4], [14, 5]), draw.uniform(0, math.pi), draw.uniform(9, 14)
    step = half * np.array([math.cos(turn), math.sin(turn)])
    working_height_m = draw.uniform(3.0, 5.5)
    over_m = working_height_m + draw.uniform(-0.5, 3.0)
    if draw.random() < 0.5:
        vertices, own = np.array([middle - step, middle + step]), {"height_m": over_m}
    else:
        between = middle + draw.uniform(-1, 1, 2)
        ends = over_m + draw.uniform(0.0, 2.0, 3)
        vertices = np.column_stack([np.array([middle - step, between, middle + step]), ends])
        own = {"sag_m": draw.uniform(0.05, 1.0)}
    most = np.array([1.2, 0.5, 0.8]) if margins else np.zeros(3)
    reach_m = draw.uniform(0.8, 1.8)
    return Scene(line, vertices, own, working_height_m, reach_m, *(most * draw.uniform(0.2, 1.0, 3)), swings=margins)


def bumpy(seed: int, size_m: float) -> Ground:
    """Return ground that is bilinear over cells of 2 m, with bumps of a third of `size_m`, rising to the north."""
    heights = np.random.default_rng(seed).normal(0.0, 0.35, (60, 60))

    def level(points: Floats) -> Floats:
        column, row = (points[:, axis] / 2.0 + 15.0 for axis in (0, 1))
        left, low = np.floor(column).astype(int), np.floor(row).astype(int)
        east, north = column - left, row - low
        corners = [
            heights[low + up, left + over] * (north if up else 1 - north) * (east if over else 1 - east)
            for up in (0, 1)
            for over in (0, 1)
        ]
        return size_m * sum(corners) + 0.1 * points[:, 1]

    return level


def ground_of(seed: int) -> Ground:
    """Return the ground of a scene: every second one is rough."""
    return bumpy(seed, 1.0 if seed % 2 else 0.3)


def spec_of(one: Scene) -> Spec:
    """Return the specification of a scene; 11 kV, for which the rule asks 3 m."""
    return Spec.model_validate(
        {
            "boundary": {"drawn_from": "survey", "position_error_m": one.position_m},
            "elevation": {"vertical_error_m": 1e-9},
            "machine": {"working_height_m": one.working_height_m, "reach_m": one.reach_m},
            "rules": {"approach": "nsw-2006"},
        }
    )


def hazards_of(one: Scene, level: Ground) -> pd.DataFrame:
    """Return what is flagged of a scene, by the program."""
    row = {"feature": "feature 1", "kind": "power", "voltage_kv": 11.0, "insulated": False, **one.own}
    row |= {"half_width_m": one.half_width_m, "height_error_m": one.height_error_m}
    row |= {} if one.swings else {"swing_m": 0.0}
    layer = gpd.GeoDataFrame([row], geometry=[shapely.LineString(one.vertices)])
    return overhead([one.line], ground=level, layer=layer, spec=spec_of(one)).hazards


def hanging_points(one: Scene, level: Ground) -> Floats:
    """Return (n, 4) points of the conductor every 0.1 m, with how far each swings."""
    points = []
    for start, end in pairwise(one.vertices):
        span_m = float(np.hypot(*(end - start)[:2]))
        sag_m = one.own.get("sag_m", USUAL_SAG * span_m)
        for share in np.linspace(0.0, 1.0, int(span_m / 0.1) + 2):
            at, drop_m = start + share * (end - start), 4.0 * sag_m * share * (1.0 - share)
            height_m = at[2] - drop_m if "sag_m" in one.own else one.own["height_m"]
            points.append([*at[:2], height_m, SWING * drop_m if one.swings else 0.0])
    found = np.array(points)
    if "height_m" in one.own:
        found[:, 2] += level(found[:, :2])
    return found


def twin(one: Scene, level: Ground, *, height_m: float, reach_m: float) -> tuple[Floats, Floats, Floats]:
    """Return stations, and the least distance at each from an envelope, after allowances and as given."""
    curve = hanging_points(one, level)
    rings = [np.zeros((1, 2))]
    for radius in [*np.arange(0.12, reach_m, 0.12), reach_m]:
        angle = np.arange(0.0, 2.0 * math.pi, (0.05 if radius == reach_m else 0.12) / radius)
        rings.append(radius * np.column_stack([np.cos(angle), np.sin(angle)]))
    disc = np.concatenate(rings)
    stations = np.append(np.arange(0.0, one.line.length_m, STATION_M), one.line.length_m)
    after, given = np.empty(len(stations)), np.empty(len(stations))
    plan_off, height_off = one.half_width_m + 2.0 * one.position_m, 2.0 * one.height_error_m
    for row, station in enumerate(stations):
        here = points_at(one.line, station)
        away = np.hypot(*(curve[:, :2] - here).T)
        near = curve[away < 9.0]  # no flag of these scenes comes from further
        if not len(near):
            after[row] = given[row] = np.inf
            continue
        points = np.concatenate([here + disc, curve[away <= reach_m][:, :2]])
        plan = np.sqrt((points[:, :1] - near[:, 0]) ** 2 + (points[:, 1:] - near[:, 1]) ** 2)
        over = near[:, 2] - (level(points) + height_m)[:, None]
        given[row] = np.sqrt((plan**2 + np.maximum(over, 0.0) ** 2).min())
        cut = np.maximum(plan - plan_off - near[:, 3], 0.0) ** 2 + np.maximum(over - height_off, 0.0) ** 2
        after[row] = np.sqrt(cut.min())
    return stations, after, given


def compared(one: Scene, level: Ground, hazards: pd.DataFrame) -> Compared:
    """Hold what was flagged against the twin: of the machine, and of wire that is handled where it is not within it."""
    stations, after, given = twin(one, level, height_m=one.working_height_m, reach_m=one.reach_m)
    handling = handling_of(spec_of(one), "wire")
    assert handling is not None
    least, by_hand = after, (after, given)
    if handling.envelope.height_m > one.working_height_m or handling.envelope.reach_m > one.reach_m:
        by_hand = twin(one, level, height_m=handling.envelope.height_m, reach_m=handling.envelope.reach_m)[1:]
        least = np.minimum(after, by_hand[0])
    flagged, inner = np.zeros(len(stations), dtype=bool), np.zeros(len(stations), dtype=bool)
    off = []
    for row in hazards.itertuples():
        inside = (stations >= row.from_m - STATION_M / 2) & (stations <= row.to_m + STATION_M / 2)
        flagged |= inside
        inner |= (stations >= row.from_m + 0.5) & (stations <= row.to_m - 0.5)
        theirs = by_hand if row.basis.startswith("nearer than the machine") else (after, given)
        ours = (row.clearance_m, row.clearance_given_m)
        off += [abs(mine - values[inside].min()) > NEAR_M for mine, values in zip(ours, theirs, strict=True)]
    near = stations[least < REQUIRED_M + NEAR_M]
    far_off = [least_of(near, station) > 0.5 for station in stations[inner & (least > REQUIRED_M + NEAR_M)]]
    missed = int((~flagged & (least < REQUIRED_M - NEAR_M)).sum())
    return Compared(int((least < REQUIRED_M - NEAR_M).sum()), missed, sum(far_off), len(off), sum(off))


def least_of(near: Floats, station: float) -> float:
    """Return how far along the nearest station is that is near; the ends of a flag are good to half a metre."""
    return float(np.abs(near - station).min(initial=np.inf))

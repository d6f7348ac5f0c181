"""Creeks, drains and standing water as drawn: where a line meets them, at what angle, and where it keeps to one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import shapely

from fencegis.hazards.given import label, number, text_or_none
from fencegis.hazards.near import joined
from fencegis.hazards.treatment import distance
from fencegis.line.chainage import directions_at, points_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    import geopandas as gpd

    from fencegis.hazards.found import Floats, Stretch
    from fencegis.hazards.near import Legs
    from fencegis.hazards.treatment import Water
    from fencegis.line.chainage import Line

STANDING = ("dam", "swamp")  # kinds of water that do not flow past a fence
_SAME_M = 0.05  # meetings nearer than this are one


@dataclass(frozen=True, eq=False)
class Watercourse:
    """One part of a watercourse as drawn: a centre line, or the outline of its bed or water.

    `name` tells which parts are one watercourse; `width_m` is from bank to bank, NaN where not given;
    `flood_level_m` a height in the raster's datum, NaN where not given.
    """

    row: int
    label: str
    name: str
    shape: shapely.Geometry
    water: Water
    width_m: float
    flood_level_m: float

    @property
    def outline(self) -> bool:
        """Whether its bed or water is drawn, not its centre line."""
        return isinstance(self.shape, shapely.Polygon)

    @property
    def half_m(self) -> float:
        """How far its bank is off the shape, as far as that is known."""
        return 0.0 if self.outline or math.isnan(self.width_m) else self.width_m / 2.0

    @property
    def wide_m(self) -> float:
        """Its width: given, of an outline that of a strip of its area and edge, 0 where nobody said."""
        if self.outline:
            return float(2.0 * shapely.area(self.shape) / shapely.length(self.shape))
        return 0.0 if math.isnan(self.width_m) else self.width_m


@dataclass(frozen=True, eq=False)
class Meeting:
    """Where a line and a watercourse meet.

    `stretch` is of an outline from edge to edge, of a centre line one chainage twice; on a loop it may begin before the
    start. `angle_deg` is between line and flow, 90 square, NaN where the flow has no direction.
    """

    of: Watercourse
    stretch: Stretch
    angle_deg: float

    @property
    def middle_m(self) -> float:
        """Chainage of its middle."""
        return sum(self.stretch) / 2.0

    @property
    def stretching(self) -> float:
        """By how much distances square to the flow grow along the line; no more than twice."""
        sine = 1.0 if math.isnan(self.angle_deg) else math.sin(math.radians(self.angle_deg))
        return 1.0 / max(sine, distance("square_enough"))


def watercourses(layer: gpd.GeoDataFrame) -> list[Watercourse]:
    """Return the watercourses of the layer, one for each line or polygon."""
    rows = layer.drop(columns=layer.geometry.name).to_dict("records")
    return [
        _watercourse(place, row, part)
        for place, (row, geometry) in enumerate(zip(rows, layer.geometry, strict=True))
        for part in (shapely.get_parts(geometry) if geometry is not None else ())
        if isinstance(part, shapely.LineString | shapely.Polygon) and not part.is_empty
    ]


def _watercourse(place: int, row: dict[Any, Any], part: shapely.Geometry) -> Watercourse:
    shape = shapely.force_2d(part)
    if isinstance(shape, shapely.Polygon) and not shape.is_valid:
        shape = max(shapely.get_parts(shapely.make_valid(shape)), key=lambda one: one.area)
    return Watercourse(
        row=place,
        label=label(row),
        name=text_or_none(row, "name") or label(row),
        shape=shape,
        water="standing" if text_or_none(row, "kind") in STANDING else "flowing",
        width_m=number(row, "width_m"),
        flood_level_m=number(row, "flood_level_m"),
    )


def meetings(legs: Legs, water: Watercourse) -> list[Meeting]:
    """Return where a line meets a watercourse, by chainage."""
    if water.outline:
        stretches = legs.within(water.shape, distance_m=0.0)
        return [Meeting(water, one, _angle_of_edges(legs.line, water, one)) for one in over_start(legs.line, stretches)]
    return [
        Meeting(
            water,
            (at, at),
            _between(
                directions_at(legs.line, at)[0],
                _flow(cast("shapely.LineString", water.shape), points_at(legs.line, at)),
            ),
        )
        for at in _cuts(legs, water.shape)
    ]


def over_start(line: Line, stretches: Sequence[Stretch]) -> list[Stretch]:
    """Return the stretches with the two that a loop's start cuts as one, which then begins before 0."""
    if not line.closed or len(stretches) < 2:
        return list(stretches)
    first, last = stretches[0], stretches[-1]
    if first[0] > 0.0 or last[1] < line.length_m:
        return list(stretches)
    return [(last[0] - line.length_m, first[1]), *stretches[1:-1]]


def _cuts(legs: Legs, shape: shapely.Geometry) -> list[float]:
    """Return the chainages at which a line cuts another, each once; the middle of what they share for a while."""
    line = legs.line
    places = np.flatnonzero(shapely.intersects(legs.legs, shape))
    parts, leg = shapely.get_parts(shapely.intersection(legs.legs[places], shape), return_index=True)
    middles = shapely.get_coordinates(shapely.centroid(parts)).reshape(-1, 2)
    away = middles - line.path[places[leg]]
    chainage = np.sort(line.chainage_m[places[leg]] + np.hypot(away[:, 0], away[:, 1]))
    cuts = chainage[np.diff(chainage, prepend=-np.inf) > _SAME_M].tolist()
    if line.closed and len(cuts) > 1 and cuts[0] + line.length_m - cuts[-1] <= _SAME_M:
        cuts.pop()
    return [float(one) for one in cuts]


def _flow(shape: shapely.LineString, point: Floats) -> Floats:
    """Return the direction of a line where a point lies on it, between the points some way up and down."""
    at, window = shapely.line_locate_point(shape, shapely.points(point[0])), distance("flow_window_m")
    ends = shapely.line_interpolate_point(shape, [max(at - window, 0.0), min(at + window, shape.length)])
    step = np.diff(shapely.get_coordinates(ends), axis=0)[0]
    return np.asarray(step / max(float(np.hypot(*step)), 1e-9))


def _angle_of_edges(line: Line, water: Watercourse, stretch: Stretch) -> float:
    """Return the angle between a line and the run of the two edges that it meets; NaN of standing water."""
    if water.water == "standing":
        return math.nan
    edge = cast("shapely.Polygon", water.shape).exterior
    at = np.mod(stretch, line.length_m) if line.closed else np.asarray(stretch)
    one, two = (_flow(edge, points_at(line, end)) for end in at)
    along = one + two if one @ two >= 0.0 else one - two
    chord = np.diff(points_at(line, at), axis=0)[0]
    return _between(chord, along)


def _between(one: Floats, two: Floats) -> float:
    """Return the angle between two directions, either way round: 0 to 90 degrees."""
    across = abs(float(one[0] * two[1] - one[1] * two[0]))
    return math.degrees(math.atan2(across, abs(float(one @ two))))


def alongside(legs: Legs, waters: Sequence[Watercourse], meets: Sequence[Meeting]) -> list[Stretch]:
    """Return the stretches of a line that keep to one watercourse for long, drawn in one or more parts.

    Within a stated distance of its bank, joined over short gaps; long, or with many of the `meets` in it. On a loop the
    first may begin before the start.
    """
    line, wide_m = legs.line, max(water.wide_m for water in waters)
    near = [
        stretch
        for water in waters
        for stretch in legs.within(_close(line, water), distance_m=distance("zone_reach_m") + water.half_m)
    ]
    stretches = _over_gaps(joined(near, length_m=line.length_m), line, gap_m=distance("zone_gap_m"))
    least_m, many = distance("zone_m") + 2.0 * wide_m, distance("zone_crossings")
    return [
        one for one in stretches if one[1] - one[0] >= least_m or sum(inside(line, one, meet) for meet in meets) >= many
    ]


def inside(line: Line, stretch: Stretch, meet: Meeting) -> bool:
    """Return whether the middle of a meeting lies in a stretch, on a loop from either side of its start."""
    turns = (0.0, line.length_m, -line.length_m) if line.closed else (0.0,)
    return any(stretch[0] <= meet.middle_m + turn <= stretch[1] for turn in turns)


def _close(line: Line, water: Watercourse) -> shapely.Geometry:
    """Return the part of a long watercourse that lies about a line."""
    off_m = distance("zone_reach_m") + water.half_m + 1.0
    low, high = line.path.min(axis=0) - off_m, line.path.max(axis=0) + off_m
    close: shapely.Geometry = shapely.intersection(water.shape, shapely.box(*low, *high))
    return close


def _over_gaps(stretches: Sequence[Stretch], line: Line, *, gap_m: float) -> list[Stretch]:
    whole: list[Stretch] = []
    for start, end in stretches:
        if whole and start - whole[-1][1] < gap_m:
            whole[-1] = whole[-1][0], end
        else:
            whole.append((start, end))
    if line.closed and len(whole) > 1 and whole[0][0] + line.length_m - whole[-1][1] < gap_m:
        last = whole.pop()
        whole[0] = last[0] - line.length_m, whole[0][1]
    return whole

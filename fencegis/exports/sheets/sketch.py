"""The sketch on a run's sheet: the run along the paper to a stated scale, what stands on it, what lies beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely.ops import substring

from fencegis.exports.sheets.paper import MARGIN_MM, ROOM_MM, WIDTH_MM, wide_mm
from fencegis.exports.words import number

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.exports.sheets.around import Around
    from fencegis.exports.sheets.paper import Pad, Point
    from fencegis.exports.sheets.posts import Walk

    Floats = npt.NDArray[np.float64]

STEPS = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5, 10.0)
LEAST_SCALE = 20.0  # 1 : 20 is as large as a sketch needs
TICK_MM, KEY_MM, CLOSEST_MM = 1.6, 2.6, 1.2
SIDE_MM = 12.0  # paper left beside the run's ends
BESIDE_MM = 14.0  # paper left above and below an arc
SKETCH_MM, ARC_SKETCH_MM = 36.0, 56.0
LINE_MM = 15.5  # from the top of a box down to a straight run in it
BELOW_MM = 14.5  # from there to the box's end, lanes of flags apart: names, scale bar
MOST_LANES, LANE_MM = 3, 4.8
SIZE = 8.0
BESIDE = ("trees", "overhead", "pegs")
EVERY = (1, 2, 5, 10, 20, 50, 100, 200, 500)  # of how many posts one is numbered
BAR_MM = 45.0  # a scale bar is at most as long


@dataclass(frozen=True)
class View:
    """How the ground lies on a box of the sheet: turned, shrunk, moved."""

    middle: tuple[float, float]  # of what is shown, working grid
    turned_rad: float  # bearing that points to the right of the paper
    scale: float  # 1 : scale
    centre: Point  # of the box on the sheet, millimetres

    def of(self, points: npt.ArrayLike) -> Floats:
        """Return (n, 2) millimetres right and down for (n, 2) eastings and northings."""
        away = np.asarray(points, dtype=float).reshape(-1, 2) - np.array(self.middle)
        sine, cosine = math.sin(self.turned_rad), math.cos(self.turned_rad)
        along = away[:, 0] * sine + away[:, 1] * cosine
        right = away[:, 0] * cosine - away[:, 1] * sine
        paper: Floats = np.column_stack([along, right]) * 1000.0 / self.scale + np.array(self.centre)
        return paper

    def corners(self) -> Floats:
        """Return the west, south, east and north edges of what may reach onto a sheet, in the working grid."""
        reach_m = WIDTH_MM * self.scale / 2000.0
        east, north = self.middle
        return np.array([east - reach_m, north - reach_m, east + reach_m, north + reach_m])

    @property
    def up_rad(self) -> float:
        """The angle on paper, left-handed from its right edge, that true north points to."""
        return self.turned_rad


def scale_for(needed: float) -> float:
    """Return the largest usual scale, as the N of 1 : N, that is at least `needed`."""
    needed = max(needed, LEAST_SCALE)
    tens = 10.0 ** math.floor(math.log10(needed))
    return tens * next(step for step in STEPS if step * tens >= needed * (1.0 - 1e-9))


def view_along(shape: Any, box: tuple[Point, float, float]) -> View:
    """Return the view that lays a run from left to right into a box (corner, width, height)."""
    (left, top), wide, tall = box
    points = shapely.get_coordinates(shape)
    east, north = points[-1] - points[0]
    turned = math.atan2(east, north) if math.hypot(east, north) > 1e-6 else math.pi / 2.0
    flat = View((float(points[0, 0]), float(points[0, 1])), turned, 1000.0, (0.0, 0.0)).of(points)
    low, high = flat.min(axis=0), flat.max(axis=0)  # metres
    wide_m, tall_m = high - low
    needed = max(wide_m * 1000.0 / (wide - 2.0 * SIDE_MM), tall_m * 1000.0 / (tall - 2.0 * BESIDE_MM))
    middle = (low + high) / 2.0
    sine, cosine = math.sin(turned), math.cos(turned)
    easting = points[0, 0] + middle[0] * sine + middle[1] * cosine
    northing = points[0, 1] + middle[0] * cosine - middle[1] * sine
    return View((float(easting), float(northing)), turned, scale_for(needed), (left + wide / 2.0, top + tall / 2.0))


def draw_sketch(pad: Pad, around: Around, walk: Walk, *, top_mm: float, tall_mm: float) -> None:
    """Draw the run in a box across the sheet."""
    corner = (MARGIN_MM, top_mm)
    view = view_along(walk.run.geometry, (corner, ROOM_MM, tall_mm))
    if walk.run.kind != "arc":
        view = replace(view, centre=(view.centre[0], top_mm + LINE_MM))
    with pad.within(corner, ROOM_MM, tall_mm):
        draw_on(pad, around, walk, view)
    pad.box(corner, ROOM_MM, tall_mm)
    pad.write("walk →", (MARGIN_MM + 2.0, top_mm + 4.0), size=SIZE, font="bold")
    north_arrow(pad, view, (MARGIN_MM + ROOM_MM - 9.0, top_mm + 8.6), length_mm=7.0)
    scale_bar(pad, view.scale, (MARGIN_MM + 3.0, top_mm + tall_mm - 3.0))
    pad.write("Pencil in: road, tracks, creek, house.", (MARGIN_MM + ROOM_MM - 2.0, top_mm + tall_mm - 2.5),
              size=SIZE, align="right")  # fmt: skip


def sketch_mm(walk: Walk) -> float:
    """Return how tall the box for a run's sketch is: a straight run needs room for names and flags only."""
    if walk.run.kind == "arc":
        return ARC_SKETCH_MM
    return max(SKETCH_MM, BELOW_MM + LINE_MM + min(len(walk.hazards), MOST_LANES) * LANE_MM)


def draw_on(pad: Pad, around: Around, walk: Walk, view: View) -> None:
    """Draw the run, what stands on it and what lies beside it."""
    _beside(pad, around, view)
    _neighbours(pad, around, walk, view)
    _hazards(pad, walk, view)
    _fence(pad, walk, view)
    _gates(pad, walk, view)


def north_arrow(pad: Pad, view: View, middle: Point, *, length_mm: float = 11.0) -> None:
    """Draw an arrow to the north of the working grid, which is true north at the site's middle."""
    east, up = math.cos(view.up_rad), math.sin(view.up_rad)
    half = length_mm / 2.0
    tip = (middle[0] + half * east, middle[1] - half * up)
    tail = (middle[0] - half * east, middle[1] + half * up)
    pad.rule(tail, tip, width=1.0)
    wings = [(tip[0] - 3.2 * math.cos(view.up_rad + turn), tip[1] + 3.2 * math.sin(view.up_rad + turn))
             for turn in (0.4, -0.4)]  # fmt: skip
    pad.shape((tip, *wings), shade=0.0)
    pad.write("N", (tail[0] - 2.2 * east, tail[1] + 2.2 * up + 1.2), size=9.0, font="bold", align="center")


def scale_bar(pad: Pad, scale: float, at: Point) -> None:
    """Draw a bar of a round length from its left end, with the scale in figures beside it."""
    longest_m = BAR_MM * scale / 1000.0
    tens = 10.0 ** math.floor(math.log10(longest_m))
    length_m = tens * max(step for step in (1.0, 2.0, 5.0) if step * tens <= longest_m * (1.0 + 1e-9))
    long_mm = length_m * 1000.0 / scale
    pad.box((at[0], at[1] - 1.6), long_mm / 2.0, 1.6, shade=0.0)
    pad.box((at[0] + long_mm / 2.0, at[1] - 1.6), long_mm / 2.0, 1.6)
    digits = 0 if length_m >= 1 else 1
    pad.write(f"{number(length_m, digits)} m    1 : {number(scale, 0)}", (at[0] + long_mm + 2.0, at[1]), size=SIZE)


def _beside(pad: Pad, around: Around, view: View) -> None:
    """Draw what the site's files have beside the line: conductors, trees, pegs."""
    for name in BESIDE:
        for row in around.near(name, view):
            for part in shapely.get_parts(row.geometry):
                points = view.of(shapely.get_coordinates(getattr(part, "exterior", part)))
                if name == "overhead" and len(points) > 1:
                    pad.path(points.tolist(), width=1.0, dashes=(7.0, 2.0, 1.0, 2.0))
                elif name == "trees":
                    _tree(pad, row, points, view)
                elif name == "pegs":
                    right, down = points[0]
                    pad.shape(((right, down - 1.5), (right + 1.4, down + 1.0), (right - 1.4, down + 1.0)), shade=1.0)


def _tree(pad: Pad, row: Any, points: Floats, view: View) -> None:
    if len(points) > 1:
        pad.path(points.tolist(), width=0.4)
        return
    across_m = float(getattr(row, "spread_m", math.nan))
    radius = across_m * 500.0 / view.scale if math.isfinite(across_m) else 1.0
    pad.ring(tuple(points[0].tolist()), max(radius, 0.8), width=0.4)
    pad.ring(tuple(points[0].tolist()), 0.4, width=0.4, shade=0.0)


def _neighbours(pad: Pad, around: Around, walk: Walk, view: View) -> None:
    for other in around.near("runs", view):
        if other.run_id != walk.run.run_id:
            pad.path(view.of(shapely.get_coordinates(other.geometry)).tolist(), width=0.6, dashes=(3.0, 2.0))


def _fence(pad: Pad, walk: Walk, view: View) -> None:
    line = shapely.get_coordinates(walk.run.geometry)
    pad.path(view.of(line).tolist(), width=1.6)
    step = view.of(line[-1:]) - view.of(line[:1])
    direction = (step / max(float(np.hypot(*step[0])), 1e-9))[0]
    across = np.array([-direction[1], direction[0]])
    for stretch in walk.stretches:
        points = view.of(stretch.points)
        gap_mm = float(np.min(stretch.bay_m)) * 1000.0 / view.scale
        every = max(1, math.ceil(CLOSEST_MM / max(gap_mm, 1e-6)))
        seen = np.abs(points[:, 0] - WIDTH_MM / 2.0) < WIDTH_MM / 2.0
        plain = seen & (stretch.weight == 0) & (np.arange(len(points)) % every == 0)
        ticks = np.where(stretch.weight == 1, KEY_MM, TICK_MM)[:, None] * across
        marks = np.stack([points - ticks, points + ticks], axis=1)
        pad.rules(marks[plain | (seen & (stretch.weight == 1))].tolist(), width=0.5)
        for right, down in points[seen & (stretch.weight == 2)].tolist():
            pad.box((right - 1.0, down - 1.0), 2.0, 2.0, shade=0.0)
        first, last = stretch is walk.stretches[0], stretch is walk.stretches[-1]
        _numbers(pad, stretch.names, points, gap_mm, ("center" if first else "left", "center" if last else "right"))


def _numbers(pad: Pad, names: list[str], points: Floats, gap_mm: float, aligned: tuple[str, str]) -> None:
    """Write the numbers of the first and last post, and below the line every so many between as there is room for.

    `aligned` is how the first and the last stand to their post: away from a gate that is beside it.
    """
    room = max(wide_mm(names[0], SIZE), wide_mm(names[-1], SIZE)) + 2.5
    every = next((count for count in EVERY if count * gap_mm >= room), len(names))
    apart = {"left": 0.7, "center": 0.0, "right": -0.7}
    away = _away(points)
    long = gap_mm * (len(names) - 1)
    _number(pad, names[0], points[0] + [apart[aligned[0]], 0.0], away[0], aligned[0])
    beside = room * 0.5  # a first or last name that is not centred on its post reaches so much further
    for row in range(every, len(names) - 1, every):
        from_begin, from_end = row * gap_mm, long - row * gap_mm
        if from_begin >= room + beside * (aligned[0] == "left") and from_end >= room + beside * (aligned[1] == "right"):
            _number(pad, names[row], points[row], away[row], "center")
    if long > room:
        _number(pad, names[-1], points[-1] + [apart[aligned[1]], 0.0], away[-1], aligned[1])


def _away(points: Floats) -> Floats:
    """Return for each post (n, 2) the way to its number: square to the run, to the outside of an arc, else down."""
    along = np.gradient(points, axis=0)
    square = np.column_stack([-along[:, 1], along[:, 0]]) / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    outside = square[len(points) // 2] @ (points[len(points) // 2] - (points[0] + points[-1]) / 2.0)
    away: Floats = square * (-1.0 if outside < -1.0 else 1.0)
    return away


def _number(pad: Pad, name: str, at: Floats, away: Floats, align: str) -> None:
    """Write a post's number beside it, whole or not at all."""
    wide = wide_mm(name, SIZE)
    back = {"left": 0.0, "center": 0.5, "right": 1.0}[align] if abs(away[0]) < 0.5 else 0.5
    left = float(at[0] + away[0] * (3.2 + wide / 2.0) - back * wide)
    if left > MARGIN_MM and left + wide < WIDTH_MM - MARGIN_MM:
        pad.write(name, (left, float(at[1] + away[1] * 4.3) + 1.1), size=SIZE)


def _gates(pad: Pad, walk: Walk, view: View) -> None:
    for gate in walk.gates:
        points = view.of(shapely.get_coordinates(gate.geometry))
        pad.canvas.setStrokeGray(1.0)
        pad.path(points.tolist(), width=3.0)
        pad.canvas.setStrokeGray(0.0)
        for right, down in (points[0].tolist(), points[-1].tolist()):
            pad.box((right - 1.0, down - 1.0), 2.0, 2.0, shade=0.0)
        right, down = points.mean(axis=0).tolist()
        pad.write(f"gate {gate.gate_id}", (right, down - 4.0), size=SIZE, font="bold", align="center")


def _hazards(pad: Pad, walk: Walk, view: View) -> None:
    """Draw each flagged span as a grey bar beside the run, with its name, in rows that keep the names apart.

    A name that finds no row is left out: the list of flags has them all.
    """
    ends: list[float] = []
    run = walk.run
    line = view.of(shapely.get_coordinates(run.geometry))
    for hazard in walk.hazards:
        begin, end = (min(max((at - run.from_m) / (run.to_m - run.from_m), 0.0), 1.0)
                      for at in (hazard.from_m, hazard.to_m))  # fmt: skip
        points = view.of(shapely.get_coordinates(substring(run.geometry, begin, end, normalized=True)))
        left, right = np.clip([points[:, 0].min(), points[:, 0].max()], MARGIN_MM + 1.0, WIDTH_MM - MARGIN_MM - 1.0)
        if right - left < 0.01 and not MARGIN_MM < points[0, 0] < WIDTH_MM - MARGIN_MM:
            continue
        down = float(line[:, 1].max()) + 7.4
        wide = wide_mm(str(hazard.hazard_id), SIZE)
        middle = (left + right) / 2.0
        begin, end = min(left, middle - wide / 2.0), max(right, middle + wide / 2.0)
        lane = next((place for place, taken in enumerate(ends) if taken + 1.0 < begin), len(ends))
        pad.box((left, down + min(lane, MOST_LANES - 1) * LANE_MM), max(right - left, 0.8), 1.0, shade=0.6, width=0.4)
        if lane < MOST_LANES:
            ends[lane : lane + 1] = [end]
            at = (middle, down + lane * LANE_MM + 3.9)
            pad.write(str(hazard.hazard_id), at, size=SIZE, font="bold", align="center")

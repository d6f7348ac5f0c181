"""The sketch on a run's sheet: the run along the paper to a stated scale, what stands on it, what lies beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fencegis.exports.map_words import each, number
from fencegis.exports.sheet_paper import MARGIN_MM, ROOM_MM, WIDTH_MM, wide_mm
from fencegis.exports.sheet_words import site_layers

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy.typing as npt

    from fencegis.exports.sheet_paper import Pad, Point
    from fencegis.exports.sheet_posts import Walk
    from fencegis.records.plan import Plan

    Floats = npt.NDArray[np.float64]

STEPS = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5, 10.0)
LEAST_SCALE = 20.0  # 1 : 20 is as large as a sketch needs
TICK_MM, CLOSEST_MM = 1.6, 1.2
SIDE_MM = 12.0  # paper left beside the run's ends
BESIDE_MM = 14.0  # paper left above and below an arc
SIZE = 8.0
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

    def near(self, layer: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
        """Return the rows that may reach onto a box as large as the sheet."""
        reach_m = WIDTH_MM * self.scale / 1000.0
        box = shapely.Point(self.middle).buffer(reach_m)
        return layer.iloc[sorted(layer.sindex.query(box).tolist())]

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


def draw_sketch(pad: Pad, plan: Plan, walk: Walk, *, top_mm: float, tall_mm: float) -> None:
    """Draw the run in a box across the sheet."""
    corner = (MARGIN_MM, top_mm)
    view = view_along(walk.run.geometry, (corner, ROOM_MM, tall_mm))
    with pad.within(corner, ROOM_MM, tall_mm):
        _beside(pad, plan, view)
        _neighbours(pad, plan, walk, view)
        _hazards(pad, walk, view)
        _fence(pad, walk, view)
        _gates(pad, walk, view)
    pad.box(corner, ROOM_MM, tall_mm)
    north_arrow(pad, view, (MARGIN_MM + ROOM_MM - 9.0, top_mm + 9.0))
    scale_bar(pad, view.scale, (MARGIN_MM + 3.0, top_mm + tall_mm - 3.0))
    pad.write("Pencil in: road, tracks, creek, house.", (MARGIN_MM + ROOM_MM - 2.0, top_mm + tall_mm - 2.5),
              size=SIZE, align="right")  # fmt: skip


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


def _beside(pad: Pad, plan: Plan, view: View) -> None:
    """Draw what the site's files have beside the line: conductors, trees, pegs."""
    for name, layer in site_layers(plan):
        for row in each(view.near(layer)):
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


def _neighbours(pad: Pad, plan: Plan, walk: Walk, view: View) -> None:
    for other in each(view.near(plan.runs)):
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
        for row, (point, post) in enumerate(zip(points, stretch.posts, strict=True)):
            right, down = point.tolist()
            if post.kind in {"strainer", "gate", "junction"}:
                pad.box((right - 1.0, down - 1.0), 2.0, 2.0, shade=0.0)
            elif post.kind == "key" or row % every == 0:
                tick = TICK_MM * (1.6 if post.kind == "key" else 1.0) * across
                pad.rule((right - tick[0], down - tick[1]), (right + tick[0], down + tick[1]), width=0.5)
        first, last = stretch is walk.stretches[0], stretch is walk.stretches[-1]
        _numbers(pad, stretch.names, points, ("center" if first else "left", "center" if last else "right"))


def _numbers(pad: Pad, names: list[str], points: Floats, aligned: tuple[str, str]) -> None:
    """Write the numbers of the first and last post, and of those between that leave room, below the line.

    `aligned` is how the first and the last stand to their post: away from a gate that is beside it.
    """
    room = max(wide_mm(name, SIZE) for name in names) * 1.5 + 2.0
    ends = points[-1, 0]
    at = points[0, 0]
    apart = {"left": 0.7, "center": 0.0, "right": -0.7}
    pad.write(names[0], (at + apart[aligned[0]], points[0, 1] + 5.4), size=SIZE, align=aligned[0])
    for row, (right, down) in enumerate(points.tolist()):
        if row and row % 5 == 0 and abs(right - at) > room and abs(ends - right) > room:
            pad.write(names[row], (right, down + 5.4), size=SIZE, align="center")
            at = right
    if abs(ends - at) > room:
        pad.write(names[-1], (ends + apart[aligned[1]], points[-1, 1] + 5.4), size=SIZE, align=aligned[1])


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
    """Draw each flagged span as a grey bar beside the run, with its name, in rows that keep the names apart."""
    ends: list[float] = []
    for hazard in walk.hazards:
        points = view.of(shapely.get_coordinates(hazard.geometry))
        left, right = float(points[:, 0].min()), float(points[:, 0].max())
        down = float(points[:, 1].max()) + 8.0
        wide = wide_mm(str(hazard.hazard_id), SIZE)
        middle = (left + right) / 2.0
        begin, end = min(left, middle - wide / 2.0), max(right, middle + wide / 2.0)
        lane = next((place for place, taken in enumerate(ends) if taken + 1.0 < begin), len(ends))
        ends[lane : lane + 1] = [end]
        level = down + lane * 5.4
        pad.box((left, level), max(right - left, 0.8), 1.2, shade=0.6, width=0.4)
        pad.write(str(hazard.hazard_id), (middle, level + 4.2), size=SIZE, font="bold", align="center")

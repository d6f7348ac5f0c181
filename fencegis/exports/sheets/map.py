"""The key map: where each run is, to a stated scale with north up, and on which sheet it stands."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.exports.sheets.flow import Line, draw_lines, heading, pages, table
from fencegis.exports.sheets.paper import MARGIN_MM, ROOM_MM, Sheet, wide_mm
from fencegis.exports.sheets.sketch import View, north_arrow, scale_bar, scale_for
from fencegis.exports.sheets.words import site_layers
from fencegis.exports.words import each, metres, number

if TYPE_CHECKING:
    from fencegis.exports.sheets.paper import Pad, Point
    from fencegis.exports.sheets.posts import Walk
    from fencegis.records.plan import Plan

    Spot = tuple[float, float, float, float]  # left, top, right, foot
    Name = tuple[Point, str, str]  # where, what, in which font

TOP_MM, TALL_MM = 24.0, 150.0
SIDE_MM = 14.0
INDEX_MM = 182.0
SIZE = 9.0
INDEX = ("run", "sheet", "plan and posts", "along the ground", "posts")


def map_sheets(plan: Plan, walks: list[Walk], *, first_table: list[int]) -> list[Sheet]:
    """Return the map's sheet and, where its index is longer than the rest of that sheet, the index's own.

    `first_table` holds for each run the sheet on which its long table begins.
    """
    index = index_lines(walks, first_table)
    fits = _fits(index)

    def draw(pad: Pad, _: int) -> None:
        _map(pad, plan, walks)
        if fits:
            draw_lines(pad, pages(index)[0], top_mm=INDEX_MM)

    found = [Sheet("key map", draw)]
    if not fits:
        found += [page_sheet(page, "index") for page in pages([*heading("SHEETS", "index"), *index])]
    return found


def index_lines(walks: list[Walk], first_table: list[int]) -> list[Line]:
    """Return the index of sheets: runs are the first sheets, in their order."""
    rows = [
        (str(walk.run.run_id), str(place), str(table_sheet), metres(walk.run.ground_length_m), str(walk.post_count))
        for place, (walk, table_sheet) in enumerate(zip(walks, first_table, strict=True), start=1)
    ]
    return table(INDEX, rows, part="index")


def map_count(walks: list[Walk]) -> int:
    """Return how many sheets the map and its index take."""
    index = index_lines(walks, [0] * len(walks))
    return 1 if _fits(index) else 1 + len(pages([*heading("SHEETS", "index"), *index]))


def _fits(index: list[Line]) -> bool:
    """Return whether the index has room below the map."""
    found = pages(index)
    return len(found) == 1 and INDEX_MM + sum(line.gap_mm for line in found[0]) < 280.0


def page_sheet(lines: list[Line], about: str) -> Sheet:
    """Return a sheet of lines from its top."""

    def draw(pad: Pad, _: int) -> None:
        draw_lines(pad, lines)

    return Sheet(about, draw)


def map_view(plan: Plan) -> View:
    """Return the view of the whole site, north up, at the largest usual scale that holds it."""
    west, south, east, north = plan.runs.total_bounds
    needed = max(
        (east - west) * 1000.0 / (ROOM_MM - 2.0 * SIDE_MM), (north - south) * 1000.0 / (TALL_MM - 2.0 * SIDE_MM)
    )
    middle = ((west + east) / 2.0, (south + north) / 2.0)
    return View(middle, math.pi / 2.0, scale_for(needed), (MARGIN_MM + ROOM_MM / 2.0, TOP_MM + TALL_MM / 2.0))


def _map(pad: Pad, plan: Plan, walks: list[Walk]) -> None:
    view = map_view(plan)
    pad.write("KEY MAP", (MARGIN_MM, 19.0), size=16.0, font="bold")
    words = "numbers are run and sheet; not a boundary; for finding, not for marking"
    pad.write(words, (MARGIN_MM + 34.0, 19.0), size=9.0)
    with pad.within((MARGIN_MM, TOP_MM), ROOM_MM, TALL_MM):
        _given(pad, plan, view)
        for walk in walks:
            pad.path(view.of(shapely.get_coordinates(walk.run.geometry)).tolist(), width=1.4)
        _labels(pad, walks, view, _stands(pad, plan, view))
    pad.box((MARGIN_MM, TOP_MM), ROOM_MM, TALL_MM)
    north_arrow(pad, view, (MARGIN_MM + ROOM_MM - 9.0, TOP_MM + 11.0))
    scale_bar(pad, view.scale, (MARGIN_MM + 3.0, TOP_MM + TALL_MM - 3.0))


def _given(pad: Pad, plan: Plan, view: View) -> None:
    for name, layer in site_layers(plan):
        for part in shapely.get_parts(layer.geometry.to_numpy()):
            points = view.of(shapely.get_coordinates(getattr(part, "exterior", part)))
            if len(points) > 1:
                pad.path(points.tolist(), width=0.6, dashes=(7.0, 2.0, 1.0, 2.0) if name == "overhead" else ())
            elif name == "trees":
                pad.ring(tuple(points[0].tolist()), 0.7, width=0.3)


def _stands(pad: Pad, plan: Plan, view: View) -> list[Name]:
    """Draw holding posts and gates and return the gates' names, each to be written beside its place."""
    for right, down in view.of(shapely.get_coordinates(plan.strainers.geometry.to_numpy())).tolist():
        pad.box((right - 0.5, down - 0.5), 1.0, 1.0, shade=0.0, width=0.3)
    names: list[Name] = []
    for gate in each(plan.gates):
        right, down = view.of(shapely.get_coordinates(gate.geometry)).mean(axis=0).tolist()
        pad.ring((right, down), 1.3, width=0.6, shade=1.0)
        names.append(((right, down), f"gate {gate.gate_id}", "plain"))
    return names


def _labels(pad: Pad, walks: list[Walk], view: View, gates: list[Name]) -> None:
    """Write each run's name and sheet beside its middle, and each gate's beside it, where they lie over no other."""
    names: list[Name] = []
    for number_, walk in enumerate(walks, start=1):
        middle = walk.run.geometry.interpolate(0.5, normalized=True)
        right, down = view.of([(middle.x, middle.y)])[0].tolist()
        names.append(((right, down), f"{walk.run.run_id}: {number(number_, 0)}", "bold"))
    lines = shapely.STRtree([shapely.LineString(view.of(shapely.get_coordinates(walk.run.geometry))) for walk in walks])
    taken: list[Spot] = []
    for at, text, font in [*names, *gates]:
        spot = _free_spot(at, wide_mm(text, SIZE, font), taken, lines)
        taken.append(spot)
        pad.box((spot[0] - 0.4, spot[1]), spot[2] - spot[0] + 0.8, spot[3] - spot[1], shade=1.0, width=0.0)
        pad.write(text, (spot[0], spot[3] - 0.6), size=SIZE, font=font)


def _free_spot(at: Point, wide: float, taken: list[Spot], lines: shapely.STRtree) -> Spot:
    """Return the first place round a point that lies over no other name and no run; else over no other name."""
    right, down = at
    second: Spot | None = None
    for turn in np.arange(24) * math.pi / 4.0 + math.pi / 8.0:
        away = 4.0 + 4.0 * (turn // (2.0 * math.pi))
        left = right + away * math.cos(turn) + (wide / 2.0 + 1.0) * (math.copysign(1.0, math.cos(turn)) - 1.0)
        foot = down - away * math.sin(turn) + 1.2
        spot = (left, foot - 3.2, left + wide, foot + 0.6)
        if any(_over(spot, other) for other in taken):
            continue
        if not len(lines.query(shapely.box(*spot), predicate="intersects")):
            return spot
        second = second or spot
    return second or spot


def _over(one: Spot, other: Spot) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]

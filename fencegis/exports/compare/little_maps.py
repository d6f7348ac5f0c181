"""A small map of each option, all of one extent, one scale and one grid: the first's."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.exports.client import signs
from fencegis.exports.client.labels import Labels, bar_corner
from fencegis.exports.client.maps import view_of
from fencegis.exports.client.scene import Scene
from fencegis.exports.client.underlay import chosen, underlay
from fencegis.exports.compare.placed import shapes_in
from fencegis.exports.page_text import plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from typing import Any

    from fencegis.exports.client.scene import Mark
    from fencegis.exports.sheets.sketch import View
    from fencegis.records.plan import Plan

SIZE, WIDTH = 7.5, 1.9
NARROW_MM, NARROW_SIZE = 60.0, 5.6  # of a map, and of the words on it
LABELLED = 40  # runs that get a number whatever the room
BAR_MM = 22.0


def little_maps(plans: Sequence[Plan], *, wide_mm: float, tall_mm: tuple[float, float]) -> tuple[list[Scene], float]:
    """Return each option's map, `wide_mm` wide and no taller than the limits, and the scale of all of them.

    Each has its own site's picture under it and the first's fence as a thin line of dashes.
    """
    grid = plans[0].crs
    runs = [shapes_in(plan, grid) for plan in plans]
    bounds = shapely.total_bounds(np.concatenate([np.array(lines, dtype=object) for lines in runs]))
    west, south, east, north = bounds.tolist()
    view, box = view_of((west, south, east, north), wide_mm, tall_mm)
    scenes = []
    for place, (plan, lines) in enumerate(zip(plans, runs, strict=True)):
        picture = chosen(plan.site.backdrop() if plan.site.backdrop else None)
        under = None if picture is None else underlay(picture, grid, view, box)
        marks = _marks(plan, lines, runs[0] if place else [], view, box, grid)
        scenes.append(Scene(*box, f"Option {place + 1}: {plain(plan.site.name)}", under, tuple(marks)))
    return scenes, view.scale


def _marks(
    plan: Plan, lines: list[Any], first: list[Any], view: View, box: tuple[float, float], grid: str
) -> Iterator[Mark]:
    for line in first:
        yield from signs.cased(_paper(line, view), 0.6, dashes=(2.0, 2.0))
    paper = [_paper(line, view) for line in lines]
    for points in paper:
        yield from signs.cased(points, WIDTH)
    gates = _moved(plan, plan.gates.geometry.to_numpy(), grid)
    for gate in gates:
        at = gate.interpolate(0.5, normalized=True)
        right, down = _paper(at, view)[0]
        yield from signs.gate((right - 1.2, down), (right + 1.2, down))
    size = SIZE if box[0] > NARROW_MM else NARROW_SIZE
    labels = Labels(box, paper, size=size)
    long_mm = min(BAR_MM, box[0] * 0.3)
    corner = bar_corner(box, paper + [_paper(line, view) for line in first], long_mm)
    labels.keep(corner)
    labels.keep((box[0] - 9.0, 0.0, box[0], 17.0))
    for place, line in enumerate(lines, start=1):
        middle = _paper(line.interpolate(0.5, normalized=True), view)[0]
        labels.put(str(place), middle, "run", must=place <= LABELLED and size == SIZE)
    yield from labels.marks()
    yield from signs.north((box[0] - 4.5, 7.5))
    yield from signs.bar(view.scale, (corner[0] + 2.2, corner[3] - 1.8), longest_mm=long_mm, size=SIZE)


def _moved(plan: Plan, shapes: Any, grid: str) -> list[Any]:
    from pyproj import Transformer

    turn = Transformer.from_crs(plan.crs, grid, always_xy=True)
    return list(shapely.transform(shapes, lambda at: np.column_stack(turn.transform(*at.T))))


def _paper(shape: Any, view: View) -> list[tuple[float, float]]:
    return [(float(right), float(down)) for right, down in view.of(shapely.get_coordinates(shape))]

"""A run drawn in strips to scale: the plan above, below it the long section at the same places along the run."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.ops import substring

from fencegis.exports.section.scales import LEAST_MM
from fencegis.exports.sheets.flow import Line
from fencegis.exports.sheets.paper import MARGIN_MM, ROOM_MM
from fencegis.exports.sheets.section import Strip, draw_section, heights_m
from fencegis.exports.sheets.sketch import (
    BELOW_MM,
    LANE_MM,
    LINE_MM,
    MOST_LANES,
    draw_on,
    north_arrow,
    scale_bar,
    scale_for,
    view_along,
)

if TYPE_CHECKING:
    from fencegis.exports.sheets.around import Around
    from fencegis.exports.sheets.paper import Pad
    from fencegis.exports.sheets.posts import Walk
    from fencegis.exports.sheets.section import Profile

SIDE_MM = 14.0  # paper left beside a strip's ends: heights are written there
WIDE_MM = ROOM_MM - 2.0 * SIDE_MM
STRIP_M = (240.0, 1200.0)  # a run as long is drawn in one strip, in two; a longer one in three
MOST_PLAN_MM = 60.0  # that an arc may take
TALL_MM = 34.0  # of a strip's heights at most
WORDS_MM = 5.0  # above a strip's plan
# Heights over distances: the most of these that keeps every strip low enough.
TIMES = (20.0, 15.0, 10.0, 8.0, 6.0, 5.0, 4.0, 3.0, 2.5, 2.0, 1.5, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01)


def strips(around: Around, walk: Walk, profile: Profile) -> list[Line]:
    """Return the run's strips as lines of a sheet, one to three of them, all to one scale."""
    found = _strips(walk, profile)
    return [
        Line(
            "", gap_mm=WORDS_MM + strip.plan_mm + strip.section_mm + 4.0,
            draw=partial(_draw, around=around, walk=walk, profile=profile, strip=strip),
        )
        for strip in found
    ]  # fmt: skip


def _strips(walk: Walk, profile: Profile) -> list[Strip]:
    run = walk.run
    length = run.to_m - run.from_m
    count = 1 + sum(length > most for most in STRIP_M)
    edges = np.linspace(run.from_m, run.to_m, count + 1).tolist()
    shapes = [substring(run.geometry, place / count, (place + 1) / count, normalized=True) for place in range(count)]
    box = ((MARGIN_MM, 0.0), ROOM_MM, MOST_PLAN_MM)
    scale = max([scale_for(length / count * 1000.0 / WIDE_MM), *(view_along(shape, box).scale for shape in shapes)])
    heights = [heights_m(profile, begin, end) for begin, end in pairwise(edges)]
    tallest = max(high - low for low, high in heights) * 1000.0 / scale
    times = next((times for times in TIMES if tallest * times <= TALL_MM), TIMES[-1])
    found = []
    for place, shape in enumerate(shapes):
        view = replace(view_along(shape, box), scale=scale)
        tall = float(np.ptp(view.of(shapely.get_coordinates(shape))[:, 1]))
        flags = sum(row.from_m < edges[place + 1] and row.to_m > edges[place] for row in walk.hazards)
        plan_mm = LINE_MM + tall + BELOW_MM + min(flags, MOST_LANES) * LANE_MM
        low, high = heights[place]
        tall_mm = max(LEAST_MM, (high - low) * times * 1000.0 / scale)
        found.append(Strip(edges[place], edges[place + 1], view, tall, plan_mm, times, low, tall_mm))
    return found


def _draw(pad: Pad, down: float, *, around: Around, walk: Walk, profile: Profile, strip: Strip) -> None:
    top = down + WORDS_MM - 3.0
    view = replace(strip.view, centre=(MARGIN_MM + ROOM_MM / 2.0, top + LINE_MM + strip.bend_mm / 2.0))
    with pad.within((MARGIN_MM, top), ROOM_MM, strip.plan_mm):
        draw_on(pad, around, walk, view)
    pad.box((MARGIN_MM, top), ROOM_MM, strip.plan_mm)
    north_arrow(pad, view, (MARGIN_MM + ROOM_MM - 8.5, top + 8.2), length_mm=6.5)
    scale_bar(pad, view.scale, (MARGIN_MM + 3.0, top + strip.plan_mm - 2.5))
    top += strip.plan_mm
    draw_section(pad, walk, profile, strip, top_mm=top)

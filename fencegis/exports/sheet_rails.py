"""The pattern of a run's rails: a row for each rail, a bay as wide as the next, joints dotted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fencegis.exports.sheet_paper import Pad, Point
    from fencegis.exports.sheet_posts import Walk

MOST_BAYS = 40
JOINT_M = 0.05


def draw_rails(pad: Pad, walk: Walk, corner: Point, across_mm: float, tall_mm: float) -> None:
    """Draw the first string's pattern, posts as thin lines, rails between their joints, joints as dotted lines."""
    stretch = walk.stretches[0]
    stations = stretch.station_m[: MOST_BAYS + 1]
    left, top = corner
    step = across_mm / max(len(stations) - 1, 1)
    rows = sorted({int(rail.row) for rail in walk.rails})
    gap = min(4.0, (tall_mm - 5.0) / max(len(rows), 1))
    names = stretch.names
    words = f"RAILS from {names[0]} to {names[len(stations) - 1]}, top row first; joints dotted"
    pad.write(words, (left, top + 2.5), size=8.5, font="bold")
    foot = top + 5.0 + gap * len(rows)
    for place in range(len(stations)):
        pad.rule((left + place * step, foot), (left + place * step, foot + 1.5), width=0.5)
    for rail in walk.rails:
        begin, end = (float(np.interp(at, stations, np.arange(len(stations)))) for at in (rail.from_m, rail.to_m))
        if end - begin < JOINT_M:
            continue
        level = top + 5.0 + gap * (rows.index(int(rail.row)) + 0.5)
        pad.rule((left + begin * step, level), (left + end * step, level), width=1.4)
        for at in (begin, end):
            across = left + at * step
            pad.rule((across, level - gap * 0.45), (across, level + gap * 0.45), width=1.3, dashes=(1.3, 1.3))

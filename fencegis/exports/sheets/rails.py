"""The pattern of a run's rails: a row for each rail, a bay as wide as the next, joints dotted; the cap on top."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fencegis.exports.sheets.paper import Pad, Point
    from fencegis.exports.sheets.posts import Walk
    from fencegis.records.spec import Fence

MOST_BAYS = 40
JOINT_M = 0.05
POST_MM = 0.7  # half of what a post takes on paper where rails stand between posts
CAP = 0.5  # of a row's height


def draw_rails(pad: Pad, walk: Walk, corner: Point, across_mm: float, tall_mm: float, *, between: bool = False) -> None:
    """Draw the first string's pattern, posts as thin lines, rails between their joints, joints as dotted lines.

    A cap is a board of two lines over the rails. Rails that stand `between` the posts stop at them, and no joint is
    dotted: they are joined at every post.
    """
    stretch = walk.stretches[0]
    stations = stretch.station_m[: MOST_BAYS + 1]
    left, top = corner
    step = across_mm / max(len(stations) - 1, 1)
    rows = sorted({int(rail.row) for rail in walk.rails})
    gap = min(4.0, (tall_mm - 5.0) / max(len(rows), 1))
    names = stretch.names
    words = f"RAILS from {names[0]} to {names[len(stations) - 1]}, {_order(rows, between=between)}"
    pad.write(words, (left, top + 2.5), size=8.5, font="bold")
    head = top + 5.0
    foot = head + gap * len(rows)
    for place in range(len(stations)):
        begin = head + gap * (0 in rows) if between else foot
        pad.rule((left + place * step, begin), (left + place * step, foot + 1.5), width=0.5)
    for rail in walk.rails:
        begin, end = (float(np.interp(at, stations, np.arange(len(stations)))) for at in (rail.from_m, rail.to_m))
        if end - begin < JOINT_M:
            continue
        cap = rail.row == 0
        off_mm = POST_MM if between and not cap else 0.0
        level = head + gap * (rows.index(int(rail.row)) + 0.5)
        ends = (left + begin * step + off_mm, left + end * step - off_mm)
        if cap:
            pad.box((ends[0], level - gap * CAP / 2.0), ends[1] - ends[0], gap * CAP)
        else:
            pad.rule((ends[0], level), (ends[1], level), width=1.4)
        for across in () if off_mm else ends:
            pad.rule((across, level - gap * 0.45), (across, level + gap * 0.45), width=1.3, dashes=(1.3, 1.3))


def table_title(title: str, fence: Fence) -> str:
    """Return the title of a table of rails, or of their cut list, with the cap and the centred rails that are in it."""
    if fence.cap_m is not None:
        title = title.replace("RAILS", "RAILS AND CAP").replace("RAIL CUT", "RAIL AND CAP CUT")
    return f"{title}, RAILS CENTRED" if fence.rails_fixed == "centred" and title.startswith("RAIL") else title


def _order(rows: list[int], *, between: bool) -> str:
    first = "cap, then top row" if 0 in rows else "top row first"
    if not between:
        return f"{first}; joints dotted"
    return f"{first}; centred, bay by bay{'; joints of the cap dotted' if 0 in rows else ''}"

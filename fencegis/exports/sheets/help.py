"""The lower part of a run's sheet: who stands where, what to bring, and what to do when it goes wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.exports.positions import doubt_m, doubt_short
from fencegis.exports.sheets.paper import MARGIN_MM, RIGHT_MM, ROOM_MM, fitted
from fencegis.exports.words import compass, metres, number

if TYPE_CHECKING:
    from fencegis.exports.sheets.paper import Pad
    from fencegis.exports.sheets.posts import Walk
    from fencegis.exports.sheets.words import RunWords
    from fencegis.records.plan import Plan

KEEP_OFF_M = 12  # network operators' farm pages say 10 m and 40 ft; the larger, in whole metres
TITLE_MM = 23.0  # what a part's title takes at the left
HALF_MM = MARGIN_MM + ROOM_MM / 2.0


def who_and_gear(pad: Pad, walk: Walk, *, down_mm: float) -> None:
    """Write blanks for people and gear, and the water that the holes take."""
    pad.rule((MARGIN_MM, down_mm - 4.5), (RIGHT_MM, down_mm - 4.5), width=0.8)
    pad.write("WHO", (MARGIN_MM, down_mm), size=11.0, font="bold")
    pad.blank("machine", (MARGIN_MM + TITLE_MM, down_mm), HALF_MM - 14.0, size=9.0)
    pad.blank("signals", (HALF_MM - 12.0, down_mm), HALF_MM + 38.0, size=9.0)
    pad.blank("tape, string", (HALF_MM + 40.0, down_mm), RIGHT_MM, size=9.0)
    words = "One signals, in sight of the cab. Nobody holds a post under the hammer; all stand outside its fall."
    pad.write(words, (MARGIN_MM + TITLE_MM, down_mm + 5.0), size=9.0)
    pad.write("BRING", (MARGIN_MM, down_mm + 10.5), size=11.0, font="bold")
    pad.blank(water_words(walk), (MARGIN_MM + TITLE_MM, down_mm + 10.5), HALF_MM - 4.0, size=9.0)
    pad.blank("fuel", (HALF_MM - 2.0, down_mm + 10.5), HALF_MM + 22.0, size=9.0)
    pad.blank("gear", (HALF_MM + 24.0, down_mm + 10.5), RIGHT_MM, size=9.0)


def water_words(walk: Walk) -> str:
    """Return the litres that the plan gives the holes of this run, every post once."""
    known = float(walk.numbers("water_l").sum())
    return f"water (holes {number(known, 0)} l)" if known >= 0.5 else "water"


def emergency(pad: Pad, plan: Plan, walk: Walk, words: RunWords, *, top_mm: float) -> None:
    """Draw the box with the run's place in degrees and the blanks that are filled in before work."""
    pad.box((MARGIN_MM, top_mm), ROOM_MM, 33.8, width=2.2)
    left, right = MARGIN_MM + 3.0, RIGHT_MM - 3.0
    pad.write("EMERGENCY", (left, top_mm + 5.8), size=13.0, font="bold")
    pad.blank("number to ring", (HALF_MM + 6.0, top_mm + 5.8), right, size=9.5)
    pad.write(f"Middle of this run: {words.middle}", (left, top_mm + 11.4), size=12.0, font="bold")
    pad.write("WGS 84", (right, top_mm + 11.4), size=8.5, align="right")
    doubt = doubt_short(doubt_m(plan.site, walk.run.line_id)).replace("+-", "±")
    gate = f"Nearest gate of the plan: {words.gate}; " if words.gate else "No gate in the plan; "
    pad.write(fitted(f"{gate}{doubt}", 9.5, right - left), (left, top_mm + 16.4), size=9.5)
    pad.blank("Road gate, road", (left, top_mm + 21.4), right, size=9.5)
    pad.blank(_signal_words(plan, walk), (left, top_mm + 26.6), HALF_MM + 8.0, size=9.5)
    pad.blank("line owner's faults", (HALF_MM + 10.0, top_mm + 26.6), right, size=9.5)
    what = f"Machine or wire on a power line: stay in, keep everybody {KEEP_OFF_M} m off, ring the line's owner."
    pad.write(what, (left, top_mm + 32.0), size=10.0, font="bold")


def _signal_words(plan: Plan, walk: Walk) -> str:
    """Return where the walk found a phone signal nearest to the run, or just what the blank is for."""
    seen = plan.site.walk
    if seen is None or not len(seen):
        return "Phone signal at"
    spots = seen[seen["kind"] == "phone signal"].geometry
    if not len(spots):
        return "Phone signal at"
    middle = walk.run.geometry.interpolate(0.5, normalized=True)
    away = shapely.get_coordinates(spots.centroid.to_numpy()) - np.array([middle.x, middle.y])
    nearest = away[int(np.argmin(np.hypot(*away.T)))]
    bearing = float(np.degrees(np.arctan2(*nearest))) % 360.0
    return f"Phone signal {metres(float(np.hypot(*nearest)), 0)} {compass(bearing)} of there;"

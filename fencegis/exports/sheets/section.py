"""A strip of a run's long section on paper: ground, fitted grades, posts, top line, at the plan's own places along."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.exports.section.rails import over_m, rails_of
from fencegis.exports.section.scales import ground_of, step_for
from fencegis.exports.sheets.paper import MARGIN_MM, ROOM_MM, wide_mm
from fencegis.exports.words import number

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.exports.section.rails import Rails
    from fencegis.exports.section.scales import Ground
    from fencegis.exports.sheets.paper import Pad, Point
    from fencegis.exports.sheets.posts import Walk
    from fencegis.exports.sheets.sketch import View
    from fencegis.records.plan import Plan

    Floats = npt.NDArray[np.float64]

HEAD_MM, FOOT_MM = 7.0, 7.0  # what its lines mean above it, chainages below
LEVELS_MM = 6.5  # lines of equal height are no closer
TICK_MM = 3.0  # a post whose top is not known
FINEST_MM = 0.6  # points of the ground are drawn no closer
SIZE = 7.5
PENS: dict[str, tuple[float, tuple[float, ...]]] = {
    "raster": (0.4, ()),
    "fitted": (1.0, (4.0, 1.5)),
    "top": (1.5, ()),
    "under": (0.8, ()),
    "post": (0.35, ()),
}


@dataclass(frozen=True, eq=False)
class Profile:
    """One line's ground and rails, read once for all of its runs."""

    ground: Ground
    rails: Rails | None


@dataclass(frozen=True, eq=False)
class Strip:
    """One stretch of a run on paper."""

    from_m: float
    to_m: float
    view: View
    bend_mm: float  # how far an arc reaches across
    plan_mm: float
    times: float  # heights over distances
    low_m: float
    tall_mm: float  # of its heights

    @property
    def section_mm(self) -> float:
        """How tall the long section is in all."""
        return self.tall_mm + HEAD_MM + FOOT_MM

    @property
    def across(self) -> float:
        """Millimetres of paper a metre along."""
        return 1000.0 / self.view.scale

    def right_mm(self, chainage_m: float) -> float:
        """Return the place across the sheet."""
        return float(MARGIN_MM + ROOM_MM / 2.0 + (chainage_m - (self.from_m + self.to_m) / 2.0) * self.across)

    def up_mm(self, height_m: float) -> float:
        """Millimetres above the strip's lowest place."""
        return (height_m - self.low_m) * self.across * self.times


def profiles(plan: Plan) -> dict[str, Profile]:
    """Return every line's ground and rails by its name: the same as the long section is drawn from."""
    found = {}
    of_line = {str(line_id): rows for line_id, rows in plan.profile.groupby("line_id", sort=False)}
    for line_id, length_m in plan.runs.groupby("line_id", sort=False)["to_m"].max().items():
        rails = rails_of(plan, str(line_id))
        rows = of_line.get(str(line_id), plan.profile.iloc[:0])
        ground = ground_of(rows, float(length_m), over_m=over_m(rails))
        found[str(line_id)] = Profile(ground, rails)
    return found


def heights_m(profile: Profile, begin: float, end: float) -> tuple[float, float]:
    """Return the lowest and the highest of what is drawn between two chainages."""
    ground = profile.ground
    here = (ground.chainage_m >= begin - 1e-6) & (ground.chainage_m <= end + 1e-6)
    heights = np.concatenate([ground.raster_m[here], ground.fitted_m[here], ground.at([begin, end])])
    heights = heights[np.isfinite(heights)]
    return float(heights.min()), float(heights.max()) + ground.over_m


def draw_section(pad: Pad, walk: Walk, profile: Profile, strip: Strip, *, top_mm: float) -> None:
    """Draw the strip's section in a box across the sheet."""
    pad.box((MARGIN_MM, top_mm), ROOM_MM, strip.section_mm)
    foot = top_mm + strip.section_mm - FOOT_MM + 0.5
    _key(pad, profile, strip, top_mm + 3.6)
    _section(pad, walk, profile, strip, foot)
    _chainage(pad, strip, foot)


def _key(pad: Pad, profile: Profile, strip: Strip, down: float) -> None:
    """Say how heights are drawn and what the lines are."""
    right = MARGIN_MM + 2.0
    if not profile.ground.known:
        pad.write("No elevation: heights and grades are not checked.", (right, down), size=SIZE, font="bold")
        return
    times = "as distances" if strip.times == 1 else f"{strip.times:g} × distances"
    words = f"LONG SECTION, heights {times}, chainage in m"
    pad.write(words, (right, down), size=SIZE, font="bold")
    right += wide_mm(words, SIZE, "bold") + 5.0
    kinds = [("ground", "raster"), ("fitted grades", "fitted")]
    if profile.rails is not None:
        kinds += [("top line", "top"), ("lowest edge", "under")]
    for text, pen in kinds:
        width, dashes = PENS[pen]
        pad.rule((right, down - 1.0), (right + 6.0, down - 1.0), width=width, dashes=dashes)
        pad.write(text, (right + 7.0, down), size=SIZE)
        right += 10.0 + wide_mm(text, SIZE)


def _section(pad: Pad, walk: Walk, profile: Profile, strip: Strip, foot: float) -> None:
    ground = profile.ground
    if not ground.known:
        pad.rule((strip.right_mm(strip.from_m), foot - 8.0), (strip.right_mm(strip.to_m), foot - 8.0), width=1.0,
                 dashes=(5.0, 2.0))  # fmt: skip
        return
    _levels(pad, ground, strip, foot)
    for name, heights, finest in (("raster", ground.raster_m, FINEST_MM), ("fitted", ground.fitted_m, 0.0)):
        for points in _pieces(ground.chainage_m, heights, strip, foot, finest):
            pad.path(points, width=PENS[name][0], dashes=PENS[name][1])
    _posts(pad, walk, ground, strip, foot)
    if profile.rails is not None:
        _rails(pad, profile.rails, strip, foot)


def _levels(pad: Pad, ground: Ground, strip: Strip, foot: float) -> None:
    """Draw lines of equal height, thin, with their height at both ends."""
    high = heights_m(Profile(ground, None), strip.from_m, strip.to_m)[1]
    step = step_for(max(high - strip.low_m, 0.5), max(1, int(strip.tall_mm / LEVELS_MM)))
    left, right = strip.right_mm(strip.from_m), strip.right_mm(strip.to_m)
    for height in np.arange(math.ceil(strip.low_m / step) * step, high + 1e-9, step).tolist():
        level = foot - strip.up_mm(height)
        pad.rule((left, level), (right, level), width=0.2, dashes=(1.0, 2.0))
        pad.write(number(height, 0 if step >= 1 else 1), (left - 1.0, level + 0.9), size=SIZE, align="right")


def _pieces(
    chainage_m: Floats, heights_m: Floats, strip: Strip, foot: float, finest_mm: float
) -> list[list[tuple[float, float]]]:
    """Return the strip's part of a profile as paths on the paper, cut where heights are not known.

    Points closer than `finest_mm` to the one before are left out, and those that lie on the straight between their
    neighbours.
    """
    inside = (chainage_m > strip.from_m + 1e-6) & (chainage_m < strip.to_m - 1e-6)
    ends = np.array([strip.from_m, strip.to_m])
    levels = np.interp(ends, chainage_m, heights_m)  # NaN beside a gap stays NaN
    along = np.concatenate([ends[:1], chainage_m[inside], ends[1:]])
    height = np.concatenate([levels[:1], heights_m[inside], levels[1:]])
    kept = _needed(along, height, finest_mm / strip.across)
    along, height = along[kept], height[kept]
    right = strip.right_mm(0.0) + along * strip.across
    down = foot - strip.up_mm(0.0) - height * strip.across * strip.times
    cuts = np.flatnonzero(np.diff(np.isfinite(height))) + 1
    return [
        list(zip(right[piece].tolist(), down[piece].tolist(), strict=True))
        for piece in np.split(np.arange(len(height)), cuts)
        if len(piece) > 1 and np.isfinite(height[piece[0]])
    ]


def _needed(along: Floats, height: Floats, finest_m: float) -> npt.NDArray[np.int_]:
    """Return the places of the points that a drawing needs: ends, edges of the unknown, and the rest as said above."""
    known = np.isfinite(height)
    edge = np.zeros(len(along), dtype=bool)
    edge[[0, -1]] = True
    edge[1:] |= known[1:] != known[:-1]
    edge[:-1] |= known[1:] != known[:-1]
    if finest_m > 0.0:
        step = np.floor(along / finest_m)
        keep = np.append(True, step[1:] != step[:-1])
    else:
        rise = np.diff(height) / np.maximum(np.diff(along), 1e-9)
        keep = np.ones(len(along), dtype=bool)
        keep[1:-1] = ~(np.abs(np.diff(rise)) < 1e-6)
    return np.flatnonzero(keep | edge)


def _posts(pad: Pad, walk: Walk, ground: Ground, strip: Strip, foot: float) -> None:
    """Draw each post from the ground to the top line, or as a tick where its top is not known."""
    for stretch in walk.stretches:
        here = (stretch.station_m >= strip.from_m - 1e-6) & (stretch.station_m <= strip.to_m + 1e-6)
        every = max(1, math.ceil(0.9 / (float(np.median(stretch.bay_m)) * strip.across)))
        right = strip.right_mm(0.0) + stretch.station_m * strip.across
        down = foot - strip.up_mm(0.0) - ground.at(stretch.station_m) * strip.across * strip.times
        tops = stretch.top_m * strip.across * strip.times
        up = np.where(np.isfinite(tops), tops, TICK_MM)
        lines = np.stack([np.column_stack([right, down]), np.column_stack([right, down - up])], axis=1)
        holds = stretch.weight == 2
        pad.rules(lines[here & ~holds & (np.arange(len(right)) % every == 0)].tolist(), width=PENS["post"][0])
        pad.rules(lines[here & holds].tolist(), width=1.3)


def _rails(pad: Pad, rails: Rails, strip: Strip, foot: float) -> None:
    """Draw the top line and the under edge of the bottom rail, bay by bay, cut off at the strip's ends."""
    begin, end = np.maximum(rails.from_m, strip.from_m), np.minimum(rails.to_m, strip.to_m)
    grade = (rails.to_level_m - rails.from_level_m) / (rails.to_m - rails.from_m)
    lines: dict[str, list[tuple[Point, Point]]] = {"top": [], "under": []}
    for place in np.flatnonzero(end - begin > 1e-6).tolist():
        at = (float(begin[place]), float(end[place]))
        level = [float(rails.from_level_m[place] + grade[place] * (where - rails.from_m[place])) for where in at]
        for pen, drop_m in (("top", 0.0), ("under", rails.drop_m)):
            first, last = ((strip.right_mm(where), foot - strip.up_mm(high - drop_m))
                           for where, high in zip(at, level, strict=True))  # fmt: skip
            lines[pen].append((first, last))
    for pen, pieces in lines.items():
        pad.rules(pieces, width=PENS[pen][0])


def _chainage(pad: Pad, strip: Strip, foot: float) -> None:
    """Write chainages below the section, the strip's two ends exactly."""
    step = step_for(strip.to_m - strip.from_m, 10)
    ends = {strip.from_m, strip.to_m}
    marks = [at for at in np.arange(math.ceil(strip.from_m / step) * step, strip.to_m, step).tolist()
             if min(abs(at - end) for end in ends) * strip.across > 11.0]  # fmt: skip
    for at in (*sorted(ends), *marks):
        right = strip.right_mm(at)
        pad.rule((right, foot), (right, foot + 1.6), width=0.5)
        pad.write(number(at, 2 if at in ends else 0), (right, foot + 4.8), size=SIZE, align="center")
    pad.rule((strip.right_mm(strip.from_m), foot), (strip.right_mm(strip.to_m), foot), width=0.4)

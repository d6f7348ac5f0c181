"""Post and rail lines with their joints and their top line: where rows are cut hangs on heights, heights on the cuts.

First the posts where every row has to be cut whatever the heights are: ends, junctions, corners, gates, where an arc
begins or ends, and both ends of a bay on an arc too tight for a rail over two. Then, with rails running through all
others, the posts where the ground asks for more than a rail can be pulled. Then the joints; then the top line, straight
wherever a rail runs through, and held where it meets one that is planned already.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, partial
from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.bay_ground import bay_ground
from fencegis.layout.joints import least_radius_m, rail_pattern
from fencegis.layout.meetings import held_at_m, in_order, met_at
from fencegis.layout.rail_limits import limits_of
from fencegis.layout.rail_rows import bottom_drop_m, rail_number
from fencegis.layout.standing import ONE_POST_M
from fencegis.layout.top_line import bends_over_pull, posts_to_cut, top_line
from fencegis.layout.under_rail import rail_heights
from fencegis.line.chainage import points_at

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt

    from fencegis.layout.bay_ground import BayGround
    from fencegis.layout.joints import Pattern
    from fencegis.layout.post_tables import LaidOut
    from fencegis.layout.rail_limits import Limits
    from fencegis.layout.under_rail import RailHeights
    from fencegis.line.course import Course
    from fencegis.records.spec import Fence

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]

FINE_M = 0.25  # the gap is looked at so often under a rail


@dataclass(frozen=True, eq=False)
class Railed:
    """One line of rails: posts (n,) and bays (b,) in walking order, as in its `laid_out`.

    `heights` is None where no ground is known at any post. `for_grade` (n,) are posts where every row is cut only
    because a rail running through would miss its mark; `single` (b,) are bays on arcs too tight for longer rails.
    `tallest_m` (n,) is how far above the ground the posts on hand reach, infinite where any length can be had.
    `held_m` (n,) is where another line's top line has the post's, NaN where this one is free.
    """

    laid_out: LaidOut
    pattern: Pattern
    bays: BayGround
    heights: RailHeights | None
    for_grade: Flags
    single: Flags
    tallest_m: Floats
    held_m: Floats

    @property
    def line_id(self) -> str:
        """The line's name."""
        return self.laid_out.course.line_id

    @property
    def level_m(self) -> Floats:
        """The top line at each post (n,), in the ground's own datum; NaN where there is none."""
        return np.full(len(self.bays.post_m), np.nan) if self.heights is None else self.heights.line.level_m

    @property
    def top_m(self) -> Floats:
        """The top line above the ground at each post (n,), NaN where the ground is unknown."""
        return np.full(len(self.bays.post_m), np.nan) if self.heights is None else self.heights.top_m

    @cached_property
    def chord_m(self) -> Floats:
        """Horizontal distance from post to post (b,); on an arc along the chord."""
        return np.asarray(np.hypot(*self._steps.T))

    @cached_property
    def turn_deg(self) -> Floats:
        """Change of direction from chord to chord at each post (n,), right positive; 0 at the ends of an open line."""
        heading = np.degrees(np.arctan2(*self._steps.T))
        turn = np.zeros(len(self.bays.post_m))
        bent = self.bays.bent
        turn[bent] = (heading[bent] - heading[bent - 1] + 180.0) % 360.0 - 180.0
        return turn

    @cached_property
    def _steps(self) -> Floats:
        begin = self.bays.post_m[: len(self.bays.bay_m)]
        line = self.laid_out.course.line
        return points_at(line, begin + self.bays.bay_m) - points_at(line, begin)


def railed(lines: Sequence[LaidOut], *, embed_m: Mapping[str, float], fence: Fence, tells_posts: bool) -> list[Railed]:
    """Return the post and rail lines among these, with joints and top line.

    `embed_m` is each post's depth in the ground by its name. Without `tells_posts` the ground is too coarse to say
    anything about one post, and counts as unknown. Top lines meet at a post that lines share: they are planned in the
    order of `meetings.in_order`, each held at those before it.
    """
    on_rails = [one for one in lines if one.course.kind != "wire"]
    found: dict[str, Railed] = {}
    level_of: dict[str, float] = {}
    for one in in_order(on_rails):
        bays = _over_ground(one, tells_posts=tells_posts)
        line = _railed(one, bays, held_m=held_at_m(one, level_of), embed_m=embed_m, fence=fence)
        found[line.line_id] = line
        level_of = {**met_at(line), **level_of}
    return [found[one.course.line_id] for one in on_rails]


def _railed(one: LaidOut, bays: BayGround, *, held_m: Floats, embed_m: Mapping[str, float], fence: Fence) -> Railed:
    closed = one.course.line.closed
    single = too_tight(one.course, bays, thick_mm=fence.rail_thick_mm)
    joined, for_grade = every_row_joins(one), np.zeros(len(bays.post_m), dtype=bool)

    def joints(cut: Flags) -> Pattern:
        pieces = {"rows": fence.rails, "rail_bays": fence.bays_per_rail}
        return rail_pattern(bays.opens, cut=cut, single=single, closed=closed, **pieces)

    pattern = joints(joined)
    tallest_m = np.array([tallest(embed_m[name], fence) for name in one.post_id])
    if np.isnan(bays.post_ground_m).all():
        return Railed(one, pattern, bays, None, for_grade, single, tallest_m, held_m)
    keeps = partial(limits_of, fence, drop_m=bottom_drop_m(fence), tallest_m=tallest_m, held_m=held_m)
    # where rows share joints unevenly (a single row), a cut moves the joints after it: hold every post straight
    may_run = ~joined & _in_long_rails(pattern, bays, single, fence)
    for_grade = _over_pull(bays, keeps(through=may_run), fence) & may_run
    pattern = joints(joined | for_grade)
    limits = keeps(through=pattern.through)
    heights = rail_heights(bays, limits=limits, kind=fence.top_line, width_m=rail_number("width to fill or cut"))
    return Railed(one, pattern, bays, heights, for_grade, single, tallest_m, held_m)


def tallest(embed_m: float, fence: Fence) -> float:
    """Return how far above the ground the longest stick at hand reaches, infinite where any length is at hand."""
    if fence.post_lengths_m is None:
        return float("inf")
    return max(fence.post_lengths_m) - embed_m - rail_number("over-length")


def _over_pull(bays: BayGround, limits: Limits, fence: Fence) -> Flags:
    if fence.top_line == "ground":
        return bends_over_pull(bays, top_line(bays, limits=limits, kind="ground"), pull_m=limits.pull_m)
    return posts_to_cut(bays, limits=limits)


def _in_long_rails(pattern: Pattern, bays: BayGround, single: Flags, fence: Fence) -> Flags:
    """Return the posts (n,) with a bay of two-bay rails on either side."""
    long = ~bays.opens & ~single & (fence.bays_per_rail == 2)
    if pattern.closed:
        return np.asarray(long & np.roll(long, 1))
    return np.asarray(np.append(long, False) & np.append(False, long))


def _over_ground(one: LaidOut, *, tells_posts: bool) -> BayGround:
    course = one.course
    length = course.line.length_m
    station = np.linspace(0.0, length, max(2, int(np.ceil(length / FINE_M)) + 1))
    ground = course.ground_at(station) if tells_posts else np.full(len(station), np.nan)
    post_m = one.row.chainage_m
    return bay_ground(
        post_m,
        station_m=station,
        ground_m=ground,
        round_m=length if course.line.closed else None,
        opens=one.row.opens[: len(post_m) - (not course.line.closed)],
    )


def every_row_joins(one: LaidOut) -> Flags:
    """Return the posts (n,) where every row is cut whatever the heights: all that hold an end, and arcs' ends."""
    row, fixed = one.row, one.fixed
    reasoned = np.array([place >= 0 and bool(fixed.reasons[place]) for place in row.fixed.tolist()], dtype=bool)
    near = np.abs(row.chainage_m[:, None] - one.course.tangent_m[None, :]) < ONE_POST_M
    return np.asarray(reasoned | near.any(axis=1))


def too_tight(course: Course, bays: BayGround, *, thick_mm: float) -> Flags:
    """Return the bays (b,) on arcs of less than the radius that a rail so thick is bent to."""
    line = course.line
    middle = bays.post_m[: len(bays.bay_m)] + bays.bay_m / 2.0
    run = np.clip(np.searchsorted(line.run_m, middle, side="right") - 1, 0, len(line.run_length_m) - 1)
    turn = np.abs(line.run_turn_rad[run])
    # tight when length ÷ turn, the radius, is under the least
    return np.asarray((line.rises_m[run] != 0.0) & (line.run_length_m[run] < least_radius_m(thick_mm) * turn))

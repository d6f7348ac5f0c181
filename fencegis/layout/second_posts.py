"""Corners with two posts: each run of rails ends on a post of its own, and the short way between the two opens.

The first post stands on the corner and keeps what belongs to it: its peg, its node, the run that arrives. The second
stands on the run that leaves, a finger clear of the first; that run's rails, string and running tape begin there. Where
the way opens anyway, for a gate hangs on the corner's post, one post will do.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.rail_rows import rail_number
from fencegis.layout.standing import LEAST_BAY_M, ONE_POST_M

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.layout.standing import Standing
    from fencegis.line.course import Course
    from fencegis.records.spec import Fence

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]

SHARPEST_DEG = 140.0  # a fence that all but turns back has its posts this far round, and no further, out of the way


def take_two(turn_deg: Floats, *, fence: Fence) -> Flags:
    """Return at which corners, by the fence's turn (n,), there are two posts; rails between posts need no second."""
    asked = fence.corner == "two posts" and fence.rails_fixed != "centred"
    return np.asarray(asked & (np.abs(turn_deg) >= rail_number("least turn for two posts")))


def apart_m(turn_deg: Floats, *, fence: Fence) -> Floats:
    """Return how far along the line (n,) beyond its corner's post the second one stands.

    Round posts on the line are a post and a finger from centre to centre. Where the line runs along their faces they
    stand half a post to one side, on the inside of the turn nearer to each other by half a post × tan(turn ÷ 2) than
    along the line, on the outside as much further.
    """
    square = fence.post_mm / 1000.0 + rail_number("finger between posts")
    if fence.line_is == "centre":
        return np.full(len(turn_deg), square)
    behind = fence.post_mm / 2000.0 * np.tan(np.radians(np.minimum(np.abs(turn_deg), SHARPEST_DEG)) / 2.0)
    inside = (turn_deg > 0.0) == ((fence.string_side or fence.rail_side) == "left")  # posts are right of that string
    return np.asarray(np.where(inside, square + behind, np.maximum(square - behind, square / 2.0)))


def add_second_posts(standing: Standing, course: Course, *, fence: Fence) -> None:
    """Put a second post at each corner that takes two, hangs no gate, and has room before the next post."""
    two = take_two(course.turn_deg, fence=fence)
    ends = np.array([*sorted(standing.why), course.line.length_m])
    for corner, beyond in zip(course.corner_m[two], apart_m(course.turn_deg[two], fence=fence), strict=True):
        first = standing.nearest(float(corner), ONE_POST_M)
        room = float(ends[ends > corner + ONE_POST_M].min()) - corner
        if first is not None and "gate" not in standing.why[first] and room >= beyond + LEAST_BAY_M:
            standing.second(float(corner + beyond))

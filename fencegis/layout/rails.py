"""Every rail with its cuts: the layer `rails`.

A rail is raked and straight, posts are plumb, so an end is cut in two planes: plumb, and in plan where two rails meet
at an angle. Length is from long point to long point: the way from post to post along the top line, with what the rail
covers beyond a post's centre, and depth × tan(grade) for the two plumb cuts.

Beyond a post's centre, with h half the post and t the rail's thickness:

* at ends and gates to the post's edge, h, or not at all, as `end_cover` says;
* mitred at a turn: on the outside (h + t) · tan(turn ÷ 2) more, on the inside h · tan(turn ÷ 2) less;
* lapped at about a right angle: the rail that arrives runs past, the one that leaves butts against its face;
* where a corner has two posts, at each as at an end;
* where there is no room for a second, and past a right angle, square to the post's edge, h.

Bends of an arc from chord to chord are mitres too.

A rail between posts (`rails_fixed = "centred"`) runs along the posts' line and ends h less `housing_mm` short of each
centre, cut square to itself: at a turn both rails enter the post from their own sides, so that there is neither an
inside nor an outside nor a mitre, unless the fence turns so sharply that the two ends would meet in the post. The
housing is measured level.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.layout.rail_rows import rail_number
from fencegis.layout.second_posts import take_two
from fencegis.layout.standing import ONE_POST_M
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.layout.joints import Pattern
    from fencegis.layout.railed import Railed
    from fencegis.records.spec import Fence

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]

STRAIGHT_DEG = 1e-6  # headings from coordinates of a hundred kilometres are no better
FOLDED_DEG = 179.0  # a fence that comes back on itself


@dataclass(frozen=True, eq=False)
class Ends:
    """How a rail that ends at each post (n,) is cut there: metres beyond the post's centre, and degrees out of square.

    `arrive` for rails that end at the post, `leave` for those that begin there. `over_m` is what a rail that runs on
    over the post is longer by at its middle, for going round outside of the turn.
    """

    arrive_m: Floats
    arrive_deg: Floats
    leave_m: Floats
    leave_deg: Floats
    over_m: Floats


def rail_table(lines: Sequence[Railed], *, fence: Fence) -> pd.DataFrame:
    """Return the layer `rails`, row by row of each line. A rail over a loop's start is two rows of one name."""
    depth, stock = fence.rail_depth_mm, fence.rail_m or ()
    frames = [
        laid(one, one.pattern, rail_ends(one, fence), depth_mm=depth, stock_m=stock, fence=fence)
        for one in lines
        if len(one.pattern.row)
    ]
    return checked("rails", pd.concat(frames, ignore_index=True)) if frames else empty("rails")


def cut_length_m(plan_m: Floats, *, grade_deg: Floats, depth_mm: float) -> Floats:
    """Return the length from long point to long point of rails that reach over `plan_m` horizontally at a grade."""
    grade = np.radians(np.abs(grade_deg))
    return np.asarray(plan_m / np.cos(grade) + depth_mm / 1000.0 * np.tan(grade))


def room_in_m(stock_m: float, *, bays: npt.NDArray[np.int_], fence: Fence) -> Floats:
    """Return the longest rail over so many bays that a stock length holds; what a bay may exceed comes off the trim."""
    return np.asarray(stock_m - 2.0 * fence.end_trim_mm / 1000.0 + bays * fence.bay_tolerance_mm / 1000.0)


def cuts_of(one: Railed, pattern: Pattern, ends: Ends, *, depth_mm: float) -> tuple[Floats, Floats]:
    """Return the length from long point to long point and the grade in degrees of each rail or board of a pattern.

    The grade is NaN where the ground is unknown; the length is the level one there.
    """
    begin, end, long = pattern.first, pattern.last_post, pattern.bays == 2
    middle = np.where(long, (begin + 1) % pattern.count, begin)
    chord_m = one.chord_m[begin] + np.where(long, one.chord_m[middle], 0.0)
    plan_m = chord_m + ends.leave_m[begin] + ends.arrive_m[end] + np.where(long, ends.over_m[middle], 0.0)
    grade_deg = np.degrees(np.arctan2(one.level_m[end] - one.level_m[begin], chord_m))
    return cut_length_m(plan_m, grade_deg=np.nan_to_num(grade_deg), depth_mm=depth_mm), grade_deg


def laid(
    one: Railed, pattern: Pattern, ends: Ends, *, depth_mm: float, stock_m: Sequence[float], fence: Fence
) -> pd.DataFrame:
    """Return the rows of the layer `rails` for a pattern, cut plumb through a depth of `depth_mm`, out of `stock_m`."""
    bays, begin, end, long = one.bays, pattern.first, pattern.last_post, pattern.bays == 2
    middle = np.where(long, (begin + 1) % pattern.count, begin)
    cut_m, grade_deg = cuts_of(one, pattern, ends, depth_mm=depth_mm)
    from_m = bays.post_m[begin]
    number = np.arange(len(begin)) - np.searchsorted(pattern.row, pattern.row) + 1
    rails = pd.DataFrame(
        {
            "line_id": one.line_id,
            "from_m": from_m,
            "to_m": from_m + bays.bay_m[begin] + np.where(long, bays.bay_m[middle], 0.0),
            "rail_id": [
                f"{one.line_id}-{f'R{row + 1}' if row >= 0 else 'C'}-{place:03d}"
                for row, place in zip(pattern.row, number, strict=True)
            ],
            "row": pattern.row + 1,
            "bays": pattern.bays,
            "cut_m": cut_m,
            "stick": _stick_m(cut_m, pattern.bays, stock_m, fence),
            "mitre_from_deg": ends.leave_deg[begin],
            "mitre_to_deg": ends.arrive_deg[end],
            "plumb_from_deg": grade_deg,
            "plumb_to_deg": grade_deg,
        }
    )
    return _cut_at_start(rails, one.laid_out.course.line.length_m) if pattern.closed else rails


def rail_ends(one: Railed, fence: Fence) -> Ends:
    """Return how rails are cut at each post of a line, by `end_cover`, `corner` and the side that rails are on."""
    if fence.rails_fixed == "centred":
        return _housed(one, fence)
    half_m, thick_m = post_mm(one, fence) / 2000.0, fence.rail_thick_mm / 1000.0
    turn = np.where(np.abs(one.turn_deg) < STRAIGHT_DEG, 0.0, one.turn_deg)
    size, outside = np.radians(np.abs(turn)), (turn < 0.0) == (fence.rail_side == "right")
    half_turn = np.tan(np.minimum(size, np.pi / 2.0) / 2.0)
    arrive_m = np.where(outside, (half_m + thick_m) * half_turn, -half_m * half_turn)
    leave_m, arrive_deg, leave_deg = arrive_m.copy(), turn / 2.0, turn / 2.0
    over_m = np.where(outside, 2.0, -2.0) * (half_m + thick_m / 2.0) * half_turn
    stop, square, lap = ends_or_gates(one), _square(one, turn, fence), _lapped(one, turn, fence)
    if lap.any():
        arrive_m[lap], leave_m[lap] = _laps(size[lap], half_m[lap], thick_m, outside[lap])
        arrive_deg[lap], leave_deg[lap] = 0.0, (np.sign(turn) * (np.abs(turn) - 90.0))[lap]
    for length, angle in ((arrive_m, arrive_deg), (leave_m, leave_deg)):
        length[square], angle[square] = half_m[square], 0.0
        length[stop], angle[stop] = half_m[stop] if fence.end_cover == "edge" else 0.0, 0.0
    return Ends(arrive_m, arrive_deg, leave_m, leave_deg, over_m)


def _housed(one: Railed, fence: Fence) -> Ends:
    """Return the ends of rails between posts: square, `housing_mm` deep in every post."""
    short_m, square = fence.housing_mm / 1000.0 - post_mm(one, fence) / 2000.0, np.zeros(len(one.bays.post_m))
    return Ends(short_m, square, short_m, square, square)


def meet_in_post(one: Railed, fence: Fence) -> Flags:
    """Return the posts (n,) in which the square ends of two rails between posts would meet.

    Ends t thick stay a from the post's centre, each on its own rail's line; where the fence turns, their inner edges
    meet when a is less than t/2 · tan(turn ÷ 2).
    """
    apart_m = post_mm(one, fence) / 2000.0 - fence.housing_mm / 1000.0
    half_turn = np.radians(np.minimum(np.abs(one.turn_deg), FOLDED_DEG)) / 2.0
    return np.asarray(apart_m < fence.rail_thick_mm / 2000.0 * np.tan(half_turn))


def post_mm(one: Railed, fence: Fence) -> Floats:
    """Return the diameter of each post (n,) of a line: gate posts have their own."""
    gate = np.array(["gate" in why for why in reasons_at(one)], dtype=bool)
    return np.where(gate, fence.gate_post_mm, fence.post_mm)


def at_corner(one: Railed) -> Flags:
    """Return which posts (n,) stand at a corner."""
    course = one.laid_out.course
    return np.asarray((np.abs(one.bays.post_m[:, None] - course.corner_m[None, :]) < ONE_POST_M).any(axis=1))


def ends_or_gates(one: Railed) -> Flags:
    """Return which posts (n,) end the fence, stand at a gate, or are one of two at a corner."""
    return np.array(["gate" in why or "end" in why for why in reasons_at(one)], dtype=bool) | one.laid_out.paired


def _square(one: Railed, turn_deg: Floats, fence: Fence) -> Flags:
    most = "most turn to lap" if fence.corner == "lap" else "most turn to mitre"
    sharp = np.abs(turn_deg) > rail_number(most)
    return np.asarray(sharp | (at_corner(one) & take_two(turn_deg, fence=fence)))


def _lapped(one: Railed, turn_deg: Floats, fence: Fence) -> Flags:
    size = np.abs(turn_deg)
    upright = (size >= rail_number("least turn to lap")) & (size <= rail_number("most turn to lap"))
    return np.asarray(upright & at_corner(one) & (fence.corner == "lap"))


def _laps(size: Floats, half_m: Floats, thick_m: float, outside: Flags) -> tuple[Floats, Floats]:
    """Return what the rail that arrives and the one that butts against its face have beyond the post's centre.

    From the faces' lines: each runs h or h + t beside its own row of posts.
    """
    far_m, sine, half_turn = half_m + thick_m, np.sin(size), np.tan(size / 2.0)
    arrive_m = np.where(outside, half_m * half_turn + thick_m / sine, (far_m * np.cos(size) - half_m) / sine)
    spare = np.maximum(0.0, -thick_m / np.tan(size))  # past a right angle the butt's other corner is the long one
    return arrive_m, np.where(outside, half_m * half_turn, -far_m * half_turn) + spare


def reasons_at(one: Railed) -> list[tuple[str, ...]]:
    """Return why each post (n,) holds an end, empty where it does not."""
    fixed, row = one.laid_out.fixed, one.laid_out.row
    return [fixed.reasons[place] if place >= 0 else () for place in row.fixed.tolist()]


def _stick_m(cut_m: Floats, bays: npt.NDArray[np.int_], stock_m: Sequence[float], fence: Fence) -> Floats:
    """Return the shortest stock length that holds each rail and its trims, NaN where none does."""
    stick = np.full(len(cut_m), np.nan)
    for stock in sorted(stock_m, reverse=True):
        stick[cut_m <= room_in_m(stock, bays=bays, fence=fence) + 1e-9] = stock
    return stick


def _cut_at_start(rails: pd.DataFrame, length_m: float) -> pd.DataFrame:
    """Return the rails with those that run over a loop's start in two rows, lengths and cuts in the first only."""
    over = rails["to_m"] > length_m + 1e-6
    rest = rails[over].assign(from_m=0.0, to_m=rails["to_m"] - length_m)
    own = ["line_id", "from_m", "to_m", "rail_id", "row", "bays"]
    whole = rails.assign(to_m=rails["to_m"].clip(upper=length_m))
    return pd.concat([whole, rest[own]], ignore_index=True) if over.any() else whole

"""The cap: boards that lie flat on the posts' tops, as row 0 of the layer `rails`.

The posts are cut at the top of the top rail, flat, level across the fence and along it to the rails' grade, so that the
cap's underside is the top line and the fence stands as much higher as the cap is thick. The boards run along the posts'
line. Beyond a post's centre, with w their width, a board reaches

* at gates and ends, also where it comes in at another fence, to the post's edge, h;
* at a turn (w/2) · tan(turn ÷ 2), on either side of the fence: mitred at half the turn;
* where the fence all but turns back on itself no further.

Flat, a board bends on its thin way. It is pulled to a change of grade no harder than a rail that stands on edge is by
`pull_mm`, and no nearer to breaking: the force for a given pull goes by b·d³, b across and d the way that it bends, the
bending stress by d. Sideways, in an arc, it bends over its width, so that arcs want a wider radius than rails do.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.layout.bay_limit import cap_bays, cap_past_m
from fencegis.layout.joints import Pattern, cap_pattern
from fencegis.layout.rail_rows import rail_number
from fencegis.layout.railed import every_row_joins, too_tight
from fencegis.layout.rails import STRAIGHT_DEG, Ends, cuts_of, ends_or_gates, laid, post_mm, room_in_m
from fencegis.layout.top_line import bends_over_pull
from fencegis.records.tables import checked

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.layout.railed import Railed
    from fencegis.records.spec import Fence

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]


def with_caps(rails: pd.DataFrame, lines: Sequence[Railed], *, fence: Fence) -> pd.DataFrame:
    """Return the layer `rails` with the boards of the cap of each line; as it is where the fence has no cap."""
    if fence.cap_m is None:
        return rails
    boards = [
        laid(one, pattern, cap_ends(one, fence), depth_mm=fence.cap_thick_mm, stock_m=fence.cap_m, fence=fence)
        for one in lines
        if len((pattern := cap_of(one, fence)).row)
    ]
    return checked("rails", pd.concat([*boards, rails], ignore_index=True)) if boards else rails


def cap_pull_mm(fence: Fence) -> float:
    """Return how far a board of the cap is pulled over two bays, by the force and the stress of a rail on edge."""
    rail_mm, cap_mm = fence.rail_depth_mm, fence.cap_thick_mm
    stress = rail_mm / cap_mm
    force = fence.rail_thick_mm * rail_mm**3 / (fence.cap_width_mm * cap_mm**3)
    return fence.pull_mm * min(stress, force)


def cap_ends(one: Railed, fence: Fence) -> Ends:
    """Return how boards of the cap are cut at each post of a line."""
    turn = np.where(np.abs(one.turn_deg) < STRAIGHT_DEG, 0.0, one.turn_deg)
    turn = np.where(np.abs(turn) > rail_number("most turn to mitre a cap"), 0.0, turn)
    past_m, stop = cap_past_m(turn, fence=fence), ends_or_gates(one)
    past_m[stop] = post_mm(one, fence)[stop] / 2000.0
    mitre_deg = np.where(stop, 0.0, turn / 2.0)
    return Ends(past_m, mitre_deg, past_m, mitre_deg, np.zeros(len(turn)))


def cap_of(one: Railed, fence: Fence) -> Pattern:
    """Return the boards of a line's cap: over two bays where the longest stock reaches, joints off the top rail's."""
    bays, count, closed = one.bays, one.pattern.count, one.pattern.closed
    first = np.arange(count if closed else count - 1)
    two = Pattern(np.full(len(first), -1), first, np.full(len(first), 2), count, closed)
    cut_m, _ = cuts_of(one, two, cap_ends(one, fence), depth_mm=fence.cap_thick_mm)
    longest_m = room_in_m(max(fence.cap_m or (0.0,)), bays=two.bays, fence=fence)
    after = (first + 1) % count
    tight = too_tight(one.laid_out.course, bays, thick_mm=fence.cap_width_mm)
    pairs = np.zeros(count, dtype=bool)
    pairs[first] = (cap_bays(fence) == 2) & (cut_m <= longest_m + 1e-9) & ~(tight[first] | tight[after])
    return cap_pattern(bays.opens, stops=cap_stops(one, fence), pairs=pairs, taken=top_joints(one), closed=closed)


def cap_stops(one: Railed, fence: Fence) -> Flags:
    """Return the posts (n,) where the cap is cut whatever the stock: with all rails, and where it bends too far."""
    stops = every_row_joins(one.laid_out)
    if one.heights is not None:
        stops |= bends_over_pull(one.bays, one.heights.line, pull_m=cap_pull_mm(fence) / 1000.0)
    return stops


def top_joints(one: Railed) -> Flags:
    """Return the posts (n,) where the top rail is joined, or ends."""
    top = one.pattern.row == 0
    joints = np.zeros(len(one.bays.post_m), dtype=bool)
    joints[one.pattern.first[top]] = joints[one.pattern.last_post[top]] = True
    return joints

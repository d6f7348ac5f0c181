"""The greatest bay: given for wire, following from the rail, and from the cap if there is one, in post and rail."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from fencegis.layout.rail_rows import rail_number

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.records.spec import Fence, FenceKind

    Floats = npt.NDArray[np.float64]


def greatest_bay_m(
    kind: FenceKind, fence: Fence, *, grade_pct: float = 0.0, cover_m: float = 0.0, cap_cover_m: float = 0.0
) -> float:
    """Return the greatest distance between post centres along the ground, in metres.

    In rail: a stock rail, trimmed at both ends and cut plumb for the grade, reaches over its bays, and two half rails
    and the saw's kerf come out of one rail; `cover_m` is what the stretch's rails have to reach beyond post centres.
    A 4.8 m rail on the level gives 2.373 m. Between posts a rail reaches over one bay, less a post between faces and
    more by its two housings. A board of the cap reaches over as many bays as `cap_bays` says, `cap_cover_m` what it
    has to reach beyond. The set spacing is an upper limit.
    """
    if kind == "wire" or fence.rail_m is None:
        return fence.post_spacing_m
    reach = _rails_reach_m(fence, max(fence.rail_m), grade_pct=grade_pct, cover_m=cover_m)
    return min(reach, cap_reach_m(fence, bays=cap_bays(fence), grade_pct=grade_pct, cover_m=cap_cover_m))


def cap_bays(fence: Fence) -> Literal[1, 2]:
    """Return over how many bays boards of the cap go: two if the longest reaches, or would in bays a little shorter."""
    if fence.cap_m is None or fence.rail_m is None:
        return 1
    given_up = rail_number("bay given up for the cap")
    return 2 if cap_reach_m(fence, bays=2) >= (1.0 - given_up) * _rails_reach_m(fence, max(fence.rail_m)) else 1


def _rails_reach_m(fence: Fence, rail_m: float, *, grade_pct: float = 0.0, cover_m: float = 0.0) -> float:
    grade = abs(grade_pct) / 100.0
    rail = rail_m - 2.0 * fence.end_trim_mm / 1000.0 - cover_m
    plumb_cut = fence.rail_depth_mm / 1000.0 * grade
    if fence.rails_fixed == "centred":
        in_posts = (fence.post_mm - 2.0 * fence.housing_mm) / 1000.0  # level; along the grade it is longer
        reach = rail - plumb_cut + in_posts * math.hypot(1.0, grade)
    elif fence.rail_bays == 1:
        reach = rail - plumb_cut
    else:
        reach = min((rail - plumb_cut) / 2.0, (rail - fence.kerf_mm / 1000.0) / 2.0 - plumb_cut)
    return min(fence.post_spacing_m, reach)


def cap_reach_m(fence: Fence, *, bays: int = 1, grade_pct: float = 0.0, cover_m: float = 0.0) -> float:
    """Return the greatest bay along the ground of which the longest cap board reaches over so many; infinite: no cap.

    The board is trimmed at both ends and cut plumb for the grade, which takes little off a board that lies flat.
    """
    if fence.cap_m is None:
        return math.inf
    board = max(fence.cap_m) - 2.0 * fence.end_trim_mm / 1000.0 - cover_m
    return (board - fence.cap_thick_mm / 1000.0 * abs(grade_pct) / 100.0) / bays


def cap_past_m(turn_deg: Floats, *, fence: Fence) -> Floats:
    """Return how far a cap board reaches beyond the post's centre where the fence turns by so much: its long point.

    Boards of one width are mitred at half the turn. The board lies on the posts' line, so that inside and outside of
    the turn are alike; where the fence all but turns back on itself it ends at the centre.
    """
    size = np.abs(turn_deg)
    half_turn = np.radians(np.where(size > rail_number("most turn to mitre a cap"), 0.0, size)) / 2.0
    return np.asarray(fence.cap_width_mm / 2000.0 * np.tan(half_turn))

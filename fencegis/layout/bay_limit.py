"""The greatest bay: given for wire, following from the rail in post and rail."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fencegis.records.spec import Fence, FenceKind


def greatest_bay_m(kind: FenceKind, fence: Fence, *, grade_pct: float = 0.0, cover_m: float = 0.0) -> float:
    """Return the greatest distance between post centres along the ground, in metres.

    In rail: a stock rail, trimmed at both ends and cut plumb for the grade, reaches over its bays, and two half rails
    and the saw's kerf come out of one rail; `cover_m` is what the stretch's rails have to reach beyond post centres.
    A 4.8 m rail on the level gives 2.373 m. The set spacing is an upper limit.
    """
    if kind == "wire" or fence.rail_m is None:
        return fence.post_spacing_m
    rail = max(fence.rail_m) - 2.0 * fence.end_trim_mm / 1000.0 - cover_m
    plumb_cut = fence.rail_depth_mm / 1000.0 * abs(grade_pct) / 100.0
    if fence.rail_bays == 1:
        reach = rail - plumb_cut
    else:
        reach = min((rail - plumb_cut) / 2.0, (rail - fence.kerf_mm / 1000.0) / 2.0 - plumb_cut)
    return min(fence.post_spacing_m, reach)

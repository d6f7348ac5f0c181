"""What to know on site of the cap: how it lies, where its boards are joined, and where the posts' tops ask for care."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.bay_limit import cap_bays, cap_reach_m
from fencegis.layout.caps import cap_of, cap_pull_mm, cap_stops, top_joints
from fencegis.layout.joints import least_radius_m
from fencegis.layout.rail_rows import rail_number
from fencegis.layout.railed import too_tight
from fencegis.layout.rails import post_mm, reasons_at
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.layout.railed import Railed
    from fencegis.records.spec import Fence


def notes_on_caps(lines: Sequence[Railed], *, fence: Fence) -> list[Note]:
    """Return the notes on the cap; none for a fence without one, or without a line of rails."""
    if fence.cap_m is None or not lines:
        return []
    notes = [_on_lie(fence), *_on_width(fence)]
    for one in lines:
        notes += [*_on_boards(one, fence), *_on_meetings(one), *_on_arcs(one, fence), *_on_tops(one, fence)]
    return notes


def _on_lie(fence: Fence) -> Note:
    sizes = {"cap_width_mm", "cap_thick_mm"} <= fence.model_fields_set
    said = "" if sizes else " (common practice where site.toml gives no size)"
    return Note(
        "default",
        f"a cap {fence.cap_width_mm:g} mm wide and {fence.cap_thick_mm:g} mm thick{said} lies on the posts, centred on"
        " their line: cut their tops flat, level across the fence and to the rails' grade along it, at the top of the"
        f" top rail; top_m is the cap's underside, so the fence stands {fence.cap_thick_mm:g} mm higher. A board runs"
        f" over {'two bays where it reaches' if cap_bays(fence) == 2 else 'one bay'}; lying flat it may be pulled"
        f" {cap_pull_mm(fence):.0f} mm to a change of grade: no more force and no more stress than a rail on edge at"
        f" {fence.pull_mm:g} mm",
    )


def _on_width(fence: Fence) -> list[Note]:
    if fence.cap_width_mm < fence.post_mm:
        return [
            Note(
                "doubt",
                f"the cap, {fence.cap_width_mm:g} mm wide, is narrower than posts of {fence.post_mm:g} mm: their end"
                " grain lies open to rain beside it",
            )
        ]
    out_mm = fence.post_mm / 2.0 + fence.rail_thick_mm - fence.cap_width_mm / 2.0
    if fence.rails_fixed == "centred" or out_mm <= 0.0:
        return []
    words = f"rails on the face of the posts stand {out_mm:g} mm out from under the cap"
    return [Note("default", f"{words}; a cap {fence.cap_width_mm + 2.0 * out_mm:g} mm wide would cover them")]


def _on_boards(one: Railed, fence: Fence) -> list[Note]:
    boards, stops = cap_of(one, fence), cap_stops(one, fence)
    if not len(boards.row):
        return []
    two = int((boards.bays == 2).sum())
    joints = np.zeros(len(stops), dtype=bool)
    joints[boards.first] = joints[boards.last_post] = True
    free = joints & ~stops
    shared = int((free & top_joints(one)).sum())
    with_rails = f"{shared} of them where the top rail is joined too" if shared else "none where the top rail is joined"
    notes = [
        Note(
            "default",
            f"cap: {two} boards over two bays, {len(boards.row) - two} over one, mitred at half the turn at corners,"
            f" cut at every end, gate, corner and junction; {int(free.sum())} joints between, on posts' tops,"
            f" {with_rails if free.any() else 'so none to stagger'}",
            one.line_id,
        )
    ]
    reach_m, longest_m = cap_reach_m(fence, bays=2), float(one.bays.bay_m[~one.bays.opens].max())
    if cap_bays(fence) == 1 and len(boards.row) > 1:
        notes.append(
            Note(
                "default",
                f"boards of {max(fence.cap_m or (0.0,)):g} m reach over one bay only: over two they would have to be"
                f" {max(fence.cap_m or (0.0,)) + 2.0 * (longest_m - reach_m):.2f} m, so the cap is joined on every"
                " post",
                one.line_id,
            )
        )
    return notes


def _on_meetings(one: Railed) -> list[Note]:
    """Return where a cap comes in at another fence's post: boards of two directions have to share its top."""
    return [
        Note(
            "default",
            f"at {one.laid_out.post_id[post]} the cap comes in at another fence: its board is reckoned to the far edge"
            " of the post; cut it back to the side of the board that lies there, or mitre both",
            one.line_id,
            float(one.bays.post_m[post]),
        )
        for post, why in enumerate(reasons_at(one))
        if {"end", "junction"} <= set(why)
    ]


def _on_arcs(one: Railed, fence: Fence) -> list[Note]:
    tight = too_tight(one.laid_out.course, one.bays, thick_mm=fence.cap_width_mm) & ~one.bays.opens
    if not tight.any():
        return []
    return [
        Note(
            "default",
            f"boards of the cap go over one bay each on the arc from here: flat they bend sideways over their width,"
            f" and its radius is under {least_radius_m(fence.cap_width_mm):.0f} m",
            one.line_id,
            float(one.bays.post_m[begin]),
        )
        for before, begin in pairwise([-2, *np.flatnonzero(tight).tolist()])
        if begin - before > 1
    ]


def _on_tops(one: Railed, fence: Fence) -> list[Note]:
    """Return where a post's uphill side has to stand higher than its over-length lets it."""
    rise_m = np.abs(np.diff(one.level_m, append=one.level_m[0])[: len(one.chord_m)])
    half_m = np.maximum(post_mm(one, fence), np.roll(post_mm(one, fence), -1))[: len(one.chord_m)] / 2000.0
    uphill_m = np.where(one.bays.opens, 0.0, np.nan_to_num(half_m * rise_m / one.chord_m))
    worst, spare_m = int(uphill_m.argmax()), rail_number("over-length")
    if uphill_m[worst] <= spare_m:
        return []
    return [
        Note(
            "doubt",
            f"posts' tops cut to the rails' grade: on the uphill side they stand {uphill_m[worst] * 1000.0:.0f} mm over"
            f" their middle here, more than the {spare_m * 1000.0:.0f} mm that posts are longer; take longer ones"
            " where it is so steep",
            one.line_id,
            float(one.bays.post_m[worst]),
        )
    ]

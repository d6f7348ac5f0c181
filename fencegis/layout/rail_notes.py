"""What to know on site of rails, joints and the top line: what was assumed, and where limits are not kept."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.joints import least_radius_m
from fencegis.layout.rail_rows import gap_wanted_m, rail_number, row_drops_m
from fencegis.layout.rails import at_corner, ends_or_gates, meet_in_post, room_in_m
from fencegis.layout.second_posts import take_two
from fencegis.layout.under_rail import SEEN_M
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from fencegis.layout.railed import Railed
    from fencegis.records.spec import Fence

NAMED = 12  # posts or bays named in one note
KINDS = {
    "ground": "follows the ground at posts",
    "flowing": "flows: the least sum of squared changes of grade",
    "straight": "runs in straight grades: the least sum of changes of grade",
}


def notes_on_rails(lines: Sequence[Railed], rails: pd.DataFrame, spots: pd.DataFrame, *, fence: Fence) -> list[Note]:
    """Return the notes on rails and the top line; none without a line of rails. Tables as made here."""
    if not lines:
        return []
    notes = [_on_heights(fence), *_on_fixing(fence)]
    for one in lines:
        notes += [*_on_joints(one, fence), *_on_corners(one, fence), *_on_limits(one, spots, fence)]
        notes += _on_lengths(one, rails[rails["line_id"] == one.line_id], fence)
    return notes


def _on_heights(fence: Fence) -> Note:
    drops = row_drops_m(fence)
    rows = "one row"
    if fence.rails > 1:
        rows = f"{fence.rails} rows, tops {drops[1] - drops[0]:.3f} m apart"
    wanted = gap_wanted_m(fence) + drops[-1] + fence.rail_depth_mm / 1000.0
    own = (
        "" if abs(wanted - fence.height_m) < SEEN_M else f" (a single row follows the gap, not {fence.height_m:.2f} m)"
    )
    return Note(
        "default",
        f"top line {KINDS[fence.top_line]}; wanted {wanted:.2f} m above the ground{own}, {rows}, the gap under the"
        f" bottom one {fence.gap_min_m:.2f} to {fence.gap_max_m:.2f} m. Heights are of the top of the top rail; rails"
        " are raked, posts plumb",
    )


def _on_fixing(fence: Fence) -> list[Note]:
    """Return what rails between posts ask for, and which keys of site.toml say nothing about them."""
    if fence.rails_fixed != "centred":
        return []
    from_centre = fence.post_mm / 2.0 - fence.housing_mm
    least = 2.0 * math.hypot(from_centre, fence.rail_thick_mm / 2.0)  # where a rail's edges just reach into the round
    idle = [key for key in ("rail_bays", "corner", "end_cover", "pull_mm") if key in fence.model_fields_set]
    if fence.rail_bays == 1 and "rail_bays" in idle:
        idle.remove("rail_bays")
    unheard = f". No word is taken from {', '.join(idle)} in site.toml" if idle else ""
    said = "" if "housing_mm" in fence.model_fields_set else " (common practice)"
    side = "" if fence.string_side else "; rail_side only says where the string stands"
    return [
        Note(
            "default",
            f"rails stand between the posts, in their line, {fence.post_mm / 2.0:g} mm behind the faces that the string"
            f" marks: over one bay each, for none can run through a post, ends cut square and plumb and let in"
            f" {fence.housing_mm:g} mm{said}, measured level, so that they end {from_centre:g} mm from the centre of a"
            f" {fence.post_mm:g} mm post. Keep that distance in one of another girth and let in more or less; in one"
            f" under {least:.0f} mm where rails enter, their edges stand out of it{side}{unheard}",
        )
    ]


def _on_joints(one: Railed, fence: Fence) -> list[Note]:
    notes = []
    names, pattern = one.laid_out.post_id, one.pattern
    graded = [names[place] for place in np.flatnonzero(one.for_grade)]
    if graded:
        more = f" and {len(graded) - NAMED} more" if len(graded) > NAMED else ""
        notes.append(
            Note(
                "default",
                f"every row is joined at {', '.join(graded[:NAMED])}{more}: the grade changes there by more than a rail"
                f" that runs through can be pulled, {fence.pull_mm:.0f} mm",
                one.line_id,
            )
        )
    begin = one.bays.post_m[: pattern.count]
    tight = one.single & ~one.bays.opens & (fence.bays_per_rail == 2)
    for first, last in _stretches(tight):
        end = begin[last] + one.bays.bay_m[last]
        notes.append(
            Note(
                "default",
                f"one-bay rails from here to {end:.0f} m: the arc's radius is under"
                f" {least_radius_m(fence.rail_thick_mm):.0f} m, too tight for a rail over two bays; one-bay rails"
                " cannot be staggered, so every post carries every row's joint",
                one.line_id,
                float(begin[first]),
            )
        )
    if fence.bays_per_rail == 1:
        words = "rails go over one bay each and cannot be staggered: every post carries every row's joint"
        notes.append(Note("default", words, one.line_id))
    return notes


def _on_corners(one: Railed, fence: Fence) -> list[Note]:
    if fence.rails_fixed == "centred":
        return _on_meeting(one, fence)
    names, notes = np.array(one.laid_out.post_id), []
    second = np.flatnonzero(one.bays.opens & one.laid_out.paired[: one.pattern.count]) + 1
    if len(second):
        more = f" and {len(second) - NAMED} more" if len(second) > NAMED else ""
        apart_mm = 1000.0 * rail_number("finger between posts")
        words = (
            f"corners with two posts, the second {', '.join(names[second][:NAMED])}{more}: {apart_mm:.0f} mm from"
            " the corner's own, face to face (common practice); the next run's rails, string and tape begin there, no"
            " rail crosses between. Where holes are dug the two run into one"
        )
        notes.append(Note("default", words, one.line_id))
    alone = at_corner(one) & take_two(one.turn_deg, fence=fence) & ~ends_or_gates(one)
    if alone.any():
        words = f"no room for a second post at {', '.join(names[alone])}, so near is the next: rails of both runs end"
        notes.append(Note("doubt", f"{words} square at the edge of the one that is planned", one.line_id))
    return notes


def _on_meeting(one: Railed, fence: Fence) -> list[Note]:
    """Return where the square ends of two rails would meet inside the post."""
    return [
        Note(
            "doubt",
            f"at {one.laid_out.post_id[post]} the fence turns so sharply that the ends of two rails let in"
            f" {fence.housing_mm:g} mm meet inside the post: take their inner edges off at half the turn, or let them"
            " in less there",
            one.line_id,
            float(one.bays.post_m[post]),
        )
        for post in np.flatnonzero(meet_in_post(one, fence))
    ]


def _on_limits(one: Railed, spots: pd.DataFrame, fence: Fence) -> list[Note]:
    """Return where the gap cannot keep its limits: by how much at the worst place, and what mends it."""
    if one.heights is None:
        return []
    said = {
        "cut": f"gap under the bottom rail cannot be {fence.gap_min_m:.2f} m everywhere",
        "fill": f"gap under the bottom rail cannot stay under {fence.gap_max_m:.2f} m everywhere",
    }
    notes = []
    for kind, words in said.items():
        own = spots[(spots["line_id"] == one.line_id) & (spots["kind"] == kind)]
        if len(own):
            worst = own.iloc[int(own["deepest_m"].to_numpy().argmax())]
            where = "1 place" if len(own) == 1 else f"{len(own)} places"
            notes.append(
                Note(
                    "doubt",
                    f"{words}: {where} to {kind}, by up to {worst['deepest_m']:.2f} m here,"
                    f" {own['volume_m3'].sum():.2f} m³ in all over a width of {worst['width_m']:.1f} m (layer spots)"
                    f"{_held_down(one) if kind == 'cut' else ''}",
                    one.line_id,
                    float(worst["deepest_at_m"]),
                )
            )
    return notes + _on_tall(one)


def _held_down(one: Railed) -> str:
    """Return the words for a line that only the length of the posts on hand keeps low."""
    held = int((one.top_m > one.tallest_m - SEEN_M).sum())
    return f"; posts on hand keep the line down at {held} of its posts, where longer ones would lift it" if held else ""


def _on_tall(one: Railed) -> list[Note]:
    assert one.heights is not None  # noqa: S101 (asked by the caller)
    tall = one.heights.line.tall_m
    over = np.flatnonzero(tall > SEEN_M)
    if not len(over):
        return []
    worst = int(over[tall[over].argmax()])
    return [
        Note(
            "doubt",
            f"the top line stands higher than the posts on hand reach at {len(over)} of its posts: by"
            f" {tall[worst]:.2f} m at {one.laid_out.post_id[worst]}, the worst",
            one.line_id,
            float(one.bays.post_m[worst]),
        )
    ]


def _on_lengths(one: Railed, rails: pd.DataFrame, fence: Fence) -> list[Note]:
    """Return which rails, and which boards of the cap, are longer than the stock less its trims."""
    unheld = rails[rails["stick"].isna() & rails["cut_m"].notna()]
    cap = unheld["row"] == 0
    return [
        *_too_long(one, unheld[~cap], fence.rail_m or (0.0,), "rails", fence),
        *_too_long(one, unheld[cap], fence.cap_m or (0.0,), "boards of the cap", fence),
    ]


def _too_long(one: Railed, none: pd.DataFrame, stock_m: Sequence[float], what: str, fence: Fence) -> list[Note]:
    if none.empty:
        return []
    room = room_in_m(max(stock_m), bays=none["bays"].to_numpy(dtype=int), fence=fence)
    over = none["cut_m"].to_numpy() - room
    worst = int(over.argmax())
    more = f" and {len(none) - NAMED} more" if len(none) > NAMED else ""
    return [
        Note(
            "doubt",
            f"{len(none)} {what} are longer than the longest stock less its trims ({', '.join(none['rail_id'][:NAMED])}"
            f"{more}): {none['rail_id'].iloc[worst]} by {1000.0 * over[worst]:.0f} mm, the worst; take longer stock"
            " there or a post more",
            one.line_id,
            float(none["from_m"].iloc[worst]),
        )
    ]


def _stretches(here: np.ndarray) -> list[tuple[int, int]]:
    """Return the first and last place of each stretch that is true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], here.astype(int), [0]])))
    return [(int(first), int(stop) - 1) for first, stop in zip(edges[::2], edges[1::2], strict=True)]

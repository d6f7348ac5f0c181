"""The lists on a run's sheet: what to measure and share out, the tape's marks, how posts stand."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from fencegis.exports.rounding import printed
from fencegis.exports.sheets.paper import drawn, named
from fencegis.exports.sheets.words import heaps, millimetres
from fencegis.exports.words import degrees, metres, number, present, turn
from fencegis.layout.rail_rows import bottom_drop_m, row_drops_m
from fencegis.layout.second_posts import take_two
from fencegis.setout.odd_corners import ODD_DEG

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fencegis.exports.sheets.posts import Floats, Stretch, Walk
    from fencegis.records.plan import Plan
    from fencegis.records.spec import Fence

HEAVY = {"strainer", "gate", "junction", "key", "brace"}
PLUMB = " Odd: plumb both ways."
EVEN_M = 0.005  # bays that differ by less are called equal


def string_lines(plan: Plan, walk: Walk) -> tuple[str, list[tuple[str, bool]]]:
    """Return a heading, and lines: what is measured (True: a blank stands behind it), then the bays for each length."""
    rows: list[tuple[str, bool]] = []
    if walk.fence == "wire":
        for stretch in walk.stretches:
            rows += _strains(stretch)
        return "post to post; bays × m", rows
    for stretch in walk.stretches:
        names = stretch.names
        rows.append((f"{names[0]} to {names[-1]}", True))
        shares = divide_rows(plan, walk, stretch)
        rows += [(text, False) for text in shares]
        if not shares:
            rows.append((f"{bays_words(stretch.bay_m)} m", False))
    return "face to face; bay = measured ÷ bays", rows


def divide_rows(plan: Plan, walk: Walk, stretch: Stretch) -> list[str]:
    """Return the rows of the layer `divide` for this stretch in words, lengths in metres as printed everywhere."""
    table, names = plan.divide, stretch.names
    of = (table["run_id"] == walk.run.run_id) & (table["from_post"] == names[0]) & (table["to_post"] == names[-1])
    rows = table[of]
    begins, ends = printed(rows["from_m"], "from_m"), printed(rows["to_m"], "to_m")
    return [f"{bays} bays: {begin}–{end} m" for bays, begin, end in zip(rows["bays"], begins, ends, strict=True)]


def _strains(stretch: Stretch) -> Iterator[tuple[str, bool]]:
    """From each holding post to the next."""
    kinds = [post.kind for post in stretch.posts]
    holds = [0, *(place for place in range(1, len(kinds) - 1) if kinds[place] == "strainer"), len(kinds) - 1]
    for begin, end in pairwise(holds):
        yield f"{stretch.names[begin]}–{stretch.names[end]}, {bays_words(stretch.bay_m[begin:end])}", True


def bays_words(bay_m: Floats) -> str:
    """Return how many bays of what length along the ground, from the shortest to the longest where they differ."""
    low, high = float(np.min(bay_m)), float(np.max(bay_m))
    return f"{len(bay_m)} × {low:.3f}" + ("" if high - low < EVEN_M else f"–{high:.3f}")


@dataclass(frozen=True)
class Mark:
    """One post on the running tape: what is read off there and how high its rails stand, as printed."""

    name: str  # a heavier post's with a star behind it
    tape_mm: str
    top_mm: str
    gap_mm: str


def marks(plan: Plan, walk: Walk) -> tuple[str, list[Mark]]:
    """Return a heading and the running marks: every post in rail, only heavier ones in wire."""
    wire = walk.fence == "wire"
    drop_m = math.nan if wire else bottom_drop_m(plan.site.spec.fence)
    found = []
    for stretch in walk.stretches:
        last = len(stretch.names) - 1
        for place, (post, tape_m) in enumerate(zip(stretch.posts, stretch.tape_m, strict=True)):
            heavy = post.kind in HEAVY
            if wire and not heavy and place not in {0, last}:
                continue
            has_top = not wire and present(post.top_m)
            top, gap = (millimetres(post.top_m), millimetres(post.top_m - drop_m)) if has_top else ("", "")
            found.append(Mark(drawn(str(post.post_id)) + ("*" if heavy else ""), millimetres(tape_m), top, gap))
    return "running mm; heavier posts only" if wire else "running mm along the string; * heavier post", found


def setting(plan: Plan, walk: Walk) -> list[str]:
    """Return lines on counts, offset, heights, corners and gates of the run."""
    return [heaps(walk), *standing(plan, walk)]


def standing(plan: Plan, walk: Walk) -> list[str]:
    """Return lines on offset, heights, corners and gates of the run: how its posts and rails stand."""
    return [
        *_offset(walk),
        *(_heights(plan, walk) if walk.fence != "wire" else _wires(plan)),
        *_gates(walk),
        *_corners(plan, walk),
    ]


def _offset(walk: Walk) -> Iterator[str]:
    values = Counter(np.round(walk.numbers("offset_mm")).astype(int).tolist())
    if not values and walk.fence == "wire":
        return
    if not values:
        yield "String to hole centre: ________ mm."
        return
    usual, count = max(values.items(), key=lambda item: (item[1], item[0]))
    others = "" if count == walk.post_count else "; others differ, see the long table"
    yield f"String to hole centre: {abs(usual)} mm to the {'right' if usual > 0 else 'left'}{others}."


def _heights(plan: Plan, walk: Walk) -> Iterator[str]:
    fence = plan.site.spec.fence
    tops = walk.numbers("top_m")
    top = f"{millimetres(tops.min())} to {millimetres(tops.max())}" if len(tops) else "________"
    yield f"Top rail {top} mm above ground; gap {millimetres(fence.gap_min_m)} to {millimetres(fence.gap_max_m)} mm."
    rows = ", ".join(millimetres(drop) for drop in row_drops_m(fence)[1:].tolist())
    others = f"other rows' tops {rows} mm; " if rows else ""
    side = f"on the {fence.rail_side}" if fence.rails_fixed == "face" else "centred"
    low = millimetres(bottom_drop_m(fence))
    yield f"Rails {side}. Down from the top rail's top: {others}lowest edge {low} mm."
    if fence.rails_fixed == "centred":
        yield f"Between the posts: ends cut square, let in {number(fence.housing_mm, 0)} mm, level, in every post."
    if fence.cap_m is not None:
        size = f"{number(fence.cap_width_mm, 0)} × {number(fence.cap_thick_mm, 0)} mm"
        yield f"Cap {size} flat on the posts: tops cut level across at the top rail's top."


def _wires(plan: Plan) -> Iterator[str]:
    fence = plan.site.spec.fence
    yield f"{fence.wires} wires, droppers {fence.droppers_per_bay} a bay."


def _corners(plan: Plan, walk: Walk) -> Iterator[str]:
    run, fence = walk.run, plan.site.spec.fence
    ends = ((run.from_m, 0), (run.to_m, -1))
    for corner in walk.corners:
        for end_m, place in ends:
            if abs(corner.chainage_m - end_m) > EVEN_M or not walk.stretches:
                continue
            post = walk.stretches[place].posts[place]
            words = f"Corner {corner.corner_id} at {post.post_id}: {turn(corner.turn_deg)}"
            if walk.fence != "wire":
                hole = f"{number(abs(post.offset_mm), 0)} mm" if present(post.offset_mm) else "______ mm"
                on_m = post.chainage_m - corner.chainage_m
                second = on_m > EVEN_M
                where = f"second post, {number(on_m * 1000.0, 0)} mm on" if second else "bisector"
                words += f", {_cut(corner.turn_deg, fence)}, hole {hole} ({where})"
            yield f"{words}.{PLUMB if is_odd(corner) else ''}"


def _cut(turn_deg: float, fence: Fence) -> str:
    """Return in words how rails and cap meet at a corner."""
    half = number(abs(turn_deg) / 2.0)
    if fence.rails_fixed == "centred":
        return "rails square" + (f", cap mitre {half}°" if fence.cap_m is not None else "")
    if take_two(np.array([turn_deg]), fence=fence)[0]:
        return "two posts, rails square"
    cut = "lap" if fence.corner == "lap" else f"mitre {half}°"
    return cut + (f", cap mitre {half}°" if fence.cap_m is not None else "")


def is_odd(corner: Any) -> bool:
    """Return whether a corner is neither square nor nearly straight: one observer sees no post plumb there."""
    inside = 180.0 - abs(corner.turn_deg)
    return bool(abs(inside - 90.0) > ODD_DEG and inside < 180.0 - ODD_DEG)


def _gates(walk: Walk) -> Iterator[str]:
    for gate in walk.gates:
        name = f" ({named(gate.name, 'gate')})" if present(gate.name) else ""
        posts = walk.span_of_posts(gate.from_m, gate.to_m)
        between = f", posts {posts[0]} and {posts[1]}" if posts and posts[0] != posts[1] else ""
        wide = f"centres {metres(gate.to_m - gate.from_m, 3)} apart, faces {metres(gate.opening_m, 3)}"
        yield f"Gate {gate.gate_id}{name}{between}: {wide}."


def bearings(run: Any) -> str:
    """Return a run's bearings in words: true and grid to a hundredth of a degree, magnetic in whole degrees."""
    parts = []
    for words, value in (("true", run.bearing_true_deg), ("grid", run.bearing_grid_deg)):
        parts.append(f"{words} {value:.2f}°" if present(value) else f"{words} not known")
    magnetic = run.bearing_magnetic_deg
    parts.append(f"magnetic {degrees(magnetic)}" if present(magnetic) else "magnetic not known")
    return ", ".join(parts)

"""The lists on a run's sheet: what to measure and share out, the tape's marks, how posts stand."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from fencegis.exports.map_words import degrees, metres, number, present, turn
from fencegis.exports.rounding import printed
from fencegis.exports.sheet_paper import drawn, named
from fencegis.exports.sheet_words import heaps, millimetres

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fencegis.exports.sheet_posts import Floats, Stretch, Walk
    from fencegis.records.plan import Plan

HEAVY = {"strainer", "gate", "junction", "key", "brace"}
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
    return [f"{bays} bays: {begin} to {end} m" for bays, begin, end in zip(rows["bays"], begins, ends, strict=True)]


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


def marks(walk: Walk) -> tuple[str, list[str]]:
    """Return a heading and the running marks, all as long: every post in rail, only heavier ones in wire."""
    wire = walk.fence == "wire"
    lines: list[tuple[str, str, str]] = []
    has_top = any(present(post.top_m) for post in walk.posts.values())
    for stretch in walk.stretches:
        last = len(stretch.names) - 1
        for place, (post, tape_m) in enumerate(zip(stretch.posts, stretch.tape_m, strict=True)):
            if wire and post.kind not in HEAVY and place not in {0, last}:
                continue
            top = millimetres(post.top_m) if present(post.top_m) else ""
            heavy = "*" if post.kind in HEAVY else " "
            lines.append((drawn(str(post.post_id)) + heavy, millimetres(tape_m), top))
    heading = "running mm" + (", top rail mm" if has_top else "")
    heading += "; heavier posts only" if wire else "; * heavier post"
    widths = [max((len(line[place]) for line in lines), default=0) for place in range(3)]
    return heading, [
        f"{name:<{widths[0]}} {tape:>{widths[1]}}" + (f" {top:>{widths[2]}}" if has_top else "")
        for name, tape, top in lines
    ]


def setting(plan: Plan, walk: Walk) -> list[str]:
    """Return lines on counts, offset, heights, corners and gates of the run."""
    return [
        heaps(walk),
        *_offset(walk),
        *(_heights(plan, walk) if walk.fence != "wire" else _wires(plan)),
        *_gates(walk),
        *_corners(plan, walk),
    ]


def _offset(walk: Walk) -> Iterator[str]:
    values = Counter(round(post.offset_mm) for post in walk.posts.values() if present(post.offset_mm))
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
    tops = [float(post.top_m) for post in walk.posts.values() if present(post.top_m)]
    top = f"{millimetres(min(tops))} to {millimetres(max(tops))}" if tops else "________"
    yield f"Top rail {top} mm above ground; gap {millimetres(fence.gap_min_m)} to {millimetres(fence.gap_max_m)} mm."


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
            words = f"Corner {corner.corner_id}, post {post.post_id}: {turn(corner.turn_deg)}"
            if walk.fence != "wire":
                hole = f"{number(abs(post.offset_mm), 0)} mm" if present(post.offset_mm) else "______ mm"
                cut = f"mitre {number(abs(corner.turn_deg) / 2.0)}°" if fence.corner == "mitre" else fence.corner
                words += f", {cut}, hole {hole} (bisector)"
            yield f"{words}. Plumb both ways."


def _gates(walk: Walk) -> Iterator[str]:
    for gate in walk.gates:
        name = f" ({named(gate.name, 'gate')})" if present(gate.name) else ""
        posts = walk.span_of_posts(gate.from_m, gate.to_m)
        between = f", posts {posts[0]} and {posts[1]}" if posts and posts[0] != posts[1] else ""
        wide = f"{metres(gate.to_m - gate.from_m, 3)} centre to centre, {metres(gate.opening_m, 3)} between faces"
        yield f"Gate {gate.gate_id}{name}{between}: {wide}."


def bearings(run: Any) -> str:
    """Return a run's bearings in words: true and grid to a hundredth of a degree, magnetic in whole degrees."""
    parts = []
    for words, value in (("true", run.bearing_true_deg), ("grid", run.bearing_grid_deg)):
        parts.append(f"{words} {value:.2f}°" if present(value) else f"{words} not known")
    magnetic = run.bearing_magnetic_deg
    parts.append(f"magnetic {degrees(magnetic)}" if present(magnetic) else "magnetic not known")
    return ", ".join(parts)

"""The sheets behind: each run's plan, section, posts, strings, sights and pegs, then notes, cut list and gaps."""

from __future__ import annotations

import math
from dataclasses import replace
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from fencegis.exports.sheets.flow import SIZES, heading, letters, paragraph, table
from fencegis.exports.sheets.layers import layer_table, post_at, run_tables
from fencegis.exports.sheets.lists import EVEN_M, bearings, divide_rows, is_odd, standing
from fencegis.exports.sheets.rails import table_title
from fencegis.exports.sheets.section import profiles
from fencegis.exports.sheets.strip import strips
from fencegis.exports.sheets.words import by_posts, millimetres
from fencegis.exports.words import each, metres, number, present

if TYPE_CHECKING:
    from fencegis.exports.sheets.around import Around
    from fencegis.exports.sheets.flow import Line
    from fencegis.exports.sheets.posts import Stretch, Walk
    from fencegis.exports.sheets.words import RunWords
    from fencegis.records.plan import Plan

HEADINGS = (
    "post", "kind", "plan m", "ground m", "tape mm", "bay m", "offset mm", "top m", "in m", "long m", "stock m", "kg",
    "heap", "stick", "hole mm", "water l", "done", "found", "note",
)  # fmt: skip
WORDS = {"post", "kind", "stick", "note"}  # these stand to the left
WRITTEN_IN = {"done": "[ ]", "found": "________"}
# Layers that stand at the end where the plan has them, with their titles.
AT_THE_END = {
    "yard": "POSTS ON HAND", "rails": "RAILS", "cuts": "RAIL CUT LIST", "spots": "CUT AND FILL",
    "gaps": "GAP UNDER THE FENCE",
}  # fmt: skip
# Line posts of wire that have these in common are one row.
ALIKE = ("embed_m", "length_m", "stock_m", "hole_mm", "water_l", "heap", "timber_id", "tie_down", "node_id")
ODD = "odd corner: plumb both ways"
MAGNETIC = "Magnetic bearings"
SIZE = 9.0
MOST_BLANK = 20
BLANK = "Found on site: " + "_" * 85


def table_lines(plan: Plan, walks: list[Walk], words: list[RunWords], around: Around) -> list[Line]:
    """Return what stands behind as lines: a sheet or more a run, then notes, the cut list and the gaps."""
    lines: list[Line] = []
    grounds, layers, magnetic = profiles(plan), run_tables(plan, walks), magnetic_words(plan)
    for walk, said in zip(walks, words, strict=True):
        lines += _run(plan, walk, said, magnetic, strips(around, walk, grounds[str(walk.run.line_id)]))
        lines += layers[str(walk.run.run_id)]
    lines += _notes(plan)
    posts = post_at(plan) if len(plan.rails) else None
    for name, title in AT_THE_END.items():
        lines += layer_table(plan, name, table_title(title, plan.site.spec.fence), posts=posts)
    return lines


def magnetic_words(plan: Plan) -> str:
    """Return the model and date of the magnetic bearings, or why there are none."""
    said = [str(text) for text in plan.notes["text"] if str(text).startswith(MAGNETIC)]
    if said:
        return said[0]
    reasons = [text for text in plan.not_computed if text.startswith("runs.bearing_magnetic_deg")]
    return f"{MAGNETIC}: none, " + (reasons[0].partition(": ")[2] if reasons else "no date in site.toml")


def _run(plan: Plan, walk: Walk, words: RunWords, magnetic: str, drawings: list[Line]) -> list[Line]:
    run = walk.run
    part = f"run {run.run_id}"
    sigma = f", ±{metres(run.sigma_length_m)} from the drawing" if present(run.sigma_length_m) else ""
    lines = heading(f"RUN {run.run_id}", part, size=16.0, breaks=True)
    lines += paragraph(f"{words.from_to}; {words.about}.", part=part)
    length = f"{metres(run.length_m, 2)} in plan, {metres(run.ground_length_m, 2)} along the ground{sigma}"
    lines += paragraph(f"{length}. Bearings at its start: {bearings(run)}.", part=part)
    lines += paragraph(magnetic, size=8.5, part=part)
    lines += [replace(drawing, part=part) for drawing in drawings]
    lines += [line for text in standing(plan, walk) for line in paragraph(text, part=part)]
    lines += _hazards(walk, part)
    for text in words.seen:
        lines += paragraph(text, tick=True, size=SIZE, part=part)
    corners = {round(corner.chainage_m, 3): corner for corner in walk.corners if is_odd(corner)}
    for stretch in walk.stretches:
        lines += heading(f"POSTS {stretch.names[0]} to {stretch.names[-1]}", part, size=10.5)
        shares = divide_rows(plan, walk, stretch)
        if shares:
            lines += paragraph(f"Measured face to face: {'; '.join(shares)}.", part=part)
        rows = _rail_rows(stretch) if walk.fence != "wire" else _wire_rows(stretch)
        for place in (0, -1):
            if round(float(stretch.station_m[place]), 3) in corners:
                rows[place][-1] = "; ".join(text for text in (rows[place][-1], ODD) if text)
        lines += _posts(rows, part)
        lines += [replace(line, gap_mm=7.0) for line in paragraph(BLANK, size=8.5, part=part)]
    return lines


def _posts(rows: list[list[str]], part: str) -> list[Line]:
    """Return posts as a table without the columns that hold nothing."""
    kept = [place for place in range(len(HEADINGS)) if any(row[place] for row in rows)]
    blank = HEADINGS.index("found")
    others = sum(max(len(row[place]) for row in [HEADINGS, *rows]) + 1 for place in kept if place != blank)
    wide = max(len(WRITTEN_IN["found"]), min(MOST_BLANK, letters(SIZES[0]) - others))
    rows = [[*row[:blank], "_" * wide, *row[blank + 1 :]] for row in rows]
    headings = [HEADINGS[place] for place in kept]
    left = [place for place, name in enumerate(headings) if name in WORDS]
    return table(headings, ([row[place] for place in kept] for row in rows), left=left, part=part)


def _hazards(walk: Walk, part: str) -> list[Line]:
    """Return every flag on the run in full: what it rests on; then, once for all that it is true of, what to do."""
    lines: list[Line] = []
    told: dict[str, list[str]] = {}
    for row in walk.hazards:
        rule = f" Rule: {row.rule}." if present(row.rule) else ""
        text = f"{row.hazard_id}, {row.kind}, {by_posts(walk, row)}. Rests on: {row.basis}.{rule}"
        lines += paragraph(text, tick=True, size=SIZE, part=part)
        told.setdefault(str(row.advice), []).append(str(row.hazard_id))
    for advice, names in told.items():
        lines += paragraph(f"{', '.join(names)}: {advice}", size=SIZE, part=part)
    return lines


def _rail_rows(stretch: Stretch) -> list[list[str]]:
    return [_cells(stretch, place, post) for place, post in enumerate(stretch.posts)]


def _wire_rows(stretch: Stretch) -> list[list[str]]:
    """Return a row for each post, line posts that follow each other and are alike as one row."""
    rows: list[list[str]] = []
    alike: tuple[object, ...] | None = None
    count, end = 0, stretch.posts[0]
    last, bays, alike_of = len(stretch.posts) - 1, stretch.bay_m.tolist(), attrgetter(*ALIKE)
    for place, post in enumerate(stretch.posts):
        same = None
        if post.kind == "line" and 0 < place < last:
            same = (round(bays[place] / EVEN_M), *map(str, alike_of(post)))
        if same is not None and same == alike:
            count += 1
            end = post
            continue
        if count > 1:
            rows[-1][1], rows[-1][-1] = f"line × {count}", f"to {end.post_id} {_note(end)}".strip()
        rows.append(_cells(stretch, place, post))
        alike, count = same, 1
    return rows


def _cells(stretch: Stretch, place: int, post: Any) -> list[str]:
    bay = f"{stretch.bay_m[place]:.3f}" if place < len(stretch.bay_m) else ""
    return [
        str(post.post_id),
        str(post.kind),
        f"{stretch.station_m[place]:.2f}",
        f"{post.ground_chainage_m:.2f}",
        millimetres(stretch.tape_m[place]),
        bay,
        _number(post.offset_mm, 0),
        _number(post.top_m, 3),
        _number(post.embed_m, 2),
        _number(post.length_m, 2),
        _number(post.stock_m, 2),
        _number(post.mass_kg, 0),
        str(post.heap) if present(post.heap) else "",
        str(post.timber_id) if present(post.timber_id) else "",
        _number(post.hole_mm, 0),
        _number(post.water_l, 0) if present(post.water_l) and post.water_l >= 0.5 else "",
        *WRITTEN_IN.values(),
        _note(post),
    ]


def _number(value: float, digits: int) -> str:
    return f"{round(float(value), digits) + 0.0:.{digits}f}" if present(value) and math.isfinite(value) else ""


def _note(post: Any) -> str:
    words = []
    if present(post.tie_down):
        words.append(f"tie-down: {post.tie_down}")
    if present(post.turn_sweep):
        words.append(f"bow {post.turn_sweep}")
    if present(post.lean_deg) and abs(post.lean_deg) >= 0.5:
        words.append(f"leans {number(post.lean_deg)}°")
    if present(post.node_id):
        words.append(f"junction {post.node_id}")
    return "; ".join(words)


def _notes(plan: Plan) -> list[Line]:
    """Return every doubt, repair and default of the plan, with its place; what was seen stands with its run."""
    if not len(plan.notes):
        return []
    lines = heading("NOTES", "notes")
    for note in each(plan.notes[~((plan.notes["severity"] == "seen") & plan.notes["chainage_m"].notna())]):
        place = f"line {note.line_id}" if present(note.line_id) else ""
        if present(note.chainage_m):
            place += f" at {metres(note.chainage_m)}"
        lines += paragraph(f"{note.severity}{', ' if place else ''}{place}: {note.text}", size=8.5, part="notes")
    return lines

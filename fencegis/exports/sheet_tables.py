"""The long tables behind the run sheets: every post with all that the plan has of it, bearings, strings, notes."""

from __future__ import annotations

import math
from itertools import islice
from typing import TYPE_CHECKING, Any

from fencegis.exports.map_words import each, metres, number, present
from fencegis.exports.rounding import printed
from fencegis.exports.sheet_flow import heading, paragraph, table
from fencegis.exports.sheet_lists import EVEN_M, bearings, divide_rows, setting
from fencegis.exports.sheet_words import by_posts, millimetres
from fencegis.records.tables import LAYERS

if TYPE_CHECKING:
    import pandas as pd

    from fencegis.exports.sheet_flow import Line
    from fencegis.exports.sheet_posts import Stretch, Walk
    from fencegis.exports.sheet_words import RunWords
    from fencegis.records.plan import Plan

HEADINGS = (
    "post", "kind", "plan m", "ground m", "tape mm", "bay m", "offset mm", "top m", "in m", "long m", "stock m", "kg",
    "heap", "stick", "hole mm", "water l", "done", "found", "note",
)  # fmt: skip
WORDS = {"post", "kind", "stick", "note"}  # these stand to the left
WRITTEN_IN = {"done": "[ ]", "found": "________"}
# Layers that the sheets print where the plan has them, with their titles.
WITH_RUNS = {"strings": "STRINGS", "sights": "SIGHTS", "reference_pegs": "REFERENCE PEGS", "yard": "POSTS ON HAND"}
AT_THE_END = {
    "rails": "RAILS", "cuts": "RAIL CUT LIST", "gaps": "GAP UNDER THE FENCE", "spots": "CUT AND FILL",
}  # fmt: skip
# Line posts of wire that have these in common are one row.
ALIKE = ("embed_m", "length_m", "stock_m", "hole_mm", "water_l", "heap", "timber_id", "tie_down", "node_id")
MOST_ROWS = 600  # of one layer's table; nobody reads more on paper
PLACES = ("line_id", "from_m", "to_m", "chainage_m")
MAGNETIC = "Magnetic bearings"
BLANK = "Found on site: " + "_" * 85


def table_lines(plan: Plan, walks: list[Walk], words: list[RunWords]) -> list[Line]:
    """Return the long tables as lines: every run's, then strings and sights, notes, the cut list and the gaps."""
    lines: list[Line] = []
    for walk, said in zip(walks, words, strict=True):
        lines += _run(plan, walk, said)
    lines += paragraph(magnetic_words(plan), part="bearings")
    for name, title in WITH_RUNS.items():
        lines += layer_table(plan, name, title)
    lines += _notes(plan)
    for name, title in AT_THE_END.items():
        lines += layer_table(plan, name, title)
    return lines


def layer_table(plan: Plan, name: str, title: str) -> list[Line]:
    """Return a layer as a table under its title; nothing where the plan has no such layer, or no row in it.

    What is the same in every row is said once; where a row names its posts, its chainages are left out.
    """
    if name not in LAYERS or not len(getattr(plan, name)):
        return []
    frame = getattr(plan, name)
    names = [column.name for column in LAYERS[name].columns if frame[column.name].notna().any()]
    by_post = {"from_post", "to_post"} <= set(names)
    texts = {column: _printed(frame, column) for column in names if not (by_post and column in PLACES)}
    same = [column for column, cells in texts.items() if len(cells) > 1 and len(set(cells)) == 1]
    shown = {column: cells for column, cells in texts.items() if column not in same}
    left = [place for place, column in enumerate(shown) if frame[column].dtype != "float64"]
    part = title.lower()
    lines = heading(title, part)
    if same:
        said = "; ".join(f"{column.replace('_', ' ')} {texts[column][0]}" for column in same)
        lines += paragraph(f"In every row: {said}.", size=8.5, part=part)
    rows = islice(zip(*shown.values(), strict=True), MOST_ROWS)
    lines += table([column.replace("_", " ") for column in shown], rows, left=left, part=part)
    if len(frame) > MOST_ROWS:
        more = f"{number(len(frame) - MOST_ROWS, 0)} more rows are in plan.gpkg, layer {name}."
        lines += paragraph(more, size=8.5, font="bold", part=part)
    return lines


def magnetic_words(plan: Plan) -> str:
    """Return the model and date of the magnetic bearings, or why there are none."""
    said = [str(text) for text in plan.notes["text"] if str(text).startswith(MAGNETIC)]
    if said:
        return said[0]
    reasons = [text for text in plan.not_computed if text.startswith("runs.bearing_magnetic_deg")]
    return f"{MAGNETIC}: none, " + (reasons[0].partition(": ")[2] if reasons else "no date in site.toml")


def _printed(frame: pd.DataFrame, column: str) -> list[str]:
    """Return a column as text: nobody cuts or sights to less than a tenth of a degree."""
    if column.endswith("_deg"):
        return ["" if value != value else f"{round(value, 1) + 0.0:.1f}" for value in frame[column].tolist()]
    return printed(frame[column], column)


def _run(plan: Plan, walk: Walk, words: RunWords) -> list[Line]:
    run = walk.run
    part = f"run {run.run_id}"
    sigma = f", ±{metres(run.sigma_length_m)} from the drawing" if present(run.sigma_length_m) else ""
    lines = heading(f"RUN {run.run_id}", part)
    lines += paragraph(f"{words.from_to}; {words.about}.", part=part)
    length = f"{metres(run.length_m, 2)} in plan, {metres(run.ground_length_m, 2)} along the ground{sigma}"
    lines += paragraph(f"{length}. Bearings at its start: {bearings(run)}.", part=part)
    lines += [line for text in setting(plan, walk)[1:] for line in paragraph(text, part=part)]
    for text in _hazards(walk):
        lines += paragraph(text, tick=True, part=part)
    for text in words.seen:
        lines += paragraph(text, tick=True, part=part)
    for stretch in walk.stretches:
        shares = divide_rows(plan, walk, stretch)
        if shares:
            lines += paragraph(f"{stretch.names[0]} to {stretch.names[-1]}: " + "; ".join(shares), part=part)
        rows = _rail_rows(stretch) if walk.fence != "wire" else _wire_rows(stretch)
        lines += _posts(rows, part)
        lines += paragraph(BLANK, size=8.5, part=part)
    return lines


def _posts(rows: list[list[str]], part: str) -> list[Line]:
    """Return posts as a table without the columns that hold nothing."""
    kept = [place for place in range(len(HEADINGS)) if any(row[place] for row in rows)]
    headings = [HEADINGS[place] for place in kept]
    left = [place for place, name in enumerate(headings) if name in WORDS]
    return table(headings, ([row[place] for place in kept] for row in rows), left=left, part=part)


def _hazards(walk: Walk) -> list[str]:
    """Return every flag on the run in full: what it rests on and what to do."""
    found = []
    for row in walk.hazards:
        rule = f" Rule: {row.rule}." if present(row.rule) else ""
        found.append(f"{row.hazard_id}, {row.kind}, {by_posts(walk, row)}: {row.advice} Rests on: {row.basis}.{rule}")
    return found


def _rail_rows(stretch: Stretch) -> list[list[str]]:
    return [_cells(stretch, place, post) for place, post in enumerate(stretch.posts)]


def _wire_rows(stretch: Stretch) -> list[list[str]]:
    """Return a row for each post, line posts that follow each other and are alike as one row."""
    rows: list[list[str]] = []
    alike: tuple[object, ...] | None = None
    count = 0
    last = len(stretch.posts) - 1
    for place, post in enumerate(stretch.posts):
        same = None
        if post.kind == "line" and 0 < place < last:
            same = (round(stretch.bay_m[place] / EVEN_M), *(str(getattr(post, name)) for name in ALIKE))
        if same is not None and same == alike:
            count += 1
            rows[-1][1] = f"line × {count}"
            rows[-1][-1] = f"to {post.post_id} {_note(post)}".strip()
            continue
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

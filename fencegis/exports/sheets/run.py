"""The one side of paper that a crew carries along a run at six in the morning; everything else stays in the ute."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.exports.sheets.help import emergency, who_and_gear
from fencegis.exports.sheets.lists import Mark, marks, setting, string_lines
from fencegis.exports.sheets.paper import MARGIN_MM, RIGHT_MM, ROOM_MM, Sheet, at_most, fitted, wide_mm, wrapped
from fencegis.exports.sheets.posts import Stretch
from fencegis.exports.sheets.rails import MOST_BAYS, draw_rails
from fencegis.exports.sheets.sketch import draw_sketch, sketch_mm
from fencegis.exports.sheets.words import NOT_A_FINDING, line_name, site_name
from fencegis.exports.words import degrees, present

if TYPE_CHECKING:
    from fencegis.exports.sheets.around import Around
    from fencegis.exports.sheets.paper import Pad
    from fencegis.exports.sheets.posts import Walk
    from fencegis.exports.sheets.words import RunWords
    from fencegis.records.plan import Plan

SKETCH_TOP_MM = 38.0
TITLE_MM = 23.0  # what a part's title takes at the left
TEXT_MM = ROOM_MM - TITLE_MM
SIZE, GAP_MM = 9.0, 4.0
BOX_SIZES, BOX_GAP_MM = (9.5, 9.0, 8.5), 5.0
BOX_MM, BESIDE_MM = 7.6, 2.4  # a box with the room beside its words; the last needs less
MOST_STRING_LINES, MOST_SET_LINES = 8, 10
MIND_LINES = 8
WHO_MM, HELP_MM = 235.2, 249.0
RAILS_MM = (16.0, 13.5)  # a strip of the rails' pattern
RULED_MM, LEAST_RULED_MM = 7.0, 12.0


def run_sheet(plan: Plan, walk: Walk, words: RunWords, around: Around, *, table_sheet: int) -> Sheet:
    """Return the run's sheet; `table_sheet` is the number of the sheet where its plan, section and long table begin."""

    def draw(pad: Pad, _: int) -> None:
        _head(pad, plan, walk, words)
        tall = sketch_mm(walk)
        draw_sketch(pad, around, walk, top_mm=SKETCH_TOP_MM, tall_mm=tall)
        down = _strings(pad, plan, walk, table_sheet, SKETCH_TOP_MM + tall + 6.0)
        down = _setting(pad, plan, walk, table_sheet, down + 1.6)
        mind = _mind(pad, words, table_sheet)
        _tape(pad, plan, walk, table_sheet, top=down + 1.8, end=mind)
        who_and_gear(pad, walk, down_mm=WHO_MM)
        emergency(pad, plan, walk, words, top_mm=HELP_MM)

    return Sheet(f"run {words.heading}", draw)


def _head(pad: Pad, plan: Plan, walk: Walk, words: RunWords) -> None:
    heading = fitted(f"RUN {words.heading}", 30.0, ROOM_MM * 0.6, "bold")
    pad.write(heading, (MARGIN_MM, 21.0), size=30.0, font="bold")
    room = ROOM_MM - wide_mm(heading, 30.0, "bold") - 6.0
    pad.write(fitted(site_name(plan), 12.0, room, "bold"), (RIGHT_MM, 15.5), size=12.0, font="bold", align="right")
    pad.write(fitted(line_name(plan, walk.run.line_id), 10.0, room), (RIGHT_MM, 21.0), size=10.0, align="right")
    size = next((size for size in (13.0, 11.0, 9.5) if wide_mm(words.from_to, size, "bold") < ROOM_MM), 9.5)
    pad.write(fitted(words.from_to, size, ROOM_MM, "bold"), (MARGIN_MM, 29.0), size=size, font="bold")
    about = words.about + _by_compass(walk)
    size = next((size for size in (11.0, 9.5) if wide_mm(about, size) < ROOM_MM), 9.5)
    pad.write(fitted(about, size, ROOM_MM), (MARGIN_MM, 35.5), size=size)


def _by_compass(walk: Walk) -> str:
    """Return the run's magnetic bearing in whole degrees: beside a tractor and wire a compass tells no more."""
    if not present(walk.run.bearing_magnetic_deg):
        return ""
    at = " at its start" if walk.run.kind == "arc" else ""
    return f", compass {degrees(walk.run.bearing_magnetic_deg)}{at}"


def _title(pad: Pad, text: str, down: float) -> None:
    pad.write(text, (MARGIN_MM, down), size=11.0, font="bold")


def _strings(pad: Pad, plan: Plan, walk: Walk, table_sheet: int, down: float) -> float:
    """Write what is measured, a blank behind each, and the boxes of the divide table side by side below it."""
    heading, rows = string_lines(plan, walk)
    _title(pad, "MEASURE", down)
    left, begin = MARGIN_MM + TITLE_MM, down
    size = _box_size(rows)
    right, lines = left, 0
    for place, (text, is_blank) in enumerate(rows):
        wide = 0.0 if is_blank else wide_mm(text, size) + BOX_MM
        fresh = is_blank or rows[place - 1][1] or right + wide > RIGHT_MM + BESIDE_MM
        if fresh and place:
            down, right, lines = down + BOX_GAP_MM, left, lines + 1
        if lines >= MOST_STRING_LINES - 1 and (fresh or not place) and place < len(rows) - 1:
            pad.write(f"more: sheet {table_sheet}", (left, down), size=size, font="bold")
            break
        if is_blank:
            end = left + 84.0
            pad.blank(fitted(text, size, 62.0), (left, down), end, size=size)
            pad.write("m", (end + 1.0, down), size=size)
        else:
            pad.tick(text, (right, down), size=size)
            right += wide
    pad.write(heading, (RIGHT_MM, begin), size=8.5, align="right")
    return down + BOX_GAP_MM


def _box_size(rows: list[tuple[str, bool]]) -> float:
    """Return the largest letters in which a stretch's boxes stand on one line."""
    needed: list[list[str]] = [[]]
    for text, is_blank in rows:
        needed = [*needed, []] if is_blank else [*needed[:-1], [*needed[-1], text]]
    return next(
        (
            size
            for size in BOX_SIZES
            if all(sum(wide_mm(text, size) + BOX_MM for text in texts) <= TEXT_MM + BESIDE_MM for texts in needed)
        ),
        BOX_SIZES[-1],
    )


def _setting(pad: Pad, plan: Plan, walk: Walk, table_sheet: int, down: float) -> float:
    _title(pad, "SET", down)
    lines = [line for text in setting(plan, walk) for line in wrapped(text, SIZE, TEXT_MM)]
    lines = at_most(lines, MOST_SET_LINES, more=f"more: sheet {table_sheet}")
    return pad.lines(lines, (MARGIN_MM + TITLE_MM, down), size=SIZE, gap_mm=GAP_MM)


@dataclass(frozen=True)
class _Grid:
    """How the tape's marks are set in columns."""

    size: float
    gaps: bool  # with the gap under the bottom rail at each post
    columns: int
    rows: int
    edges_mm: tuple[float, ...]  # right edges of name (its left is 0), tape, top and gap in a column
    wide_mm: float  # from column to column


def _tape(pad: Pad, plan: Plan, walk: Walk, table_sheet: int, *, top: float, end: float) -> None:
    """Write the running marks, below them the rails' pattern and lines to write on, as far as there is room."""
    (heading, texts), fence = marks(plan, walk), plan.site.spec.fence
    pieces = _rail_pieces(walk)
    first = top + 9.0
    rails, strip_mm = _strips_that_fit(len(pieces), texts, end - first)
    tape_end = end - rails * strip_mm
    grid = _grid(texts, tape_end - first)
    _title(pad, "TAPE", top)
    pad.write(heading, (MARGIN_MM + TITLE_MM, top), size=8.5)
    fits = grid.columns * grid.rows
    shown = texts if len(texts) <= fits else texts[: fits - 1]
    rows = min(grid.rows, -(-(len(shown) + (shown is not texts)) // grid.columns)) if shown else 0
    for place, mark in enumerate(shown):
        column, row = divmod(place, rows)
        _mark(pad, grid, mark, MARGIN_MM + column * grid.wide_mm, first + row * grid.size * 0.46)
    used = -(-len(shown) // rows) if rows else 0
    for column in range(used):
        left = MARGIN_MM + column * grid.wide_mm
        _mark_head(pad, grid, texts, left, first - 4.2)
        if column:
            foot = first + (rows - 1) * grid.size * 0.46 + 0.8
            pad.rule((left - 2.5, first - 7.0), (left - 2.5, foot), width=0.3)
    if shown is not texts:
        column, row = divmod(len(shown), rows)
        at = (MARGIN_MM + column * grid.wide_mm, first + row * grid.size * 0.46)
        pad.write(f"more: sheet {table_sheet}", at, size=grid.size, font="bold")
    _ruled(pad, first + rows * grid.size * 0.46 + 3.0, tape_end)
    for place, piece in enumerate(pieces[:rails]):
        corner, between = (MARGIN_MM, tape_end + place * strip_mm + 0.5), fence.rails_fixed == "centred"
        draw_rails(pad, piece, corner, ROOM_MM, strip_mm - 4.0, between=between)


def _grid(texts: list[Mark], tall_mm: float) -> _Grid:
    """Return the largest letters at which all marks have room; gaps at posts give way before the letters shrink."""
    has_top = any(mark.top_mm for mark in texts)
    looks = [(size, True) for size in (11.0, 10.0, 9.0)] if has_top else []
    looks += [(size, False) for size in ((9.0, 8.5, 8.0, 7.5, 7.0) if has_top else (11.0, 10.0, 9.0, 8.0, 7.0))]
    for size, gaps in looks:
        found = _grid_at(texts, tall_mm, size, gaps)
        if len(texts) <= found.columns * found.rows:
            return found
    return found


def _strips_that_fit(pieces: int, texts: list[Mark], room_mm: float) -> tuple[int, float]:
    """Return how many strips of the rails' pattern go below the tape's marks, and how tall: marks go before strips."""
    for count in range(pieces, 0, -1):
        for strip_mm in RAILS_MM:
            least = SIZE if count > 1 else 0.0
            if _holds(_grid(texts, room_mm - count * strip_mm), texts, least):
                return count, strip_mm
    return 0, 0.0


def _holds(grid: _Grid, texts: list[Mark], least_size: float) -> bool:
    return grid.size >= least_size and len(texts) <= grid.columns * grid.rows


def _grid_at(texts: list[Mark], tall_mm: float, size: float, gaps: bool) -> _Grid:
    def widest(values: list[str], font: str) -> float:
        return max((wide_mm(value, size, font) for value in values), default=0.0)

    edges = [widest([mark.name for mark in texts], "plain")]
    edges.append(edges[-1] + 2.5 + widest([mark.tape_mm for mark in texts], "bold"))
    for values in ([mark.top_mm for mark in texts], [mark.gap_mm for mark in texts] if gaps else []):
        wide = widest(values, "plain")
        edges.append(edges[-1] + (3.5 + max(wide, 6.5) if wide else 0.0))
    wide = edges[-1] + 5.0
    columns, rows = max(1, int((ROOM_MM + 5.0) / wide)), max(1, int(tall_mm / (size * 0.46)))
    return _Grid(size, gaps, columns, rows, tuple(edges), max(wide, (ROOM_MM + 5.0) / columns if columns > 3 else wide))


def _mark(pad: Pad, grid: _Grid, mark: Mark, left: float, down: float) -> None:
    _, tape, top, gap = grid.edges_mm
    pad.write(mark.name, (left, down), size=grid.size)
    pad.write(mark.tape_mm, (left + tape, down), size=grid.size, font="bold", align="right")
    pad.write(mark.top_mm, (left + top, down), size=grid.size, align="right")
    if grid.gaps:
        pad.write(mark.gap_mm, (left + gap, down), size=grid.size, align="right")


def _mark_head(pad: Pad, grid: _Grid, texts: list[Mark], left: float, down: float) -> None:
    _, tape, top, gap = grid.edges_mm
    pad.write("post", (left, down), size=7.0)
    pad.write("tape", (left + tape, down), size=7.0, align="right")
    if any(mark.top_mm for mark in texts):
        pad.write("top", (left + top, down), size=7.0, align="right")
        if grid.gaps:
            pad.write("gap", (left + gap, down), size=7.0, align="right")


def _rail_pieces(walk: Walk) -> list[Walk]:
    """Return the run's posts in one row, gates between, cut into as many bays as one strip of the pattern holds."""
    if not walk.rails or not walk.stretches:
        return []
    posts = tuple(post for stretch in walk.stretches for post in stretch.posts)
    station, tape = (np.concatenate([getattr(stretch, name) for stretch in walk.stretches])
                     for name in ("station_m", "tape_m"))  # fmt: skip
    pieces = []
    for begin in range(0, len(posts) - 1, MOST_BAYS):
        here = slice(begin, begin + MOST_BAYS + 1)
        piece = Stretch(posts[here], station[here], tape[here], np.diff(station[here]))
        pieces.append(dataclasses.replace(walk, stretches=(piece,)))
    return pieces


def _ruled(pad: Pad, top: float, end: float) -> None:
    """Rule what is left above `end` for what is found on site."""
    if end - top < LEAST_RULED_MM:
        return
    _title(pad, "FOUND", top + 3.0)
    for place in range(1, int((end - top - 3.0) / RULED_MM) + 1):
        left = MARGIN_MM + (TITLE_MM if place == 1 else 0.0)
        level = top + 3.0 + (place - 1) * RULED_MM + 0.8
        pad.rule((left, level), (RIGHT_MM, level), width=0.3)


def _mind(pad: Pad, words: RunWords, table_sheet: int) -> float:
    """Write what is flagged, by post number, then what was seen and what nobody looked for, which always has room.

    It stands right above those who do the work; returns how far down the sheet what is above may reach.
    """
    last = at_most(wrapped(words.unlooked, SIZE, TEXT_MM), 3, more="Not everything was checked: see the cover.")
    texts = [*(words.hazards or [NOT_A_FINDING]), *words.seen_first]
    lines = _whole(texts, MIND_LINES - len(last), more=f"There is more: sheet {table_sheet}.")
    top = WHO_MM - 5.0 - 1.5 - (len(lines) + len(last) - 1) * GAP_MM
    pad.rule((MARGIN_MM, top - 4.5), (RIGHT_MM, top - 4.5), width=0.8)
    _title(pad, "MIND", top)
    left = MARGIN_MM + TITLE_MM
    down = pad.lines(lines, (left, top), size=SIZE, gap_mm=GAP_MM, font="bold")
    pad.lines(last, (left, down), size=SIZE, gap_mm=GAP_MM)
    return top - 6.0


def _whole(texts: list[str], most: int, *, more: str) -> list[str]:
    """Return the texts as lines, as many of them whole as there is room for, and a last line that says of the rest."""
    blocks = [wrapped(text, SIZE, TEXT_MM, "bold") for text in texts]
    if sum(map(len, blocks)) <= most:
        return [line for block in blocks for line in block]
    lines: list[str] = []
    for block in blocks:
        if len(lines) + len(block) >= most:
            break
        lines += block
    return [*(lines or blocks[0][: most - 1]), more]

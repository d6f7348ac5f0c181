"""The one side of paper that a crew carries along a run at six in the morning; everything else stays in the ute."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.exports.sheet_help import emergency, who_and_gear
from fencegis.exports.sheet_lists import marks, setting, string_lines
from fencegis.exports.sheet_paper import MARGIN_MM, RIGHT_MM, ROOM_MM, Sheet, at_most, fitted, wide_mm, wrapped
from fencegis.exports.sheet_rails import draw_rails
from fencegis.exports.sheet_sketch import draw_sketch
from fencegis.exports.sheet_words import NOT_A_FINDING, line_name, site_name

if TYPE_CHECKING:
    from fencegis.exports.sheet_paper import Pad
    from fencegis.exports.sheet_posts import Walk
    from fencegis.exports.sheet_words import RunWords
    from fencegis.records.plan import Plan

SKETCH_TOP_MM, SKETCH_MM = 42.0, 50.0
LISTS_MM, LISTS_END_MM = 98.0, 190.0
LEFT_WIDE_MM = 78.0
MOST_STRING_LINES, SET_GAP_MM = 10, 4.1
MIND_MM, MIND_LINES = 195.0, 8
WHO_MM, HELP_MM = 231.0, 246.0
RAILS_MM = 26.0
RULED_MM, LEAST_RULED_MM = 7.0, 20.0
EVEN_SHARE = 0.602  # width of a letter of the even font, in its size


def run_sheet(plan: Plan, walk: Walk, words: RunWords, *, table_sheet: int) -> Sheet:
    """Return the run's sheet; `table_sheet` is the number of the sheet where its long table begins."""

    def draw(pad: Pad, _: int) -> None:
        _head(pad, plan, walk, words)
        draw_sketch(pad, plan, walk, top_mm=SKETCH_TOP_MM, tall_mm=SKETCH_MM)
        _left(pad, plan, walk, table_sheet)
        _right(pad, walk, table_sheet)
        _mind(pad, words, table_sheet)
        who_and_gear(pad, walk, down_mm=WHO_MM)
        emergency(pad, plan, walk, words, top_mm=HELP_MM)

    return Sheet(f"run {words.heading}", draw)


def _head(pad: Pad, plan: Plan, walk: Walk, words: RunWords) -> None:
    heading = fitted(f"RUN {words.heading}", 30.0, ROOM_MM * 0.6, "bold")
    pad.write(heading, (MARGIN_MM, 22.0), size=30.0, font="bold")
    room = ROOM_MM - wide_mm(heading, 30.0, "bold") - 6.0
    pad.write(fitted(site_name(plan), 12.0, room, "bold"), (RIGHT_MM, 16.5), size=12.0, font="bold", align="right")
    pad.write(fitted(line_name(plan, walk.run.line_id), 10.0, room), (RIGHT_MM, 22.0), size=10.0, align="right")
    size = next((size for size in (13.0, 11.0, 9.5) if wide_mm(words.from_to, size, "bold") < ROOM_MM), 9.5)
    pad.write(fitted(words.from_to, size, ROOM_MM, "bold"), (MARGIN_MM, 31.0), size=size, font="bold")
    size = next((size for size in (11.0, 9.5) if wide_mm(words.about, size) < ROOM_MM), 9.5)
    pad.write(fitted(words.about, size, ROOM_MM), (MARGIN_MM, 38.0), size=size)


def _left(pad: Pad, plan: Plan, walk: Walk, table_sheet: int) -> None:
    """Write what is measured and shared out, and below it how posts stand, as far as there is room."""
    down = _strings(pad, plan, walk, table_sheet) + 2.0
    pad.write("SET", (MARGIN_MM, down), size=11.0, font="bold")
    lines = [line for text in setting(plan, walk) for line in wrapped(text, 9.0, LEFT_WIDE_MM)]
    most = int((LISTS_END_MM - down) / SET_GAP_MM)
    lines = at_most(lines, most, more=f"more: sheet {table_sheet}")
    pad.lines(lines, (MARGIN_MM, down + 4.6), size=9.0, gap_mm=SET_GAP_MM)


def _strings(pad: Pad, plan: Plan, walk: Walk, table_sheet: int) -> float:
    heading, rows = string_lines(plan, walk)
    pad.write("MEASURE", (MARGIN_MM, LISTS_MM), size=11.0, font="bold")
    pad.write(heading, (MARGIN_MM + 23.0, LISTS_MM), size=8.0)
    down = LISTS_MM + 5.5
    shown = rows if len(rows) <= MOST_STRING_LINES else rows[: MOST_STRING_LINES - 1]
    for text, is_blank in shown:
        if is_blank:
            shown_text = fitted(text, 9.5, LEFT_WIDE_MM - 18.0)
            pad.blank(shown_text, (MARGIN_MM, down), MARGIN_MM + LEFT_WIDE_MM - 4.0, size=9.5)
            pad.write("m", (MARGIN_MM + LEFT_WIDE_MM - 3.0, down), size=9.5)
        else:
            pad.tick(text, (MARGIN_MM + 4.0, down), size=9.5)
        down += 4.7
    if len(shown) < len(rows):
        pad.write(f"more: sheet {table_sheet}", (MARGIN_MM, down), size=9.5, font="bold")
        down += 4.7
    return down


@dataclass(frozen=True)
class _Grid:
    """How a list of short texts is set in columns."""

    size: float
    columns: int
    rows: int
    wide_mm: float


def _right(pad: Pad, walk: Walk, table_sheet: int) -> None:
    left = MARGIN_MM + LEFT_WIDE_MM + 4.0
    room = RIGHT_MM - left
    has_rails = bool(walk.rails and walk.stretches)
    end = LISTS_END_MM - (RAILS_MM if has_rails else 0.0)
    heading, texts = marks(walk)
    pad.write("TAPE", (left, LISTS_MM), size=11.0, font="bold")
    pad.write(heading, (left + 14.0, LISTS_MM), size=8.5)
    top = LISTS_MM + 5.5
    grid = _grid_for(texts, room, end - top)
    shown = texts
    if len(texts) > grid.columns * grid.rows:
        shown = [*texts[: grid.columns * grid.rows - 1], f"more: sh. {table_sheet}"]
    for place, text in enumerate(shown):
        column, row = divmod(place, grid.rows)
        at = (left + column * grid.wide_mm, top + row * grid.size * 0.46)
        pad.write(text, at, size=grid.size, font="even")
    used = min(grid.rows, len(shown)) * grid.size * 0.46
    _ruled(pad, left, top + used + 6.0, end)
    if has_rails:
        draw_rails(pad, walk, (left, end + 2.0), room, RAILS_MM - 4.0)


def _ruled(pad: Pad, left: float, top: float, end: float) -> None:
    """Rule what is left of a column for what is found on site."""
    if end - top < LEAST_RULED_MM:
        return
    pad.write("FOUND", (left, top), size=11.0, font="bold")
    for place in range(1, int((end - top) / RULED_MM) + 1):
        pad.rule((left, top + place * RULED_MM), (RIGHT_MM, top + place * RULED_MM), width=0.3)


def _grid_for(texts: list[str], room_mm: float, tall_mm: float) -> _Grid:
    longest = max((len(text) for text in texts), default=1)
    for size in (11.0, 10.0, 9.0, 8.0, 7.5, 7.0):
        wide = (longest + 2) * size * EVEN_SHARE * 25.4 / 72.0
        gap = 2 * wide / (longest + 2)  # the last column needs none
        grid = _Grid(size, max(1, int((room_mm + gap) / wide)), max(1, int(tall_mm / (size * 0.46))), wide)
        if len(texts) <= grid.columns * grid.rows:
            return grid
    return grid


def _mind(pad: Pad, words: RunWords, table_sheet: int) -> None:
    """Write what is flagged, by post number, then what was seen and what nobody looked for, which always has room."""
    pad.rule((MARGIN_MM, MIND_MM - 4.5), (RIGHT_MM, MIND_MM - 4.5), width=0.8)
    pad.write("MIND", (MARGIN_MM, MIND_MM), size=11.0, font="bold")
    last = at_most(wrapped(words.unlooked, 9.0, ROOM_MM), 2, more="Not everything was checked: see the cover.")
    texts = [*words.hazards, *words.seen] if words.hazards else [NOT_A_FINDING, *words.seen]
    lines: list[str] = []
    for text in texts:
        lines += wrapped(text, 9.0, ROOM_MM - 16.0, "bold")
    lines = at_most(lines, MIND_LINES - len(last), more=f"There is more: sheet {table_sheet}.")
    down = pad.lines(lines, (MARGIN_MM + 16.0, MIND_MM), size=9.0, gap_mm=4.0, font="bold")
    pad.lines(last, (MARGIN_MM, down), size=9.0, gap_mm=4.0)

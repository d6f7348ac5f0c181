"""Lines of words that run on from sheet to sheet, cut into pages first: every sheet knows how many there are."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, replace
from itertools import groupby
from operator import attrgetter
from typing import TYPE_CHECKING

from fencegis.exports.sheets.paper import FOOT_MM, MARGIN_MM, POINT_MM, ROOM_MM, drawn, wrapped

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from fencegis.exports.sheets.paper import Pad

TOP_MM = 18.0
SIZES = (9.0, 8.5, 8.0, 7.6, 7.2)  # of the even font in tables, the largest first that fits
COLUMNS_SIZE = 8.0  # a narrow table is set in columns as long as its letters are no smaller
LETTER_EM, LINE_MM = 0.602, 0.486  # width of a letter of the even font and height of its line, in its size
BETWEEN = "  │ "  # what parts the columns of a narrow table
WITH_HEADING = 6  # lines that a heading stays with: a sentence, a table's head, a row
LEAST_ROWS = 6  # a column of fewer rows is none
UNITS = {"m", "mm", "deg", "pct", "kg", "kn", "l", "m3"}


@dataclass(frozen=True)
class Line:
    """One line of words; `with_next` keeps it on the sheet of so many after it, `part` is what it is about.

    A drawing is a line too: `draw` is given the pad and how far down it begins, `gap_mm` is its height. `breaks`
    begins a sheet. Rows of a narrow table, `wide` letters each, go side by side in so many `columns`, down the first
    column first.
    """

    text: str
    size: float = 10.0
    font: str = "plain"
    gap_mm: float = 4.6
    indent_mm: float = 0.0
    tick: bool = False
    with_next: int = 0
    part: str = ""
    head: tuple[Line, ...] = ()  # of its table: stands again at the top of a sheet that begins with it
    columns: int = 1
    wide: int = 0
    breaks: bool = False
    draw: Callable[[Pad, float], None] | None = None


def heading(text: str, part: str = "", *, size: float = 13.0, breaks: bool = False) -> list[Line]:
    """Return a heading with room above it."""
    return [
        Line("", gap_mm=size * 0.3, with_next=WITH_HEADING + 1, part=part, breaks=breaks),
        Line(text, size, "bold", size * 0.46, with_next=WITH_HEADING, part=part),
    ]


def paragraph(text: str, *, size: float = 9.5, font: str = "plain", tick: bool = False, part: str = "") -> list[Line]:
    """Return a text as lines as wide as the sheet, a box to tick before the first when asked."""
    inset = 5.5 if tick else 0.0
    lines = wrapped(text, size, ROOM_MM - inset, font)
    last = len(lines) - 1
    return [
        Line(words, size, font, size * 0.45, inset, tick and place == 0, min(2, last - place), part)
        for place, words in enumerate(lines)
    ]


def table(
    headings: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    left: Sequence[int] = (0,),
    part: str = "",
    least: float = SIZES[-1],
) -> list[Line]:
    """Return a table in the even font: columns as wide as they need, numbers to the right, `left` ones to the left.

    Words of a heading stand over each other, the unit at its end lowest. Letters are as large as fit; a narrow table
    of many rows goes into two or three columns. Where the columns are wider than the sheet in letters of the size
    `least`, what is longest goes on in further lines.
    """
    cells = [[drawn(cell) for cell in row] for row in rows]
    tops = _stacked(headings, cells)
    widths = [max(map(len, column)) for column in zip(*tops, *cells, strict=True)]
    while sum(widths) + len(widths) - 1 > letters(least):
        widths[widths.index(max(widths))] -= 1
    wide = sum(widths) + len(widths) - 1
    columns = _columns(wide, len(cells))
    size = next((size for size in SIZES if _across(wide, columns) <= letters(size)), SIZES[-1])
    gap_mm = size * LINE_MM
    above = [BETWEEN.join([text.ljust(wide)] * columns).rstrip() for text in [_row(top, widths, left) for top in tops]]
    above.append(BETWEEN.replace(" ", "─").replace("│", "┼").join(["─" * wide] * columns))
    head = tuple(
        Line(text, size, "even", gap_mm * 0.85, with_next=len(above) - place, part=part)
        for place, text in enumerate(above)
    )
    lines = list(head)
    for row in cells:
        texts = _row_lines(row, widths, left)
        for place, text in enumerate(texts, start=1):
            rest = len(texts) - place
            lines.append(Line(text, size, "even", gap_mm, 0.0, False, rest, part, head, columns, wide))
    return lines


def letters(size: float) -> int:
    """Return how many letters of the even font go across a sheet."""
    return int(ROOM_MM / (size * LETTER_EM * POINT_MM))


def _across(wide: int, columns: int) -> int:
    return wide * columns + len(BETWEEN) * (columns - 1)


def _columns(wide: int, rows: int) -> int:
    fits = next(columns for columns in (3, 2, 1) if columns == 1 or _across(wide, columns) <= letters(COLUMNS_SIZE))
    return max(1, min(fits, rows // LEAST_ROWS))


def _stacked(headings: Sequence[str], cells: Sequence[Sequence[str]]) -> list[list[str]]:
    """Return headings as lines: words over each other where the column below is narrower, units on a line of theirs."""
    widest = [max((len(cell) for cell in column), default=0) for column in zip(*cells, strict=True)]
    stacks, units = [], []
    for heading_text, width in zip(headings, widest or [0] * len(headings), strict=True):
        name, unit = _above_unit(heading_text)
        stacks.append(textwrap.wrap(name, max(width, *map(len, name.split()), 1)) if name else [""])
        units.append(unit)
    tall = max(map(len, stacks))
    lines = [[stack[place - tall + len(stack)] if place >= tall - len(stack) else "" for stack in stacks]
             for place in range(tall)]  # fmt: skip
    return [*lines, units] if any(units) else lines


def _above_unit(heading_text: str) -> tuple[str, str]:
    name, _, unit = heading_text.rpartition(" ")
    return (name, unit) if name and unit in UNITS else (heading_text, "")


def pages(lines: Sequence[Line]) -> list[list[Line]]:
    """Cut lines into sheets; a line that is kept with those after it goes over to the next sheet with them."""
    found: list[list[Line]] = []
    page: list[Line] = []
    down = TOP_MM
    place = 0
    while place < len(lines):
        line = lines[place]
        needed = sum(after.gap_mm for after in lines[place : place + line.with_next + 1])
        if page and (line.breaks or down + needed > FOOT_MM):
            found.append(page)
            page = list(line.head)
            down = TOP_MM + sum(again.gap_mm for again in page)
        here = _side_by_side(lines, place, FOOT_MM - down) if line.columns > 1 else [line]
        place += sum(max(1, set_line.columns) for set_line in here) if line.columns > 1 else 1
        for set_line in here:
            if page or set_line.text or set_line.draw:
                page.append(set_line)
                down += set_line.gap_mm
    return [*found, page] if page else found


def _side_by_side(lines: Sequence[Line], place: int, room_mm: float) -> list[Line]:
    """Return as many rows of the narrow table that begins here as the room holds, set in columns.

    The `columns` of what comes back says how many rows a line holds.
    """
    first = lines[place]
    end = place
    while end < len(lines) and lines[end].head is first.head:
        end += 1
    most = first.columns * max(1, int(room_mm / first.gap_mm + 1e-6))
    rows = lines[place : min(end, place + most)]
    tall = -(-len(rows) // first.columns)
    found = []
    for place_down in range(tall):
        beside = rows[place_down::tall]
        text = BETWEEN.join(row.text.ljust(first.wide) for row in beside).rstrip()
        found.append(replace(first, text=text, columns=len(beside), with_next=0))
    return found


def draw_lines(pad: Pad, lines: Sequence[Line], *, top_mm: float = TOP_MM) -> float:
    """Write lines from the top of a sheet and return how far down they reach."""
    down = top_mm
    for (size, font, indent, gap), alike in groupby(lines, key=attrgetter("size", "font", "indent_mm", "gap_mm")):
        block, left = list(alike), MARGIN_MM + indent
        for place, line in enumerate(block):
            if line.draw:
                line.draw(pad, down + place * gap)
            if line.tick:
                pad.tick("", (left - 5.5, down + place * gap), size=size)
        down = pad.lines([line.text for line in block], (left, down), size=size, gap_mm=gap, font=font)
    return down


def parts(lines: Sequence[Line]) -> str:
    """Return what a sheet is about: the parts of its lines, the first and the last when there are more than two."""
    names = list(dict.fromkeys(line.part for line in lines if line.part))
    if len(names) > 2:
        return f"{names[0]} to {names[-1]}"
    return ", ".join(names)


def _row_lines(cells: Sequence[str], widths: Sequence[int], left: Sequence[int]) -> list[str]:
    """Return a row as one line, or as more where a cell is longer than its column."""
    if all(len(cell) <= width for cell, width in zip(cells, widths, strict=True)):
        return [_row(cells, widths, left)]
    wraps = [textwrap.wrap(cell, width) or [""] for cell, width in zip(cells, widths, strict=True)]
    tall = max(map(len, wraps))
    return [_row([wrap[place] if place < len(wrap) else "" for wrap in wraps], widths, left) for place in range(tall)]


def _row(cells: Sequence[str], widths: Sequence[int], left: Sequence[int]) -> str:
    shown = [
        cell.ljust(width) if place in left else cell.rjust(width)
        for place, (cell, width) in enumerate(zip(cells, widths, strict=True))
    ]
    return " ".join(shown).rstrip()

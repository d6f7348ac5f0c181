"""Lines of words that run on from sheet to sheet, cut into pages first: every sheet knows how many there are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.exports.sheet_paper import FOOT_MM, MARGIN_MM, ROOM_MM, drawn, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fencegis.exports.sheet_paper import Pad

TOP_MM = 18.0
EVEN_SIZE = 7.2
EVEN_LETTERS = 121  # of the even font, in that size, across a sheet
EVEN_GAP_MM = 3.5
UNITS = {"m", "mm", "deg", "pct", "kg", "kn", "l", "m3"}


@dataclass(frozen=True)
class Line:
    """One line of words; `with_next` keeps it on the sheet of so many after it, `part` is what it is about."""

    text: str
    size: float = 10.0
    font: str = "plain"
    gap_mm: float = 4.6
    indent_mm: float = 0.0
    tick: bool = False
    with_next: int = 0
    part: str = ""
    head: tuple[Line, ...] = ()  # of its table: stands again at the top of a sheet that begins with it


def heading(text: str, part: str = "", *, size: float = 13.0) -> list[Line]:
    """Return a heading with room above it."""
    return [
        Line("", gap_mm=size * 0.3, with_next=4, part=part),
        Line(text, size, "bold", size * 0.46, with_next=3, part=part),
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
    headings: Sequence[str], rows: Iterable[Sequence[str]], *, left: Sequence[int] = (0,), part: str = ""
) -> list[Line]:
    """Return a table in the even font: columns as wide as they need, numbers to the right, `left` ones to the left.

    The unit at a heading's end stands below it. Where the columns are wider than the sheet, what is longest is cut.
    """
    cells = [[drawn(cell) for cell in row] for row in rows]
    heads = [_above_unit(text) for text in headings]
    tops = [[top for top, _ in heads], [unit for _, unit in heads]] if any(unit for _, unit in heads) else [headings]
    widths = [max(map(len, column)) for column in zip(*tops, *cells, strict=True)]
    while sum(widths) + len(widths) - 1 > EVEN_LETTERS:
        widths[widths.index(max(widths))] -= 1
    above = [_row(row, widths, left) for row in tops] + ["─" * (sum(widths) + len(widths) - 1)]
    head = tuple(
        Line(text, EVEN_SIZE, "even", EVEN_GAP_MM * 0.8, with_next=len(above) - place, part=part)
        for place, text in enumerate(above)
    )
    return [*head, *(Line(_row(row, widths, left), EVEN_SIZE, "even", EVEN_GAP_MM, part=part, head=head)
                     for row in cells)]  # fmt: skip


def _above_unit(heading_text: str) -> tuple[str, str]:
    name, _, unit = heading_text.rpartition(" ")
    return (name, unit) if name and unit in UNITS else (heading_text, "")


def pages(lines: Sequence[Line]) -> list[list[Line]]:
    """Cut lines into sheets; a line that is kept with those after it goes over to the next sheet with them."""
    found: list[list[Line]] = []
    page: list[Line] = []
    down = TOP_MM
    for place, line in enumerate(lines):
        needed = sum(after.gap_mm for after in lines[place : place + line.with_next + 1])
        if page and down + needed > FOOT_MM:
            found.append(page)
            page = list(line.head)
            down = TOP_MM + sum(again.gap_mm for again in page)
        if page or line.text:
            page.append(line)
            down += line.gap_mm
    return [*found, page] if page else found


def draw_lines(pad: Pad, lines: Sequence[Line], *, top_mm: float = TOP_MM) -> float:
    """Write lines from the top of a sheet and return how far down they reach."""
    down = top_mm
    for line in lines:
        if line.tick:
            pad.tick("", (MARGIN_MM + line.indent_mm - 5.5, down), size=line.size)
        if line.text:
            pad.write(line.text, (MARGIN_MM + line.indent_mm, down), size=line.size, font=line.font)
        down += line.gap_mm
    return down


def parts(lines: Sequence[Line]) -> str:
    """Return what a sheet is about: the parts of its lines, the first and the last when there are more than two."""
    names = list(dict.fromkeys(line.part for line in lines if line.part))
    if len(names) > 2:
        return f"{names[0]} to {names[-1]}"
    return ", ".join(names)


def _row(cells: Sequence[str], widths: Sequence[int], left: Sequence[int]) -> str:
    shown = []
    for place, (cell, width) in enumerate(zip(cells, widths, strict=True)):
        short = cell if len(cell) <= width else f"{cell[: width - 1]}…"
        shown.append(short.ljust(width) if place in left else short.rjust(width))
    return " ".join(shown).rstrip()

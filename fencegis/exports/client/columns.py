"""Words in two columns that run on from sheet to sheet: paragraphs, rows of cells, boxes to tick, lines to write on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fencegis.exports.sheets.paper import FOOT_MM, MARGIN_MM, ROOM_MM, fitted, wide_mm, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.exports.sheets.paper import Pad

BETWEEN_MM = 6.0
COLUMN_MM = (ROOM_MM - BETWEEN_MM) / 2.0
SIZE = 8.2
TOP_MM = 15.0
ROW = 0.44  # height of a line, in its size


@dataclass(frozen=True)
class Cell:
    """Words at a place across a row."""

    at_mm: float
    text: str
    bold: bool = False
    right: bool = False  # the words end at the place


@dataclass(frozen=True)
class Row:
    """One line of a column; `with_next` keeps it in the column of so many after it."""

    cells: tuple[Cell, ...]
    size: float = SIZE
    above_mm: float = 0.0
    with_next: int = 0
    rule: bool = False  # a line under it
    blank_from_mm: float | None = None  # a line to write on, from there to the column's end
    tick: bool = False

    @property
    def tall_mm(self) -> float:
        """How much of the column it takes."""
        return self.above_mm + self.size * ROW


def heading(text: str) -> list[Row]:
    """Return a heading with a rule under it."""
    return [Row((Cell(0.0, text, bold=True),), 10.0, above_mm=2.2, with_next=3, rule=True), Row((), 2.4, with_next=2)]


def paragraph(
    text: str, *, size: float = SIZE, indent_mm: float = 0.0, bold: bool = False, tick: bool = False,
    above_mm: float = 0.0, keep: int = 0, room_mm: float = COLUMN_MM,
) -> list[Row]:  # fmt: skip
    """Return a text as rows as wide as the column."""
    inset = indent_mm + (4.2 if tick else 0.0)
    lines = wrapped(text, size, room_mm - inset, "bold" if bold else "plain")
    last = len(lines) - 1
    return [
        Row(
            (Cell(inset, line, bold),), size, above_mm if place == 0 else 0.0, max(min(1, last - place), keep),
            tick=tick and place == 0,
        )
        for place, line in enumerate(lines)
    ]  # fmt: skip


def titled(title: str, text: str, *, size: float = SIZE, above_mm: float = 0.6) -> list[Row]:
    """Return a bold title that its text goes on behind."""
    wide = wide_mm(f"{title} ", size, "bold")
    words = text.split(" ")
    first: list[str] = []
    while words and wide + wide_mm(" ".join([*first, words[0]]), size) <= COLUMN_MM:
        first.append(words.pop(0))
    head = Row((Cell(0.0, title, bold=True), Cell(wide, " ".join(first))), size, above_mm, 1 if words else 0)
    return [head, *(paragraph(" ".join(words), size=size) if words else [])]


def table(
    rows: Sequence[Sequence[str]], at_mm: Sequence[float], *, right: Sequence[int] = (), size: float = SIZE
) -> list[Row]:
    """Return rows of cells; each cell's words go on in further rows where they are wider than the room to the next."""
    found: list[Row] = []
    for row in rows:
        cells = [_lines(text, place, at_mm, right, size) for place, text in enumerate(row)]
        tall = max(map(len, cells))
        for down in range(tall):
            here = tuple(
                Cell(at_mm[place], lines[down], place == 0, place in right)
                for place, lines in enumerate(cells)
                if down < len(lines)
            )
            found.append(Row(here, size, 0.3 if down == 0 else 0.0, tall - 1 - down))
    return found


def _lines(text: str, place: int, at_mm: Sequence[float], right: Sequence[int], size: float) -> list[str]:
    if place in right:
        before = at_mm[place - 1] if place else 0.0
        return [fitted(text, size, at_mm[place] - before)]
    ends = [at for other, at in enumerate(at_mm) if at > at_mm[place] and other not in right]
    ends += [at_mm[other] - 15.0 for other in right if at_mm[other] > at_mm[place]]
    room = min([*ends, COLUMN_MM]) - at_mm[place] - 1.0
    return wrapped(text, size, room, "bold" if place == 0 else "plain")


def kept(rows: Sequence[Row]) -> list[Row]:
    """Return rows that stay in one column."""
    last = len(rows) - 1
    return [replace(row, with_next=last - place) for place, row in enumerate(rows)]


@dataclass(frozen=True)
class Column:
    """A part of a column: on which sheet, 0 first, left or right, from where down, and its rows."""

    sheet: int
    left_mm: float
    top_mm: float
    rows: tuple[Row, ...]

    @property
    def foot_mm(self) -> float:
        """How far down it reaches."""
        return self.top_mm + sum(row.tall_mm for row in self.rows)


def flowed(rows: Sequence[Row], *, first_top_mm: float, last_foot_mm: float) -> list[Column]:
    """Return the rows cut into columns, two a sheet, from `first_top_mm` on the first sheet down.

    The last sheet's columns are as long as each other, as nearly as rows allow, and end above `last_foot_mm`, where
    something else stands; where they do not, that stands on a sheet of its own, which has a column without rows.
    """
    columns: list[Column] = []
    place, sheet = 0, 0
    while place < len(rows):
        top = first_top_mm if sheet == 0 else TOP_MM
        both = _both(rows[place:], top, last_foot_mm) if sheet else None
        cuts = both or _both(rows[place:], top, FOOT_MM - 4.0) or _filled(rows[place:], top, FOOT_MM - 4.0)
        for side, (begin, end) in enumerate(((0, cuts[0]), (cuts[0], cuts[1]))):
            left = MARGIN_MM + side * (COLUMN_MM + BETWEEN_MM)
            columns.append(Column(sheet, left, top, tuple(rows[place + begin : place + end])))
        place += cuts[1]
        sheet += 1
        if place >= len(rows) and not both:
            columns.append(Column(sheet, MARGIN_MM, TOP_MM, ()))
    return columns


def _both(rows: Sequence[Row], top: float, foot: float) -> tuple[int, int] | None:
    """Return where to cut all rows into two columns as short as can be; None where they do not fit."""
    whole = sum(row.tall_mm for row in rows)
    reach = whole / 2.0
    while reach <= foot - top:
        cut = _cut(rows, reach)
        if sum(row.tall_mm for row in rows[cut:]) <= reach:
            return cut, len(rows)
        reach += 1.0
    return None


def _filled(rows: Sequence[Row], top: float, foot: float) -> tuple[int, int]:
    first = _cut(rows, foot - top)
    second = first + _cut(rows[first:], foot - top)
    return first, max(second, 1)


def _cut(rows: Sequence[Row], room: float) -> int:
    """Return how many rows fit, those kept with later ones kept."""
    down, fits = 0.0, 0
    for place, row in enumerate(rows):
        down += row.tall_mm
        if down > room:
            break
        if row.with_next == 0:
            fits = place + 1
    return fits


def draw_column(pad: Pad, column: Column) -> None:
    """Draw a column's rows."""
    down = column.top_mm
    for row in column.rows:
        down += row.tall_mm
        base = down - row.size * ROW * 0.28
        for cell in row.cells:
            at = (column.left_mm + cell.at_mm, base)
            pad.write(
                cell.text,
                at,
                size=row.size,
                font="bold" if cell.bold else "plain",
                align="right" if cell.right else "left",
            )
        if row.rule:
            pad.rule((column.left_mm, down + 0.5), (column.left_mm + COLUMN_MM, down + 0.5), width=0.8)
        if row.blank_from_mm is not None:
            pad.rule(
                (column.left_mm + row.blank_from_mm, base + 0.8), (column.left_mm + COLUMN_MM, base + 0.8), width=0.4
            )
        if row.tick:
            pad.box((column.left_mm, base - 2.4), 2.8, 2.8, width=0.5)

"""A table of cells as a spreadsheet saves it: its rows, its heading, and each row by the names of its columns."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from fencegis.inputs.findings import Findings, words
from fencegis.inputs.given_values import nearest_key

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

_FORMULA = ("=", "+", "@")  # a minus is a number out of range
_SAVE_AGAIN = "save it again as comma-separated values, UTF-8."


def cell_rows(text: str, found: Findings, *, each: str) -> tuple[list[list[str]], bool] | None:
    """Return the rows, cells stripped, blank rows at the end left out, and whether commas are decimal commas.

    None, with a fault, when there is no table; `each` is what a row is: "leg". Commas, semicolons (then with decimal
    commas) and tabs part the cells.
    """
    first = text.lstrip().split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    try:
        given = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except csv.Error as error:
        found.fault("", f"it is not a table of cells ({words(error)}): look for a quotation mark too many.",
                    fix=_SAVE_AGAIN)  # fmt: skip
        return None
    rows = [[" ".join(cell.split()) for cell in row] for row in given]
    while rows and not any(rows[-1]):
        rows.pop()
    if not rows:
        found.fault("", "every row is blank.", fix=f"give a row for each {each}, or take the file away.")
        return None
    return rows, delimiter == ";"


def named_rows(
    text: str, found: Findings, *, each: str, needed: Sequence[str], may: Sequence[str], also: Mapping[str, str]
) -> tuple[list[list[str]], list[str], bool] | None:
    """Return the rows, heading first, the columns' names, and whether commas are decimal commas; None with a fault."""
    table = cell_rows(text, found, each=each)
    if table is None:
        return None
    rows, decimal_comma = table
    names = heading(rows[0], found, needed=needed, may=may, also=also)
    return None if names is None else (rows, names, decimal_comma)


def heading(
    row: list[str], found: Findings, *, needed: Sequence[str], may: Sequence[str], also: Mapping[str, str]
) -> list[str] | None:
    """Return the columns' names, None (and faults) when the rows cannot be read by them.

    `also` has other names that people write, each with the column meant.
    """
    while row and not row[-1]:  # a spreadsheet's empty columns
        row = row[:-1]
    names, usual = [name.lower() for name in row], f"let the first row be {','.join(needed)}."
    if not set(names) & set(needed):
        found.fault("row 1", "it is no heading.", fix=usual)
        return None
    before, known, meant = len(found.faults), (*needed, *may), set(names)
    for name in dict.fromkeys(names):
        if name not in known:
            near = also.get(name) or nearest_key(name, known)
            meant.add(near or name)
            fix = f"the nearest known one is {near}." if near else f"take it out; known are {', '.join(known)}."
            found.fault("row 1", f"there is no column “{words(name)}”.", fix=fix)
        elif names.count(name) > 1:
            found.fault("row 1", f"column {name} is there {names.count(name)} times.", fix="keep one of them.")
    for name in needed:
        if name not in meant:
            found.fault("row 1", f"column {name} is missing.", fix=usual)
    return names if len(found.faults) == before else None


def by_column(
    rows: list[list[str]], names: list[str], found: Findings, *, each: str, most: int
) -> Iterator[tuple[int, dict[str, str]]]:
    """Yield each row's number, the heading being row 1, and its cells by column; a fault for what is no row."""
    if len(rows) == 1:
        found.fault(
            "", f"it has no {each} below its heading.", fix=f"give a row for each {each}, or take the file away."
        )
    if len(rows) - 1 > most:
        found.fault("", f"it has {len(rows) - 1} {each}s.", fix=f"keep at most {most}.")
        return
    for number, row in enumerate(rows[1:], start=2):
        place = f"row {number}"
        if not any(row):
            found.fault(place, f"the row is blank: a {each} may be lost.", fix="fill it in, or delete the row.")
        elif len(row) > len(names) and any(row[len(names) :]):
            fault = f"it has {len(row)} cells, and the heading {len(names)}."
            found.fault(place, fault, fix="put quotation marks around a text with a comma, or name every column.")
        else:
            yield number, dict(zip(names, [*row, *[""] * len(names)], strict=False))


def is_formula(text: str, place: str, column: str, found: Findings) -> bool:
    """Add a fault for a cell with a formula in it: nothing here works one out."""
    if not text.startswith(_FORMULA):
        return False
    found.fault(place, f"{column} holds a formula (“{words(text)}”).", fix="put the value in its place.")
    return True

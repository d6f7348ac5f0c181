"""`title.csv` → the deed's dimensions: bearing, distance, unit, a row for each leg in the deed's order."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, NamedTuple

from fencegis.inputs.bearing_text import FORMS, bearing_deg, may_be_packed
from fencegis.inputs.cell_rows import by_column, is_formula, named_rows
from fencegis.inputs.findings import Findings, words
from fencegis.inputs.text_file import TextFile, read_text
from fencegis.records.title import METRES, TitleLeg

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from fencegis.errors import Problem
    from fencegis.records.notes import Note

COLUMNS = ("bearing", "distance", "unit")
MAY = ("line_id", "run", "note")
MOST_LEGS = 300
LONGEST_M = 100_000.0
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)", re.ASCII)
_NAMES = {
    "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "ft": "ft", "foot": "ft", "feet": "ft", "us-ft": "us-ft",
    "chain": "chain", "chains": "chain", "ch": "chain",
    "link": "link", "links": "link", "lk": "link", "li": "link",
}  # fmt: skip
_ALSO = {"azimuth": "bearing", "direction": "bearing", "length": "distance", "line": "line_id"}


class TitleRead(NamedTuple):
    """The legs in the file's order; with problems they are not all there."""

    legs: tuple[TitleLeg, ...]
    problems: tuple[Problem, ...]
    notes: tuple[Note, ...]
    source: TextFile | None


def read_title(path: Path, *, lines: Sequence[str]) -> TitleRead:
    """Return the legs in `title.csv` with every fault in it.

    `lines` are the names of the site's lines; when there are none (the drawing is at fault) no name is held against
    them. Commas, semicolons (then with decimal commas) and tabs part the cells; text that looks like a formula is text.
    """
    found = Findings(path.name)
    source = read_text(path, found)
    table = None
    if source is not None:
        table = named_rows(source.text, found, each="leg", needed=COLUMNS, may=MAY, also=_ALSO)
    legs: list[TitleLeg] = []
    if table is not None:
        rows, names, decimal_comma = table
        legs = _legs(rows, names, found, lines=lines, decimal_comma=decimal_comma)
    if legs and not found.faults:
        _note_units(legs, found)
    return TitleRead(tuple(legs), found.problems, tuple(found.notes), source)


def _legs(
    rows: list[list[str]], names: list[str], found: Findings, *, lines: Sequence[str], decimal_comma: bool
) -> list[TitleLeg]:
    legs, packed = [], []
    for number, given in by_column(rows, names, found, each="leg", most=MOST_LEGS):
        legs.append(_leg(given, number, found, lines=lines, decimal_comma=decimal_comma))
        packed.append(may_be_packed(given["bearing"]))
    if len(packed) > 1 and all(packed):
        found.note("doubt", "", "every bearing has four decimals and could be degrees.minutes-seconds; each is taken"
                   " as decimal degrees. Write 94 12 30 for 94°12'30\".")  # fmt: skip
    return [leg for leg in legs if leg is not None]


def _leg(
    given: dict[str, str], number: int, found: Findings, *, lines: Sequence[str], decimal_comma: bool
) -> TitleLeg | None:
    place = f"row {number}"
    point = (lambda text: text.replace(",", ".")) if decimal_comma else str
    bearing = _bearing(point(given["bearing"]), place, found)
    unit = _unit(given["unit"], place, found)
    distance = _distance(point(given["distance"]), unit, place, found)
    line_id = _line_of(given.get("line_id", ""), place, found, lines=lines)
    if bearing is None or unit is None or distance is None or line_id is None:
        return None
    chord = re.search(r"\bchord\b", given.get("note", ""), re.IGNORECASE) is not None
    return TitleLeg(number, line_id, given.get("run") or None, bearing, distance, unit, chord)


def _bearing(text: str, place: str, found: Findings) -> float | None:
    if not text:
        found.fault(place, "bearing is empty.", fix=FORMS)
        return None
    if is_formula(text, place, "bearing", found):
        return None
    try:
        return bearing_deg(text)
    except ValueError as error:
        found.fault(place, str(error), fix=FORMS)
        return None


def _distance(text: str, unit: str | None, place: str, found: Findings) -> float | None:
    """Return the distance in its unit, None (and a fault) when it is none."""
    if not text:
        found.fault(place, "distance is empty.", fix="write the number that the deed has.")
        return None
    if not _NUMBER.fullmatch(text):
        if not is_formula(text, place, "distance", found):
            fix = "write digits and a decimal point alone, as 1234.5; the unit has its own column."
            found.fault(place, f"distance “{words(text)}” is not a number.", fix=fix)
        return None
    distance = float(text)
    if distance <= 0.0:
        found.fault(place, f"distance is {words(text)}; it must be more than 0.", fix="correct it, or delete the row.")
        return None
    longest = LONGEST_M / METRES[unit or "m"]
    if not math.isfinite(distance) or distance > longest:
        found.fault(place, f"distance is {words(text)}: more than 100 km.", fix="correct it, or its unit.")
        return None
    return distance


def _unit(text: str, place: str, found: Findings) -> str | None:
    fix = f"write one of {', '.join(METRES)}."
    if not text:
        found.fault(place, "unit is empty, and none is assumed.", fix=fix)
        return None
    unit = _NAMES.get(text.lower().rstrip("."))
    if unit is None and not is_formula(text, place, "unit", found):
        found.fault(place, f"unit “{words(text)}” is not known.", fix=fix)
    return unit


def _line_of(text: str, place: str, found: Findings, *, lines: Sequence[str]) -> str | None:
    """Return the leg's line: the site's only one when the cell is empty."""
    if not lines:
        return text
    if not text and len(lines) == 1:
        return lines[0]
    if text in lines:
        return text
    known = ", ".join(words(name, most=20) for name in lines[:8]) + (", …" if len(lines) > 8 else "")
    fault = f"there is no line “{words(text)}”." if text else f"line_id is empty, and the site has {len(lines)} lines."
    found.fault(place, fault, fix=f"write in column line_id which line the leg belongs to: {known}.")
    return None


def _note_units(legs: list[TitleLeg], found: Findings) -> None:
    """Say which foot was meant, where the deed has feet, chains or links."""
    units = {leg.unit for leg in legs}
    said = []
    if "ft" in units:
        said.append("feet are international feet of 0.3048 m")
    if "us-ft" in units:
        said.append("us-ft are US survey feet of 1200/3937 m")
    if units & {"chain", "link"}:
        said.append("a chain is 66 international feet (20.1168 m) and a link a hundredth of it")
    if said:
        found.note("default", "", f"{'; '.join(said)}. The US survey foot is longer by 2 parts in a million.")

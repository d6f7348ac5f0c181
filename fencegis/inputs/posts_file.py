"""`posts.csv` → the posts on hand: sticks with a name of their own, and heaps of sticks that nobody tagged."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from fencegis.inputs.cell_rows import by_column, is_formula, named_rows
from fencegis.inputs.findings import Findings, words
from fencegis.inputs.text_file import TextFile, read_text
from fencegis.records.timber import Timber

if TYPE_CHECKING:
    from pathlib import Path

    from fencegis.errors import Problem
    from fencegis.records.notes import Note

COLUMNS = ("length_m", "butt_mm")
MAY = ("timber_id", "top_mm", "sweep_mm", "count", "place", "note")
MOST_ROWS = 5000
MOST_STICKS = 5000
LONGEST_ID = 40
_LIMITS = {  # least, most, and what a number beyond them is likely to be
    "length_m": (0.3, 12.0, "lengths are in metres"),
    "butt_mm": (20.0, 1000.0, "diameters are in millimetres"),
    "top_mm": (20.0, 1000.0, "diameters are in millimetres"),
    "sweep_mm": (0.0, 1000.0, "sweep is in millimetres"),
}
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)", re.ASCII)
_WHOLE = re.compile(r"\d{1,6}(\.0*)?", re.ASCII)
_NAME = re.compile(r"\w[\w .\-/#]*")
_ALSO = {
    "post_id": "place", "id": "timber_id", "tag": "timber_id", "stick": "timber_id",
    "length": "length_m", "butt": "butt_mm", "diameter_mm": "butt_mm", "girth_mm": "butt_mm",
    "top": "top_mm", "sweep": "sweep_mm", "bow_mm": "sweep_mm", "number": "count", "quantity": "count",
}  # fmt: skip


class PostsRead(NamedTuple):
    """The rows in the file's order; with problems they are not all there."""

    timber: tuple[Timber, ...]
    problems: tuple[Problem, ...]
    notes: tuple[Note, ...]
    source: TextFile | None


def read_posts(path: Path) -> PostsRead:
    """Return the sticks in `posts.csv` with every fault in it; text that looks like a formula is a fault."""
    found = Findings(path.name)
    source = read_text(path, found)
    table = None
    if source is not None:
        table = named_rows(source.text, found, each="stick", needed=COLUMNS, may=MAY, also=_ALSO)
    timber: list[Timber] = []
    if table is not None:
        rows, names, decimal_comma = table
        for number, given in by_column(rows, names, found, each="stick", most=MOST_ROWS):
            if decimal_comma:
                given |= {name: given.get(name, "").replace(",", ".") for name in (*_LIMITS, "count")}
            stick = _timber(given, number, found)
            timber += [] if stick is None else [stick]
    _hold_together(timber, found)
    if timber and not found.faults:
        _note_unmeasured(timber, found)
    return PostsRead(tuple(timber), found.problems, tuple(found.notes), source)


def _timber(given: dict[str, str], row: int, found: Findings) -> Timber | None:
    """Return the row's sticks, None (and its faults) when something is wrong with them."""
    where, before = f"row {row}", len(found.faults)
    length_m = _size("length_m", given, where, found)
    butt_mm = _size("butt_mm", given, where, found)
    top_mm = _size("top_mm", given, where, found) if given.get("top_mm") else butt_mm
    sweep_mm = _size("sweep_mm", given, where, found) if given.get("sweep_mm") else None
    count = _count(given.get("count", ""), where, found)
    timber_id = _name("timber_id", given, where, found)
    place = _name("place", given, where, found)
    if butt_mm is not None and top_mm is not None and top_mm > butt_mm:
        fault = f"its top of {top_mm:g} mm is thicker than its butt of {butt_mm:g} mm."
        found.fault(where, fault, fix="swap them: the butt is the thick end, and goes into the ground.")
    if count > 1 and timber_id is not None:
        fault = f"one timber_id, “{words(timber_id)}”, for {count} sticks."
        found.fault(where, fault, fix="leave timber_id empty for a heap, or give each stick a row.")
    if place is not None and (timber_id is None or count > 1):
        fault = "it has a place, but is no single stick with a timber_id."
        found.fault(where, fault, fix="tag the stick that stands there: a timber_id of its own, count 1.")
    if len(found.faults) > before or length_m is None or butt_mm is None or top_mm is None:
        return None
    return Timber(row, timber_id, length_m, butt_mm, top_mm, sweep_mm, count, place, words(given.get("note", "")))


def _size(name: str, given: dict[str, str], where: str, found: Findings) -> float | None:
    """Return the number in metres or millimetres, None (and a fault) when it is none or out of all reason."""
    text = given.get(name, "")
    if not text:
        found.fault(where, f"{name} is empty.", fix="measure it, or delete the row.")
        return None
    if not _NUMBER.fullmatch(text):
        if not is_formula(text, where, name, found):
            fix = "write digits and a decimal point alone; the unit is the tail of the column's name."
            found.fault(where, f"{name} “{words(text)}” is not a number.", fix=fix)
        return None
    value, (least, most, unit) = float(text), _LIMITS[name]
    if not least <= value <= most:
        fault = f"{name} is {words(text)}; it must be {least:g} to {most:g}."
        found.fault(where, fault, fix=f"correct it: {unit}.")
        return None
    return value


def _count(text: str, where: str, found: Findings) -> int:
    """Return how many sticks the row stands for: 1 when the cell is empty, or at fault."""
    if not text:
        return 1
    if _WHOLE.fullmatch(text) and int(float(text)) >= 1:
        return int(float(text))
    if not is_formula(text, where, "count", found):
        found.fault(where, f"count “{words(text)}” is not a whole number from 1.", fix="count them, or delete the row.")
    return 1


def _name(column: str, given: dict[str, str], where: str, found: Findings) -> str | None:
    text = given.get(column, "")
    if not text or is_formula(text, where, column, found):
        return None
    if not _NAME.fullmatch(text) or len(text) > LONGEST_ID:
        fix = f"use letters, digits, dot, dash, slash and spaces, {LONGEST_ID} characters at most."
        found.fault(where, f"{column} “{words(text)}” is no name to paint on a post.", fix=fix)
        return None
    return text


def _hold_together(timber: list[Timber], found: Findings) -> None:
    """Add a fault for each name or place that two sticks have, and for more sticks than are shared out."""
    for column, fix in (
        ("timber_id", "give each stick a name of its own."),
        ("place", "leave place empty for the one that does not stand there."),
    ):
        first: dict[str, int] = {}
        for stick in timber:
            name = getattr(stick, column)
            if name in first:
                fault = f"{column} “{words(name)}” is that of row {first[name]} as well."
                found.fault(f"row {stick.row}", fault, fix=fix)
            elif name is not None:
                first[name] = stick.row
    sticks = sum(stick.count for stick in timber)
    if sticks > MOST_STICKS:
        found.fault("", f"it counts {sticks} sticks.", fix=f"keep at most {MOST_STICKS}.")


def _note_unmeasured(timber: list[Timber], found: Findings) -> None:
    """Say what was not measured."""
    alike = sum(stick.count for stick in timber if stick.top_mm == stick.butt_mm)
    if alike:
        found.note("default", "", f"{alike} sticks have no taper (top_mm empty, or the same as the butt): the butt is"
                   " taken as the diameter at the ground.")  # fmt: skip
    unseen = sum(stick.count for stick in timber if stick.sweep_mm is None)
    if unseen:
        found.note("doubt", "", f"sweep of {unseen} sticks is not measured: not checked. Look along each, and put the"
                   " worst aside.")  # fmt: skip

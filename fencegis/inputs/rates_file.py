"""`rates.csv` → the contractor's own prices and outputs, each row held against what can be priced at all."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING, NamedTuple, cast

from fencegis.catalogue import rows
from fencegis.catalogue.units import PACK, PERCENT, same_kind, units
from fencegis.inputs.cell_rows import by_column, is_formula, named_rows
from fencegis.inputs.findings import Findings, words
from fencegis.inputs.given_values import nearest_key
from fencegis.inputs.priced_things import priced_things, thing_meant
from fencegis.inputs.text_file import TextFile, read_text
from fencegis.records.rates import KINDS, PARTS_GIVEN, Rate

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from fencegis.errors import Problem
    from fencegis.inputs.priced_things import Thing
    from fencegis.records.notes import Note
    from fencegis.records.rates import Part, RateKind

COLUMNS = ("item", "unit", "rate", "kind")
MAY = ("waste_pct", "pack", "note", "part", "taxed")
MOST_ROWS = 2000
MOST_DECIMALS = 4  # so that a spreadsheet's own arithmetic comes to the same cent
MOST_RATE = Decimal(10_000_000)
MOST_PERCENT = Decimal(300)
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)", re.ASCII)
_ALSO = {
    "price": "rate", "cost": "rate", "name": "item", "key": "item", "material": "item", "activity": "item",
    "units": "unit", "type": "kind", "waste": "waste_pct", "pack_size": "pack", "notes": "note", "tax": "taxed",
}  # fmt: skip


class RatesRead(NamedTuple):
    """The rows in the file's order; with problems they are not all there."""

    rates: tuple[Rate, ...]
    problems: tuple[Problem, ...]
    notes: tuple[Note, ...]
    source: TextFile | None


def read_rates(path: Path) -> RatesRead:
    """Return the rates in `rates.csv` with every fault in it: kinds, items and units that nothing is priced by."""
    found = Findings(path.name)
    source = read_text(path, found)
    table = None
    if source is not None:
        table = named_rows(source.text, found, each="rate", needed=COLUMNS, may=MAY, also=_ALSO)
    rates: list[Rate] = []
    if table is not None:
        cells, names, decimal_comma = table
        for number, given in by_column(cells, names, found, each="rate", most=MOST_ROWS):
            if decimal_comma:
                given |= {name: given.get(name, "").replace(",", ".") for name in ("rate", "waste_pct", "pack")}
            rate = _rate(given, number, found)
            rates += [] if rate is None else [rate]
    _hold_together(rates, found)
    return RatesRead(tuple(rates), found.problems, tuple(found.notes), source)


def _rate(given: dict[str, str], row: int, found: Findings) -> Rate | None:
    """Return the row's rate, None (and its faults) when something is wrong with it."""
    where, before = f"row {row}", len(found.faults)
    kind = cast("RateKind | None", _one_of("kind", given, KINDS, where, found))
    item = _item(given.get("item", ""), kind, where, found)
    unit = _unit(given.get("unit", ""), where, found)
    if item is not None and unit is not None:
        _fits(item[0], unit, where, found)
    price = _number("rate", given, where, found, most=MOST_PERCENT if kind == "percent" else MOST_RATE)
    waste_pct, pack = None, None
    for name in ("waste_pct", "pack"):
        if given.get(name) and kind is not None and kind != "material":
            found.fault(where, f"{name} is for a material, and this is of kind {kind}.", fix="leave it empty.")
    if given.get("waste_pct"):
        waste_pct = _number("waste_pct", given, where, found, most=Decimal(100), least=Decimal(0))
    if given.get("pack"):
        pack = _number("pack", given, where, found, most=MOST_RATE)
    part = _one_of("part", given, PARTS_GIVEN, where, found) if given.get("part") else None
    taxed = _one_of("taxed", given, ("yes", "no"), where, found) if given.get("taxed") else "yes"
    if len(found.faults) > before or kind is None or item is None or unit is None or price is None:
        return None
    note = words(given.get("note", ""), most=200)
    return Rate(item[1], unit, price, kind, waste_pct, pack, note, cast("Part | None", part), taxed == "yes", row)


def _one_of(name: str, given: dict[str, str], known: tuple[str, ...], where: str, found: Findings) -> str | None:
    text = given.get(name, "")
    plain = text.lower()
    if plain in known:
        return plain
    if not text:
        found.fault(where, f"{name} is empty.", fix=f"write one of {', '.join(known)}.")
    elif not is_formula(text, where, name, found):
        near = nearest_key(text, known)
        fix = f"the nearest known one is {near}; known are {', '.join(known)}." if near else f"{', '.join(known)}."
        found.fault(where, f"there is no {name} “{words(text)}”.", fix=fix)
    return None


def _item(text: str, kind: RateKind | None, where: str, found: Findings) -> tuple[Thing, str] | None:
    """Return what the row is a rate of and the item as the plan writes it; None (and a fault) when nothing is so."""
    if not text:
        found.fault(where, "item is empty.", fix="say what it is the rate of, or delete the row.")
        return None
    if is_formula(text, where, "item", found) or kind is None:
        return None
    head, _, soil = (part.strip().lower() for part in text.partition(","))
    meant = thing_meant(head, kind)
    if meant is None:
        things = priced_things(kind)
        near = nearest_key(head, [name.replace(" ", "_") for name in things])
        listed = ", ".join(list(things)[:12]) + (", …" if len(things) > 12 else "")
        fix = f"the nearest known one is {near.replace('_', ' ')}." if near else f"known are {listed}."
        found.fault(where, f"there is no {kind} “{words(text)}”.", fix=fix)
        return None
    if soil and not _soil_fits(soil, kind, where, found):
        return None
    return meant[0], f"{meant[1]}, {soil}" if soil else meant[1]


def _soil_fits(soil: str, kind: RateKind, where: str, found: Findings) -> bool:
    if kind not in ("labour", "output"):
        found.fault(where, f"a soil (“{words(soil)}”) is for labour and output, and this is of kind {kind}.",
                    fix="take the comma and what follows out of item.")  # fmt: skip
        return False
    known = [row["soil"] for row in rows("soils")]
    if soil not in known:
        near = nearest_key(soil, known)
        fix = f"the nearest known one is {near}." if near else f"known are {', '.join(known)}."
        found.fault(where, f"there is no soil “{words(soil)}”.", fix=fix)
        return False
    return True


def _unit(text: str, where: str, found: Findings) -> str | None:
    known = (*units(), PACK, PERCENT)
    if text.lower() in known:
        return text.lower()
    if not text:
        found.fault(where, "unit is empty.", fix=f"write one of {', '.join(known)}.")
    elif not is_formula(text, where, "unit", found):
        near = nearest_key(text, known)
        start = f"the nearest known one is {near}; " if near else ""
        found.fault(where, f"there is no unit “{words(text)}”.", fix=f"{start}known are {', '.join(known)}.")
    return None


def _fits(thing: Thing, unit: str, where: str, found: Findings) -> None:
    """Add a fault when a thing is not counted in such a unit, nor in another of the same kind."""
    if unit in thing.units or any(same_kind(unit, own) for own in thing.units):
        return
    found.fault(
        where, f"a rate of {words(thing.item)} is not by the {unit}.", fix=f"give it by {' or '.join(thing.units)}."
    )


def _number(
    name: str, given: dict[str, str], where: str, found: Findings, *, most: Decimal, least: Decimal | None = None
) -> Decimal | None:
    """Return the number exactly as written, None (and a fault) when it is none, blank, zero or less, or too large."""
    text = given.get(name, "")
    if not text:
        found.fault(where, f"{name} is empty.", fix="fill it in, or delete the row: what has no rate is not priced.")
    elif not _NUMBER.fullmatch(text):
        if not is_formula(text, where, name, found):
            fix = "write digits and a decimal point alone, no sign of money and no comma."
            found.fault(where, f"{name} “{words(text)}” is not a number.", fix=fix)
    elif (value := Decimal(text)) > most or (value <= 0 if least is None else value < least):
        low = "more than 0" if least is None else f"at least {least}"
        fault = f"{name} is {words(text)}; it must be {low} and at most {most}."
        found.fault(where, fault, fix="correct it, or delete the row.")
    elif len(text.partition(".")[2].rstrip("0")) > MOST_DECIMALS:
        fix = "round it, or give it by a larger unit or by the pack."
        found.fault(where, f"{name} {words(text)} has more than {MOST_DECIMALS} decimals.", fix=fix)
    else:
        return value
    return None


def _hold_together(rates: Iterable[Rate], found: Findings) -> None:
    """Add a fault for each item that has two rates of one kind."""
    first: dict[tuple[str, str], int] = {}
    for rate in rates:
        name = (rate.kind, rate.item)
        if name in first:
            fault = f"{words(rate.item)} has a {rate.kind} rate in row {first[name]} as well."
            found.fault(f"row {rate.row}", fault, fix="keep one of them.")
        else:
            first[name] = rate.row

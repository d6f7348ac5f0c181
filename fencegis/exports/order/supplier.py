"""A supplier's sheet of the order workbook: what, how much, in how many packs, at what rate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd

from fencegis.catalogue.units import PACK, same_kind, units
from fencegis.exports.order.cells import HEAD_ROW, address, cents
from fencegis.quantities.money import exact
from fencegis.quantities.price_materials import ordered_amount, whole_packs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.exports.order.cells import Sheet
    from fencegis.quantities.money import Line

ITEM, UNIT, EXACT, WASTE, PACKS, PACK_SIZE, ORDERED, MASS, LONGEST, BY, PRICED, RATE, AMOUNT, RULE = range(14)
WIDE = 36.0  # of the item and of the rule, in letters
WHAT = (
    ("item", WIDE), ("unit", 7.0), ("exact", 11.0), ("waste, %", 8.0), ("packs", 8.0), ("in a pack", 10.0),
    ("ordered", 11.0), ("mass, kg", 10.0), ("longest, m", 10.0),
)  # fmt: skip
MONEY = (("rate by the", 8.0), ("priced amount", 11.0), ("rate", 10.0))


@dataclass(frozen=True)
class Ordered:
    """What a supplier's sheet comes to and where its amounts stand."""

    supplier: str
    cells: tuple[str, ...]  # of each row's amount, for other sheets
    total: str  # the cell of the sum; empty without rates
    cents: int
    items: int
    not_priced: int


def columns(*, priced: bool, currency: str | None) -> list[tuple[str, float]]:
    """Return the names and widths of the sheet's columns; those of money only where there are rates."""
    amount = f"amount, {currency}" if currency else "amount"
    return [*WHAT, *((*MONEY, (amount, 12.0)) if priced else ()), ("how it was counted", WIDE)]


def supplier_sheet(
    sheet: Sheet, ordered: Sequence[Any], lines: Sequence[Line], *, supplier: str, priced: bool
) -> Ordered:
    """Write a row for each row of `quantities`, its amount a formula of what is ordered and the rate, then the sum."""
    first = HEAD_ROW + 1
    for place, (row, line) in enumerate(zip(ordered, lines, strict=True)):
        _what(sheet, first + place, row)
        sheet.text(first + place, RULE if priced else BY, row.basis, sheet.looks.words)
        sheet.tall_enough(first + place, (row.item, WIDE), (row.basis, WIDE))
        if priced:
            _price(sheet, first + place, row, line)
    last = first + len(lines) - 1
    total = sum(line.cents or 0 for line in lines)
    if priced:
        span = f"{address(first, AMOUNT)}:{address(last, AMOUNT)}"
        sheet.text(last + 1, ITEM, "sum", sheet.looks.sum_text)
        sheet.money(last + 1, AMOUNT, f"=SUM({span})", total, sheet.looks.sum)
    return Ordered(
        supplier=supplier,
        cells=tuple(sheet.cell(first + place, AMOUNT) for place in range(len(lines))),
        total=sheet.cell(last + 1, AMOUNT) if priced else "",
        cents=total,
        items=len(lines),
        not_priced=sum(line.cents is None for line in lines),
    )


def _what(sheet: Sheet, at: int, row: Any) -> None:
    sheet.text(at, ITEM, row.item)
    sheet.text(at, UNIT, row.unit, sheet.looks.unit)
    sheet.number(at, EXACT, float(exact(row.exact)))
    sheet.number(at, WASTE, float(exact(row.waste_pct)))
    packs = whole_packs(row)
    in_packs = packs is not None and not pd.isna(row.pack)
    if in_packs:
        sheet.number(at, PACKS, float(packs or 0), sheet.looks.whole)
        sheet.number(at, PACK_SIZE, float(exact(row.pack)))
        formula = f"={address(at, PACKS)}*{address(at, PACK_SIZE)}"
    else:
        loose = f"ROUND({address(at, EXACT)}*(1+{address(at, WASTE)}/100),3)"
        formula = f"=ROUNDUP({loose},0)" if row.unit == "each" else f"={loose}"
    sheet.page.write_formula(at, ORDERED, formula, sheet.looks.number, float(ordered_amount(row)[0]))
    sheet.number(at, MASS, row.mass_kg)
    sheet.number(at, LONGEST, None if pd.isna(row.longest_m) else float(exact(row.longest_m)))


def _price(sheet: Sheet, at: int, row: Any, line: Line) -> None:
    """Write by what the rate is, how many of that, the rate, and the amount."""
    if line.rate is not None and line.quantity is not None and line.unit is not None:
        sheet.text(at, BY, line.unit, sheet.looks.unit)
        if line.unit == PACK:
            formula = f"={address(at, PACKS)}"
        elif line.unit == row.unit:
            formula = f"={address(at, ORDERED)}"
        else:
            known, base, pieces = units(), row.unit, address(at, ORDERED)
            if not same_kind(base, line.unit):  # timber by its length
                base, pieces = "m", f"{pieces}*{address(at, LONGEST)}"
            formula = f"=ROUND({pieces}*{known[base].size:f}/{known[line.unit].size:f},3)"
        sheet.page.write_formula(at, PRICED, formula, sheet.looks.number, float(line.quantity))
        sheet.number(at, RATE, float(line.rate), sheet.looks.rate)
    sheet.money(at, AMOUNT, cents(f"{address(at, PRICED)}*{address(at, RATE)}"), line.cents)

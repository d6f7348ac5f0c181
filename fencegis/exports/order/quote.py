"""The quote's sheet of the order workbook: every line, what comes on top of them, and the sums, all as formulas."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.exports.order.cells import HEAD_ROW, address, cents
from fencegis.exports.quote import sum_rows
from fencegis.quantities.money import added_up
from fencegis.quantities.price import excluded
from fencegis.records.rates import rate_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fencegis.exports.order.cells import Sheet
    from fencegis.quantities.money import Line
    from fencegis.records.site import Site

PART, ITEM, QUANTITY, UNIT, RATE, TAXED, AMOUNT, BASIS = range(8)
WIDE = 44.0  # of the item and of how it was worked out, in letters
COLUMNS = (
    ("part", 12.0), ("item", WIDE), ("quantity", 12.0), ("unit", 8.0), ("rate", 10.0), ("taxed", 7.0), ("amount", 14.0),
    ("how it was worked out", WIDE),
)  # fmt: skip
PARTS = {0: "fixed", 1: "measured", 2: "provisional", 4: "tax"}  # by place among the sums


@dataclass(frozen=True)
class Quoted:
    """The sums of the quote: what each is, its cell for other sheets, and its cents."""

    sums: tuple[tuple[str, str, int], ...]


def quote_sheet(sheet: Sheet, lines: Sequence[Line], *, cells: Mapping[int, str], site: Site) -> Quoted:
    """Write the lines, then the sums; `cells` has, by place in `lines`, the cell that a material's amount stands in."""
    first = HEAD_ROW + 1
    rows_of: dict[str, list[int]] = {}
    for place, line in enumerate(lines):
        at = first + place
        sheet.text(at, PART, line.part)
        sheet.text(at, ITEM, line.item)
        sheet.number(at, QUANTITY, None if line.quantity is None else float(line.quantity))
        sheet.text(at, UNIT, line.unit or "", sheet.looks.unit)
        sheet.number(at, RATE, None if line.rate is None else float(line.rate), sheet.looks.rate)
        sheet.text(at, TAXED, "" if line.part == "tax" else "yes" if line.taxed else "no", sheet.looks.unit)
        sheet.text(at, BASIS, line.basis, sheet.looks.words)
        sheet.tall_enough(at, (line.item, WIDE), (line.basis, WIDE))
        rows_of.setdefault(line.part, []).append(at)
    spans = {part: (min(rows), max(rows)) for part, rows in rows_of.items()}
    for place, line in enumerate(lines):
        at = first + place
        formula = f"={cells[place]}" if place in cells else _formula(line, at, spans, site)
        sheet.money(at, AMOUNT, formula, line.cents)
    return _sums(sheet, lines, first=first, site=site)


def _formula(line: Line, at: int, spans: Mapping[str, tuple[int, int]], site: Site) -> str:
    """Return the amount of a line that no supplier's sheet has."""
    first = HEAD_ROW + 1
    own = spans[line.part][0]
    if line.part == "tax":
        taxed = f"{address(first, TAXED)}:{address(at - 1, TAXED)}"
        of = f'SUMIF({taxed},"yes",{address(first, AMOUNT)}:{address(at - 1, AMOUNT)})'
        return cents(f"{of}*{address(at, QUANTITY)}/100")
    if line.unit == "%":
        return cents(f"{_span(own, at - 1)}*{address(at, QUANTITY)}/100")
    if line.rate_item == "minimum":
        others = [_span(own, at - 1)] if at > own else []
        others += [_span(*spans[part]) for part in ("measured", "provisional") if part in spans]
        rate = rate_of(site.rates, "minimum", "charge")
        least = "0" if rate is None else f"{rate.rate:f}"
        return f"=ROUND({least}-{'-'.join(others or ['0'])},2)"
    return cents(f"{address(at, QUANTITY)}*{address(at, RATE)}")


def _span(first: int, last: int) -> str:
    return f"SUM({address(first, AMOUNT)}:{address(last, AMOUNT)})"


def _sums(sheet: Sheet, lines: Sequence[Line], *, first: int, site: Site) -> Quoted:
    """Write what the lines come to by part and in all, then what is excluded."""
    last = first + len(lines) - 1
    parts, amounts = (f"{address(first, column)}:{address(last, column)}" for column in (PART, AMOUNT))
    at = last + 2
    done = []
    by_part = {place: f'=SUMIF({parts},"{part}",{amounts})' for place, part in PARTS.items()}
    for place, (name, total) in enumerate(sum_rows(added_up(lines), tax_name=site.spec.money.tax_name)):
        row = at + place
        above = _span(at, at + 2) if place == 3 else f"{address(at + 3, AMOUNT)}+{address(at + 4, AMOUNT)}"
        sheet.text(row, ITEM, name, sheet.looks.sum_text)
        sheet.money(row, AMOUNT, by_part.get(place, f"={above}"), total, sheet.looks.sum)
        done.append((name, sheet.cell(row, AMOUNT), total))
    for row, line in enumerate(excluded(), start=at + len(done) + 1):
        sheet.text(row, PART, line.part)
        sheet.text(row, ITEM, line.item)
        sheet.text(row, BASIS, line.basis, sheet.looks.words)
        sheet.tall_enough(row, (line.item, WIDE), (line.basis, WIDE))
    return Quoted(tuple(done))

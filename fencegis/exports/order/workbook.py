"""`order.xlsx`: what to order, a sheet a supplier group, and the quote, every amount a formula that re-adds itself.

A spreadsheet rounds halves away from zero and the quote to the even cent; the sheets' formulas do as the quote does.
Each carries our own result, for viewers that work nothing out; a program that does has to come to the same.
"""

from __future__ import annotations

import datetime as dt
import io
import re
from typing import TYPE_CHECKING, Any

import xlsxwriter

from fencegis.exports.cautions import DESK_STUDY
from fencegis.exports.key_points import rows
from fencegis.exports.order.cells import HEAD_ROW, Looks, Sheet, headed
from fencegis.exports.order.quote import COLUMNS, quote_sheet
from fencegis.exports.order.supplier import columns, supplier_sheet
from fencegis.exports.order.sure import CHANGES, SURE, changes_sheet, sure_sheet
from fencegis.exports.page_text import plain
from fencegis.quantities.price import quote_lines
from fencegis.quantities.price_materials import bought, material_lines

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.exports.order.quote import Quoted
    from fencegis.exports.order.supplier import Ordered
    from fencegis.quantities.money import Line
    from fencegis.records.plan import Plan

CREATED = dt.datetime(1980, 1, 1)  # noqa: DTZ001 (no clock: the oldest day that the file's container can hold)
SUMMARY, QUOTE = "summary", "quote"
LONGEST_NAME = 31
_NOT_IN_A_NAME = re.compile(r"[\[\]:*?/\\']")
_TEXT_IS_TEXT = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}


def order_workbook(plan: Plan) -> bytes | None:
    """Return `order.xlsx`, the same bytes for the same plan; None when there is nothing to order.

    Without rates.csv it has what to order and no money.
    """
    wanted = bought(plan.quantities)
    if wanted.empty:
        return None
    memory = io.BytesIO()
    book = xlsxwriter.Workbook(memory, {"in_memory": True, **_TEXT_IS_TEXT})
    book.set_properties(
        {"title": plain(plan.site.name), "subject": DESK_STUDY, "author": "fencegis", "created": CREATED}
    )
    looks = Looks(book)
    summary = _sheet(book, SUMMARY, looks)
    lines = material_lines(wanted, plan.site.rates or ())
    ordered, cells = [], [""] * len(lines)
    for place, supplier in enumerate(dict.fromkeys(wanted["supplier"]), start=1):
        places = [at for at, own in enumerate(wanted["supplier"]) if own == supplier]
        ordered.append(_supplier(plan, _sheet(book, sheet_name(supplier, place), looks), supplier, places, lines))
        for at, cell in zip(places, ordered[-1].cells, strict=True):
            cells[at] = cell
    quoted = None
    if plan.site.rates is not None:
        sheet = _sheet(book, QUOTE, looks)
        headed(plan, sheet, "Quote, line by line", COLUMNS)
        whole = quote_lines(plan.site, dict(plan.layers()))
        quoted = quote_sheet(sheet, whole, cells=_where(whole, lines, cells), site=plan.site)
    _summary(plan, summary, ordered, quoted)
    for name, layer, write in ((SURE, plan.how_sure, sure_sheet), (CHANGES, plan.drivers, changes_sheet)):
        if len(layer):
            write(plan, _sheet(book, name, looks))
    book.close()
    return memory.getvalue()


def sheet_name(words: str, place: int) -> str:
    """Return words as the name of the sheet at a place: at most 31 letters and none that no sheet's name may have."""
    return _NOT_IN_A_NAME.sub(" ", plain(words))[:LONGEST_NAME].strip() or f"sheet {place}"


def _sheet(book: Any, name: str, looks: Looks) -> Sheet:
    return Sheet(book.add_worksheet(name), name, looks)


def _supplier(plan: Plan, sheet: Sheet, supplier: str, places: Sequence[int], lines: Sequence[Line]) -> Ordered:
    priced = plan.site.rates is not None
    headed(plan, sheet, f"Order, {supplier}", columns(priced=priced, currency=plan.site.spec.money.currency))
    wanted = list(rows(bought(plan.quantities)))
    own = [lines[at] for at in places]
    return supplier_sheet(sheet, [wanted[at] for at in places], own, supplier=supplier, priced=priced)


def _where(whole: Sequence[Line], materials: Sequence[Line], cells: Sequence[str]) -> dict[int, str]:
    """Return the cell of each material's amount by its place in the quote, which has them by part in this order."""
    waiting = list(zip(materials, cells, strict=True))
    found = {}
    for place, line in enumerate(whole):
        at = next((at for at, (material, _) in enumerate(waiting) if material is line or material == line), None)
        if at is not None:
            found[place] = waiting.pop(at)[1]
    return found


def _summary(plan: Plan, sheet: Sheet, ordered: Sequence[Ordered], quoted: Quoted | None) -> None:
    """Write what each supplier's sheet comes to, and the sums of the quote."""
    currency = plan.site.spec.money.currency
    amount = [(f"amount, {currency}" if currency else "amount", 16.0)] if quoted else []
    headed(plan, sheet, "Order and quote" if quoted else "Order", [("sheet", 52.0), ("items", 8.0), *amount, *(
        [("not priced", 10.0)] if quoted else []
    )])  # fmt: skip
    first = HEAD_ROW + 1
    for place, each in enumerate(ordered):
        sheet.text(first + place, 0, each.supplier)
        sheet.number(first + place, 1, each.items, sheet.looks.whole)
        if quoted:
            sheet.money(first + place, 2, f"={each.total}", each.cents)
            sheet.number(first + place, 3, each.not_priced, sheet.looks.whole)
    if quoted is None:
        return
    last = first + len(ordered) - 1
    sheet.text(last + 1, 0, "all that is ordered", sheet.looks.sum_text)
    total = sum(each.cents for each in ordered)
    sheet.money(last + 1, 2, f"=SUM(C{first + 1}:C{last + 1})", total, sheet.looks.sum)
    sheet.text(last + 3, 0, "the quote", sheet.looks.sum_text)
    for place, (name, cell, cents) in enumerate(quoted.sums, start=last + 4):
        sheet.text(place, 0, name)
        sheet.money(place, 2, f"={cell}", cents)

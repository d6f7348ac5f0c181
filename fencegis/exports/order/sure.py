"""Sheets of the order workbook for the contractor alone: how sure the figures are, and what one change more costs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.exports.key_points import rows
from fencegis.exports.order.cells import HEAD_ROW, headed
from fencegis.exports.words import present

if TYPE_CHECKING:
    from fencegis.exports.order.cells import Sheet
    from fencegis.records.plan import Plan

SURE, CHANGES = "how sure", "one change more"
MONEY = "cents"
A_HUNDRED = 100.0


def sure_sheet(plan: Plan, sheet: Sheet) -> None:
    """Write what the draws came to: the planned figure, those that 10, 50 and 90 of 100 stay below, the main cause."""
    money = _money(plan)
    headed(plan, sheet, "How sure the figures are", [
        ("what", 30.0), ("unit", 8.0), ("planned", 14.0), ("10 of 100 stay below", 14.0), ("50 of 100", 14.0),
        ("90 of 100", 14.0), ("varies most with", 18.0), ("its share, %", 10.0), ("of what", 60.0),
    ])  # fmt: skip
    for place, row in enumerate(rows(plan.how_sure), start=HEAD_ROW + 1):
        cents = row.unit == MONEY
        sheet.text(place, 0, row.what)
        sheet.text(place, 1, money if cents else row.unit)
        look = sheet.looks.money if cents else sheet.looks.whole
        for column, value in enumerate((row.planned, row.p10, row.p50, row.p90), start=2):
            sheet.number(place, column, value / A_HUNDRED if cents else value, look)
        sheet.text(place, 6, row.main_cause if present(row.main_cause) else "", sheet.looks.words)
        sheet.number(place, 7, row.share_pct, sheet.looks.whole)
        sheet.text(place, 8, row.basis, sheet.looks.words)
        sheet.tall_enough(place, (row.basis, 60.0))


def changes_sheet(plan: Plan, sheet: Sheet) -> None:
    """Write what each change adds to the total, tax and all, and to the crew's hours; below 0 where it saves."""
    headed(plan, sheet, "One change more", [
        ("what", 14.0), ("change", 36.0), (f"on the total, {_money(plan)}", 16.0), ("hours of the crew", 12.0),
        ("how", 80.0),
    ])  # fmt: skip
    for place, row in enumerate(rows(plan.drivers), start=HEAD_ROW + 1):
        sheet.text(place, 0, row.what)
        sheet.text(place, 1, row.change)
        amount = row.amount_cents
        sheet.number(place, 2, amount / A_HUNDRED if present(amount) else None, sheet.looks.money)
        sheet.number(place, 3, row.hours_h, sheet.looks.money)
        sheet.text(place, 4, row.basis, sheet.looks.words)
        sheet.tall_enough(place, (row.change, 36.0), (row.basis, 80.0))


def _money(plan: Plan) -> str:
    return plan.site.spec.money.currency or "money"

"""`quote.csv`: the quote line by line, its sums, and what plan it is of."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from fencegis.catalogue.units import PACK, PERCENT, in_system
from fencegis.exports.cautions import DESK_STUDY
from fencegis.exports.csv_tables import BYTE_ORDER_MARK, csv_text
from fencegis.exports.file_text import inert
from fencegis.exports.key_points import rows
from fencegis.exports.plan_hash import LONG, plan_sha256
from fencegis.quantities.money import ROUNDING, exact, money_text
from fencegis.quantities.price import sums_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from decimal import Decimal

    from fencegis.quantities.money import Sums
    from fencegis.records.plan import Plan

COLUMNS = ("part", "item", "quantity", "unit", "rate", "amount", "shown_quantity", "shown_unit", "basis")
NOT_PRICED = "not priced"
SUM, ABOUT = "sum", "about"  # in place of a part


def quote_csv(plan: Plan) -> bytes | None:
    """Return `quote.csv`: UTF-8 with a byte order mark; None when the site has no rates.csv, so nothing is priced."""
    if plan.site.rates is None:
        return None
    cells = [_line(row, plan.site.spec.display.units) for row in rows(plan.price)]
    return (BYTE_ORDER_MARK + csv_text([COLUMNS, *cells, *_sums(plan), *_about(plan)])).encode()


def sum_rows(sums: Sums, *, tax_name: str) -> list[tuple[str, int]]:
    """Return what the quote comes to by part, then before tax, the tax and the whole, in cents."""
    total = "total" if sums.complete else f"total of what is priced, not complete: {len(sums.not_priced)} not priced"
    return [
        ("fixed", sums.fixed_cents),
        ("measured", sums.measured_cents),
        ("provisional", sums.provisional_cents),
        (f"before {tax_name}", sums.before_tax_cents),
        (tax_name, sums.tax_cents),
        (total, sums.total_cents),
    ]


def quantity_text(quantity: float) -> str:
    """Return a priced quantity without noughts at its end; nothing where there is none."""
    return "" if quantity != quantity else _short(exact(quantity))


def _line(row: Any, system: str) -> tuple[str, ...]:
    unit = "" if pd.isna(row.unit) else row.unit
    shown, shown_unit = "", ""
    if unit not in ("", PACK, PERCENT) and row.quantity == row.quantity:
        quantity, shown_unit = in_system(exact(row.quantity), unit, system=system)
        shown = _short(exact(quantity))
    amount = NOT_PRICED if pd.isna(row.amount_cents) else money_text(int(row.amount_cents), grouped=False)
    rate = "" if pd.isna(row.rate) else row.rate
    if row.part == "excluded":
        amount = ""
    return (
        row.part, inert(row.item), quantity_text(row.quantity), unit, rate, amount, shown, shown_unit, inert(row.basis),
    )  # fmt: skip


def _sums(plan: Plan) -> Iterator[tuple[str, ...]]:
    money = plan.site.spec.money
    unit = inert(money.currency or "")
    for name, cents in sum_rows(sums_of(plan.price), tax_name=money.tax_name):
        yield (SUM, inert(name), "", unit, "", money_text(cents, grouped=False), "", "", ROUNDING)


def _about(plan: Plan) -> Iterator[tuple[str, ...]]:
    blank = ("",) * (len(COLUMNS) - 2)
    yield (ABOUT, f"plan {plan_sha256(plan)[:LONG]}", *blank)
    yield (ABOUT, inert(plan.site.name), *blank)
    yield (ABOUT, DESK_STUDY, *blank)


def _short(number: Decimal) -> str:
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text

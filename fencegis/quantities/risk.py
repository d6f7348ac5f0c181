"""What a quote puts aside for risk: the provisional line that brings its total to a figure chosen from the draws."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal
from typing import TYPE_CHECKING, Any, cast

from fencegis.quantities.money import HUNDRED, Line

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import pandas as pd

RISK = "risk"  # its row of the layer how_sure, and its line of the quote


def risk_lines(tables: Mapping[str, pd.DataFrame]) -> Iterator[Line]:
    """Yield the line for risk where the layer `how_sure` has an amount for it."""
    table = tables.get("how_sure")
    for row in _rows(table[table["what"] == RISK]) if table is not None else ():
        if row.planned > 0.0:
            amount = (Decimal(int(row.planned)) / HUNDRED).quantize(Decimal("0.01"))
            yield Line("provisional", RISK, RISK, "each", Decimal(1), amount, int(row.planned), row.basis)


def provision_for(table: pd.DataFrame, target_cents: int) -> int:
    """Return what a provisional line has to come to, before tax, for the layer `price` to come to so much in all.

    In whole cents, a half to the even one; 0 where the total is that much already. What makes up the minimum charge
    gives way first.
    """
    lines = [row for row in _priced(table) if row.part not in ("tax", "excluded") and row.rate_item != "minimum"]
    before = sum(int(row.amount_cents) for row in lines)
    taxed = sum(int(row.amount_cents) for row in lines if row.taxed)
    tax = sum((Decimal(repr(row.quantity)) for row in _priced(table) if row.part == "tax"), Decimal(0)) / HUNDRED
    short = (Decimal(target_cents) - before - taxed * tax) / (1 + tax)
    return max(0, int(short.quantize(Decimal(1), rounding=ROUND_HALF_EVEN)))


def _priced(table: pd.DataFrame) -> Iterator[Any]:
    """Yield the lines that have an amount."""
    return _rows(table[table["amount_cents"].notna()])


def _rows(table: pd.DataFrame) -> Iterator[Any]:
    return cast("Iterator[Any]", table.itertuples())

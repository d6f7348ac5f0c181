"""Tables for a spreadsheet."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from fencegis.exports.file_text import inert
from fencegis.exports.key_points import rows
from fencegis.exports.rounding import decimals, rounded_number
from fencegis.quantities.takeoff import COLUMNS, takeoff

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fencegis.records.plan import Plan

BYTE_ORDER_MARK = "\ufeff"  # without it a spreadsheet takes the file for one in its own old alphabet


def takeoff_csv(plan: Plan) -> bytes:
    """Return `takeoff.csv`: item, unit, quantity, basis; UTF-8 with a byte order mark, quantities as printed."""
    cells = [
        (inert(row.item), row.unit, _quantity(row.quantity, row.unit), inert(row.basis)) for row in rows(takeoff(plan))
    ]
    return (BYTE_ORDER_MARK + csv_text([COLUMNS, *cells])).encode()


def csv_text(cells: Iterable[Iterable[str]]) -> str:
    """Return rows as CSV with commas and line feeds; cells as they are."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(cells)
    return text.getvalue()


def _quantity(value: float, unit: str) -> str:
    return f"{rounded_number(value, unit):.{decimals(unit)}f}"

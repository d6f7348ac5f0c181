"""`schedule.csv`: the order of the work for a spreadsheet, a row an activity a day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.exports.csv_tables import BYTE_ORDER_MARK, csv_text
from fencegis.exports.file_text import inert
from fencegis.exports.rounding import printed
from fencegis.records.tables import LAYERS

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

MEASURED = "measured_h"  # empty: the hours that it took, for the contractor to fill in after the day


def schedule_csv(plan: Plan) -> bytes:
    """Return the layer `days` as CSV with a column to fill in; UTF-8 with a byte order mark, numbers as printed."""
    names = [column.name for column in LAYERS["days"].columns]
    columns = [[inert(cell) for cell in printed(plan.days[name], name)] for name in names]
    blank = [""] * len(plan.days)
    return (BYTE_ORDER_MARK + csv_text([[*names, MEASURED], *zip(*columns, blank, strict=True)])).encode()

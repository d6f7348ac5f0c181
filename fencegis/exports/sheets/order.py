"""What is ordered, to be ticked as it is unloaded, and between what the counts may come out: no money."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fencegis.exports.page_text import plain
from fencegis.exports.sheets.flow import Line, heading, paragraph, table
from fencegis.exports.sheets.posts import rows_of
from fencegis.exports.words import number, present

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

PART = "order"
SIZE = 9.0
BLANK = "______"
HEADINGS = ("what", "needed", "ordered", "kg", "longest m", "rows summed", "came", "ok")
SURE = ("what", "planned", "10 of 100 below", "half below", "90 of 100 below", "most from", "its share %")
MONEY = "cents"
TOLD = (
    "Needed is what the plan has, without spares; ordered has spares in it and is whole packs. Each is summed from the"
    " rows of plan.gpkg named beside it; the rule that made it is in takeoff.csv. Count and measure before signing."
)
DRAWS = (
    "Drawn again and again with the errors of drawing, heights, waste and outputs (and rock, where it is mapped): of"
    " 100 such plans so many come out below. Which error each varies with most stands last."
)


def order_lines(plan: Plan) -> list[Line]:
    """Return what is ordered by supplier group, and how sure the counts are, as lines; nothing without either."""
    return [*_order(plan), *_sure(plan)]


def _order(plan: Plan) -> list[Line]:
    quantities = plan.quantities
    if not len(quantities):
        return []
    lines = [
        *heading("WHAT IS ORDERED", PART, size=16.0, breaks=True),
        *paragraph(TOLD, size=SIZE, part=PART),
    ]
    for supplier, group in quantities.groupby("supplier", sort=False):
        lines += heading(str(supplier), PART, size=10.5)
        lines += table(HEADINGS, [_cells(row) for row in rows_of(group)], left=(0, 5), part=PART)
    return lines


def _cells(row: Any) -> tuple[str, ...]:
    unit = "" if row.unit == "each" else f" {row.unit}"
    return (
        plain(row.item),
        _amount(row.exact) + unit,
        _ordered(row, unit),
        number(row.mass_kg, 0) if present(row.mass_kg) else "",
        number(row.longest_m, 2) if present(row.longest_m) else "",
        row.rows,
        BLANK,
        "[ ]",
    )


def _ordered(row: Any, unit: str) -> str:
    if not present(row.packs):
        return _amount(row.exact * (1.0 + row.waste_pct / 100.0)) + unit
    return number(row.packs, 0) if row.pack == 1.0 and not unit else f"{row.packs} of {_amount(row.pack)}{unit}"


def _amount(value: float) -> str:
    return number(value, 0 if abs(value - round(value)) < 0.05 else 1)


def _sure(plan: Plan) -> list[Line]:
    rows = [row for row in rows_of(plan.how_sure) if row.unit != MONEY]
    if not rows:
        return []
    cells = [
        (
            f"{row.what}{'' if row.unit == 'each' else f', {row.unit}'}",
            *(number(value, 0) for value in (row.planned, row.p10, row.p50, row.p90)),
            row.main_cause if present(row.main_cause) else "",
            number(row.share_pct, 0) if present(row.share_pct) else "",
        )
        for row in rows
    ]
    return [
        *heading("BETWEEN WHAT IT MAY COME OUT", PART, size=12.0),
        *paragraph(DRAWS, size=SIZE, part=PART),
        *table(SURE, cells, left=(0, 5), part=PART),
    ]

"""Tables for a spreadsheet."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

import numpy as np

from fencegis.exports.file_text import inert
from fencegis.exports.key_points import rows
from fencegis.exports.rounding import decimals, printed, rounded_number
from fencegis.quantities.takeoff import COLUMNS, takeoff

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fencegis.records.plan import Plan

OF_MATERIALS = (
    *("material", "size", "supplier", "waste_pct", "pack", "packs", "left_pct"),
    *("mass_kg", "longest_m", "rows"),
)  # columns of the layer quantities that follow those of the short take-off
PLACED = ("timber_id", "length_m", "butt_mm", "top_mm", "sweep_mm", "count", "place", "note")
BYTE_ORDER_MARK = "\ufeff"  # without it a spreadsheet takes the file for one in its own old alphabet


def takeoff_csv(plan: Plan) -> bytes:
    """Return `takeoff.csv`: the short take-off, then every material with its waste, packs, mass and rows.

    UTF-8 with a byte order mark, quantities as printed; those of materials are exact, before waste and packs.
    """
    short = [
        (inert(row.item), row.unit, _quantity(row.quantity, row.unit), inert(row.basis), *[""] * len(OF_MATERIALS))
        for row in rows(takeoff(plan))
    ]
    bought = plan.quantities
    printed_columns = [map(inert, printed(bought[name], name)) for name in OF_MATERIALS]
    full = [
        (inert(row.item), row.unit, _quantity(row.exact, row.unit), inert(row.basis), *more)
        for row, *more in zip(rows(bought), *printed_columns, strict=True)
    ]
    return (BYTE_ORDER_MARK + csv_text([(*COLUMNS, *OF_MATERIALS), *short, *full])).encode()


def placed_csv(plan: Plan) -> bytes | None:
    """Return `posts_placed.csv`: the rows of `posts.csv` with the post that the plan has each tagged stick at.

    Saved as the site's `posts.csv` it keeps all those places in the next plan; a stick struck out leaves its place to
    the spares. None when the site has no posts.csv. A heap's sticks have no names, so no places either.
    """
    if plan.site.timber is None:
        return None
    place = {row.timber_id: row.post_id for row in rows(plan.posts[plan.posts["timber_id"].notna()])}
    cells = [
        (
            stick.timber_id or "",
            *(_shortest(size) for size in (stick.length_m, stick.butt_mm, stick.top_mm, stick.sweep_mm)),
            str(stick.count),
            place.get(stick.timber_id, ""),
            inert(stick.note),
        )
        for stick in plan.site.timber
    ]
    return (BYTE_ORDER_MARK + csv_text([PLACED, *cells])).encode()


def csv_text(cells: Iterable[Iterable[str]]) -> str:
    """Return rows as CSV with commas and line feeds; cells as they are."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(cells)
    return text.getvalue()


def _shortest(size: float | None) -> str:
    """Return a size as it was measured, without noughts at its end; nothing when nobody measured it."""
    return "" if size is None else np.format_float_positional(size, trim="-")


def _quantity(value: float, unit: str) -> str:
    return f"{rounded_number(value, unit):.{decimals(unit)}f}"

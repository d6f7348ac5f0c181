"""The quote: what the plan's quantities and days cost at the contractor's own rates.

Order of the sums: lines, each rounded to the cent; contingency and margin on fixed and on measured costs; the minimum
charge; tax once. What has no rate has no amount and the total says so; nothing is ever priced by a rate of ours.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple, cast

import pandas as pd

from fencegis import catalogue
from fencegis.quantities.money import ROUNDING, Line, added_up, with_percents
from fencegis.quantities.price_materials import bought, material_lines, not_used
from fencegis.quantities.price_work import work_lines
from fencegis.quantities.risk import risk_lines
from fencegis.records.notes import Note
from fencegis.records.rates import rate_of
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from decimal import Decimal

    from fencegis.quantities.money import Sums
    from fencegis.records.rates import Rate
    from fencegis.records.site import Site

FILE = "rates.csv"
NAMED = 6  # in a note


class Price(NamedTuple):
    """The layer `price` and what there is to know about it."""

    table: pd.DataFrame
    notes: list[Note]


def price(site: Site, tables: Mapping[str, pd.DataFrame]) -> Price:
    """Return the quote line by line, from the layers `quantities`, `days`, `soils` and `posts`; empty without rates.

    Rows stand by part: fixed, measured, provisional, tax, then what is excluded, which is always there.
    """
    if site.rates is None:
        return Price(empty("price"), [])
    lines = quote_lines(site, tables)
    return Price(price_table([*lines, *excluded()]), list(_notes(lines, site.rates)))


def quote_lines(site: Site, tables: Mapping[str, pd.DataFrame]) -> list[Line]:
    """Return every line of the quote that counts, with what comes on top; none without rates."""
    if site.rates is None:
        return []
    lines = [*material_lines(bought(tables["quantities"]), site.rates), *work_lines(site, tables, site.rates)]
    lines += risk_lines(tables)  # what [money] risk_pct asks for, once the draws are made
    return with_percents(
        lines,
        contingency_pct=_value(site.rates, "contingency"),
        margin_pct=_value(site.rates, "margin"),
        minimum=_value(site.rates, "minimum"),
        tax_pct=_value(site.rates, "tax"),
        tax_name=site.spec.money.tax_name,
    )


def excluded() -> list[Line]:
    """Return what no quote of ours holds beyond what one of its lines has."""
    basis = "nothing of it beyond what a line above has"
    items = [row["item"] for row in catalogue.rows("quote_excludes")]
    return [Line("excluded", item, None, None, None, None, None, basis) for item in items]


def price_table(lines: Iterable[Line]) -> pd.DataFrame:
    """Return lines as the layer `price`."""
    rows = [
        {
            "part": line.part,
            "item": line.item,
            "rate_item": line.rate_item,
            "unit": line.unit,
            "quantity": float("nan") if line.quantity is None else float(line.quantity),
            "rate": None if line.rate is None else f"{line.rate:f}",
            "amount_cents": pd.NA if line.cents is None else line.cents,
            "taxed": line.taxed and line.part not in ("tax", "excluded"),
            "basis": line.basis,
        }
        for line in lines
    ]
    return checked("price", pd.DataFrame(rows)) if rows else empty("price")


def sums_of(table: pd.DataFrame) -> Sums:
    """Return what the layer `price` comes to, in whole cents, and which items have no price."""
    return added_up(
        Line(
            row.part, row.item, None, None, None, None,
            None if row.amount_cents is pd.NA else int(row.amount_cents), row.basis,
        )
        for row in cast("Iterable[Any]", table.itertuples())
    )  # fmt: skip


def _value(rates: Sequence[Rate], item: str) -> Decimal | None:
    rate = rate_of(rates, item, "charge", "percent")
    return None if rate is None else rate.rate


def _notes(lines: Sequence[Line], rates: Sequence[Rate]) -> Iterable[Note]:
    sums = added_up(lines)
    yield Note("default", f"{FILE}: sums of money are rounded so: {ROUNDING}.")
    if sums.not_priced:
        yield Note("doubt", f"{FILE}: the total is not complete; not priced: {_some(sums.not_priced)}.")
    absent = [name for name in ("contingency", "margin", "tax") if _value(rates, name) is None]
    if absent:
        yield Note("default", f"{FILE}: it has no {', no '.join(absent)}, so there is none in the total.")
    spare = [f"{rate.item} (row {rate.row})" for rate in not_used(rates, lines) if rate.kind != "percent"]
    spare = [text for text in spare if not text.startswith("minimum ")]
    if spare:
        yield Note("default", f"{FILE}: nothing in this plan is priced by {_some(spare)}.")


def _some(names: Sequence[str]) -> str:
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return ", ".join(names[:NAMED]) + more

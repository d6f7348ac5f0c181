"""What the materials cost: every row of the layer `quantities` at the contractor's rate for it."""

from __future__ import annotations

from decimal import ROUND_CEILING, Decimal
from typing import TYPE_CHECKING, Any, cast

import pandas as pd

from fencegis.catalogue.units import PACK, converted, same_kind
from fencegis.quantities.materials import rate_items
from fencegis.quantities.money import HUNDRED, Line, exact, priced
from fencegis.records.rates import rate_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from fencegis.records.rates import Part, Rate

NO_RATE = "not priced: rates.csv has no rate for it"
SERVICES = "hire and services"  # supplier groups: work that somebody does, and what is in the yard already
ON_HAND = "on hand"


def bought(quantities: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of `quantities` that are ordered from a supplier: neither on hand nor work that somebody does."""
    rows: pd.DataFrame = quantities[~quantities["supplier"].isin([SERVICES, ON_HAND])]
    return rows


def material_lines(quantities: pd.DataFrame, rates: Sequence[Rate]) -> list[Line]:
    """Return a line for each row, in its order.

    Whole packs are paid for where it comes in packs, loose it is the exact amount and its waste (pieces whole); a rate
    for one `pack` is paid a pack, any other a unit. A row without a rate has no amount.
    """
    return [row_line(row, rates, part="measured") for row in _rows(quantities)]


def rate_of_row(row: Any, rates: Sequence[Rate]) -> Rate | None:
    """Return the rate that prices a row of `quantities`: that of the material in its size first."""
    for item in rate_items(row.material, "" if pd.isna(row.size) else row.size):
        rate = rate_of(rates, item, "material", "hire", "charge")
        if rate is not None:
            return rate
    return None


def row_line(row: Any, rates: Sequence[Rate], *, part: Part) -> Line:
    """Return the line of one row of `quantities`, in `part` unless its rate says another."""
    rate = rate_of_row(row, rates)
    ordered, words = ordered_amount(row)
    basis = f"{words}; {row.rows}"
    if rate is None:
        return Line(part, row.item, None, row.unit, ordered, None, None, f"{NO_RATE} ({row.material}); {basis}")
    part = rate.part or part
    packs = whole_packs(row)
    if rate.unit != PACK:
        amount, unit = (ordered, row.unit) if same_kind(row.unit, rate.unit) else (_metres(ordered, row), "m")
        if amount is None:
            how = f"not priced: its rate is by the {rate.unit}, and nobody says how long a piece is; {basis}"
            return Line(part, row.item, rate.item, rate.unit, None, rate.rate, None, how, rate.taxed)
        quantity = exact(converted(amount, unit, to=rate.unit))
        return priced(Line(part, row.item, rate.item, rate.unit, quantity, rate.rate, None, basis, rate.taxed))
    if packs is None:
        how = f"not priced: its rate is by the pack, and nobody says how large one is; {basis}"
        return Line(part, row.item, rate.item, PACK, None, rate.rate, None, how, rate.taxed)
    return priced(Line(part, row.item, rate.item, PACK, packs, rate.rate, None, basis, rate.taxed))


def _metres(ordered: Decimal, row: Any) -> Decimal | None:
    """Return so many pieces of timber end to end."""
    return None if pd.isna(row.longest_m) else ordered * exact(row.longest_m)


def ordered_amount(row: Any) -> tuple[Decimal, str]:
    """Return how much of a row of `quantities` is paid for, in its unit, and how that was come to, in words."""
    packs = whole_packs(row)
    if packs is not None and not pd.isna(row.pack):
        pack = exact(row.pack)
        words = f"{packs:f} {row.unit}" if pack == 1 else f"{packs:f} packs of {_short(pack)} {row.unit}"
        return packs * pack, words
    whole = exact(exact(row.exact) * (1 + exact(row.waste_pct) / HUNDRED))
    words = f"{_short(exact(row.exact))} {row.unit} and {_short(exact(row.waste_pct))} % waste"
    if row.unit == "each":
        return whole.quantize(Decimal(1), rounding=ROUND_CEILING), f"{words}, whole pieces"
    return whole, words


def whole_packs(row: Any) -> Decimal | None:
    """Return the number of packs of a row of `quantities`; None when it comes loose."""
    return None if pd.isna(row.packs) else Decimal(int(row.packs))


def not_used(rates: Iterable[Rate], lines: Iterable[Line]) -> list[Rate]:
    """Return the rates that no line of the quote rests on; outputs are for the days, so not among them."""
    used = {line.rate_item for line in lines}
    return [rate for rate in rates if rate.kind != "output" and rate.item not in used]


def _short(number: Decimal) -> str:
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _rows(frame: pd.DataFrame) -> Iterator[Any]:
    return cast("Iterator[Any]", frame.itertuples())

"""What the client pays: the sums of the quote by kind of price, in the words of the client's pages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.exports.client.terms import MONEY
from fencegis.exports.page_text import plain
from fencegis.exports.quote import quantity_text
from fencegis.exports.words import each
from fencegis.quantities.money import money_text
from fencegis.quantities.price import sums_of

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

NAMED = 4
NOT_PRICED_LEAD = (
    "Prices are not computed: there is no rates.csv. A quote is written in here, or comes apart from this, in these "
    "parts:"
)
PRICED_LEAD = "At the contractor's own rates for this plan's quantities and days; the quote has it line by line."


@dataclass(frozen=True)
class Sum:
    """One kind of price; `amount` is None where nothing is priced and a sum is written in."""

    kind: str
    means: str
    amount: str | None


def lead(plan: Plan) -> str:
    """Return what the sums rest on."""
    return NOT_PRICED_LEAD if plan.price.empty else PRICED_LEAD


def kinds_of_price(plan: Plan) -> tuple[Sum, ...]:
    """Return fixed, measured and provisional, what each means and comes to before tax."""
    if plan.price.empty:
        return tuple(Sum(kind, means, None) for kind, means in MONEY)
    sums = sums_of(plan.price)
    comes_to = (sums.fixed_cents, sums.measured_cents, sums.provisional_cents)
    said = []
    for (kind, means), cents in zip(MONEY, comes_to, strict=True):
        rates = _rates(plan) if kind == "Provisional" else ""
        said.append(Sum(kind, f"{means}{rates}", _money(plan, cents)))
    return tuple(said)


def totals(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Return before tax, tax and total; nothing where nothing is priced.

    Where the site does not show tax, the total alone, with the tax in it.
    """
    if plan.price.empty:
        return ()
    sums, tax = sums_of(plan.price), plain(plan.site.spec.money.tax_name)
    taxed = bool((plan.price["part"] == "tax").any())
    whole = "Total" if sums.complete else "Total of what is priced"
    if not taxed:
        return ((f"{whole}, no {tax} in it", _money(plan, sums.total_cents)),)
    if not plan.site.spec.money.show_tax:
        return ((f"{whole}, with {tax}", _money(plan, sums.total_cents)),)
    return (
        (f"Before {tax}", _money(plan, sums.before_tax_cents)),
        (f"{tax[:1].upper()}{tax[1:]}", _money(plan, sums.tax_cents)),
        (whole, _money(plan, sums.total_cents)),
    )


def not_priced(plan: Plan) -> str:
    """Return what the total does not have because nobody gave a rate; nothing when it is complete."""
    items = () if plan.price.empty else sums_of(plan.price).not_priced
    if not items:
        return ""
    more = f" and {len(items) - NAMED} more" if len(items) > NAMED else ""
    return f"The total is not complete. Not priced: {'; '.join(map(plain, items[:NAMED]))}{more}."


def pulling_out(plan: Plan) -> str:
    """Return whether a line of the quote pays for pulling out an old fence."""
    rows = plan.price[plan.price["amount_cents"].notna()]
    if rows["item"].str.contains("old fence", regex=False).any():
        return "Pulling it out is in the price."
    return "Pulling it out is in no price yet."


def _rates(plan: Plan) -> str:
    rows = plan.price[(plan.price["part"] == "provisional") & plan.price["rate"].notna()]
    said = []
    for row in each(rows):
        number = f": {quantity_text(row.quantity)}" if row.quantity else ""
        said.append(f"{plain(row.item)}{number} at {row.rate}")
    return f". Here: {'; '.join(said)}" if said else ""


def _money(plan: Plan, cents: int) -> str:
    currency = plan.site.spec.money.currency
    return money_text(cents, currency=None if currency is None else plain(currency))

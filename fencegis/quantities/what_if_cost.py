"""What the quote comes to when something turns out otherwise: its own lines, each with what it goes with.

Every line keeps its rate. What is in it is more or less by the factor of its material, its activity, the days, the mass
or the machine; contingency, margin, the minimum and the tax are taken anew. A plan as it is comes to its own total.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fencegis.catalogue import rows
from fencegis.quantities.money import COSTS
from fencegis.quantities.price import sums_of
from fencegis.quantities.price_materials import ON_HAND, SERVICES
from fencegis.records.rates import rate_of

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    from fencegis.quantities.what_if import Outcome, WhatIf

    Floats = npt.NDArray[np.float64]

ON_TOP = ("contingency", "margin", "minimum", "tax")
LABOUR = "labour: "
ROCK = "rock hole"


def total_cents(what_if: WhatIf, outcome: Outcome, *, more_cents: npt.ArrayLike = 0.0) -> Floats:
    """Return what the quote comes to (k,), tax and all, in whole cents; `more_cents` (k,) are further measured costs.

    What has no price is left out, as in the quote itself.
    """
    own = float(sums_of(what_if.tables["price"]).total_cents)
    more = _reckoned(what_if, outcome, np.asarray(more_cents, dtype=float)) - _reckoned(
        what_if, what_if.planned, np.zeros(1)
    )
    return np.asarray(np.rint(own + more), dtype=float)


def hour_cents(what_if: WhatIf) -> float | None:
    """Return what an hour of the whole crew costs in cents, nothing on top; None where there is no rate for it."""
    rate = rate_of(what_if.site.rates, "hour", "labour")
    return None if rate is None else float(rate.rate) * 100.0 * what_if.site.spec.crew.people


def rate_cents(what_if: WhatIf, *items: str) -> float | None:
    """Return what one of the first of these items with a rate by the piece costs in cents; None where none has one."""
    for item in items:
        rate = rate_of(what_if.site.rates, item, "material", "hire", "charge")
        if rate is not None and rate.unit == "each":
            return float(rate.rate) * 100.0
    return None


def _reckoned(what_if: WhatIf, outcome: Outcome, more: Floats) -> Floats:
    """Return what the lines come to (k,), nothing rounded."""
    part = dict.fromkeys((*COSTS, "provisional"), np.zeros(len(outcome.days)))
    untaxed = np.zeros(len(outcome.days))
    share = _shares(what_if, outcome)
    for row in what_if.quoted:
        if row.rate_item in ON_TOP or row.part not in part:
            continue
        cents = float(row.amount_cents) * share(row)
        if row.rate_item == ROCK:
            cents = cents + outcome.rock_holes * float(row.rate) * 100.0
        part[row.part] = part[row.part] + cents
        untaxed = untaxed + (0.0 if row.taxed else cents)
    part["measured"] = part["measured"] + more
    for row in what_if.quoted:
        if row.rate_item in ("contingency", "margin") and row.part in COSTS:  # in the quote's order: first contingency
            part[row.part] = part[row.part] * (1.0 + row.quantity / 100.0)
    before = np.sum(list(part.values()), axis=0)
    minimum = rate_of(what_if.site.rates, "minimum", "charge")
    least = float(minimum.rate) * 100.0 if minimum is not None else 0.0
    whole = np.maximum(before, least)
    tax = sum(float(row.quantity) / 100.0 for row in what_if.quoted if row.part == "tax")
    return np.asarray(whole + tax * (whole - untaxed), dtype=float)


def _shares(what_if: WhatIf, outcome: Outcome) -> Callable[[Any], Floats]:
    """Return a function that gives by what factor (k,) a line of the quote is more."""
    planned = what_if.planned
    of_item = {
        item: _over(outcome.ordered[:, place], planned.ordered[0, place])
        for place, item in enumerate(what_if.bought["item"])
    }
    worked = {
        name: (_over(outcome.worked_h[:, place], planned.worked_h[0, place]), outcome.pieces[:, place])
        for place, name in enumerate(what_if.work.index)
    }
    days = _over(outcome.days, planned.days[0])
    one = np.ones(len(outcome.days))
    freight = _mass(what_if, outcome, planned)

    def of(row: Any) -> Floats:
        if row.item in of_item:
            return of_item[row.item]
        if row.item.startswith(LABOUR):
            hours, pieces = worked.get(_activity(row.item), (days, one))  # setting up and travel go with the days
            return hours if row.unit == "h" else pieces
        if row.item == "machine":
            by_day = row.unit == "day" and row.quantity > 0.0
            whole = np.rint(row.quantity * outcome.machine_share) / row.quantity if by_day else one
            return np.asarray(whole if by_day else outcome.machine_share, dtype=float)
        if row.item == "travel":
            return days
        return freight if row.item == "freight" and row.unit != "each" else one

    return of


def _mass(what_if: WhatIf, outcome: Outcome, planned: Outcome) -> Floats:
    bought = what_if.bought
    mass = bought["mass_kg"].fillna(0.0).where(~bought["supplier"].isin([SERVICES, ON_HAND]), 0.0).to_numpy(dtype=float)
    each = np.divide(mass, planned.ordered[0], out=np.zeros_like(mass), where=planned.ordered[0] > 0.0)
    return _over(outcome.ordered @ each, float(mass.sum()))


def _activity(item: str) -> str:
    """Return the activity of a line of labour, whatever soil it names behind."""
    said = item.removeprefix(LABOUR)
    found = [row for row in rows("activities") if said == row["words"] or said.startswith(f"{row['words']}, ")]
    return max(found, key=lambda row: len(row["words"]))["activity"] if found else said


def _over(now: Floats, planned: float) -> Floats:
    return np.asarray(now / planned if planned > 0.0 else np.ones(len(now)), dtype=float)

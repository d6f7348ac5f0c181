"""What drives the figures: one line each for a change that a client or a foreman asks about."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.quantities.materials import length_m
from fencegis.quantities.output import hours_h, output_of
from fencegis.quantities.price import sums_of
from fencegis.quantities.what_if import numbers, with_more_hours
from fencegis.quantities.what_if_cost import hour_cents, rate_cents, total_cents
from fencegis.quantities.work import RAIL, WIRE
from fencegis.records.rates import rate_of
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fencegis.quantities.what_if import Case, WhatIf

POSTS = ("ends", "key posts", "line posts")
NEXT = {"driven": "bored", "bored": "driven", "dug": "bored"}  # how posts are set with the next machine
CHANGED = "all that goes with it taken anew, percentages and tax too"


@dataclass(frozen=True, eq=False)
class Change:
    """One change: the case it makes and further costs in cents, nothing on top; None where they are not all priced."""

    what: str
    change: str
    case: Case
    cents: float | None
    basis: str


def driver_table(what_if: WhatIf) -> pd.DataFrame:
    """Return the layer `drivers`: how much each change adds to the total, tax and all, and to the crew's hours.

    Nothing is planned again: strainers stand, bays are shared out anew in whole numbers. Below 0 where it saves.
    """
    if what_if.tables["days"].empty:
        return empty("drivers")
    priced = len(what_if.tables["price"]) > 0
    sums, planned = sums_of(what_if.tables["price"]), what_if.planned
    rows = []
    for one in _changes(what_if):
        outcome, amount = what_if.outcome(one.case), None
        if priced and one.cents is not None:
            amount = int(total_cents(what_if, outcome, more_cents=one.cents)[0]) - sums.total_cents
        said = one.basis
        if priced and (amount is None or sums.not_priced):
            said += (
                "; not priced: rates.csv has no rate for it" if amount is None else "; only what the quote has priced"
            )
        posts, rails = outcome.posts[0] - planned.posts[0], outcome.rails[0] - planned.rails[0]
        pieces = [f"{number:+.0f} {name}" for number, name in ((posts, "posts"), (rails, "rails")) if round(number)]
        rows.append({
            "what": one.what, "change": one.change, "amount_cents": pd.NA if amount is None else amount,
            "hours_h": float(outcome.hours_h[0] - planned.hours_h[0]), "basis": "; ".join([*pieces, said]),
        })  # fmt: skip
    return checked("drivers", pd.DataFrame(rows))


def _changes(what_if: WhatIf) -> Iterator[Change]:
    kinds = set(what_if.kind_of_line.values())
    yield _rock(what_if)
    yield _gate(what_if)
    if RAIL in kinds and what_if.site.spec.fence.rail_m is not None:
        yield _longer_rail(what_if)
    yield _closer(what_if)
    yield _next_machine(what_if)


def _rock(what_if: WhatIf) -> Change:
    number = _number("rock holes")
    holes = replace(what_if.as_planned(), rock_holes=np.full(1, number))
    cents = rate_cents(what_if, "rock hole")
    priced = (what_if.tables["price"]["rate_item"] == "rock hole").any()
    # A line of the quote brings the rate with it; without one the rate is missing and so is the amount.
    basis = f"{what_if.rock_hole_h:.2f} h of the crew longer for each, and the agreed rate of one"
    return Change("rock", f"{number:g} more holes in rock", holes, 0.0 if priced and cents is not None else None, basis)


def _gate(what_if: WhatIf) -> Change:
    """Return a gate of one leaf: its two posts, leaf as the plan's first, hinges, latch; a brace each way in wire."""
    fence, site = what_if.site.spec.fence, what_if.site
    people, own = site.spec.crew.people, site.rates
    wire = WIRE in what_if.kind_of_line.values()
    work = {"set out": 2.0, "ends": 2.0, "braces": 2.0 if wire else 0.0, "check": 2.0, "gates": 1.0}
    hours = sum(
        float(hours_h([number], output=output_of(name, method=fence.post_set, own=own), people=people)[0])
        for name, number in work.items()
        if number
    )
    gates = what_if.bought.loc[what_if.bought["material"] == "gate leaf", "size"].dropna()
    leaf = [f"gate leaf {gates.iloc[0]}"] if len(gates) else []
    parts = [
        (1.0, (*leaf, "gate leaf")), (1.0, ("hinge set",)), (1.0, ("gate latch",)),
        (2.0, (*_gate_post(what_if), "post")),
        *([(2.0, ("brace post",)), (2.0, ("brace rail",))] if wire and fence.brace == "H-brace" else []),
    ]  # fmt: skip
    each, hour = [(number, rate_cents(what_if, *items)) for number, items in parts], hour_cents(what_if)
    known = hour is not None and all(cents is not None for _, cents in each)
    cents = sum(number * (of or 0.0) for number, of in each) + hours * (hour or 0.0)
    basis = (
        f"one leaf, its posts{' and a brace each way' if wire else ''}; the fence that it takes the place of stays in"
    )
    return Change(
        "gates", "one more gate", with_more_hours(what_if.as_planned(), hours), cents if known else None, basis
    )


def _gate_post(what_if: WhatIf) -> list[str]:
    across = f"{what_if.site.spec.fence.gate_post_mm:g} x "
    sizes = what_if.bought.loc[what_if.bought["material"] == "post", "size"].dropna()
    return [f"post {size}" for size in sizes if str(size).startswith(across)]


def _longer_rail(what_if: WhatIf) -> Change:
    """Return the next longer stock rail, at the price of the metre of the present one."""
    fence = what_if.site.spec.fence
    longest, step = max(fence.rail_m or (0.0,)), _number("longer rail")
    wider = step / fence.bays_per_rail
    limit = fence.post_spacing_m + fence.bay_tolerance_mm / 1000.0
    widest = float(np.nanmax(np.where(what_if.stretches.wire, np.nan, what_if.stretches.greatest_m), initial=0.0))
    held = widest + wider > limit
    case = replace(what_if.as_planned(), wider_m=np.full((1, 1), min(wider, max(0.0, limit - widest))))
    outcome = what_if.outcome(case)
    cents = 0.0
    for place in np.flatnonzero(what_if.bought["material"] == "rail"):
        item, size = what_if.bought["item"].iloc[place], str(what_if.bought["size"].iloc[place])
        ratio = outcome.ordered[0, place] / what_if.planned.ordered[0, place]
        own = sum(row.amount_cents for row in what_if.quoted if row.item == item)
        cents += float(own * ratio * step / length_m(size))
    basis = f"bays {wider:.2f} m wider at most; rails at the present price of a metre"
    if held:
        basis += f"; [fence] post_spacing_m = {fence.post_spacing_m:g} holds bays back"
    return Change("rails", f"stock rails of {longest + step:g} m, not {longest:g} m", case, cents, basis)


def _closer(what_if: WhatIf) -> Change:
    step = _number("spacing")
    case = replace(what_if.as_planned(), wider_m=np.full((1, 1), -step))
    return Change("spacing", f"posts {step:g} m closer", case, 0.0, f"greatest bay less {step:g} m; {CHANGED}")


def _next_machine(what_if: WhatIf) -> Change:
    """Return posts set the next way, by the catalogue's outputs for both; the machine's hire goes with its hours."""
    method = what_if.site.spec.fence.post_set
    after = NEXT[method]
    slower = what_if.as_planned().slower.copy()
    for name in POSTS:
        if name in what_if.work.index:
            ratio = output_of(name, method=method).per_hour / output_of(name, method=after).per_hour
            slower[0, what_if.work.index.get_loc(name)] = ratio
    case = replace(what_if.as_planned(), slower=slower)
    cents: float | None = 0.0
    basis = f"outputs of posts {method} and {after} on unknown soil, catalogue/activities.csv; hire as the quote has it"
    if method == "dug":
        hire = rate_of(what_if.site.rates, "machine", "hire")
        hours = sum(
            what_if.outcome(case).worked_h[0, what_if.work.index.get_loc(n)] for n in POSTS if n in what_if.work.index
        )
        crew = what_if.site.spec.crew
        number = hours if hire is None or hire.unit == "h" else np.ceil(hours / (crew.work_h - crew.setup_h))
        cents = None if hire is None else float(hire.rate) * 100.0 * float(number)
        basis = f"outputs of posts dug and {after} on unknown soil, catalogue/activities.csv; its hire for those hours"
    return Change("machine", f"posts {after}, not {method}", case, cents, basis)


def _number(item: str) -> float:
    return float(numbers("drivers")[item]["value"])

"""What is told of options side by side: figures of each with their difference from the first, and what changed."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fencegis.exports.answers import three_answers
from fencegis.exports.client.run_numbers import listed_runs
from fencegis.exports.compare import LEAST, MOST
from fencegis.exports.compare.placed import matches, near_m
from fencegis.exports.page_text import plain
from fencegis.exports.plan_hash import LONG, plan_sha256
from fencegis.exports.words import metres, number
from fencegis.quantities.money import money_text
from fencegis.quantities.price import sums_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from fencegis.exports.compare.placed import Match
    from fencegis.records.plan import Plan

NOT_COMPUTED = "not computed"
DESK = "A desk study of each. It replaces no site inspection, survey, service location or safe work method."
NO_BOUNDARY = "This does not fix a boundary."
NO_LEAVE = "Fewer flagged stretches are no leave to go ahead: what is not checked counts as much."


@dataclass(frozen=True)
class Option:
    """One plan as it is called on the page."""

    number: int
    name: str
    folder: str
    plan_digits: str


@dataclass(frozen=True)
class Measure:
    """One row: a value for each option, and for all but the first what differs from the first."""

    title: str
    values: tuple[str, ...]
    changes: tuple[str, ...]
    part: str = ""  # heading that it stands under


@dataclass(frozen=True)
class Comparison:
    """All that the page says."""

    options: tuple[Option, ...]
    measures: tuple[Measure, ...]
    changed: tuple[tuple[str, ...], ...]  # for all but the first, in sentences


def comparison_of(plans: Sequence[Plan]) -> Comparison:
    """Return what is told of two to six plans; ValueError for fewer or more."""
    if not LEAST <= len(plans) <= MOST:
        raise ValueError(f"{LEAST} to {MOST} plans are compared, not {len(plans)}")
    options = tuple(
        Option(place, plain(plan.site.name), plain(plan.site.folder_name), plan_sha256(plan)[:LONG])
        for place, plan in enumerate(plans, start=1)
    )
    return Comparison(options, tuple(_measures(plans)), tuple(changed_words(plans[0], plan) for plan in plans[1:]))


def _measures(plans: Sequence[Plan]) -> Iterator[Measure]:
    def row(title: str, values: Sequence[float], say: Callable[[float], str], part: str) -> Measure:
        changes = [difference(value - values[0], say) for value in values[1:]]
        return Measure(title, tuple(map(say, values)), tuple(changes), part)

    for title, value, say in COUNTED:
        yield row(title, [value(plan) for plan in plans], say, "The fence")
    shares = [three_answers(plan) for plan in plans]
    kinds = list(dict.fromkeys((share.kind, share.title) for answers in shares for share in answers))
    by_kind = [{share.kind: share for share in answers} for answers in shares]
    for part, column in (("Flagged, metres of fence", "flagged_m"), ("Not checked, metres of fence", "not_checked_m")):
        for kind, title in kinds:
            values = [float(getattr(known[kind], column)) if kind in known else 0.0 for known in by_kind]
            if max(values) >= 0.5:
                yield row(title, values, _whole_metres, part)
    yield _where_told("Crew hours", plans, crew_hours, lambda value: f"{number(value, 0)} h")
    yield _cost(plans)


def _where_told(
    title: str, plans: Sequence[Plan], value: Callable[[Plan], float], say: Callable[[float], str]
) -> Measure:
    """Return a row of work or money; what a plan does not tell is said, and then differs from nothing."""
    values = [value(plan) for plan in plans]
    told = tuple(NOT_COMPUTED if math.isnan(one) else say(one) for one in values)
    changes = ("" if math.isnan(one - values[0]) else difference(one - values[0], say) for one in values[1:])
    return Measure(title, told, tuple(changes), "Work and money")


def _cost(plans: Sequence[Plan]) -> Measure:
    """Return the row of cost; sums in different currencies are not taken from each other."""
    currencies = list(dict.fromkeys(plan.site.spec.money.currency or "" for plan in plans))
    title = ", ".join(part for part in ("Cost with tax", "/".join(filter(None, currencies))) if part)
    row = _where_told(title, plans, cost_cents, lambda cents: money_text(round(cents)))
    return row if len(currencies) == 1 else replace(row, changes=("",) * len(row.changes))


def crew_hours(plan: Plan) -> float:
    """Return the crew's hours of all days; NaN where no days are planned."""
    return float(plan.days["hours_h"].sum()) if len(plan.days) else math.nan


def cost_cents(plan: Plan) -> float:
    """Return the total of the quote in cents; NaN without rates. What is not priced is not in it."""
    return float(sums_of(plan.price).total_cents) if plan.site.rates else math.nan


def difference(value: float, say: Callable[[float], str]) -> str:
    """Return a difference with its sign; `same` where it prints as nothing."""
    said = say(abs(value))
    if said == say(0.0):
        return "same"
    return f"{'+' if value > 0 else '−'}{said}"


def changed_words(first: Plan, other: Plan) -> tuple[str, ...]:
    """Return in sentences how the runs of `other` differ from those of `first`, matched by place."""
    return tuple(_changed(matches(first, other), near_m(first, other)))


def _changed(found: Sequence[Match], near: float) -> Iterator[str]:
    pairs = [match for match in found if match.first and match.other]
    same = [match for match in pairs if match.apart_m <= near]
    if same:
        numbers = listed_runs([match.first for match in same])
        yield f"At the same place, within {metres(near)}: {numbers} of the first."
    for match in pairs:
        if match.apart_m > near:
            length = difference(match.longer_m, _whole_metres)
            yield (
                f"Moved or cut otherwise: run {match.first} of the first is run {match.other} here, up to "
                f"{metres(match.apart_m, 0)} apart, length {length}."
            )
    gone = [match.first for match in found if not match.other]
    new = [match.other for match in found if not match.first]
    if gone:
        yield f"Gone: {listed_runs(gone)} of the first."
    if new:
        yield f"New: {listed_runs(new)} here."


def _whole_metres(value: float) -> str:
    return metres(value, 0) if math.isfinite(value) else "not known"


def _count(value: float) -> str:
    return number(value, 0)


def _trees(what: str) -> Callable[[Plan], float]:
    def counted(plan: Plan) -> float:
        return float((plan.trees["what"] == what).sum())

    return counted


COUNTED: tuple[tuple[str, Callable[[Plan], float], Callable[[float], str]], ...] = (
    ("Length along the ground", lambda plan: float(plan.runs["ground_length_m"].sum()), _whole_metres),
    ("Runs", lambda plan: float(len(plan.runs)), _count),
    ("Corners", lambda plan: float(len(plan.corners)), _count),
    ("Posts that hold an end", lambda plan: float(len(plan.strainers)), _count),
    ("Posts, all", lambda plan: float(len(plan.posts)), _count),
    ("Gates", lambda plan: float(len(plan.gates)), _count),
    ("Trees to go", _trees("to go"), _count),
    ("Trees to limb", _trees("to limb"), _count),
    ("Flagged places", lambda plan: float(plan.hazards["hazard_id"].nunique()), _count),
)

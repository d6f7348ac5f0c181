"""All that the client's pages say, once: the sheet and the page are both set from this, and say nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.exports.client.built import gate_rows, materials, old_fence, run_rows, tree_rows
from fencegis.exports.client.price import kinds_of_price, lead, not_priced, totals
from fencegis.exports.client.risks import flagged, looked, unlooked
from fencegis.exports.client.terms import changes, duties, exclusions, prepared
from fencegis.exports.client.when import when_rows
from fencegis.exports.page_text import plain
from fencegis.exports.plan_hash import LONG, plan_sha256
from fencegis.exports.words import counted, metres
from fencegis.quantities.takeoff import fence_kinds

if TYPE_CHECKING:
    from fencegis.exports.client.built import GateRow, RunRow, TreeRow
    from fencegis.exports.client.price import Sum
    from fencegis.exports.client.risks import Flagged, Looked
    from fencegis.records.plan import Plan

NO_BOUNDARY = "This does not fix a boundary."
DESK = "A desk study. It replaces no site inspection, survey, service location or safe work method."


@dataclass(frozen=True)
class Content:
    """The words and figures of one plan for its client; every text is plain, on one line, and no markup."""

    site: str
    date: str
    plan_digits: str
    headline: str
    prepared: str
    runs: tuple[RunRow, ...]
    whole: str  # length of all runs
    gates: tuple[GateRow, ...]
    materials: tuple[tuple[str, str], ...]  # what, how much
    old_fence: tuple[str, ...]
    trees: tuple[TreeRow, ...]
    flagged: tuple[Flagged, ...]
    unlooked: tuple[Looked, ...]
    looked: tuple[Looked, ...]
    duties: tuple[tuple[str, tuple[str, ...]], ...]  # who, what they do
    days: tuple[tuple[str, str], ...]
    money_lead: str
    money: tuple[Sum, ...]
    totals: tuple[tuple[str, str], ...]  # what, how much; none where nothing is priced
    not_priced: str
    exclusions: tuple[str, ...]
    changes: tuple[str, ...]
    accepts: tuple[str, ...]


def content_of(plan: Plan) -> Content:
    """Return what the client's pages say of a plan, in words that a layperson knows and without chainages."""
    digits = plan_sha256(plan)[:LONG]
    date = plan.site.spec.date
    return Content(
        site=plain(plan.site.name),
        date=f"for work on {date.isoformat()}" if date else "no day for the work is given",
        plan_digits=digits,
        headline=_headline(plan),
        prepared=prepared(plan),
        runs=run_rows(plan),
        whole=metres(plan.runs["ground_length_m"].sum(), 0),
        gates=gate_rows(plan),
        materials=materials(plan),
        old_fence=old_fence(plan),
        trees=tree_rows(plan),
        flagged=flagged(plan),
        unlooked=unlooked(plan),
        looked=looked(plan),
        duties=duties(plan),
        days=when_rows(plan),
        money_lead=lead(plan),
        money=kinds_of_price(plan),
        totals=totals(plan),
        not_priced=not_priced(plan),
        exclusions=exclusions(),
        changes=changes(plan),
        accepts=_accepts(digits, priced=not plan.price.empty),
    )


def _headline(plan: Plan) -> str:
    kinds = " and ".join(
        dict.fromkeys(KIND_WORDS.get(kind, kind) for kind in fence_kinds(plan.site, plan.runs["line_id"]))
    )
    length = metres(plan.runs["ground_length_m"].sum(), 0)
    return f"{length} of {kinds}, {counted(len(plan.runs), 'run')}, {counted(len(plan.gates), 'gate')}."


def _accepts(digits: str, *, priced: bool) -> tuple[str, ...]:
    return (
        ACCEPTS.format(digits=digits, price="above" if priced else "when one is written in above"),
        "It is no agreement that a stretch is fit to work on, and it stands in for nobody's permit.",
        NO_BOUNDARY,
    )


ACCEPTS = (
    "We accept this drawing, plan {digits}: the place of the fence as drawn, its runs, gates and trees; and the price "
    "{price}. A plan with other digits is another plan."
)
KIND_WORDS = {"wire": "wire fence", "post and rail": "post and rail fence"}

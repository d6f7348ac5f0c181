"""What is built, in plain words and figures: runs, gates, posts, rails or wires, trees, and what comes down."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.exports.client.price import pulling_out
from fencegis.exports.client.run_numbers import RunNumbers
from fencegis.exports.page_text import plain
from fencegis.exports.words import counted, each, metres, number, present
from fencegis.quantities.cut_list import bought
from fencegis.quantities.takeoff import fence_kinds, takeoff

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fencegis.records.plan import Plan

HEADS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
LABELS = {"boundary": "on the boundary", "agreed": "off it, agreed", "internal": "inside"}
HOLDING = ("strainer", "gate", "junction")  # posts that hold an end of the work
OLD = {
    "pull": "comes down",
    "keep": "stays",
    "tie in": "stays; the new fence is joined to it",
}
TREE_ORDER = ("to go", "to limb", "to look at", "to keep")


@dataclass(frozen=True)
class RunRow:
    """One run: its number on the map, its name on the crew's sheets, what it is, which way it goes, how long."""

    number: int
    crew_name: str
    fence: str
    heads: str
    length: str


@dataclass(frozen=True)
class GateRow:
    """One gate: its mark on the map, its name, on which run, how wide, how it swings."""

    mark: str
    name: str
    run: str
    width: str
    leaf: str


@dataclass(frozen=True)
class TreeRow:
    """What is proposed for some trees: their numbers on the map, and the reasons of those to go."""

    what: str
    names: tuple[str, ...]
    why: tuple[str, ...]


def run_rows(plan: Plan) -> tuple[RunRow, ...]:
    """Return the runs in their order, lengths along the ground in whole metres."""
    kinds = fence_kinds(plan.site, plan.runs["line_id"])
    rows = []
    for place, (run, kind) in enumerate(zip(each(plan.runs), kinds, strict=True), start=1):
        label = LABELS.get(run.label, plain(str(run.label))) if present(run.label) else ""
        fence = ", ".join(part for part in (f"{kind}, {label}" if label else str(kind), _arc(run.kind)) if part)
        heads = HEADS[round(run.bearing_true_deg / 45.0) % 8] if present(run.bearing_true_deg) else "not known"
        rows.append(RunRow(place, plain(str(run.run_id)), fence, heads, metres(run.ground_length_m, 0)))
    return tuple(rows)


def _arc(kind: str) -> str:
    return "in a curve" if kind == "arc" else ""


def gate_rows(plan: Plan) -> tuple[GateRow, ...]:
    """Return the gates as the map numbers them."""
    numbers = RunNumbers(plan)
    rows = []
    for place, gate in enumerate(each(plan.gates), start=1):
        leaves = int(gate.leaves) if present(gate.leaves) else 0
        leaf = f"{counted(leaves, 'leaf', 'leaves')}" if leaves else "leaves not given"
        if present(gate.leaf_m):
            leaf += f" of {metres(gate.leaf_m)}"
        name = plain(str(gate.name)) if present(gate.name) else "not named"
        run = f"run {numbers.at(str(gate.line_id), float(gate.from_m))}"
        rows.append(GateRow(f"G{place}", name, run, f"{metres(gate.opening_m)} between the posts", leaf))
    return tuple(rows)


def materials(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Return what the fence is made of and how much of it, summed from the plan's tables."""
    return tuple(_materials(plan))


def _materials(plan: Plan) -> Iterator[tuple[str, str]]:
    if len(plan.posts):
        holding = int(plan.posts["kind"].isin(HOLDING).sum())
        words = f"{number(len(plan.posts), 0)}; {number(holding, 0)} of them hold ends, corners and gates"
        yield "Posts", words
    table = takeoff(plan)
    quantity = dict(zip(table["item"], table["quantity"], strict=True))
    fence = plan.site.spec.fence
    if (length_m := quantity.get(f"rail, {fence.rails} rows")) is not None:
        yield "Rails", f"{fence.rails} rows, {metres(length_m, 0)} in all{_stock(plan, 'rail')}"
    cap = [amount for item, amount in quantity.items() if item.startswith("cap, ")]
    if cap:
        yield "Cap board on the posts", f"{metres(cap[0], 0)}{_stock(plan, 'cap')}"
    if (length_m := quantity.get(f"wire, {fence.wires} wires")) is not None:
        yield "Wires", f"{fence.wires} wires, {metres(length_m, 0)} of wire in all"
    if (droppers := quantity.get("dropper")) is not None:
        yield "Droppers (light uprights between posts)", number(droppers, 0)


def _stock(plan: Plan, kind: str) -> str:
    sticks = bought(plan.cuts[plan.cuts["kind"] == kind]).sticks if len(plan.cuts) else {}
    said = " and ".join(f"{number(count, 0)} of {length_m:g}\u00a0m" for length_m, count in sticks.items())
    return f": {said} to buy, none for waste" if said else ""


def old_fence(plan: Plan) -> tuple[str, ...]:
    """Return what becomes of each old fence; what nobody decided is asked."""
    layer = plan.site.existing
    if layer is None:
        return ("No old fence is in the data (no existing.geojson): say what stands there now.",)
    rows = []
    for row in each(layer):
        name = plain(str(row.name)) if present(row.name) else "Old fence"
        wires = f", {counted(int(row.wires), 'wire')}" if present(row.wires) else ""
        becomes = OLD.get(str(row.kind), "nobody has said what becomes of it")
        rows.append(f"{name}{wires}, {metres(row.geometry.length, 0)}: {becomes}.")
    if not rows:
        return ("No old fence is drawn in existing.geojson: say what stands there now.",)
    return (*rows, f"{pulling_out(plan)} An old fence is often not the boundary.")


def tree_rows(plan: Plan) -> tuple[TreeRow, ...]:
    """Return the trees by what is proposed, those to go first; nothing where no tree is known."""
    rank = {what: place for place, what in enumerate(TREE_ORDER)}
    lots: dict[str, list[tuple[str, str]]] = {}
    for tree in each(plan.trees):
        lots.setdefault(str(tree.what), []).append((plain(str(tree.tree_id)), plain(str(tree.why))))
    return tuple(
        TreeRow(
            plain(what),
            tuple(name for name, _ in lots[what]),
            tuple(f"{name}: {why}" for name, why in lots[what]) if what == "to go" else (),
        )
        for what in sorted(lots, key=lambda what: rank.get(what, len(rank)))
    )

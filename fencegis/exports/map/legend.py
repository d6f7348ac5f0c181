"""The legend: every sign that this map carries, drawn as on the map, with its meaning in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.exports.answers import KINDS, unlooked
from fencegis.exports.page_text import literal
from fencegis.exports.words import holder

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

RUN_ROWS = {
    "boundary": ("Run on a boundary, as drawn", "run-boundary"),
    "agreed": ("Run off the boundary by agreement", "run-agreed"),
    "internal": ("Run of an internal fence", "run-internal"),
    "unsaid": ("Run; nobody has said whether it is a boundary", "run-unsaid"),
}
POST_ROWS = {
    "line": ("Line post", "post-line"),
    "key": ("Key post: a rise or dip decides its place", "post-key"),
    "brace": ("Brace post", "post-brace"),
    "gate": ("Gate post", "post-gate"),
}
GIVEN_ROWS = {
    "overhead": ("Overhead line as the data has it", "given-overhead"),
    "trees": ("Tree as the data has it, spread to scale where given", "given-tree"),
    "pegs": ("Peg", "given-peg"),
    "walk": ("Seen on the walk", "given-walk"),
    "watercourses": ("Creek or drain as the data has it", "given-water"),
    "services": ("Buried service as the data has it: not a place to dig by", "given-service"),
    "keepout": ("No-go area as the data has it", "given-keepout"),
    "tracks": ("Track as the data has it", "given-track"),
    "existing": ("Old fence as the data has it", "given-existing"),
}

TREE_ROWS = {
    "to go": ("Tree to go: somebody competent looks at it first", "tree-go"),
    "to limb": ("Tree to limb", "tree-limb"),
    "to keep": ("Tree to keep", "tree-keep"),
    "to look at": ("Tree to look at: the data cannot tell", "tree-look"),
}
FOUND_ROWS = {
    "crossings": ("Bank of a crossing, and its bed", "bank"),
    "access": ("No way for the machine", "way"),
    "headroom": ("Least air under limbs (switched on under Layers)", "headroom"),
    "clearing": ("Clearing, the closer the dots the denser (switched on under Layers)", "clearing"),
}
POLE_ROW = ("Pole as the data has it", "given-pole")
UNCHECKED_ROW = ("Stretch not checked for something (switched on under Layers)", "unchecked")


def legend(plan: Plan) -> str:
    """Return the legend as HTML, with rows for what is on this map only."""
    labels = {label if label in RUN_ROWS else "unsaid" for label in plan.runs["label"]}
    rows = [RUN_ROWS[label] for label in RUN_ROWS if label in labels]
    if len(plan.corners):
        rows.append(("Corner", "corner"))
    if len(plan.strainers):
        rows.append((f"{holder(plan).capitalize()}: holds an end of the wires or rails", "strainer"))
    if len(plan.nodes):
        rows.append(("Junction: one post for all lines that meet", "node"))
    posts = set(plan.posts["kind"])
    rows += [row for kind, row in POST_ROWS.items() if kind in posts]
    if len(plan.gates):
        rows.append(("Gate, its plate pointing at the opening", "gate"))
    rows += [
        (f"{words}: deal with it before work starts", f"hazard-{slug(kind)}")
        for kind, words in KINDS.items()
        if kind in set(plan.hazards["kind"])
    ]
    rows += _found(plan)
    given = {name: getattr(plan.site, name) for name in GIVEN_ROWS}
    rows += [row for name, row in GIVEN_ROWS.items() if given[name] is not None and len(given[name])]
    if given["overhead"] is not None and (given["overhead"].geom_type == "Point").any():
        rows.append(POLE_ROW)
    rows.append(("Line as it was drawn (switched on under Layers)", "given-drawn"))
    items = "".join(
        f'<li><svg class="key" aria-hidden="true"><use href="#key-{sign}"/></svg>{literal(words)}</li>'
        for words, sign in rows
    )
    return (
        f'<ul class="legend">{items}</ul><p class="small hint">North is up. Line posts show once there is room between '
        "them. Hazards cannot be switched off. Tap anything to read about it.</p>"
    )


def _found(plan: Plan) -> list[tuple[str, str]]:
    """Return rows for what was found along the line."""
    whats = set(plan.trees["what"])
    rows = [row for what, row in TREE_ROWS.items() if what in whats]
    rows += [row for name, row in FOUND_ROWS.items() if len(getattr(plan, name))]
    return [*rows, UNCHECKED_ROW] if unlooked(plan) else rows


def slug(kind: str) -> str:
    """Return a kind of hazard as its sign is named: `overhead power` is `overhead-power`, one of no kind `other`."""
    return kind.replace(" ", "-") if kind in KINDS else "other"

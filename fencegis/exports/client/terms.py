"""What the drawing rests on, who does what, what a price would hold and not hold, what could change it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from fencegis.catalogue import rows as catalogue_rows
from fencegis.exports.positions import doubt_95_m, doubt_m
from fencegis.exports.words import each, metres

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fencegis.records.plan import Plan

DRAWN = {
    "imagery": "Drawn by hand over aerial imagery",
    "walked": "Drawn from a walk along the line with a receiver",
    "survey": "Drawn from a survey",
}
TWICE = 2.0  # standard errors that a layperson's "up to" stands for: 19 times in 20
NAMED = 3
ROCKS = ("rock", "crystalline rock")
MONEY = (
    ("Fixed", "one sum for what the plan shows, whatever it takes"),
    ("Measured", "so much a metre, a post, a gate, counted when it stands"),
    ("Provisional", "what nobody can know yet: rock, each hole, at a rate agreed before"),
)


def prepared(plan: Plan) -> str:
    """Return what the drawing was made from and how far off it may be."""
    boundary = plan.site.spec.boundary
    said = [DRAWN[boundary.drawn_from]]
    hand_m = doubt_hand_m(plan)
    if hand_m > 0.0:
        said[0] += f", give or take {metres(hand_m)}"
    if boundary.shift_sigma_m > 0.0:
        given = "" if boundary.imagery_error_m is not None else " (assumed: no report on it was given)"
        said.append(f"all of it together may be shifted, give or take {metres(boundary.shift_sigma_m)}{given}")
    if plan.site.terrain is None:
        said.append("no ground heights were given")
    else:
        said.append(f"ground heights give or take {metres(plan.site.spec.elevation.vertical_error_m, 2)}")
    return f"{'; '.join(said)}. Give or take: two times in three."


def doubt_hand_m(plan: Plan) -> float:
    """Return the largest standard deviation of any drawn line's vertices."""
    return max(line.sigma_m for line in plan.site.drawn)


def duties(plan: Plan) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return who is responsible for what, as far as this plan gives cause."""
    holds = {
        "always": True,
        "boundary": bool((plan.runs["label"].fillna("") != "internal").any()),
        "trees": bool(len(plan.trees)) or plan.site.trees is None,
        "existing": plan.site.existing is None or bool(len(plan.site.existing)),
    }
    found: dict[str, list[str]] = {}
    for row in catalogue_rows("client_duties"):
        if holds[row["when"]]:
            found.setdefault(row["who"], []).append(row["duty"])
    return tuple((who, tuple(what)) for who, what in found.items())


def exclusions() -> tuple[str, ...]:
    """Return what a quote of this plan does not hold; always printed."""
    return tuple(row["item"] for row in catalogue_rows("quote_excludes"))


def changes(plan: Plan) -> tuple[str, ...]:
    """Return what could change lengths, counts or place, with the plan's own numbers."""
    return tuple(_changes(plan))


def _changes(plan: Plan) -> Iterator[str]:
    yield _place(plan)
    yield from _lengths(plan)
    yield from _ground(plan)
    yield "Peg, neighbour, service or tree: what is found on the walk may move a run, a corner or a post."
    yield "When the string is up, bays are shared out afresh: one post more or fewer in a run comes with that."


def _place(plan: Plan) -> str:
    off_m = doubt_95_m(doubt_m(plan.site))
    if off_m <= 0.0:
        return "Nobody said how far off the drawing may be."
    return (
        f"The fence may stand up to {metres(off_m)} from where the pictures show it (19 times in 20): pegs and marks "
        "on the ground decide, not the picture."
    )


def _lengths(plan: Plan) -> Iterator[str]:
    runs = [(place, run.sigma_length_m) for place, run in enumerate(each(plan.runs), start=1)]
    known = sorted(
        ((s, place) for place, s in runs if math.isfinite(s) and s > 0.0), key=lambda item: (-item[0], item[1])
    )
    if known:
        said = ", ".join(f"run {place} by up to {metres(TWICE * sigma)}" for sigma, place in known[:NAMED])
        yield (
            f"A run may come out longer or shorter than drawn: {said} (19 times in 20). Where two runs meet at a "
            "slight bend, what one gains the other loses."
        )


def _ground(plan: Plan) -> Iterator[str]:
    if plan.site.terrain is None:
        yield "Ground heights were not given: on a slope the fence is longer than drawn."
    rock_m, open_m = 0.0, 0.0
    for row in each(plan.soils):
        rock_m += row.to_m - row.from_m if row.soil in ROCKS else 0.0
        open_m += row.to_m - row.from_m if "not checked" in str(row.basis) else 0.0
    if rock_m:
        yield f"Rock is mapped along {metres(rock_m, 0)}: what a hole takes there is found out by digging it."
    if open_m or not len(plan.soils):
        where = f"along {metres(open_m, 0)}" if open_m else "anywhere"
        yield f"Nobody has looked at the soil {where}: rock, water or loose sand change holes, posts and days."


def imagery_words(shown: str | None) -> str:
    """Return what lies under the maps; `shown` is the picture's name, None when there is none."""
    if shown is None:
        return "There is no picture under the maps: none was given."
    if shown == "imagery":
        return "Under the maps: the aerial picture given; its date is not in the data."
    return "Under the maps: relief shaded from the ground heights; no aerial picture was given."

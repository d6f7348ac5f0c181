"""What was looked for and what was not, in words: the part of a map that is most easily read as permission."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.exports.page_text import plain
from fencegis.exports.words import each, metres

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fencegis.records.plan import Plan

    Stretch = tuple[str, float, float]  # line_id, from_m, to_m

# Every kind that a plan may flag; one that `checks` does not speak of was not looked at.
KINDS = {
    "overhead power": "Overhead power lines",
    "overhead phone": "Overhead phone lines",
    "parallel power": "Wire beside power lines",
    "tree limb": "Trees and limbs",
    "tree trunk": "Trunks on the line",
    "side slope": "Side slope",
    "crossing": "Creeks and drains",
    "buried service": "Buried services",
    "keep-out": "Places to keep out of",
    "survey mark": "Survey marks",
    "access": "Way for the machine",
}
NOT_LOOKED = "not looked at by this plan"
SHORTEST_M = 0.5  # a stretch shorter than a post hole's surrounds is a matter of rounding
LISTED = 6


@dataclass(frozen=True)
class Answer:
    """One kind of hazard, what is known of it, and where that holds."""

    kind: str
    basis: str
    where: str


@dataclass(frozen=True)
class Share:
    """How much of the fence has which of the three answers for one kind of hazard, in metres of line.

    `none_found` and `unchecked` are what those answers rest on, each text once.
    """

    kind: str  # as in the layer `hazards`
    title: str
    flagged_m: float
    none_found_m: float
    not_checked_m: float
    none_found: tuple[str, ...]
    unchecked: tuple[str, ...]


def three_answers(plan: Plan) -> tuple[Share, ...]:
    """Return for every kind the metres that are flagged, on which none was found, and that nobody has checked.

    Kinds are in the order of KINDS, those that a plan adds last.
    """
    found = {
        "flagged": _with_status(plan, "flagged"),
        "clear": _with_status(plan, "clear"),
        "not checked": unlooked(plan),
    }
    long_m = dict.fromkeys([*KINDS, *plan.checks["kind"]], 0.0)
    metres_of = {status: dict(long_m) for status in found}
    bases: dict[str, dict[str, list[str]]] = {status: {kind: [] for kind in long_m} for status in found}
    for status, rows in found.items():
        for kind, basis, (_, begin, stop) in rows:
            metres_of[status][kind] += stop - begin
            bases[status][kind].append(plain(basis))
    return tuple(
        Share(
            kind,
            title_of(kind),
            metres_of["flagged"][kind],
            metres_of["clear"][kind],
            metres_of["not checked"][kind],
            tuple(dict.fromkeys(bases["clear"][kind])),
            tuple(dict.fromkeys(bases["not checked"][kind])),
        )
        for kind in long_m
    )


def title_of(kind: str) -> str:
    """Return a kind of hazard in the words that a page has for it."""
    return KINDS.get(kind, plain(kind[:1].upper() + kind[1:]))


def unchecked_stretches(plan: Plan, kinds: Iterable[str]) -> list[Stretch]:
    """Return the stretches on which nobody has looked for one of these kinds, by line and chainage."""
    wanted = set(kinds)
    return [stretch for kind, _, stretch in unlooked(plan) if kind in wanted]


def unlooked(plan: Plan) -> list[tuple[str, str, Stretch]]:
    """Return each stretch that nobody and nothing has looked at: the kind, what the answer rests on, and where."""
    return [*_with_status(plan, "not checked"), *_unspoken(plan)]


def not_checked(plan: Plan) -> tuple[Answer, ...]:
    """Return what nobody and nothing has looked at, kinds in the order of KINDS, those that a plan adds last."""
    return _answers(plan, unlooked(plan))


def found_none(plan: Plan) -> tuple[Answer, ...]:
    """Return where the data was looked through and holds nothing, with what that rests on; never *clear*."""
    return _answers(plan, _with_status(plan, "clear"))


def _with_status(plan: Plan, status: str) -> list[tuple[str, str, Stretch]]:
    rows = plan.checks[plan.checks["status"] == status]
    return [(row.kind, row.basis, (row.line_id, row.from_m, row.to_m)) for row in each(rows)]


def _unspoken(plan: Plan) -> list[tuple[str, str, Stretch]]:
    """Return for each kind the stretches of each line that no row of `checks` covers."""
    spoken: dict[tuple[str, str], list[tuple[float, float]]] = {}
    for row in each(plan.checks):
        spoken.setdefault((row.kind, row.line_id), []).append((row.from_m, row.to_m))
    gaps, lines = [], lines_of_plan(plan)
    for kind in KINDS:
        for line_id, (start, end) in lines.items():
            for begin, stop in _between(spoken.get((kind, line_id), []), start, end):
                gaps.append((kind, NOT_LOOKED, (line_id, begin, stop)))
    return gaps


def _between(spans: list[tuple[float, float]], start: float, end: float) -> Iterable[tuple[float, float]]:
    at = start
    for begin, stop in sorted(spans):
        if begin - at > SHORTEST_M:
            yield at, begin
        at = max(at, stop)
    if end - at > SHORTEST_M:
        yield at, end


def lines_of_plan(plan: Plan) -> dict[str, tuple[float, float]]:
    """Return where each line begins and ends, in metres of chainage."""
    ends: dict[str, tuple[float, float]] = {}
    runs = zip(plan.runs["line_id"].tolist(), plan.runs["from_m"].tolist(), plan.runs["to_m"].tolist(), strict=True)
    for line_id, begin, end in runs:
        first, last = ends.get(line_id, (begin, end))
        ends[line_id] = min(first, begin), max(last, end)
    return ends


def _answers(plan: Plan, rows: list[tuple[str, str, Stretch]]) -> tuple[Answer, ...]:
    grouped: dict[tuple[str, str], list[Stretch]] = {}
    for kind, basis, stretch in rows:
        grouped.setdefault((kind, basis), []).append(stretch)
    lines = lines_of_plan(plan)
    rank = {kind: place for place, kind in enumerate(KINDS)}
    order = sorted(grouped, key=lambda key: rank.get(key[0], len(rank)))
    return tuple(
        Answer(title_of(kind), plain(basis), where(grouped[kind, basis], lines))
        for kind, basis in order
    )


def where(stretches: list[Stretch], lines: dict[str, tuple[float, float]]) -> str:
    """Return stretches in words: the whole fence, all of a line, or from where to where."""
    joined = _joined(stretches)
    whole = [stretch[0] for stretch in joined if _is_whole(stretch, lines)]
    if set(whole) == set(lines):
        return "the whole fence"
    words = [f"all of line {plain(line_id)}" for line_id in whole]
    words += [
        f"line {plain(line_id)} {metres(begin)} to {metres(stop)}"
        for line_id, begin, stop in joined
        if line_id not in whole
    ]
    more = len(words) - LISTED
    return "; ".join(words[:LISTED]) + (f"; and {more} more stretches" if more > 0 else "")


def _is_whole(stretch: Stretch, lines: dict[str, tuple[float, float]]) -> bool:
    line_id, begin, stop = stretch
    start, end = lines.get(line_id, (0.0, float("inf")))
    return begin - start < SHORTEST_M and end - stop < SHORTEST_M


def _joined(stretches: list[Stretch]) -> list[Stretch]:
    """Return the stretches with those that touch made one, in the order of the lines."""
    order = {line_id: place for place, line_id in enumerate(dict.fromkeys(line for line, _, _ in stretches))}
    joined: list[Stretch] = []
    for line_id, begin, stop in sorted(stretches, key=lambda stretch: (order[stretch[0]], stretch[1])):
        if joined and joined[-1][0] == line_id and begin - joined[-1][2] < SHORTEST_M:
            joined[-1] = (line_id, joined[-1][1], max(stop, joined[-1][2]))
        else:
            joined.append((line_id, begin, stop))
    return joined

"""The cover: what and where, what it rests on, the cautions that this plan gives cause for, what nobody looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.exports.answers import KINDS, found_none
from fencegis.exports.cautions import DESK_STUDY, NO_BOUNDARY, cautions
from fencegis.exports.plan_hash import LONG, plan_sha256
from fencegis.exports.positions import doubt_m, doubt_words
from fencegis.exports.sheets.flow import Line, heading, paragraph
from fencegis.exports.sheets.paper import ON_THE_MAP, printable
from fencegis.exports.sheets.words import line_name, position, site_name
from fencegis.exports.words import counted, metres
from fencegis.quantities.takeoff import fence_kinds

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fencegis.exports.answers import Answer
    from fencegis.exports.sheets.posts import Walk
    from fencegis.records.plan import Plan


SIZE = 9.0


def cover_lines(plan: Plan, walks: list[Walk], unlooked: tuple[Answer, ...]) -> list[Line]:
    """Return the cover as lines; `unlooked` is what nobody has looked at."""
    return [
        Line("SET-OUT SHEETS", 22.0, "bold", 10.0),
        *paragraph(site_name(plan), size=16.0, font="bold"),
        *paragraph(DESK_STUDY, size=11.0, font="bold"),
        *paragraph(NO_BOUNDARY, size=11.0, font="bold"),
        *paragraph(_plan_words(plan), size=10.0),
        *heading("What and where"),
        *_smaller(_what(plan)),
        *heading("What the places rest on"),
        *_smaller(_datum(plan)),
        *heading("Flagged: in full in the register; by post numbers on the runs' sheets"),
        *_smaller(_flags(walks), tick=True),
        *heading("Not checked: look before you start"),
        *_answers(unlooked),
        *heading("None found in the data: no leave to go ahead"),
        *_answers(found_none(plan)),
        *heading("Cautions, each with where it holds and why"),
        *_cautions(plan),
    ]


def _smaller(texts: Iterator[str], *, tick: bool = False) -> Iterator[Line]:
    for text in texts:
        yield from paragraph(text, size=SIZE, tick=tick)


def _plan_words(plan: Plan) -> str:
    date = f", for work on {plan.site.spec.date.isoformat()}" if plan.site.spec.date else ""
    return f"Plan {plan_sha256(plan)[:LONG]}{date}. A sheet is of this plan when its foot has the same number."


def _cautions(plan: Plan) -> Iterator[Line]:
    for caution in cautions(plan):
        yield from paragraph(f"{caution.about} [{caution.where}]. {caution.text}", tick=True, size=8.4)


def _what(plan: Plan) -> Iterator[str]:
    runs = plan.runs
    for line_id in runs["line_id"].unique():
        part = runs[runs["line_id"] == line_id]
        kind = fence_kinds(plan.site, [line_id])[0]
        name = line_name(plan, str(line_id))
        length = f"{metres(part['ground_length_m'].sum())} along the ground"
        yield f"{name[0].upper()}{name[1:]}: {kind}, {length}, {counted(len(part), 'run')}."
    counts = ", ".join(f"{count} {kind}" for kind, count in sorted(plan.posts["kind"].value_counts().to_dict().items()))
    yield f"Posts: {len(plan.posts)} ({counts}). Gates: {len(plan.gates)}."
    grid = plan.site.grid
    yield f"Middle of the site: {position(grid.centre_lon_deg, grid.centre_lat_deg)}."
    texts = [plan.site.name, *(line.name for line in plan.site.drawn), *map(str, plan.posts["post_id"])]
    if not all(map(printable, texts)):
        yield f"These sheets print Latin, Greek and Cyrillic; ▯ stands for other letters: their {ON_THE_MAP}."


def _flags(walks: list[Walk]) -> Iterator[str]:
    """Yield each kind of flag with the names of its spans and their runs."""
    kinds: dict[str, dict[str, list[str]]] = {}
    for walk in walks:
        for row in walk.hazards:
            kinds.setdefault(str(row.kind), {}).setdefault(str(walk.run.run_id), []).append(str(row.hazard_id))
    for kind, runs in kinds.items():
        where = "; ".join(f"{', '.join(ids)} on run {run_id}" for run_id, ids in runs.items())
        yield f"{KINDS.get(kind, kind)}: {where}."
    if not kinds:
        yield "Nothing is listed. That is no finding: look on the ground."


def _datum(plan: Plan) -> Iterator[str]:
    boundary = plan.site.spec.boundary
    datum = boundary.datum or "WGS 84 (not stated; taken)"
    yield f"Drawn from {boundary.drawn_from}; datum of the drawing: {datum}."
    yield f"Place of the line: {doubt_words(doubt_m(plan.site)).replace('+-', '±')}."
    yield "Latitudes and longitudes are WGS 84; a handheld set to another datum is metres out."
    if plan.site.terrain is None:
        yield "No elevation: the plan is flat; lengths along the ground, grades and heights are not checked."
    for used in plan.site.operations:
        yield f"Change of datum {used.between}: {used.operation}."


def _answers(answers: tuple[Answer, ...]) -> Iterator[Line]:
    if not answers:
        yield from paragraph("None is listed.", size=SIZE)
    for answer in answers:
        kind, said, basis = answer.basis.partition(": ")
        basis = basis if said and kind in KINDS else answer.basis  # the kind once, in its heading's words
        yield from paragraph(f"{answer.kind}: {basis}; {answer.where}.", tick=True, size=SIZE)

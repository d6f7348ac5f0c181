"""The long section: ground, fitted grades, posts, strainers, breaks and hazards against chainage, line by line."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fencegis.exports.cautions import DESK_STUDY
from fencegis.exports.plan_hash import LONG, plan_sha256
from fencegis.exports.section.found import found_of
from fencegis.exports.section.marks import standing, thinning, to_mind
from fencegis.exports.section.paper import (
    FAINT,
    HEADING,
    SMALL,
    TITLE,
    WIDTH_MM,
    Paper,
    fitted_text,
    svg,
    width_mm,
)
from fencegis.exports.section.rails import over_m, rails_of
from fencegis.exports.section.row import Section, draw_row, sign
from fencegis.exports.section.scales import (
    LEFT_MM,
    RIGHT_MM,
    Ground,
    Row,
    exaggeration_of,
    ground_of,
    row_length_m,
    rows_of,
)
from fencegis.exports.words import Places, each, holder, metres

if TYPE_CHECKING:
    from fencegis.exports.section.rails import Rails
    from fencegis.records.plan import Plan

RULE = (
    "Where names would meet, gates, corners and junctions are named before strainers, hazards and unknown "
    "ground before breaks of grade; the rest is drawn without its name and is in plan.gpkg."
)
RAILS = (("rail", "top rail's top"), ("under", "bottom rail's under edge"))


def section_drawing(plan: Plan) -> bytes:
    """Return the long section as SVG, one panel a line, long lines in rows; the same plan gives the same bytes."""
    paper, places = Paper(), Places(plan)
    lengths = {str(line): float(end) for line, end in plan.runs.groupby("line_id", sort=False)["to_m"].max().items()}
    rails = {line: rails_of(plan, line) for line in lengths}
    found = {line: found_of(plan, line) for line in lengths}
    over = {line: max(over_m(rails[line]), found[line].over_m) for line in lengths}
    grounds = {
        line: ground_of(plan.profile[plan.profile["line_id"] == line], length, over_m=over[line])
        for line, length in lengths.items()
    }
    greatest = row_length_m(list(lengths.values()))
    times = exaggeration_of(list(grounds.values()), greatest)
    down = _head(paper, plan, times)
    for line_id, ground in grounds.items():
        section = _section(plan, line_id, ground, rows_of(ground, greatest, times), rails[line_id])
        section = replace(section, found=found[line_id])
        down = _line(paper, plan, places, section, down)
    paper.write(RULE, (LEFT_MM, down + 3.0), size=SMALL, colour=FAINT)
    return svg(paper, height_mm=down + 8.0)


def _section(plan: Plan, line_id: str, ground: Ground, rows: list[Row], rails: Rails | None) -> Section:
    bays = plan.bays["length_m"][plan.bays["line_id"] == line_id]
    thin = thinning((float(bays.median()) if len(bays) else 0.0) * rows[0].across)
    ticks = plan.posts["chainage_m"][(plan.posts["line_id"] == line_id) & (plan.posts["kind"] != "strainer")]
    return Section(
        line_id,
        ground,
        rows,
        standing(plan, line_id),
        to_mind(plan, line_id, ground),
        list(each(plan.runs[plan.runs["line_id"] == line_id])),
        ticks.to_numpy(dtype=float)[::thin],
        thin,
        list(each(plan.soils[plan.soils["line_id"] == line_id])),
        rails,
    )


def _head(paper: Paper, plan: Plan, times: float) -> float:
    heights = "as large as distances" if times == 1 else f"{times:g} times as large as distances"
    paper.write(fitted_text(plan.site.name, TITLE, 190.0, bold=True), (LEFT_MM, 10.0), size=TITLE, bold=True)
    paper.write(
        f"Long section · plan {plan_sha256(plan)[:LONG]}", (WIDTH_MM - RIGHT_MM, 10.0), align="right", colour=FAINT
    )
    scale = f"Heights are drawn {heights}. Chainage is horizontal, in metres from the line's start."
    paper.write(
        scale if _any_ground(plan) else "No elevation: heights and grades are not checked; the line is drawn flat.",
        (LEFT_MM, 15.5),
    )
    paper.write(DESK_STUDY, (LEFT_MM, 20.0), bold=True)
    return _key(paper, plan, 25.0)


def _any_ground(plan: Plan) -> bool:
    return bool(plan.profile["fitted_m"].notna().any())


def _key(paper: Paper, plan: Plan, down: float) -> float:
    """Draw the signs with their meaning, in as many rows as they need."""
    across, holds = LEFT_MM, holder(plan)
    kinds = set(plan.hazards["kind"])
    services, air = "buried service" in kinds, "tree limb" in kinds and plan.headroom["least_m"].notna().any()
    entries = (
        ("raster", "ground, from the raster"),
        ("fitted", "fitted grades"),
        ("post", "post"),
        *(RAILS if plan.posts["top_m"].notna().any() else ()),
        ("square", holds),
        ("corner", "corner"),
        ("gate", "gate"),
        ("crest", "break of grade"),
        *([("taken", "the same, taken by one")] if holds == "strainer" else []),
        *([("faint", "faint, may be noise")] if len(plan.faint_breaks) else []),
        ("hazard", "hazard"),
        *([("water", "water, its bed and banks")] if len(plan.crossings) else []),
        *([("slope", "side slope flagged")] if "side slope" in kinds else []),
        *([("service", "buried service: how deep is not known")] if services else []),
        *([("air", "least air under limbs, m, where flagged")] if air else []),
        ("unknown", "ground not known"),
    )
    for name, words in entries:
        wide = 10.6 + width_mm(words, SMALL)
        if across + wide > WIDTH_MM:
            across, down = LEFT_MM, down + 4.4
        middle = down - 1.0
        if name == "post":
            paper.line("post", ((across + 2.0, middle - 2.2), (across + 2.0, middle + 0.6)))
        elif name in {"raster", "fitted", "unknown", "rail", "under", "service", "air"}:
            paper.line(name, ((across - 1.0, middle), (across + 5.0, middle)))
        elif name in {"hazard", "water", "slope"}:
            paper.box(name, across - 1.0, middle - 1.8, across + 5.0, middle + 1.6)
        else:
            sign(paper, name, across + 2.0, middle)
        paper.write(words, (across + 6.5, down), size=SMALL)
        across += wide
    return down + 4.0


def _line(paper: Paper, plan: Plan, places: Places, section: Section, down: float) -> float:
    line = next(
        (drawn for drawn in plan.site.drawn if drawn.line_id in {section.line_id, section.line_id.rpartition(".")[0]}),
        None,
    )
    start, end = places.ends(section.line_id)
    kind = f", {line.kind}" if line else ""
    name = places.line(section.line_id)
    title = f"{name[:1].upper()}{name[1:]}{kind}, {metres(section.ground.length_m)}"
    down += 6.0
    paper.line("frame", ((LEFT_MM, down - 4.6), (WIDTH_MM - RIGHT_MM, down - 4.6)))
    course = f"from {start} to {end}"
    room = WIDTH_MM - RIGHT_MM - LEFT_MM - width_mm(course, SMALL) - 6.0
    paper.write(fitted_text(title, HEADING, room, bold=True), (LEFT_MM, down), size=HEADING, bold=True)
    paper.write(course, (WIDTH_MM - RIGHT_MM, down), size=SMALL, align="right")
    if section.thin > 1:
        down += 3.6
        paper.write(f"Every {_ordinal(section.thin)} post is drawn.", (LEFT_MM, down), size=SMALL, colour=FAINT)
    for row in section.rows:
        down = draw_row(paper, section, row, down + 3.0)
    return down


def _ordinal(count: int) -> str:
    ending = "th" if 10 <= count % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(count % 10, "th")
    return f"{count}{ending}"

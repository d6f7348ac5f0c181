"""The words beside the map: what the plan is, hazards and what was not checked side by side, runs, legend, cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.exports.answers import Answer, found_none, not_checked, title_of
from fencegis.exports.cautions import DESK_STUDY, cautions
from fencegis.exports.map.layers import hazard_facts
from fencegis.exports.map.legend import legend
from fencegis.exports.map.register import findings, means, three_answer_table
from fencegis.exports.page_text import literal
from fencegis.exports.plan_hash import LONG, plan_sha256
from fencegis.exports.positions import doubt_m, doubt_words
from fencegis.exports.words import Places, compass, counted, degrees, each, holder, metres, present

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd

    from fencegis.records.plan import Plan

NOTES_SHOWN = 60
URGENCY = {"doubt": 0, "seen": 1, "repair": 2, "default": 3}
NOTE_WORDS = {"seen": "Seen on the walk", "doubt": "Doubt", "default": "Taken for granted", "repair": "Mended"}
NO_HAZARD = "Nothing is flagged. That is not the same as nothing being there: see what was not checked."


def panel(plan: Plan) -> str:
    """Return the panel as HTML; every text from a file is shown as it is, and none of it is markup."""
    hazards, unchecked = plan.hazards["hazard_id"].nunique(), not_checked(plan)
    sections = (
        ("hazards", f"Hazards <b>{hazards}</b>", _hazards(plan)),
        ("unchecked", f"Not checked <b>{len(unchecked)}</b>", _unchecked(plan, unchecked)),
        ("runs", "Runs", _finder() + _runs(plan)),
        ("legend", "Legend", legend(plan)),
        ("cautions", "Cautions", _cautions(plan) + _notes(plan)),
    )
    tabs = "".join(
        f'<button type="button" aria-controls="look-{name}" aria-expanded="false">{title}</button>'
        for name, title, _ in sections
    )
    bodies = "".join(
        f'<section id="look-{name}" class="look"><h2>{title}</h2>{body}</section>' for name, title, body in sections
    )
    nav = f'<nav class="tabs" aria-label="Parts of the plan">{tabs}</nav>'
    return f'<aside class="panel">{_head(plan)}{nav}<div class="looks">{_glance(plan, unchecked)}{bodies}</div></aside>'


def _head(plan: Plan) -> str:
    level, ground = plan.runs["length_m"].sum(), plan.runs["ground_length_m"].sum()
    counts = ", ".join(
        (
            counted(len(plan.runs), "run"),
            counted(len(plan.gates), "gate"),
            counted(len(plan.strainers), holder(plan)),
            counted(len(plan.posts), "post"),
        )
    )
    day = f" · {plan.site.spec.date.isoformat()}" if plan.site.spec.date else ""
    number = f" · plan {plan_sha256(plan)[:LONG]}"
    return (
        f'<header class="head"><p class="over">Fence plan{day}{number}</p><h1><bdi>{literal(plan.site.name)}</bdi></h1>'
        f'<p class="sums"><strong>{metres(level)}</strong> horizontal, {metres(ground)} along the ground'
        f"<br>{counts}</p>"
        f'<p class="desk">{literal(DESK_STUDY)}</p></header>'
    )


def _glance(plan: Plan, unchecked: tuple[Answer, ...]) -> str:
    """Return hazards and what was not checked side by side, a line each."""
    hazards = plan.hazards.drop_duplicates("hazard_id")["kind"].value_counts(sort=False)
    flagged = [f"{count} × {literal(str(kind))}" for kind, count in hazards.items()] or ["nothing is flagged"]
    unknown = list(dict.fromkeys(literal(answer.kind) for answer in unchecked)) or ["see what the answers rest on"]
    columns = (("Hazards", plan.hazards["hazard_id"].nunique(), flagged), ("Not checked", len(unchecked), unknown))
    return (
        '<div class="glance">'
        + "".join(
            f"<div><h2>{title} <b>{count}</b></h2><ul>{''.join(f'<li>{row}</li>' for row in rows)}</ul></div>"
            for title, count, rows in columns
        )
        + "</div>"
    )


def _hazards(plan: Plan) -> str:
    """Return a card for each kind and advice, and in it each hazard with its stretches and what is known of it."""
    if not len(plan.hazards):
        return f'<p class="none">{NO_HAZARD}</p>{findings(plan)}'
    places, cards, told = Places(plan), [], set()
    for (kind, advice), rows in plan.hazards.groupby(["kind", "advice"], sort=False):
        listed = "".join(_hazard(places, hazard) for _, hazard in rows.groupby("hazard_id", sort=False))
        words = "" if kind in told else means(str(kind))  # once, however many cards a kind has
        told.add(kind)
        cards.append(
            f'<li><strong>{literal(title_of(str(kind)))}</strong><p class="do">{literal(str(advice))}</p>'
            f'{words}<ul class="each">{listed}</ul></li>'
        )
    return f'<ul class="cards">{"".join(cards)}</ul>{findings(plan)}'


def _hazard(places: Places, rows: pd.DataFrame) -> str:
    first = next(each(rows))
    stretches = "; ".join(
        f"{places.line(row.line_id)}, {metres(row.from_m)} to {metres(row.to_m)}" for row in each(rows)
    )
    facts = "".join(f"<dt>{literal(name)}</dt><dd>{literal(text)}</dd>" for name, text in hazard_facts(first))
    return (
        f'<li><button type="button" class="go" data-go="hazards:{first.Index}">{literal(first.hazard_id)}</button>'
        f"<p>{literal(_capital(stretches))}</p>"
        f"<details><summary>Distances, rule, what it rests on</summary><dl>{facts}</dl></details></li>"
    )


def _unchecked(plan: Plan, unchecked: tuple[Answer, ...]) -> str:
    walked = plan.site.spec.walked
    said = {name: getattr(walked, name) for name in type(walked).model_fields}
    seen = "".join(f"<li><b>{literal(name)}</b> {literal(str(text))}</li>" for name, text in said.items() if text)
    walk = (
        f'<h3>Walked</h3><ul class="plain">{seen}</ul>'
        if seen
        else '<p class="none">Nobody has said that the line was walked.</p>'
    )
    looked = found_none(plan)
    desk = f"<h3>Looked for in the data</h3>{_answers(looked)}" if looked else ""
    rest = "".join(f"<li>{literal(text)}</li>" for text in plan.not_computed)
    missing = (
        f'<details><summary>Not computed by this version</summary><ul class="plain">{rest}</ul></details>'
        if rest
        else ""
    )
    table = f"<h3>Three answers for every kind</h3>{three_answer_table(plan)}"
    return f"{_answers(unchecked)}{walk}{desk}{table}{missing}"


def _answers(answers: Iterable[Answer]) -> str:
    items = "".join(
        f"<li><strong>{literal(answer.kind)}</strong><p>{literal(_capital(answer.basis))}.</p>"
        f'<p class="where">{literal(_capital(answer.where))}</p></li>'
        for answer in answers
    )
    return f'<ul class="cards open">{items}</ul>'


def _finder() -> str:
    return (
        '<label class="find">Find a post, run, gate, strainer, hazard, crossing or tree'
        '<input id="find" type="search" autocomplete="off" spellcheck="false"></label>'
        '<p id="found-count" class="found-count" role="status"></p><ul id="found" class="found"></ul>'
    )


def _runs(plan: Plan) -> str:
    places, rows = Places(plan), []
    for run in each(plan.runs):
        bearing = (
            ""
            if not present(run.bearing_true_deg)
            else (f"{degrees(run.bearing_true_deg)} {compass(run.bearing_true_deg)}")
        )
        course = f"{places.at(run.line_id, run.from_m)} to {places.at(run.line_id, run.to_m)}"
        rows.append(
            f'<tr><th scope="row"><button type="button" class="go" data-go="runs:{run.Index}">{literal(run.run_id)}'
            f"</button></th><td>{literal(course)}</td><td>{metres(run.length_m)}</td><td>{bearing}</td></tr>"
        )
    return (
        '<table class="runs"><thead><tr><th scope="col">Run</th><th scope="col">From, to</th>'
        f'<th scope="col">Horizontal</th><th scope="col">Bearing, true</th></tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table>"
        f'<p class="small">Places on this map: {literal(doubt_words(doubt_m(plan.site)).replace("+-", "±"))}. '
        "The crew measures each run on the string; nothing is scaled off this map.</p>"
    )


def _cautions(plan: Plan) -> str:
    return "".join(
        f'<p class="caution"><strong>{literal(caution.about)}.</strong> '
        f'<span class="where">{literal(_capital(caution.where))}.</span> {literal(caution.text)}</p>'
        for caution in cautions(plan)
    )


def _notes(plan: Plan) -> str:
    if not len(plan.notes):
        return ""
    items = []
    worst_first = plan.notes.sort_values("severity", key=lambda said: said.map(URGENCY), kind="stable")
    for note in each(worst_first.head(NOTES_SHOWN)):
        place = f"line {note.line_id}" if present(note.line_id) else ""
        if place and present(note.chainage_m):
            place += f", {metres(note.chainage_m)}"
        head = f"{NOTE_WORDS.get(note.severity, note.severity)}{', ' + place if place else ''}"
        items.append(f"<li><b>{literal(head)}:</b> {literal(note.text)}</li>")
    more = len(plan.notes) - NOTES_SHOWN
    rest = f"<li>{counted(more, 'more note')} in plan.gpkg, layer notes.</li>" if more > 0 else ""
    return (
        f'<details><summary>Notes ({len(plan.notes)})</summary><ul class="plain">{"".join(items)}{rest}</ul></details>'
    )


def _capital(text: str) -> str:
    """Return the text with a capital first, unless a file's name comes first."""
    return text if ".geojson" in text.partition(" ")[0] else text[:1].upper() + text[1:]

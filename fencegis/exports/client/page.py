"""`client.html`: the words, figures and maps of `client.pdf` as a page for a phone, with no network and no script."""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING

from fencegis.exports.client import titles
from fencegis.exports.client.content import DESK, NO_BOUNDARY, content_of
from fencegis.exports.client.maps import maps_of
from fencegis.exports.client.svg import picture_svg, scene_svg, sign_svg
from fencegis.exports.client.terms import imagery_words
from fencegis.exports.page_text import literal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fencegis.exports.client.content import Content
    from fencegis.exports.client.maps import Maps
    from fencegis.exports.client.risks import Flagged, Looked
    from fencegis.records.plan import Plan

NAME = "client.html"
POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'"


def client_page(plan: Plan) -> bytes:
    """Return the client's page: one HTML file that asks for nothing and runs nothing."""
    content = content_of(plan)
    maps = maps_of(plan, content.flagged)
    body = "".join([_head(content, imagery_words(maps.picture)), _maps(maps), *_sections(content), _accept(content)])
    return whole(f"{content.site}: fence plan", body, "client.css")


def whole(title: str, body: str, style: str) -> bytes:
    """Return a page around `body`, which is HTML of ours, with a style of ours; `title` is text."""
    css = (files("fencegis.exports.client") / "templates" / style).read_text(encoding="utf-8")
    page = (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{literal(title)}</title><style>{css}</style></head><body>{body}</body></html>\n"
    )
    return page.encode("utf-8", "replace")


def _head(content: Content, under: str) -> str:
    return (
        f'<header><p class="plan">Plan <b>{literal(content.plan_digits)}</b>, {literal(content.date)}</p>'
        f'<h1>{literal(content.site)}</h1><p class="sum">{literal(content.headline)}</p>'
        f'<p class="not">{literal(NO_BOUNDARY)}</p>'
        f'<p class="small">{literal(content.prepared)} {literal(under)}</p></header><main>'
    )


def _maps(maps: Maps) -> str:
    pictures = "".join(
        picture_svg(scene, name)
        for name, scene in (("under-main", maps.main), ("under-narrow", maps.narrow), ("under-pair", maps.before))
    )
    store = f'<svg class="store" aria-hidden="true"><defs>{pictures}</defs></svg>' if pictures else ""
    before, after = (scene_svg(scene, under="under-pair") for scene in (maps.before, maps.after))
    return (
        f'{store}<section class="maps"><figure>{scene_svg(maps.main, under="under-main", look="wide")}'
        f"{scene_svg(maps.narrow, under='under-narrow', look='narrow')}"
        f'<ul class="key">{"".join(map(sign_svg, maps.key))}</ul></figure>'
        f'<div class="pair"><figure><figcaption>Before</figcaption>{before}</figure>'
        f"<figure><figcaption>After</figcaption>{after}</figure></div></section>"
    )


def _sections(content: Content) -> Iterable[str]:
    yield '<div class="words">'
    yield _section(titles.FENCE, _runs(content))
    if content.gates:
        yield _section(
            titles.GATES,
            _list(f"<b>{g.mark}</b> {literal(f'{g.name}, {g.run}: {g.width}; {g.leaf}')}" for g in content.gates),
        )
    if content.materials:
        yield _section(titles.MADE_OF, _pairs(content.materials))
    if content.trees:
        yield _section(titles.TREES, _trees(content) + _small(titles.TREES_LEAD))
    yield _section(titles.OLD_FENCE, _list(map(literal, content.old_fence)))
    lead = titles.FLAGGED_LEAD if content.flagged else titles.NOTHING_FLAGGED
    yield _section(titles.FLAGGED, _small(lead) + "".join(map(_flagged, content.flagged)), "flagged")
    yield _section(titles.UNLOOKED, _small(titles.UNLOOKED_LEAD) + _answers(content.unlooked, "boxes"), "unlooked")
    if content.looked:
        yield _section(titles.LOOKED, _small(titles.LOOKED_LEAD) + _answers(content.looked, "plain"))
    yield _section(titles.MAY_CHANGE, _list(map(literal, content.changes)))
    yield _section(titles.MONEY, _money(content), "money")
    yield _section(titles.DAYS, _pairs(content.days))
    yield _section(
        titles.WHO, "".join(f"<h3>{literal(who)}</h3>{_list(map(literal, what))}" for who, what in content.duties)
    )
    yield "</div>"


def _section(title: str, inside: str, look: str = "") -> str:
    return f'<section class="{look}"><h2>{literal(title)}</h2>{inside}</section>'


def _small(text: str) -> str:
    return f'<p class="small">{literal(text)}</p>'


def _list(items: Iterable[str], look: str = "plain") -> str:
    return f'<ul class="{look}">{"".join(f"<li>{item}</li>" for item in items)}</ul>'


def _pairs(pairs: Iterable[tuple[str, str]]) -> str:
    return "<dl>" + "".join(f"<dt>{literal(name)}</dt><dd>{literal(text)}</dd>" for name, text in pairs) + "</dl>"


def _runs(content: Content) -> str:
    rows = "".join(
        f'<tr><th scope="row">{run.number}</th><td>{literal(run.fence)}</td><td>{literal(run.heads)}</td>'
        f"<td>{literal(run.length)}</td></tr>"
        for run in content.runs
    )
    heads = "".join(f'<th scope="col">{name}</th>' for name in ("Run", "Fence", "Goes", "Length"))
    foot = f'<tr class="all"><td></td><td>all runs together</td><td></td><td>{literal(content.whole)}</td></tr>'
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{rows}{foot}</tbody></table>"


def _trees(content: Content) -> str:
    lots = []
    for lot in content.trees:
        names = "; ".join(lot.why) or ", ".join(lot.names)
        lots.append(f"<b>{literal(lot.what.capitalize())}:</b> {literal(names)}")
    return _list(lots)


def _flagged(hazard: Flagged) -> str:
    names = f" ({literal(hazard.names)})" if hazard.names else ""
    return (
        f'<article><h3><b class="letter">{hazard.letter}</b> {literal(hazard.title)}</h3>'
        f'<p class="where">{literal(hazard.places)}, {literal(hazard.where)}{names}</p><p>{literal(hazard.means)}</p>'
        f'<p class="does"><b>{literal(hazard.who)}:</b> {literal(hazard.does)}</p></article>'
    )


def _answers(answers: Iterable[Looked], look: str) -> str:
    return _list(
        (
            f"<b>{literal(answer.what)}</b>: {literal(answer.where)}; <small>{literal(answer.basis)}</small>"
            for answer in answers
        ),
        look,
    )


def _money(content: Content) -> str:
    blank = f'<span class="blank">{titles.NOT_COMPUTED}</span>'
    parts = "".join(
        f"<dt>{literal(each.kind)}</dt><dd>{f'<b>{literal(each.amount)}</b>. ' if each.amount else ''}"
        f"{literal(each.means)}{'' if each.amount else blank}</dd>"
        for each in content.money
    )
    sums = "".join(f"<dt>{literal(name)}</dt><dd><b>{literal(amount)}</b></dd>" for name, amount in content.totals)
    open_ = f"<p><b>{literal(content.not_priced)}</b></p>" if content.not_priced else ""
    left_out = _list(map(literal, content.exclusions))
    return f"{_small(content.money_lead)}<dl>{parts}{sums}</dl>{open_}<h3>{titles.EXCLUDED}</h3>{left_out}"


def _accept(content: Content) -> str:
    said = "".join(
        f"<p>{f'<b>{literal(text)}</b>' if text == NO_BOUNDARY else literal(text)}</p>" for text in content.accepts
    )
    lines = "".join(f'<span class="blank">{name}</span>' for name in ("Name", "Signature", "Date"))
    signed = "".join(
        f'<div class="signed"><h3>{who}</h3>{lines}</div>' for who in ("For the client", "For the contractor")
    )
    return (
        f'<section class="accept"><h2>Acceptance <small>plan {literal(content.plan_digits)}</small></h2>{said}'
        f'<div class="pair">{signed}</div></section></main><footer>{literal(DESK)}</footer>'
    )

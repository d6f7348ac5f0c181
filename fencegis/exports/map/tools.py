"""The tools beside the map: the strip of buttons, the long section's frame, and the sheet that is printed to scale."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.exports.cautions import DESK_STUDY, NO_BOUNDARY, cautions
from fencegis.exports.page_text import literal
from fencegis.exports.plan_hash import LONG, plan_sha256
from fencegis.exports.positions import doubt_m, doubt_words
from fencegis.exports.words import Places

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

SCALES = (200, 500, 1000, 1250, 2000, 2500, 4000, 5000, 7500, 10_000, 15_000, 20_000, 25_000, 50_000, 100_000)
SPANS_M = (1000, 500, 200, 100)
BUTTONS = (
    ("find", "Find", 'aria-controls="look-runs"'),
    ("tape", "Tape", 'aria-pressed="false"'),
    ("here", "Where am I", 'aria-pressed="false"'),
    ("grid", "East, north", 'aria-pressed="false"'),
    ("section", "Long section", 'aria-expanded="false" aria-controls="section"'),
    ("paper", "Print to scale", 'aria-expanded="false" aria-controls="paper"'),
)
PICTURED = "Nobody has said on what day the aerial picture was taken."
NO_PICTURE = "No aerial picture came with the site's files."
KEYS = "Keys: arrows post by post, Page keys mark by mark, Enter takes the map there."


def tools(plan: Plan, *, pictured: bool) -> str:
    """Return the strip of tools, the long section's frame and the printed sheet's words as HTML.

    `pictured` says whether an aerial picture lies under the map.
    """
    buttons = "".join(
        f'<button type="button" data-tool="{name}" {more}>{words}</button>' for name, words, more in BUTTONS
    )
    return (
        f'<nav class="tools" aria-label="Tools of the map">{buttons}</nav>'
        f"{_section(plan)}{_paper()}{_sheet(plan, pictured=pictured)}"
    )


def _section(plan: Plan) -> str:
    places = Places(plan)
    lines = "".join(
        f'<option value="{place}">{literal(places.line(str(line_id)))}</option>'
        for place, line_id in enumerate(plan.runs["line_id"].drop_duplicates())
    )
    spans = "".join(f'<option value="{span}">{span} m</option>' for span in SPANS_M)
    return (
        '<section id="section" class="section" aria-label="Long section" hidden><div class="section-head">'
        f'<label>Of <select id="section-line">{lines}</select></label>'
        f'<label>Shown <select id="section-span"><option value="0">all of it</option>{spans}</select></label>'
        '<p id="section-says" class="section-says">Point at the section, or at the line on the map.</p></div>'
        '<canvas id="section-drawing" tabindex="0" role="slider" aria-label="Place along the line" aria-valuemin="0" '
        f'aria-valuemax="0" aria-valuenow="0" aria-describedby="section-keys"></canvas>'
        f'<p class="small section-scale"><span id="section-scale"></span> <span id="section-keys">{KEYS}</span></p>'
        "</section>"
    )


def _paper() -> str:
    scales = "".join(f'<option value="{scale}">1:{scale:,}</option>'.replace(",", "\u202f") for scale in SCALES)
    return (
        '<form id="paper" class="paper-form" aria-label="Print to scale" hidden>'
        '<label>Paper <select id="paper-way"><option value="landscape">A4, lying</option>'
        '<option value="portrait">A4, upright</option></select></label>'
        f'<label>Scale <select id="paper-scale">{scales}</select></label>'
        '<button type="submit">Print</button><button type="button" id="paper-back">Back to the map</button>'
        '<p id="paper-says" role="status"></p></form>'
    )


def _sheet(plan: Plan, *, pictured: bool) -> str:
    day = f"{plan.site.spec.date.isoformat()} · " if plan.site.spec.date else ""
    listed = "".join(f"<li><b>{literal(caution.about)}</b> {literal(caution.where)}</li>" for caution in cautions(plan))
    doubt = doubt_words(doubt_m(plan.site)).replace("+-", "±")
    return (
        '<section class="sheet" aria-label="Words of the printed sheet" hidden>'
        f'<div class="sheet-title"><h2><bdi>{literal(plan.site.name)}</bdi></h2>'
        f"<p>Fence plan · {day}plan {plan_sha256(plan)[:LONG]}</p>"
        '<p id="sheet-scale"></p><div id="sheet-bar" class="bar" aria-hidden="true"></div>'
        f"<p>Places: {literal(doubt)}. Nothing is scaled off this sheet to build by. "
        f"{PICTURED if pictured else NO_PICTURE}</p>"
        f"<p><b>{literal(DESK_STUDY)} {literal(NO_BOUNDARY)}</b></p></div>"
        '<div class="sheet-legend" id="sheet-legend"></div>'
        f'<div class="sheet-cautions"><h3>Cautions, in full on the other sheets</h3><ul>{listed}</ul></div></section>'
    )

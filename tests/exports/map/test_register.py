"""The register beside the map."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from typing import TYPE_CHECKING

from fencegis.exports.answers import KINDS
from fencegis.exports.hazard_pages import hazard_pages
from fencegis.exports.map.panel import panel
from fencegis.exports.map.register import findings, means, three_answer_table

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def _text(html: str) -> str:
    return unescape(re.sub(r"<[^>]+>", " ", html))


def test_every_kind_that_is_flagged_has_its_page_of_words_once(register_plan: Plan) -> None:
    page = panel(register_plan)
    assert page.count("What this flag means") == register_plan.hazards["kind"].nunique()
    for kind in register_plan.hazards["kind"].unique():
        assert means(kind) in page
    assert hazard_pages()["side slope"].marked in _text(means("side slope"))
    assert means("a kind that nobody wrote of") == ""


def test_the_three_answers_are_a_row_for_every_kind(register_plan: Plan) -> None:
    table = three_answer_table(register_plan)
    rows = dict(re.findall(r'<tr><th scope="row">([^<]+)</th>(.*?)</tr>', table))
    assert list(rows) == list(KINDS.values())
    cells = {name: re.findall(r"<td>([^<]*)</td>", row) for name, row in rows.items()}
    assert cells["Overhead power lines"] == ["32", "148", "–"]
    assert cells["Creeks and drains"] == ["10", "–", "170"]


def test_findings_are_listed_and_lead_to_their_places(register_plan: Plan) -> None:
    page = findings(register_plan)
    for layer, count in (("crossings", 1), ("trees", 4), ("headroom", 2), ("access", 1)):
        assert sorted(re.findall(rf'data-go="{layer}:(\d+)"', page)) == [str(place) for place in range(count)]
    text = " ".join(_text(page).split())
    assert "swinging panel; span 10.0 m, drop 1.5 m, 71° to the flow" in text
    assert (
        text.index("T01 to go") < text.index("T02 to limb") < text.index("T04 to look at") < text.index("T03 to keep")
    )
    assert "Line A, left, dense: 20 m² covered." in text or "Line A, left, dense: 21 m² covered." in text
    assert "H9 keep-out, line B" in text
    assert "NOT KEPT services.geojson" in text
    assert "post A025 stands 0.35 m off, 0.61 m asked" in text
    assert findings(replace(register_plan, trees=register_plan.trees.iloc[:0])).count("<details>") == 6


def test_nothing_from_a_file_becomes_markup(register_plan: Plan) -> None:
    page = findings(register_plan) + panel(register_plan)
    assert "<b>North</b>" not in page
    assert "${1+1}" not in page
    assert "&lt;/script&gt;&lt;b&gt;North&lt;/b&gt;" in findings(register_plan)


def test_cautions_stand_in_the_panel_with_their_places(register_plan: Plan) -> None:
    text = " ".join(_text(panel(register_plan)).split())
    assert "Water. Flagged: H8, line B 5.0 m to 15.0 m; not checked: all the rest. A crossing rises" in text

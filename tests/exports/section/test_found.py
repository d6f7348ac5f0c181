"""Crossings, services, side slopes and the air under limbs on the long section."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from fencegis.exports.section.found import BELOW_GROUND_MM, Found, draw_found, found_of
from fencegis.exports.section.long_section import section_drawing
from fencegis.exports.section.marks import to_mind
from fencegis.exports.section.paper import Paper
from fencegis.exports.section.scales import Row, ground_of

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

SVG = "{http://www.w3.org/2000/svg}"
ROW = Row(0.0, 100.0, 600.0, 610.0, across=2.0, up=4.0)


def _words(plan: Plan) -> list[str]:
    return [text.text or "" for text in ET.fromstring(section_drawing(plan)).iter(f"{SVG}text")]


def test_air_is_told_where_limbs_are_flagged_and_known(register_plan: Plan) -> None:
    assert found_of(register_plan, "A").air == ((78.0, 86.0, 2.4),)
    unflagged = register_plan.hazards[register_plan.hazards["kind"] != "tree limb"]
    assert found_of(replace(register_plan, hazards=unflagged), "A").air == ()
    assert found_of(register_plan, "A").over_m == 2.4
    assert Found().over_m == 0.0


def test_crossings_and_services_stand_on_their_own_line(register_plan: Plan) -> None:
    found = found_of(register_plan, "B")
    assert (found.banks, found.beds, found.services) == ((5.0, 15.0), (10.0,), ())
    assert found_of(register_plan, "A").services == ((45.0, 60.0),)


def test_everything_is_drawn_to_scale() -> None:
    paper, found = Paper(), Found(((20.0, 40.0, 2.5),), (50.0, 56.0), (53.0,), ((60.0, 200.0),))
    draw_found(paper, found, ROW, lambda _: 80.0)
    (air,) = paper.lines["air"]
    assert list(air) == [(ROW.right_mm(20.0), 70.0), (ROW.right_mm(40.0), 70.0)]  # 2.5 m at 4 mm a metre
    assert [word.text for word in paper.words] == ["2.5"]
    (service,) = paper.lines["service"]
    assert service[0] == (ROW.right_mm(60.0), 80.0 + BELOW_GROUND_MM)
    assert service[-1][0] == pytest.approx(ROW.right_mm(100.0))  # cut at the row's edge
    assert [line[0][0] for line in paper.lines["bank"]] == [ROW.right_mm(50.0), ROW.right_mm(56.0)]
    assert len(paper.shapes["bed"]) == 1


def test_of_numbers_that_would_meet_the_least_is_told() -> None:
    paper = Paper()
    draw_found(paper, Found(((20.0, 21.0, 2.0), (21.0, 22.0, 1.5), (60.0, 70.0, 3.0))), ROW, lambda _: 80.0)
    assert [word.text for word in paper.words] == ["1.5", "3.0"]
    assert len(paper.lines["air"]) == 3


def test_flags_are_told_in_few_words(register_plan: Plan) -> None:
    words = _words(register_plan)
    for said in (
        "H8 X1 swinging panel, span 10.0\u00a0m, drop 1.5\u00a0m",
        "H7 side slope 9.0° to the left",
        "H6 survey mark",
        "side slope flagged",
        "water, its bed and banks",
        "buried service: how deep is not known",
        "least air under limbs, m, where flagged",
    ):
        assert said in words


def test_a_side_slope_leaves_the_profile_to_be_seen(register_plan: Plan) -> None:
    ground = ground_of(register_plan.profile[register_plan.profile["line_id"] == "A"], 120.0)
    kinds = {mark.text.split(" ")[0]: mark.kind for mark in to_mind(register_plan, "A", ground) if mark.text}
    assert (kinds["H1"], kinds["H4"], kinds["H7"]) == ("hazard", "service", "slope")


def test_the_key_has_no_sign_that_is_not_drawn(small_plan: Plan) -> None:
    words = _words(small_plan)
    assert "side slope flagged" not in words
    assert not any(text.startswith(("water,", "buried service", "least air")) for text in words)

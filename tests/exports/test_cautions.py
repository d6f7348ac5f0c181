"""Cautions: those that always hold, and those that the plan gives cause for."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from fencegis.exports.cautions import ALWAYS, DESK_STUDY, NO_BOUNDARY, cautions

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def _about(plan: Plan) -> list[str]:
    return [caution.about for caution in cautions(plan)]


def _with_spec(plan: Plan, **fence: object) -> Plan:
    spec = plan.site.spec.model_copy(update={"fence": plan.site.spec.fence.model_copy(update=fence)})
    return replace(plan, site=replace(plan.site, spec=spec))


def test_what_always_holds_is_always_there_and_comes_first(small_plan: Plan) -> None:
    said = cautions(small_plan)
    assert set(ALWAYS) <= set(said)
    assert said[0].text.startswith(DESK_STUDY)
    assert said[1].text.startswith(NO_BOUNDARY)


def test_a_flagged_line_says_ask_its_owner_and_no_flag_says_look_up(small_plan: Plan) -> None:
    without = replace(small_plan, hazards=small_plan.hazards[small_plan.hazards["kind"] == "tree limb"])
    for plan, words in ((small_plan, "Ask its owner"), (without, "Look up along the whole line")):
        (overhead,) = [caution for caution in cautions(plan) if caution.about == "Overhead lines"]
        assert words in overhead.text


def test_trees_give_cause_when_nobody_looked(small_plan: Plan) -> None:
    nobody = replace(small_plan, hazards=small_plan.hazards.iloc[:0], site=replace(small_plan.site, trees=None))
    assert "Trees and limbs" in _about(nobody)


@pytest.mark.parametrize(
    ("method", "about"), [("driven", "Post driving"), ("bored", "Open holes"), ("dug", "Open holes")]
)
def test_the_way_posts_are_set_decides(small_plan: Plan, method: str, about: str) -> None:
    said = _about(_with_spec(small_plan, post_set=method))
    assert about in said
    assert ({"Post driving", "Open holes"} - {about}).isdisjoint(said)


def test_wire_anywhere_warns_of_tension(small_plan: Plan) -> None:
    rails = replace(small_plan, site=replace(small_plan.site, drawn=small_plan.site.drawn[:1]))
    assert "Wire under tension" in _about(small_plan)
    assert "Wire under tension" not in _about(rails)


def test_missing_ground_is_said(small_plan: Plan) -> None:
    known = replace(small_plan, profile=small_plan.profile.dropna(subset="fitted_m"))
    assert "Ground heights" in _about(small_plan)
    assert "Ground heights" not in _about(known)
    assert "Ground heights" in _about(replace(known, site=replace(known.site, terrain=None)))


def test_nothing_said_is_a_permission(small_plan: Plan) -> None:
    words = " ".join(caution.text for caution in cautions(small_plan)).lower()
    assert not any(word in words for word in (" is safe", " are safe", "is clear", "may be driven", "you can "))

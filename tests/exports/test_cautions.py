"""Cautions: those that always hold, and those that the plan gives cause for."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pandas as pd
import pytest

from fencegis.exports.answers import KINDS
from fencegis.exports.caution_places import WHOLE_FENCE, by_kinds
from fencegis.exports.cautions import BY_KIND, DESK_STUDY, NO_BOUNDARY, ON_EVERY_PLAN, cautions
from fencegis.records.tables import checked

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def _about(plan: Plan) -> list[str]:
    return [caution.about for caution in cautions(plan)]


def _with_spec(plan: Plan, **fence: object) -> Plan:
    spec = plan.site.spec.model_copy(update={"fence": plan.site.spec.fence.model_copy(update=fence)})
    return replace(plan, site=replace(plan.site, spec=spec))


def test_what_always_holds_is_always_there_and_comes_first(small_plan: Plan) -> None:
    said = cautions(small_plan)
    assert {caution.text for caution in ON_EVERY_PLAN} <= {caution.text for caution in said}
    assert said[0].text.startswith(DESK_STUDY)
    assert said[1].text.startswith(NO_BOUNDARY)


def test_a_flagged_line_says_ask_its_owner_and_no_flag_says_look_up(small_plan: Plan) -> None:
    without = replace(small_plan, hazards=small_plan.hazards[small_plan.hazards["kind"] == "tree limb"])
    for plan, words in ((small_plan, "Ask its owner"), (without, "Look up along the whole line")):
        (overhead,) = [caution for caution in cautions(plan) if caution.about == "Overhead lines"]
        assert words in overhead.text


def test_each_says_where_it_holds_and_why(register_plan: Plan) -> None:
    where = {caution.about: caution.where for caution in cautions(register_plan)}
    assert all(where.values())
    assert where["Boundary"] == WHOLE_FENCE
    assert where["Overhead lines"].startswith(
        "flagged: H1, H3, line A 12.0\u00a0m to 31.5\u00a0m; line B 48.0\u00a0m to"
    )
    assert where["Buried services"] == "flagged: H4, line A 45.0\u00a0m to 60.0\u00a0m; not checked: all the rest"
    assert where["Water"] == "flagged: H8, line B 5.0\u00a0m to 15.0\u00a0m; not checked: all the rest"
    assert where["Post driving"] == f"driven: {WHOLE_FENCE}"
    assert where["Wire under tension"] == "wire: all of line B"
    assert where["Road side"] == "gates: G1, line A 24.0\u00a0m"
    assert where["Ground heights"] == "not checked: line A 96.0\u00a0m to 110.0\u00a0m"


def test_every_kind_of_hazard_gives_rise_to_a_caution_of_its_own(register_plan: Plan) -> None:
    told = {kind for _, kinds in BY_KIND for kind in kinds} | {"overhead power", "overhead phone", "buried service"}
    assert told == set(KINDS)
    for caution, kinds in BY_KIND:
        assert caution.about in _about(register_plan)
        for kind in kinds:
            assert by_kinds(register_plan, (kind,))[0].status == "flagged"


def test_a_kind_that_was_looked_for_and_not_found_gives_no_cause_but_the_gravest_are_said_all_the_same(
    small_plan: Plan,
) -> None:
    rows = [
        {"line_id": line, "from_m": 0.0, "to_m": end, "kind": kind, "status": "clear", "basis": "none found, walked"}
        for line, end in (("A", 120.0), ("B", 60.0))
        for kind in KINDS
    ]
    checks = checked("checks", pd.DataFrame(rows))
    where = {
        caution.about: caution.where
        for caution in cautions(replace(small_plan, hazards=small_plan.hazards.iloc[:0], checks=checks))
    }
    assert {"Places to keep out of", "Survey marks", "Water", "Trunks and roots"}.isdisjoint(where)
    for about in ("Overhead lines", "Trees and limbs", "Side slope", "Buried services"):
        assert where[about] == "nothing flagged in the data: look all the same"


def test_posts_that_are_set_in_two_ways_have_both_cautions_where_they_stand(small_plan: Plan) -> None:
    posts = small_plan.posts
    bored = (posts["line_id"] == "A") & (posts["chainage_m"] > 72.0)
    mixed = replace(small_plan, posts=posts.assign(set_by=bored.map({True: "bored", False: "driven"})))
    where = {caution.about: caution.where for caution in cautions(mixed)}
    after = posts.loc[bored, "chainage_m"].min()
    edge = f"{(72.0 + after) / 2.0:.1f}\u00a0m"
    assert where["Open holes"] == f"bored: line A {edge} to 120.0\u00a0m"
    assert where["Post driving"] == f"driven: all of line B; line A 0.0\u00a0m to {edge}"


def test_the_heaviest_post_is_named_where_masses_are_known(small_plan: Plan) -> None:
    heavy = replace(
        small_plan, posts=small_plan.posts.assign(mass_kg=[40.0, 125.4, *[50.0] * (len(small_plan.posts) - 2)])
    )
    where = {caution.about: caution.where for caution in cautions(heavy)}
    assert where["Lifting"].startswith(f"heaviest: 125\u00a0kg, post {small_plan.posts['post_id'].iloc[1]}, line A")


def test_state_guidance_on_drivers_is_cited_as_it_was_seen(small_plan: Plan) -> None:
    (driving,) = [caution for caution in cautions(small_plan) if caution.about == "Post driving"]
    assert "Post Drivers – Industry Safety Standard (New South Wales 2009; Victoria" in driving.text
    assert "only their contents pages were seen" in driving.text
    assert "Nobody holds a post under a hammer" in driving.text


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

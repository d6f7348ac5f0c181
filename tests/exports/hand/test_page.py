"""The page that goes with the waypoints."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.exports.hand.budget import budget, budget_lines
from fencegis.exports.hand.files import post_files, waypoint_files
from fencegis.exports.hand.page import hand_page
from fencegis.exports.plan_hash import plan_sha256
from fencegis.exports.positions import operation

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def page(plan: Plan, *, posts: bool = False) -> str:
    return hand_page(plan, [*waypoint_files(plan), *(post_files(plan) if posts else [])]).decode()


def test_it_is_one_page_and_says_first_what_the_marks_are_not(register_plan: Plan, read_back) -> None:
    for plan in (register_plan, read_back.with_handheld(register_plan, kind="6 letters", points=50, points_in_all=50)):
        lines = page(plan, posts=True).splitlines()
        assert lines[0] == "not a boundary; for finding, not for marking"
        assert len(lines) <= 66  # of a page of text
        assert max(map(len, lines)) <= 100


def test_it_says_what_not_to_do_with_a_handheld(register_plan: Plan) -> None:
    text = " ".join(page(register_plan).split())
    for words in (
        "Setting out. No post, hole, string or gate is marked from it",
        "Only a licensed surveyor marks a boundary.",
        "Wires, cables and pipes. It finds none and shows no distance to any",
        "Taking no mark for an answer.",
        "Flags not in this file but in the register: 1 of survey mark.",
    ):
        assert words in text


def test_it_has_the_budget_the_counts_and_the_plans_digits(register_plan: Plan) -> None:
    text = " ".join(page(register_plan, posts=True).split())
    used = operation(register_plan, "EPSG:4326", name="WGS 84")
    assert all(line in text for line in budget_lines(budget(register_plan, used=used), used))
    assert "waypoints.gpx: 27 waypoints, A01E to B11H" in text
    assert "posts.gpx: 66 waypoints, A01P to B12P. NOT FOR SET-OUT; load them by themselves" in text
    assert f"Plan {plan_sha256(register_plan)[:12]}." in text
    assert f"first 6 digits, {plan_sha256(register_plan)[:6]}." in text


def test_a_unit_that_does_not_hold_all_is_loaded_in_turns(register_plan: Plan, read_back) -> None:
    plan = read_back.with_handheld(register_plan, kind="6 letters", points=50, points_in_all=50)
    text = " ".join(page(plan, posts=True).split())
    assert "Load 1: waypoints.gpx" in text
    assert "Load 2: posts_2.gpx" in text
    assert "Names have at most 6 letters and digits" in text
    assert "Symbols:" not in text
    assert "Load 1" not in page(register_plan)


def test_hostile_text_stays_on_its_line_and_is_no_markup(small_plan: Plan) -> None:
    import dataclasses

    plan = dataclasses.replace(small_plan, site=dataclasses.replace(small_plan.site, name="<b>x</b>\nPERMIT"))
    assert "Waypoints of ‹b›x‹/b› PERMIT. Plan" in page(plan)

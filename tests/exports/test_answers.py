"""What was not checked, in words."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fencegis.exports.answers import (
    KINDS,
    NOT_LOOKED,
    found_none,
    not_checked,
    three_answers,
    unchecked_stretches,
    where,
)

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

LINES = {"A": (0.0, 120.0), "B": (0.0, 60.0)}


def test_a_kind_that_no_check_speaks_of_was_not_looked_at_anywhere(small_plan: Plan) -> None:
    bare = replace(small_plan, checks=small_plan.checks.iloc[:0])
    answers = not_checked(bare)
    assert [answer.kind for answer in answers] == list(KINDS.values())
    assert {(answer.basis, answer.where) for answer in answers} == {(NOT_LOOKED, "the whole fence")}


def test_the_stretches_that_a_check_leaves_out_are_named(small_plan: Plan) -> None:
    answers = {(answer.kind, answer.basis): answer.where for answer in not_checked(small_plan)}
    assert (
        answers["Trees and limbs", NOT_LOOKED] == "line A 0.0\u00a0m to 80.0\u00a0m; line A 84.0\u00a0m to 120.0\u00a0m"
    )
    assert answers["Trees and limbs", "no trees.geojson"] == "all of line B"
    assert answers["Side slope", "no ground heights here"] == "line A 96.0\u00a0m to 110.0\u00a0m"
    assert not any(kind == "Overhead power lines" for kind, _ in answers)


def test_none_found_is_told_with_what_it_rests_on_and_never_as_clear(small_plan: Plan) -> None:
    (answer,) = found_none(small_plan)
    assert answer.kind == "Overhead power lines"
    assert answer.basis == "none found in overhead.geojson (2 features), not walked"
    assert "clear" not in f"{answer.basis} {answer.where}"


def test_stretches_that_touch_are_one_and_whole_lines_are_called_so() -> None:
    assert where([("A", 0.0, 50.0), ("A", 50.0, 120.0)], LINES) == "all of line A"
    assert where([("A", 0.0, 120.0), ("B", 0.0, 60.0)], LINES) == "the whole fence"
    assert where([("B", 20.0, 30.0), ("B", 10.0, 20.0)], LINES) == "line B 10.0\u00a0m to 30.0\u00a0m"


def test_a_long_list_of_stretches_is_cut_and_counted() -> None:
    many = [("A", 10.0 * piece, 10.0 * piece + 5.0) for piece in range(9)]
    assert where(many, LINES).endswith("; and 3 more stretches")


def test_the_three_answers_share_out_every_metre_of_fence(register_plan: Plan) -> None:
    shares = {share.kind: share for share in three_answers(register_plan)}
    assert list(shares) == list(KINDS)
    for share in shares.values():
        assert share.flagged_m + share.none_found_m + share.not_checked_m >= 180.0 - 1e-6
    power = shares["overhead power"]
    assert (power.flagged_m, power.none_found_m, power.not_checked_m) == (31.5, 148.5, 0.0)
    assert power.none_found == ("none found in overhead.geojson (2 features), not walked",)
    water = shares["crossing"]
    assert (water.flagged_m, water.none_found_m, water.not_checked_m) == (10.0, 0.0, 170.0)
    assert water.unchecked == (NOT_LOOKED,)


def test_a_layer_taken_away_moves_metres_to_not_checked_and_never_to_none_found(small_plan: Plan) -> None:
    without = replace(small_plan, checks=small_plan.checks[small_plan.checks["kind"] != "overhead power"])
    before, after = (three_answers(plan)[0] for plan in (small_plan, without))
    assert before.none_found_m > 0.0
    assert (after.none_found_m, after.not_checked_m) == (0.0, 180.0)


def test_stretches_that_nobody_looked_at_by_kind(small_plan: Plan) -> None:
    assert unchecked_stretches(small_plan, ["overhead power"]) == []
    assert unchecked_stretches(small_plan, ["crossing"]) == [("A", 0.0, 120.0), ("B", 0.0, 60.0)]

"""What was not checked, in words."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fencegis.exports.map_checks import KINDS, NOT_LOOKED, found_none, not_checked, where

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

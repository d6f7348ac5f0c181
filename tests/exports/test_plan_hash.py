"""The plan's hash changes with what is printed, and with nothing else."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import pandas as pd
import shapely

from fencegis.exports.plan_hash import plan_sha256, reckoned_once

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def test_same_plan_same_hash(small_plan: Plan) -> None:
    assert plan_sha256(small_plan) == plan_sha256(dataclasses.replace(small_plan))
    assert len(plan_sha256(small_plan)) == 64


def test_less_than_is_printed_does_not_count(small_plan: Plan) -> None:
    posts = small_plan.posts.assign(ground_m=small_plan.posts["ground_m"] + 1e-7)
    assert plan_sha256(dataclasses.replace(small_plan, posts=posts)) == plan_sha256(small_plan)


def test_a_millimetre_a_word_a_place_a_row_and_an_empty_cell_count(small_plan: Plan) -> None:
    posts = small_plan.posts
    shifted = shapely.transform(posts.geometry.to_numpy(), lambda points: points + 0.001)
    changed = [
        {"posts": posts.assign(tape_m=posts["tape_m"] + 0.001)},
        {"posts": posts.assign(geometry=shifted)},
        {"posts": posts.iloc[:-1]},
        {"posts": posts.assign(top_m=0.0)},
        {"notes": small_plan.notes.assign(text="other words")},
    ]
    hashes = {plan_sha256(small_plan), *(plan_sha256(dataclasses.replace(small_plan, **one)) for one in changed)}
    assert len(hashes) == len(changed) + 1


def test_reckoned_once_gives_the_same_and_forgets_it(small_plan: Plan) -> None:
    plan = dataclasses.replace(small_plan, notes=small_plan.notes.copy())
    before = plan_sha256(plan)
    with reckoned_once(plan) as digits:
        assert digits == plan_sha256(plan) == before
    plan.notes.loc[0, "text"] = "edited afterwards"
    assert plan_sha256(plan) != before
    pd.testing.assert_frame_equal(small_plan.notes.iloc[1:], plan.notes.iloc[1:])

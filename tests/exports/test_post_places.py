"""Between which posts a stretch lies."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from fencegis.exports.post_places import PostPlaces

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def test_the_posts_named_never_stand_inside_the_stretch(small_plan: Plan) -> None:
    posts, at = PostPlaces(small_plan), small_plan.posts.set_index("post_id")["chainage_m"]
    for begin, end in ((12.0, 31.5), (80.0, 84.0), (24.0, 27.84), (0.0, 120.0), (50.1, 50.2)):
        first, last = posts.between("A", begin, end)
        assert at[first] <= begin + 0.05
        assert at[last] >= end - 0.05
        nearer = at[(small_plan.posts.set_index("post_id")["line_id"] == "A") & (at > at[first]) & (at < at[last])]
        assert ((nearer > begin) & (nearer < end)).all()


def test_a_stem_begins_at_the_post_of_the_line_that_it_joins(small_plan: Plan) -> None:
    junction = small_plan.posts.loc[small_plan.posts["node_id"] == "N1", "post_id"].iloc[0]
    posts = PostPlaces(small_plan)
    assert posts.between("B", 0.0, 3.0) == (junction, "B001")
    assert posts.near("B", 1.0) == junction
    assert posts.near("B", 4.0) == "B001"
    assert posts.words("B", 0.0, 3.0) == f"posts {junction} to B001, 0.0\u00a0m to 3.0\u00a0m"


@pytest.mark.parametrize("line", ["A", "nowhere"])
def test_without_posts_a_stretch_goes_by_its_metres(small_plan: Plan, line: str) -> None:
    bare = PostPlaces(replace(small_plan, bays=small_plan.bays.iloc[:0]))
    assert bare.between(line, 1.0, 2.0) == ("", "")
    assert bare.words(line, 1.0, 2.0) == "1.0\u00a0m to 2.0\u00a0m"
    assert bare.near(line, 1.0) == ""

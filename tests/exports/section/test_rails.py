"""Rails on the long section."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis.exports.section.long_section import section_drawing
from fencegis.exports.section.paper import PENS, Paper
from fencegis.exports.section.rails import draw_rails, over_m, post_heads, rails_of
from fencegis.exports.section.scales import Row
from fencegis.layout.rail_rows import bottom_drop_m

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

ROW = Row(20.0, 90.0, 600.0, 630.0, 2.0, 4.0)


@pytest.fixture
def railed(small_plan: Plan) -> Plan:
    """Line A with its top rail 1.2 m over the ground, where that is known."""
    posts = small_plan.posts
    top = np.where((posts["line_id"] == "A") & posts["ground_m"].notna(), 1.2, np.nan)
    return replace(small_plan, posts=posts.assign(top_m=top))


def test_a_line_without_tops_has_no_rails(small_plan: Plan) -> None:
    assert rails_of(small_plan, "A") is None
    assert over_m(None) == 0.0
    paper = Paper()
    draw_rails(paper, None, ROW, lambda height: height)
    assert not paper.lines


def test_rails_stand_over_the_ground_and_neither_over_a_gate_nor_over_unknown_ground(railed: Plan) -> None:
    rails = rails_of(railed, "A")
    assert rails is not None
    assert over_m(rails) == pytest.approx(1.2)
    assert not ((rails.from_m < 26.0) & (rails.to_m > 26.0)).any()
    assert not ((rails.from_m < 103.0) & (rails.to_m > 103.0)).any()
    (first,) = np.flatnonzero(rails.from_m == 0.0)
    ground = railed.posts["ground_m"].iloc[0]
    assert rails.from_level_m[first] == pytest.approx(ground + 1.2)


def test_both_lines_are_drawn_and_cut_off_at_the_edges_of_a_strip(railed: Plan) -> None:
    paper, rails = Paper(), rails_of(railed, "A")
    draw_rails(paper, rails, ROW, lambda height: -height)
    across = np.array([point[0] for line in paper.lines["rail"] for point in line])
    assert across.min() == pytest.approx(ROW.right_mm(20.0))
    assert across.max() == pytest.approx(ROW.right_mm(90.0))
    apart = np.array(paper.lines["under"])[..., 1] - np.array(paper.lines["rail"])[..., 1]
    assert apart == pytest.approx(bottom_drop_m(railed.site.spec.fence))


def test_posts_reach_the_top_rail_and_are_ticks_where_their_top_is_unknown(railed: Plan) -> None:
    rails = rails_of(railed, "A")
    own = railed.posts[railed.posts["line_id"] == "A"]
    at = own["chainage_m"].to_numpy()
    heads = post_heads(rails, at, foot_mm=np.zeros(len(at)), level_mm=lambda height: -height)
    known = own["top_m"].notna().to_numpy()
    assert -heads[known] == pytest.approx((own["ground_m"] + own["top_m"]).to_numpy()[known])
    assert set(heads[~known]) == {-2.0}


def test_the_key_tells_rails_only_where_there_are_any(railed: Plan, small_plan: Plan) -> None:
    words = b"bottom rail&apos;s under edge", b"bottom rail's under edge"
    assert any(text in section_drawing(railed) for text in words)
    assert not any(text in section_drawing(small_plan) for text in words)
    assert PENS["rail"][0].encode() in section_drawing(railed)

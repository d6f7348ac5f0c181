"""Common practice, with no print: what rails reach, how many a fence takes, what posts weigh. Worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from fencegis.layout.bay_limit import cap_bays, cap_past_m, greatest_bay_m
from fencegis.layout.joints import rail_pattern
from fencegis.layout.post_lengths import mass_kg
from fencegis.layout.rail_rows import faults_of_housing
from fencegis.layout.rails import cut_length_m
from fencegis.records.spec import Fence


@pytest.mark.parametrize(("grade_pct", "plan_m"), [(10.0, 2.388), (20.0, 2.353), (30.0, 2.299), (40.0, 2.228)])
def test_a_rail_of_2_4_m_covers_less_in_plan_the_steeper_it_lies(grade_pct: float, plan_m: float) -> None:
    """Length × cos(grade), to the millimetre that the plan is given to."""
    reach = cut_length_m(np.array([plan_m]), grade_deg=np.degrees(np.arctan([grade_pct / 100.0])), depth_mm=0.0)
    assert reach[0] == pytest.approx(2.4, abs=0.0006)


def test_plumb_cuts_of_a_rail_150_mm_deep_at_30_percent_take_45_mm() -> None:
    grade_deg = np.degrees(np.arctan([0.3]))
    with_cuts, without = (cut_length_m(np.array([4.6]), grade_deg=grade_deg, depth_mm=depth) for depth in (150.0, 0.0))
    assert 1000.0 * (with_cuts - without)[0] == pytest.approx(45.0)


def test_a_rail_of_4_8_m_trimmed_at_its_split_ends_reaches_over_two_bays_of_2_373_m() -> None:
    """25 mm off each end, a saw of 4 mm, and two half rails out of one."""
    fence = Fence(kind="post and rail", rail_m=(4.8,), end_trim_mm=25.0, kerf_mm=4.0)
    assert greatest_bay_m("post and rail", fence) == pytest.approx(2.373)


def test_96_feet_in_bays_of_8_take_18_boards_of_16() -> None:
    """Twelve bays: 6 boards a row with all joints in line; staggered by a bay 5 whole ones and 2 halves, 6 again."""
    opens = np.zeros(12, dtype=bool)
    found = rail_pattern(opens, cut=np.zeros(13, dtype=bool), single=opens, rows=3, rail_bays=2, closed=False)
    assert [int((found.bays[found.row == row] == 2).sum()) for row in range(3)] == [6, 5, 6]
    assert [int((found.bays[found.row == row] == 1).sum()) for row in range(3)] == [0, 2, 0]
    assert found.bays.sum() / 2 == 18.0


@pytest.mark.parametrize(("post_mm", "kilograms"), [(240.0, 125), (150.0, 49)])
def test_a_hardwood_post_of_2_4_m_cut_green(post_mm: float, kilograms: int) -> None:
    assert round(float(mass_kg(2.4, post_mm=post_mm, timber="hardwood"))) == kilograms


def test_a_hundred_and_fifty_in_green_pine_weighs_14_14_a_metre() -> None:
    assert float(mass_kg(1.0, post_mm=150.0, timber="pine")) == pytest.approx(14.14, abs=0.005)


def test_rails_between_posts_are_let_in_an_inch_and_leave_two_of_the_thinnest_usual_post() -> None:
    """Defaults: 25 mm in posts of 175 mm. Most allowed in one of 100 mm, with 50 mm left between: 25 mm."""
    fence = Fence()
    assert fence.housing_mm == 25.0
    assert fence.post_mm - 2.0 * fence.housing_mm == 125.0
    assert faults_of_housing(fence.model_copy(update={"rails_fixed": "centred", "post_mm": 100.0})) == []
    thinner = fence.model_copy(update={"rails_fixed": "centred", "post_mm": 99.0})
    assert [problem.feature for problem in faults_of_housing(thinner)] == ["[fence] housing_mm"]


def test_a_cap_of_200_by_50_covers_the_usual_post_by_12_mm_on_either_side() -> None:
    fence = Fence()
    assert (fence.cap_width_mm, fence.cap_thick_mm) == (200.0, 50.0)
    assert (fence.cap_width_mm - fence.post_mm) / 2.0 == 12.5


def test_a_bay_gives_up_a_tenth_at_most_for_the_cap_to_reach_over_two() -> None:
    """Rails of 4.8 m reach over bays of 2.373 m; nine tenths of it, 2.136 m, want a board of 4.322 m."""
    fence = Fence(kind="post and rail", rail_m=(4.8,))
    assert [cap_bays(fence.model_copy(update={"cap_m": (board_m,)})) for board_m in (4.33, 4.31)] == [2, 1]


def test_caps_are_mitred_up_to_150_degrees() -> None:
    """100 mm to the edge × tan 75°: 373 mm past the post's centre, the most."""
    past_m = cap_past_m(np.array([150.0, 151.0]), fence=Fence())
    assert past_m == pytest.approx([0.3732, 0.0], abs=1e-4)

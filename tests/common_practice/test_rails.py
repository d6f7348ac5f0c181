"""Common practice, with no print: what rails reach, how many a fence takes, what posts weigh. Worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from fencegis.layout.bay_limit import greatest_bay_m
from fencegis.layout.joints import rail_pattern
from fencegis.layout.post_lengths import mass_kg
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

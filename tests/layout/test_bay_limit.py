"""The greatest bay follows from the rail."""

import pytest

from fencegis.layout.bay_limit import greatest_bay_m
from fencegis.records.spec import Fence

RAIL = Fence(kind="post and rail", rail_m=(4.8,))


def test_a_rail_of_4_8_m_gives_2_373_m():
    assert greatest_bay_m("post and rail", RAIL) == pytest.approx(2.373)  # (4.8 − 2 × 0.025 − 0.004) ÷ 2


def test_a_grade_takes_the_plumb_cut_off():
    assert greatest_bay_m("post and rail", RAIL, grade_pct=-30.0) == pytest.approx(2.373 - 0.045)


def test_rails_that_cover_an_end_post_reach_less_far():
    assert greatest_bay_m("post and rail", RAIL, cover_m=0.12) == pytest.approx(2.373 - 0.06)


def test_one_bay_rails_and_an_upper_limit():
    single = RAIL.model_copy(update={"rail_bays": 1})
    assert greatest_bay_m("post and rail", single) == pytest.approx(4.75)
    assert greatest_bay_m("post and rail", single.model_copy(update={"post_spacing_m": 3.0})) == 3.0


def test_wire_takes_the_spacing_as_given():
    assert greatest_bay_m("wire", Fence(post_spacing_m=4.5), grade_pct=40.0) == 4.5

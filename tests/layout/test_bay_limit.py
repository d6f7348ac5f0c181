"""The greatest bay follows from the rail."""

import numpy as np
import pytest

from fencegis.layout.bay_limit import cap_bays, cap_past_m, greatest_bay_m
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


CENTRED = Fence(kind="post and rail", rail_m=(4.8,), rails_fixed="centred", post_mm=175.0, housing_mm=25.0)


def test_a_rail_between_posts_spans_faces_and_both_housings():
    """4.75 m between the trims = clear between faces + 2 × 0.025; a post of 0.175 m more from centre to centre."""
    assert greatest_bay_m("post and rail", CENTRED) == pytest.approx(4.75 - 2 * 0.025 + 0.175)
    assert greatest_bay_m("post and rail", CENTRED.model_copy(update={"rail_bays": 1})) == pytest.approx(4.875)


def test_between_posts_on_a_grade_the_rail_of_the_greatest_bay_is_as_long_as_the_stock():
    """A bay along the ground b covers b·cos in plan; the rail (b·cos − 0.175 + 0.05) ÷ cos + 0.15 · 0.3."""
    bay = greatest_bay_m("post and rail", CENTRED, grade_pct=30.0)
    slope = np.hypot(1.0, 0.3)
    assert (bay / slope - 0.175 + 0.05) * slope + 0.15 * 0.3 == pytest.approx(4.75)


@pytest.mark.parametrize(
    ("cap_m", "bays", "bay"),
    [
        (4.8, 2, 2.373),  # reaches over two bays of the rails' own
        (4.7, 2, 2.325),  # (4.7 − 0.05) ÷ 2, not a tenth less than 2.373
        (3.6, 1, 2.373),  # two bays would be 1.775
        (2.4, 1, 2.35),
    ],
)
def test_the_caps_stock_reaches_over_two_bays_or_one(cap_m, bays, bay):
    fence = RAIL.model_copy(update={"cap_m": (cap_m, 1.2)})
    assert cap_bays(fence) == bays
    assert greatest_bay_m("post and rail", fence) == pytest.approx(bay)


def test_a_cap_loses_its_thickness_to_the_plumb_cut_and_what_it_reaches_past_the_end_post():
    fence = RAIL.model_copy(update={"cap_m": (2.4,)})
    bay = greatest_bay_m("post and rail", fence, grade_pct=20.0, cap_cover_m=0.0875)
    assert bay == pytest.approx(2.35 - 0.0875 - 0.05 * 0.2)


def test_a_caps_mitre_reaches_out_by_half_its_width_at_a_right_angle_and_stops_where_the_fence_turns_back():
    past = cap_past_m(np.array([0.0, 90.0, -90.0, 160.0]), fence=RAIL)
    assert past == pytest.approx([0.0, 0.1, 0.1, 0.0])

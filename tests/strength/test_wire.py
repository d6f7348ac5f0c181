"""Pull, lift, sag, stretch and friction of strained wires."""

import numpy as np
import pytest

from fencegis.line.hanging import sag
from fencegis.strength.values import value_of
from fencegis.strength.wire import (
    bay_sag_m,
    cold_rise_kn,
    greatest_turning_deg,
    lift_kn,
    lift_of_turn_kn,
    mass_kg_km,
    mean_post_turn_deg,
    post_turn_deg,
    resultant_kn,
    stay_force,
    stretch_m,
    tension_after,
)


def test_sixty_degrees_pull_as_one_wire_does():
    assert resultant_kn(60.0, wires=1, tension_kn=1.1) == pytest.approx(1.1)
    assert resultant_kn(-60.0, wires=1, tension_kn=1.1) == pytest.approx(1.1)


@pytest.mark.parametrize(
    ("turn_deg", "share"),
    [(1, 0.0175), (4, 0.0698), (10, 0.1743), (15, 0.2611), (20, 0.3473), (30, 0.5176), (45, 0.7654), (90, 1.4142)],
)
def test_the_resultant_is_the_sum_of_two_equal_forces(turn_deg, share):
    """Worked apart from us, by adding vectors; no print was found."""
    assert resultant_kn(turn_deg, wires=1, tension_kn=1.0) == pytest.approx(share, abs=5e-5)
    turn = np.radians(turn_deg)
    assert resultant_kn(turn_deg, wires=1, tension_kn=1.0) == pytest.approx(np.hypot(np.cos(turn) - 1.0, np.sin(turn)))


def test_four_wires_round_a_bend_of_30_degrees():
    assert resultant_kn(30.0, wires=4, tension_kn=1.1) == pytest.approx(2.278, abs=5e-4)


def test_a_dip_lifts_and_a_crest_does_not():
    five = 100.0 * np.tan(np.radians(5.0))
    assert lift_kn(-five, five, wires=6, tension_kn=1.1) == pytest.approx(1.150, abs=0.0005)  # six wires, 5° each side
    assert lift_kn(five, -five, wires=6, tension_kn=1.1) == 0.0
    assert lift_of_turn_kn([-3.0, 0.0], wires=6, tension_kn=1.1).tolist() == [0.0, 0.0]


def test_unknown_ground_gives_unknown_lift():
    assert np.isnan(lift_kn(np.nan, 5.0, wires=6, tension_kn=1.1))


@pytest.mark.parametrize(
    ("diameter_mm", "kg_km"), [(1.57, 15.20), (2.0, 24.66), (2.5, 38.53), (2.8, 48.34), (3.15, 61.18), (4.0, 98.65)]
)
def test_mass_of_a_kilometre_of_steel_wire(diameter_mm, kg_km):
    """π ÷ 4 d² × 7,850 kg/m³, worked apart from us."""
    assert mass_kg_km(diameter_mm) == pytest.approx(kg_km, abs=0.005)


def test_a_denser_wire_is_heavier_in_proportion():
    assert mass_kg_km(2.5, density_kg_m3=15_700.0) == pytest.approx(2.0 * mass_kg_km(2.5, density_kg_m3=7850.0))


@pytest.mark.parametrize(("bay_m", "sag_mm"), [(4.0, 0.687), (8.0, 2.748)])
def test_wire_of_a_bay_hangs_by_its_own_weight(bay_m, sag_mm):
    """Worked apart from us: 0.3779 N/m at 1.1 kN."""
    assert bay_sag_m(bay_m, diameter_mm=2.5, tension_kn=1.1) * 1000.0 == pytest.approx(sag_mm, abs=0.0005)


def test_a_bay_hangs_as_every_curve_does():
    load = mass_kg_km(3.15) / 1000.0 * 9.80665
    assert bay_sag_m(6.0, diameter_mm=3.15, tension_kn=0.8) == sag(6.0, load_n_m=load, tension_n=800.0)


def test_a_slack_wire_has_no_sag_to_tell():
    with pytest.raises(ValueError, match="tension above zero"):
        bay_sag_m(6.0, diameter_mm=2.5, tension_kn=0.0)


def test_stretch_is_in_proportion_to_tension_and_length():
    once = float(stretch_m(100.0, diameter_mm=2.5, tension_kn=1.1))
    assert once == pytest.approx(0.1120, abs=5e-5)  # worked apart from us, 200 GPa
    assert stretch_m([200.0, 50.0], diameter_mm=2.5, tension_kn=1.1) == pytest.approx([2.0 * once, once / 2.0])
    assert stretch_m(100.0, diameter_mm=2.5, tension_kn=2.2) == pytest.approx(2.0 * once)
    assert stretch_m(100.0, diameter_mm=5.0, tension_kn=1.1) == pytest.approx(once / 4.0)


def test_cold_pulls_as_much_as_stretching_by_what_the_wire_would_have_shrunk():
    rise = float(cold_rise_kn(30.0, diameter_mm=2.5))
    shrinks_m = 100.0 * value_of("wire", "expansion") * 30.0
    assert stretch_m(100.0, diameter_mm=2.5, tension_kn=rise) == pytest.approx(shrinks_m)
    assert rise > 0.0
    assert cold_rise_kn(-30.0, diameter_mm=2.5) == pytest.approx(-rise)


def test_every_turn_takes_its_share_whichever_way_it_goes():
    left = tension_after([10.0, -20.0, 0.0, 30.0], tension_kn=1.1, friction=0.3)
    assert left[2] == left[1]
    assert left[-1] == pytest.approx(float(tension_after(60.0, tension_kn=1.1, friction=0.3)[0]))
    assert left[1] / 1.1 == pytest.approx((left[0] / 1.1) ** 3)  # thrice the turning, thrice over
    assert (np.diff(left) <= 0.0).all()


def test_the_greatest_turning_leaves_just_the_share_that_is_kept():
    for kept, friction in ((0.75, 0.4), (0.5, 0.2), (0.9, 0.6)):
        most = greatest_turning_deg(kept=kept, friction=friction)
        assert tension_after(most, tension_kn=1.0, friction=friction) == pytest.approx([kept])
    assert tension_after(greatest_turning_deg(), tension_kn=1.0) == pytest.approx([value_of("wire", "kept tension")])
    assert greatest_turning_deg(kept=1.0) == 0.0


def test_rougher_posts_bear_less_turning():
    assert greatest_turning_deg(friction=0.6) < greatest_turning_deg(friction=0.2)


@pytest.mark.parametrize("kept", [0.0, -0.1, 1.1, float("nan")])
def test_a_share_that_cannot_be_kept_is_refused(kept):
    with pytest.raises(ValueError, match="share of tension kept"):
        greatest_turning_deg(kept=kept)


def test_without_friction_turning_limits_nothing():
    with pytest.raises(ValueError, match="without friction"):
        greatest_turning_deg(friction=0.0)


def test_posts_off_the_string_turn_the_wire_by_the_angle_of_the_zigzag():
    first, middle, last = np.array([0.0, 0.01]), np.array([5.0, -0.01]), np.array([10.0, 0.01])
    one, other = middle - first, last - middle
    turn = np.degrees(np.arccos(one @ other / np.linalg.norm(one) / np.linalg.norm(other)))
    assert float(post_turn_deg(5.0, off_m=0.01)) == pytest.approx(turn)
    assert float(post_turn_deg(5.0, off_m=0.0)) == 0.0


def test_a_stay_as_high_as_the_pull_takes_it_all():
    stay = stay_force(6.6, heights_m=0.8, stay_height_m=0.8, lead_m=2.4)
    assert stay.level_kn == pytest.approx(6.6)
    assert stay.along_kn == pytest.approx(np.hypot(stay.level_kn, stay.upright_kn))
    assert stay.upright_kn / stay.level_kn == pytest.approx(np.tan(np.radians(stay.slope_deg)))


def test_a_longer_lead_eases_the_stay():
    near, far = (stay_force(6.6, heights_m=0.8, stay_height_m=0.9, lead_m=lead) for lead in (1.0, 3.0))
    assert far.along_kn < near.along_kn
    assert far.upright_kn < near.upright_kn


@pytest.mark.parametrize(("height", "lead"), [(0.0, 2.0), (0.8, 0.0)])
def test_a_stay_without_height_or_lead_is_refused(height, lead):
    with pytest.raises(ValueError, match="both above zero"):
        stay_force(1.0, heights_m=1.0, stay_height_m=height, lead_m=lead)


def test_an_item_that_no_catalogue_has_is_refused():
    with pytest.raises(KeyError, match="no item 'colour'"):
        value_of("wire", "colour")


def test_the_turn_to_count_at_many_posts_is_the_mean_over_posts_off_by_any_distance_alike():
    """Against posts thrown: 200 000 of them anywhere up to 10 mm either side, 5 m apart."""
    off = np.random.default_rng(1).uniform(-0.01, 0.01, 200_000)
    heading = np.arctan(np.diff(off) / 5.0)
    thrown = float(np.degrees(np.abs(np.diff(heading))).mean())
    assert float(mean_post_turn_deg(5.0, off_m=0.01)) == pytest.approx(thrown, rel=0.01)
    assert float(mean_post_turn_deg(5.0)) == pytest.approx(7.0 / 24.0 * float(post_turn_deg(5.0)), rel=1e-4)


def test_posts_alone_leave_the_printed_pulls_possible():
    """660 ft between pull posts with posts each 10 ft, 1320 ft with 16½ ft: printed, so posts alone must allow it."""
    for pull_ft, bay_ft in ((660.0, 10.0), (1320.0, 16.5)):
        turning = pull_ft / bay_ft * float(mean_post_turn_deg(bay_ft * 0.3048))
        assert turning < greatest_turning_deg()
    assert 660.0 / 10.0 * float(post_turn_deg(10.0 * 0.3048)) > greatest_turning_deg()

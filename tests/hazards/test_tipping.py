"""When a machine tips: hand-worked tractors, and a twin that solves the forces of all supports."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fencegis.hazards.tipping import Support, Weight, first_tip_deg, front_share, tip_deg, together, worst_tip

SMALL = Support(track_m=1.30, wheelbase_m=1.80, pivot_m=0.45)
TRACTOR = Weight(1300.0, ahead_m=0.80, height_m=0.65)
IN_FRONT = together([TRACTOR, Weight(450.0, ahead_m=2.50, height_m=1.80)])
BEHIND = together([TRACTOR, Weight(450.0, ahead_m=-0.90, height_m=1.80)])
AROUND = np.arange(-180.0, 180.0, 15.0)


def carried(weight: Weight, support: Support, *, slope_deg: float, downhill_deg: float) -> np.ndarray:
    """Return what the left and right rear tyre and the front axle carry, from the six balances of a body at rest.

    Along the machine the tyres hold alike left and right; the front axle passes no turning about its pin.
    """
    slope, turn = np.radians([slope_deg, downhill_deg])
    half, long, pin = support.track_m / 2.0, support.wheelbase_m, support.pivot_m
    pull = np.array([np.sin(slope) * np.cos(turn), np.sin(slope) * np.sin(turn), -np.cos(slope)])  # ahead, right, up
    ahead, right, up = np.eye(3)
    # Unknowns: up at the left rear, the right rear and the front; right at the rear axle and at the pin; ahead.
    forces = [up, up, up, right, right, ahead]
    places = [(0, -half, 0), (0, half, 0), (long, 0, 0), (0, 0, 0), (long, 0, pin), (0, 0, 0)]
    balances = np.array([[*force, *np.cross(place, force)] for force, place in zip(forces, places, strict=True)]).T
    centre = np.array([weight.ahead_m, weight.aside_m, weight.height_m])
    return np.linalg.solve(balances, -np.concatenate([pull, np.cross(centre, pull)]))[:3]


def twin_tip_deg(weight: Weight, support: Support, downhill_deg: float) -> float:
    """Return the steepest slope on which all carry, by trying ever finer."""
    low, high = 0.0, 89.999
    for _ in range(36):
        middle = (low + high) / 2.0
        held = carried(weight, support, slope_deg=middle, downhill_deg=downhill_deg).min() >= 0.0
        low, high = (middle, high) if held else (low, middle)
    return low


def test_a_driver_in_front_halves_the_tip_angle_of_a_small_tractor() -> None:
    """Worked by hand from statics: 1750 kg with its centre 1.237 m ahead and 0.946 m up.

    0.65 × (1 − 0.687) ÷ (0.946 − 0.45 × 0.687) = 0.2033 ÷ 0.6364, 17.7°.
    """
    assert IN_FRONT.mass_kg == 1750.0
    assert (IN_FRONT.ahead_m, IN_FRONT.height_m) == pytest.approx((2165.0 / 1750.0, 1655.0 / 1750.0))
    assert first_tip_deg(IN_FRONT, SMALL) == pytest.approx(17.7, abs=0.05)
    assert front_share(IN_FRONT, wheelbase_m=1.80) == pytest.approx(0.687, abs=5e-4)
    rectangle = np.degrees(np.arctan(SMALL.track_m / 2.0 / IN_FRONT.height_m))
    assert rectangle == pytest.approx(34.5, abs=0.05)  # a stiff front axle: nearly twice too much


def test_a_driver_behind_takes_the_weight_off_the_front_axle() -> None:
    assert first_tip_deg(BEHIND, SMALL) == pytest.approx(31.3, abs=0.05)
    assert front_share(BEHIND, wheelbase_m=1.80) == pytest.approx(0.20, abs=5e-3)
    # Nose uphill it rears at 0.363 ÷ 0.946 long before it tips sideways.
    assert worst_tip(BEHIND, SMALL) == pytest.approx((np.degrees(np.arctan(0.36286 / 0.94571)), 180.0), abs=0.01)


def test_nose_down_it_goes_over_the_front_tyres_and_nose_up_over_the_rear_axle() -> None:
    down, up = tip_deg(IN_FRONT, SMALL, downhill_deg=np.array([0.0, 180.0]))
    assert np.tan(np.radians(down)) == pytest.approx((1.80 - IN_FRONT.ahead_m) / IN_FRONT.height_m)
    assert np.tan(np.radians(up)) == pytest.approx(IN_FRONT.ahead_m / IN_FRONT.height_m)


def test_the_worst_way_to_stand_is_nose_down_across() -> None:
    least, way = worst_tip(IN_FRONT, SMALL)
    all_round = tip_deg(IN_FRONT, SMALL, downhill_deg=np.linspace(-180.0, 180.0, 7201))
    assert least == pytest.approx(all_round.min(), abs=1e-4)
    assert least < first_tip_deg(IN_FRONT, SMALL)
    assert 45.0 < way < 90.0


@pytest.mark.parametrize("seed", range(6))
def test_every_heading_against_a_twin_that_solves_the_supports(seed: int) -> None:
    draw = np.random.default_rng(seed)
    support = Support(draw.uniform(1.0, 1.8), draw.uniform(1.5, 2.4), draw.uniform(0.0, 0.6))
    weight = Weight(1500.0, support.wheelbase_m * draw.uniform(0.1, 0.9), draw.uniform(0.5, 1.3))
    weight = Weight(1500.0, weight.ahead_m, weight.height_m, draw.uniform(-1, 1) * 0.3 * support.track_m / 2.0 * 0.1)
    ours = tip_deg(weight, support, downhill_deg=AROUND)
    twin = [twin_tip_deg(weight, support, way) for way in AROUND]
    assert np.minimum(ours, 89.99) == pytest.approx(np.minimum(twin, 89.99), abs=1e-6)


@pytest.mark.parametrize("seed", range(8))
def test_with_the_pin_on_the_ground_it_tips_as_the_plumb_line_leaves_the_triangle(seed: int) -> None:
    draw = np.random.default_rng(100 + seed)
    support = Support(draw.uniform(1.0, 1.8), draw.uniform(1.5, 2.4), 0.0)
    weight = Weight(1.0, support.wheelbase_m * draw.uniform(0.1, 0.9), draw.uniform(0.5, 1.3))
    half = support.track_m / 2.0
    triangle = shapely.Polygon([(0.0, -half), (0.0, half), (support.wheelbase_m, 0.0)])
    for way, least in zip(AROUND, tip_deg(weight, support, downhill_deg=AROUND), strict=True):
        for slope, stands in ((least - 0.01, True), (least + 0.01, False)):
            out = weight.height_m * np.tan(np.radians(slope))
            turn = np.radians(way)
            foot = shapely.Point(weight.ahead_m + out * np.cos(turn), out * np.sin(turn))
            assert triangle.contains(foot) is stands


def test_a_post_driver_shifted_aside_tips_it_sooner_to_that_side() -> None:
    shifted = together([TRACTOR, Weight(450.0, 2.50, 1.80, aside_m=0.3)])
    assert shifted.aside_m == pytest.approx(450.0 * 0.3 / 1750.0)
    left, right = tip_deg(shifted, SMALL, downhill_deg=np.array([-90.0, 90.0]))
    assert right < first_tip_deg(IN_FRONT, SMALL) < left
    assert first_tip_deg(shifted, SMALL) == pytest.approx(right)


def test_what_does_not_stand_on_level_ground_has_no_angle_left() -> None:
    nose_heavy = Weight(1500.0, ahead_m=1.9, height_m=0.8)
    assert first_tip_deg(nose_heavy, SMALL) == 0.0
    tail_heavy = Weight(1500.0, ahead_m=-0.1, height_m=0.8)
    assert tip_deg(tail_heavy, SMALL, downhill_deg=AROUND) == pytest.approx(0.0)

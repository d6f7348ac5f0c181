"""Banks and beds in a profile, against profiles worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fencegis.hazards.banks import Bank, Profile, Rules, bank, drop_m, drop_sigma_m, lowest, shifted

STEP_M = 0.25
RULES = Rules(least_m=0.3, grade=0.1, look_m=2.0, rose_m=0.2, stop_m=0.2, reach_m=40.0)


def profile(*points: tuple[float, float], on_line: tuple[float, float] = (-math.inf, math.inf)) -> Profile:
    at, height = np.array(points).T
    chainage = np.arange(at[0], at[-1] + STEP_M / 2.0, STEP_M)
    inside = (chainage >= on_line[0]) & (chainage <= on_line[1])
    return Profile(chainage, np.where(inside, np.interp(chainage, at, height), np.nan), inside)


DRAIN = profile((-30.0, 12.0), (-5.0, 11.0), (-1.0, 9.0), (1.0, 9.0), (4.0, 10.5), (30.0, 10.0))


def test_the_lowest_of_a_flat_bed_is_nearest_to_the_middle() -> None:
    assert lowest(DRAIN, from_m=-6.0, to_m=6.0) == pytest.approx((0.0, 9.0))
    assert lowest(DRAIN, from_m=-8.0, to_m=4.0) == pytest.approx((-1.0, 9.0))


def test_of_unknown_ground_nothing_is_lowest() -> None:
    assert all(math.isnan(value) for value in lowest(profile((0.0, math.nan), (9.0, math.nan)), from_m=1.0, to_m=5.0))


def test_a_sharp_bank_is_its_edge() -> None:
    assert bank(DRAIN, from_m=0.0, bed_m=9.0, side=-1, rules=RULES) == Bank(-5.0, 11.0, "")
    assert bank(DRAIN, from_m=0.0, bed_m=9.0, side=1, rules=RULES) == Bank(4.0, 10.5, "")


def test_ground_beyond_a_bank_may_rise_gently_and_not_steeply() -> None:
    """Less than 0.2 m over the next 2 m is a top: 9 % is, 12 % is not."""
    gentle = profile((-5.0, 9.0), (0.0, 9.0), (2.0, 11.0), (60.0, 11.0 + 58.0 * 0.09))
    steep = profile((-5.0, 9.0), (0.0, 9.0), (2.0, 11.0), (60.0, 11.0 + 58.0 * 0.12))
    assert bank(gentle, from_m=0.0, bed_m=9.0, side=1, rules=RULES) == Bank(2.0, 11.0, "")
    assert bank(steep, from_m=0.0, bed_m=9.0, side=1, rules=RULES).why == "rising"


def test_a_swale_is_no_bank() -> None:
    """Ground that never rises by a tenth has no bank, however high it gets."""
    swale = profile((-60.0, 12.0), (0.0, 9.0), (60.0, 12.0))
    found = [bank(swale, from_m=0.0, bed_m=9.0, side=side, rules=RULES).why for side in (-1, 1)]
    assert found == ["rising", "rising"]


def test_a_rise_too_small_to_be_a_bank_is_walked_over() -> None:
    bar = profile((-5.0, 9.0), (0.0, 9.0), (1.0, 9.25), (4.0, 9.25), (6.0, 11.0), (60.0, 11.0))
    assert bank(bar, from_m=0.0, bed_m=9.0, side=1, rules=RULES) == Bank(6.0, 11.0, "")


@pytest.mark.parametrize("side", [-1, 1])
def test_why_there_is_no_bank(side: int) -> None:
    flat = profile((-60.0, 9.0), (60.0, 9.0))
    unknown = profile((-60.0, math.nan), (-3.0, math.nan), (-2.75, 9.0), (2.75, 9.0), (3.0, math.nan), (60.0, math.nan))
    short = profile((-60.0, 9.0), (60.0, 9.0), on_line=(-3.0, 3.0))
    found = [bank(one, from_m=0.0, bed_m=9.0, side=side, rules=RULES) for one in (flat, unknown, short)]  # type: ignore[arg-type]
    assert [one.why for one in found] == ["flat", "unknown", "line ends"]
    assert all(math.isnan(one.at_m) for one in found)


def test_a_bank_further_out_than_the_reach_is_none() -> None:
    far = profile((-5.0, 9.0), (45.0, 9.0), (47.0, 11.0), (90.0, 11.0))
    assert bank(far, from_m=0.0, bed_m=9.0, side=1, rules=RULES).why == "flat"


def test_a_width_is_shifted_to_where_it_stands_highest_over_the_bed() -> None:
    """9 m from edge to edge fit the drain exactly from −5 to 4 m."""
    assert shifted(DRAIN, from_m=-3.0, to_m=6.0, by_m=3.0) == pytest.approx(-2.0)
    assert shifted(DRAIN, from_m=-5.0, to_m=4.0, by_m=3.0) == 0.0
    assert shifted(profile((-9.0, 7.0), (9.0, 7.0)), from_m=-3.0, to_m=3.0, by_m=3.0) == 0.0


def test_the_drop_below_the_line_between_banks_of_different_height() -> None:
    """From 11.0 at 0 m to 10.0 at 10 m the line is at 10.7 over 3 m; the bed there at 9.0."""
    drop = drop_m(from_bank=Bank(0.0, 11.0, ""), to_bank=Bank(10.0, 10.0, ""), bed_at_m=3.0, bed_m=9.0)
    assert drop == pytest.approx(1.7)


def test_the_drops_error_against_random_heights() -> None:
    heights = np.random.default_rng(3).normal(0.0, 0.2, (3, 200_000))
    drops = 0.7 * heights[0] + 0.3 * heights[1] - heights[2]
    assert drop_sigma_m(share=0.3, sigma_m=0.2) == pytest.approx(drops.std(), rel=0.01)

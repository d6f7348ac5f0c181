"""Dips of a fitted profile, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from fencegis.hazards.dips import dips


def found(
    joint: list[float], fitted: list[float], *, closed: bool = False, reach_m: float = 100.0, noise_m: float = 0.1
):
    sigma = np.zeros(len(joint))
    return dips(
        np.array(joint), np.array(fitted), sigma, closed=closed, reach_m=reach_m, sigmas=3.0, noise_m=noise_m
    ).tolist()


def test_the_depth_is_that_below_the_lower_side() -> None:
    assert found([0.0, 40.0, 80.0], [12.0, 10.0, 11.0]) == [[40.0, 1.0]]


def test_a_dip_within_three_standard_errors_is_none() -> None:
    assert found([0.0, 40.0, 80.0], [12.0, 10.0, 10.29]) == []
    assert found([0.0, 40.0, 80.0], [12.0, 10.0, 10.31]) == [[40.0, pytest.approx(0.31)]]


def test_a_slope_and_a_crest_have_no_dip() -> None:
    assert found([0.0, 40.0, 80.0], [12.0, 10.0, 8.0]) == []
    assert found([0.0, 40.0, 80.0], [8.0, 10.0, 8.0]) == []


def test_a_dip_in_a_larger_one_is_as_deep_as_its_own_lower_side() -> None:
    assert found([0.0, 30.0, 50.0, 70.0, 99.0], [20.0, 10.0, 12.0, 9.0, 20.0]) == [[30.0, 2.0], [70.0, 11.0]]


def test_sides_further_off_than_the_reach_do_not_count() -> None:
    assert found([0.0, 10.0, 150.0, 290.0, 300.0], [20.0, 10.5, 10.0, 10.5, 20.0]) == []


def test_a_flat_bottom_is_one_dip() -> None:
    assert found([0.0, 40.0, 60.0, 90.0], [12.0, 10.0, 10.0, 12.0]) == [[40.0, 2.0]]


def test_unknown_ground_is_no_side() -> None:
    assert found([0.0, 40.0, 80.0], [np.nan, 10.0, 12.0]) == []


def test_a_loops_dip_may_lie_at_its_start() -> None:
    assert found([0.0, 50.0, 100.0, 150.0], [10.0, 12.0, 11.5, 10.0], closed=True) == [[0.0, 2.0]]
    assert found([0.0, 50.0, 100.0, 150.0], [10.0, 12.0, 11.5, 10.0]) == []

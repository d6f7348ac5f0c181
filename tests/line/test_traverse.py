"""Closure, balance and area of bearings and lengths."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from fencegis.line.traverse import Closure, area_m2, balanced, closure, steps_en

SQUARE = (np.array([0.0, 90.0, 180.0, 270.0]), np.full(4, 100.0))


def test_a_square_closes_exactly_and_has_its_area() -> None:
    gap = closure(*SQUARE)
    assert gap.length_m == pytest.approx(0.0, abs=1e-9)
    assert math.isinf(gap.one_in)
    assert gap.perimeter_m == 400.0
    np.testing.assert_allclose(balanced(*SQUARE), [[0, 0], [0, 100], [100, 100], [100, 0]], atol=1e-9)
    assert area_m2(balanced(*SQUARE)) == pytest.approx(10_000.0)


def test_the_misclosure_is_the_end_less_the_start() -> None:
    bearing, length = SQUARE
    gap = closure(bearing, length + np.array([3.0, 0.0, 0.0, -4.0]))
    assert (gap.east_m, gap.north_m) == pytest.approx((4.0, 3.0))
    assert gap.length_m == pytest.approx(5.0)
    assert gap.one_in == pytest.approx(399.0 / 5.0)
    assert Closure(0.0, 0.1, 100.0).one_in == pytest.approx(1000.0)


@given(st.integers(3, 12), st.integers(0, 2**32 - 1))
def test_balanced_legs_come_back_and_share_by_length(legs: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    bearing, length = rng.uniform(0, 360, legs), rng.uniform(10, 500, legs)
    corners = balanced(bearing, length)
    moved = np.diff(np.vstack([corners, corners[:1]]), axis=0) - steps_en(bearing, length)
    gap = steps_en(bearing, length).sum(axis=0)
    np.testing.assert_allclose(moved, -gap * (length / length.sum())[:, None], atol=1e-9)


@given(st.integers(0, 2**32 - 1), st.floats(0, 360), st.booleans())
def test_area_is_the_polygons_however_it_lies_and_goes_round(seed: int, turn_deg: float, backward: bool) -> None:
    rng = np.random.default_rng(seed)
    around = np.sort(rng.uniform(0, 2 * np.pi, 7))
    reach = rng.uniform(50, 200, 7)
    corners = np.column_stack([reach * np.sin(around), reach * np.cos(around)]) + 5e4
    angle = np.radians(turn_deg)
    spun = corners @ np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    assert area_m2(spun[::-1] if backward else spun) == pytest.approx(shapely.Polygon(corners).area, abs=1e-5)

"""Curves hanging between two points."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from fencegis.line.hanging import curve_length, drop, points_on, sag, tension

# What stands in print is held in tests/published; here is what must hold.


@pytest.mark.parametrize(
    ("span_m", "load_n_m", "tension_n"), [(100.0, 1.5, 5000.0), (8.0, 0.378, 1100.0), (43.0, 0.02, 100.0)]
)
def test_sag_and_tension_are_each_others_inverse(span_m: float, load_n_m: float, tension_n: float) -> None:
    hang_m = sag(span_m, load_n_m=load_n_m, tension_n=tension_n)
    assert tension(span_m, load_n_m=load_n_m, sag_m=hang_m) == pytest.approx(tension_n, rel=1e-12)
    assert hang_m * 8.0 * tension_n / (load_n_m * span_m**2) == pytest.approx(1.0, rel=1e-12)


def test_a_curve_is_held_up_by_its_tension() -> None:
    """Half of the load hangs on each end: tension times the slope there."""
    hang_m = sag(60.0, load_n_m=2.0, tension_n=900.0)
    slope = drop(1e-6, sag_m=hang_m) / (60.0 * 1e-6)
    assert 900.0 * float(slope) == pytest.approx(2.0 * 60.0 / 2.0, rel=1e-5)


def test_it_stays_within_three_per_cent_of_the_catenary_to_an_eighth_of_the_span() -> None:
    """The limit as printed at clevercalculator.com/home/sag; the catenary is solved here from its own equation."""
    for hang_m in (2.0, 6.0, 12.5):
        parameter_m = brentq(lambda a, hang_m=hang_m: a * (np.cosh(50.0 / a) - 1.0) - hang_m, 30.0, 1e4)
        ours_m = sag(100.0, load_n_m=1.0, tension_n=parameter_m)
        assert ours_m == pytest.approx(hang_m, rel=0.03)


def test_the_drop_is_nothing_at_the_ends_and_all_of_the_sag_in_the_middle() -> None:
    assert drop([0.0, 0.5, 1.0], sag_m=1.2) == pytest.approx([0.0, 1.2, 0.0])
    assert drop(0.25, sag_m=1.2) == pytest.approx(0.9)  # three quarters of it a quarter along


def test_points_hang_below_the_chord_between_ends_of_unlike_height() -> None:
    points = points_on([0.0, 0.25, 0.5, 1.0], start=(0.0, 0.0, 10.0), end=(40.0, 30.0, 14.0), sag_m=2.0)
    assert points == pytest.approx(np.array([[0, 0, 10.0], [10, 7.5, 9.5], [20, 15, 10.0], [40, 30, 14.0]]))


def test_the_length_is_the_sum_of_small_steps_along_the_curve() -> None:
    points = points_on(np.linspace(0.0, 1.0, 20001), start=(0.0, 0.0, 0.0), end=(50.0, 0.0, 12.0), sag_m=5.0)
    steps = np.sqrt((np.diff(points, axis=0) ** 2).sum(axis=1)).sum()
    assert curve_length(50.0, sag_m=5.0, rise_m=12.0) == pytest.approx(steps, abs=1e-6)
    assert curve_length(30.0, sag_m=0.0, rise_m=40.0) == pytest.approx(50.0)


def test_a_curve_without_tension_and_a_tension_without_sag_are_refused() -> None:
    with pytest.raises(ValueError, match="tension above zero"):
        sag(10.0, load_n_m=1.0, tension_n=0.0)
    with pytest.raises(ValueError, match="no finite tension"):
        tension(10.0, load_n_m=1.0, sag_m=0.0)

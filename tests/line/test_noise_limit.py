"""How far noise puts a vertex, and which stretches no straight explains."""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from fencegis.line.noise_limit import limit_in_sigmas, unexplained, widest_m
from fencegis.line.runs import fitted_line


@pytest.mark.parametrize("count", [10, 300])
def test_one_line_in_a_hundred_has_a_vertex_beyond_the_limit(count):
    rng = np.random.default_rng(1)
    lines = np.abs(rng.normal(size=(20_000, count))).max(axis=1)
    assert (lines > limit_in_sigmas(count)).mean() == pytest.approx(0.01, abs=0.003)


@pytest.mark.parametrize("seed", range(8))
def test_the_narrowest_strip_is_that_of_a_search_over_all_directions(seed):
    points = np.random.default_rng(seed).normal(0, [30, 4], (12, 2))

    def width(angle):
        across = points @ np.array([np.cos(angle), np.sin(angle)])
        return across.max() - across.min()

    starts = np.linspace(0, np.pi, 60)
    least = min(minimize_scalar(width, bounds=(one - 0.06, one + 0.06), method="bounded").fun for one in starts)
    assert 2.0 * widest_m(points) == pytest.approx(least, rel=1e-4)


def test_the_shortest_unexplained_stretch_is_found():
    points = np.column_stack([10.0 * np.arange(12), np.r_[np.zeros(6), 5.0, np.zeros(5)]])
    first, last = unexplained(points, 2.0)
    assert widest_m(points[first : last + 1]) > 2.0
    assert widest_m(points[first + 1 : last + 1]) <= 2.0
    assert widest_m(points[first:last]) <= 2.0
    assert unexplained(points, 2.6) is None


def test_no_vertex_lies_further_off_the_planned_line_than_noise_puts_it():
    """A click 7 m off is no noise of 1 m: without the limit a straight past it would cost less than the bends to it."""
    rng = np.random.default_rng(2)
    points = np.column_stack([10.0 * np.arange(60), np.zeros(60)]) + rng.normal(0, 1.0, (60, 2))
    points[30, 1] = 7.0
    fit = fitted_line("A", points, closed=False, sigma_m=1.0, pegs=np.zeros((0, 2)))
    assert fit.furthest <= limit_in_sigmas(60) * 1.01
    assert len(fit.corners) > 2

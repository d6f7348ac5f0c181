"""Arcs: found where the drawing is one, with honest errors, and nowhere else."""

from itertools import combinations, pairwise

import numpy as np
import pytest

from fencegis.line import arc
from fencegis.line.arc_strings import WORTH_A_LOOK, Drawn, saving, strings_of_runs
from fencegis.line.runs import fitted_line


def drawn(curved, parts, *, step_m, sigma_m, seed):
    return curved.traced(parts, step_m=step_m, sigma_m=sigma_m, rng=np.random.default_rng(seed))


def fitted(points, *, closed, sigma_m):
    return fitted_line("A", points, closed=closed, sigma_m=sigma_m, pegs=np.zeros((0, 2)))


def radii(fit):
    begin, end = fit.corners, np.roll(fit.corners, -1, axis=0)
    return [float(arc.radius_m(begin[run], end[run], rise)) if rise else None for run, rise in enumerate(fit.rise_m)]


ROAD = [("s", 200.0), ("a", 120.0, 1.2), ("s", 150.0)]


def test_a_road_curve_between_two_straights_has_no_corner(curved):
    fit = fitted(drawn(curved, ROAD, step_m=5.0, sigma_m=0.5, seed=0), closed=False, sigma_m=0.5)
    first, bend, last = radii(fit)
    assert first is None
    assert last is None
    assert bend == pytest.approx(120.0, abs=4.0)
    assert fit.tangent.tolist() == [False, True, True, False]
    mirrored = fitted(drawn(curved, ROAD, step_m=5.0, sigma_m=0.5, seed=0) * [-1, 1], closed=False, sigma_m=0.5)
    assert radii(mirrored)[1] == pytest.approx(-bend)


def test_the_standard_error_of_the_radius_is_what_the_radius_scatters_by(curved):
    off = []
    for seed in range(60):
        fit = fitted(drawn(curved, ROAD, step_m=8.0, sigma_m=0.7, seed=seed), closed=False, sigma_m=0.7)
        if [radius is None for radius in radii(fit)] != [True, False, True]:
            continue
        sigma = arc.sigma_of(arc.radius_m, fit.corners[[1]], fit.corners[[2]], fit.rise_m[[1]], fit.arc_covariance[[1]])
        off.append((radii(fit)[1] - 120.0) / sigma[0])
    assert len(off) >= 55
    assert np.sqrt(np.mean(np.square(off))) == pytest.approx(1.0, abs=0.3)


def test_a_yard_is_a_circle(curved):
    yard = drawn(curved, [("a", 10.0, 6.1)], step_m=2.0, sigma_m=0.3, seed=1)
    fit = fitted(yard, closed=True, sigma_m=0.3)
    assert radii(fit) == pytest.approx([10.0, 10.0], abs=0.3)
    assert fit.tangent.all()


def test_an_arena_with_round_ends_has_no_corner(curved):
    parts = [("s", 60.0), ("a", 20.0, np.pi), ("s", 60.0), ("a", 20.0, np.pi - 0.1)]
    fit = fitted(drawn(curved, parts, step_m=3.0, sigma_m=0.4, seed=2), closed=True, sigma_m=0.4)
    assert sorted(radius for radius in radii(fit) if radius) == pytest.approx([20.0, 20.0], abs=0.8)
    assert fit.tangent.all()
    assert len(fit.corners) == 4


def test_an_arc_may_meet_its_neighbour_at_a_corner(curved):
    parts = [("s", 100.0), ("t", 0.6), ("a", 60.0, 1.0), ("s", 100.0)]
    fit = fitted(drawn(curved, parts, step_m=4.0, sigma_m=0.5, seed=1), closed=False, sigma_m=0.5)
    assert fit.tangent.tolist() == [False, False, True, False]


@pytest.mark.parametrize("sides", [4, 6, 8])
def test_the_corners_of_a_clicked_yard_lie_on_a_circle_and_are_corners(sides):
    angle = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    yard = 50.0 * np.column_stack([np.sin(angle), np.cos(angle)])
    fit = fitted(yard, closed=True, sigma_m=1.0)
    assert len(fit.corners) == sides
    assert not fit.rise_m.any()


@pytest.mark.parametrize("seed", range(6))
def test_two_corners_stay_corners(curved, seed):
    parts = [("s", 150.0), ("t", 0.3), ("s", 80.0), ("t", 0.3), ("s", 150.0)]
    fit = fitted(drawn(curved, parts, step_m=5.0, sigma_m=0.7, seed=seed), closed=False, sigma_m=0.7)
    assert not fit.rise_m.any()
    assert len(fit.corners) == 4


def test_no_choice_of_strings_saves_more_than_the_one_found(curved):
    """Against every choice of strings that do not overlap, each string's own saving as the search tells it."""
    rng = np.random.default_rng(4)
    for _ in range(4):
        parts = [
            ("s", 40.0),
            ("a", rng.uniform(30, 60), 1.0),
            ("s", 30.0),
            ("a", -rng.uniform(30, 60), 1.2),
            ("s", 40.0),
        ]
        points = drawn(curved, parts, step_m=3.0, sigma_m=0.4, seed=int(rng.integers(99)))
        every = np.linspace(0, len(points) - 1, 10).astype(int)
        runs = [np.arange(first, last + 1) for first, last in pairwise(every)]
        ahead = np.array([points[run[-1]] - points[run[0]] for run in runs])
        turn = np.pad((np.diff(np.arctan2(*ahead.T)) + np.pi) % (2 * np.pi) - np.pi, 1)
        whole = Drawn(points, 0.4, 4.0)
        alone = {}
        for begin, end in combinations(range(len(runs) + 1), 2):
            apart = sum(whole.straight(run) for run in runs[begin:end])
            alone[begin, end] = saving(whole, runs[begin:end], turn[begin : end + 1], apart)
        paying = sorted(string for string, saved in alone.items() if saved > WORTH_A_LOOK * whole.charge)
        best = max(
            sum(alone[string] for string in choice)
            for size in range(5)
            for choice in combinations(paying, size)
            if all(one[1] <= two[0] for one, two in pairwise(choice))
        )
        found = strings_of_runs(whole, runs, turn)
        assert sum(string.gain for string in found) == pytest.approx(best)

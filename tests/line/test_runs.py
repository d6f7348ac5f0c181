"""Runs and corners from drawings whose truth is known."""

import numpy as np
import pytest

from fencegis.line.runs import fitted_line

NO_PEGS = np.zeros((0, 2))


def drawing(kind, sigma, rng):
    """True corners, and the line as a hand would draw it: clicks on corners, clicks between too, or a steady trace."""
    legs = int(rng.integers(3, 10))
    length = rng.uniform(80, 600, legs)
    turn = rng.uniform(8, 120, legs - 1) * rng.choice([-1, 1], legs - 1)
    heading = np.radians(rng.uniform(0, 360) + np.concatenate([[0.0], np.cumsum(turn)]))
    steps = length[:, None] * np.column_stack([np.sin(heading), np.cos(heading)])
    corners = np.vstack([[0.0, 0.0], np.cumsum(steps, axis=0)])
    chainage = np.concatenate([[0.0], np.cumsum(length)])
    if kind == "dense":
        step = rng.uniform(3, 20)
        places = np.cumsum(step * rng.uniform(0.8, 1.2, int(chainage[-1] / step)))
        places = np.concatenate([[0.0], places[places < chainage[-1]], chainage[-1:]])
    else:
        clicks = [rng.uniform(0.1, 0.9, rng.poisson(1) if kind == "mixed" else 0) for _ in range(legs)]
        between = [chainage[leg] + length[leg] * share for leg, share in enumerate(clicks)]
        places = np.sort(np.concatenate([chainage, *between]))
    points = np.column_stack([np.interp(places, chainage, corners[:, axis]) for axis in (0, 1)])
    return corners, points + rng.normal(0, sigma, points.shape)


@pytest.mark.parametrize("kind", ["sparse", "mixed", "dense"])
def test_corners_are_counted_right_and_as_sure_as_they_say(kind):
    rng = np.random.default_rng(2026)
    right, squares = 0, []
    for _ in range(60):
        sigma = float(rng.choice([0.3, 0.7, 1.5]))
        corners, points = drawing(kind, sigma, rng)
        fit = fitted_line("A", points, closed=False, sigma_m=sigma, pegs=NO_PEGS)
        if len(fit.corners) != len(corners):
            continue
        right += 1
        for off, covariance in zip(fit.corners - corners, fit.covariance, strict=True):
            squares.append(off @ np.linalg.solve(covariance, off) / 2.0)
    assert right >= 58
    # errors in units of their own standard error: 1 if the covariance tells the truth
    assert np.sqrt(np.mean(squares)) == pytest.approx(1.0, abs=0.12)


def test_a_loop_starts_at_its_first_corner_after_the_first_vertex():
    corners = np.array([[0, 0], [0, 200], [300, 200], [300, 0]], dtype=float)
    traced = np.array(
        [[0.0, at] for at in range(5, 200, 10)]
        + [[at, 200.0] for at in range(5, 300, 10)]
        + [[300.0, 195 - at] for at in range(0, 195, 10)]
        + [[295.0 - at, 0.0] for at in range(0, 295, 10)]
    )
    traced = np.roll(traced, -7, axis=0) + np.random.default_rng(1).normal(0, 0.3, traced.shape)
    fit = fitted_line("A", traced, closed=True, sigma_m=0.3, pegs=NO_PEGS)
    assert len(fit.corners) == 4
    assert np.hypot(*(fit.corners - corners[[1, 2, 3, 0]]).T).max() < 1.0


def test_a_peg_is_exact_and_ends_a_run_only_where_the_line_bends():
    drawn = np.array([[0, 0], [100, 1], [200, -1], [200, 100]], dtype=float)
    pegs = np.array([[101.0, 0.5], [200.5, -0.2]])
    fit = fitted_line("A", drawn, closed=False, sigma_m=1.0, pegs=pegs)
    assert len(fit.corners) == 3
    assert fit.held.tolist() == [False, True, False]
    assert np.array_equal(fit.corners[1], pegs[1])
    ahead = (fit.corners[1] - fit.corners[0]) / np.hypot(*(fit.corners[1] - fit.corners[0]))
    away = pegs[0] - fit.corners[0]
    assert abs(ahead[0] * away[1] - ahead[1] * away[0]) < 0.001


def test_a_survey_keeps_its_vertices_but_those_within_20_mm_of_straight():
    drawn = np.array([[0, 0], [100, 0.019], [150, 0.021], [200, 0], [200, 100]], dtype=float)
    fit = fitted_line("A", drawn, closed=False, sigma_m=0.0, pegs=NO_PEGS, survey=True)
    assert np.array_equal(fit.corners, drawn[[0, 2, 3, 4]])
    assert fit.sigma_m.max() == 0.0


def test_the_furthest_vertex_on_each_side_is_told():
    drawn = np.array([[0, 0], [50, 0.6], [100, -0.9], [150, 0.0], [200, 0.0]], dtype=float)
    fit = fitted_line("A", drawn, closed=False, sigma_m=1.0, pegs=NO_PEGS)
    assert len(fit.left_m) == 1
    assert fit.left_m[0] + fit.right_m[0] == pytest.approx(1.5, abs=0.1)
    assert fit.right_m[0] > fit.left_m[0]  # walking east, south is right


def test_reversing_a_drawing_gives_the_same_corners():
    rng = np.random.default_rng(7)
    _, points = drawing("mixed", 0.7, rng)
    one = fitted_line("A", points, closed=False, sigma_m=0.7, pegs=NO_PEGS)
    two = fitted_line("A", points[::-1], closed=False, sigma_m=0.7, pegs=NO_PEGS)
    assert np.allclose(one.corners, two.corners[::-1], atol=1e-3)


def test_a_loop_too_small_for_the_noise_keeps_its_vertices():
    drawn = np.array([[0, 0], [0, 2], [2, 2], [2, 0]], dtype=float)
    fit = fitted_line("A", drawn, closed=True, sigma_m=2.0, pegs=NO_PEGS)
    assert fit.corners == pytest.approx(drawn, abs=0.01)


@pytest.mark.parametrize(
    "drawn",
    [
        [(0, 0), (100, 0), (0, 0.5)],
        [(50, 0), (0, 0.2), (100, 0)],
        [(at, 0.0) for at in range(0, 100, 5)] + [(100 - at, 0.3) for at in range(0, 100, 5)],
    ],
)
def test_a_drawing_that_turns_back_on_itself_is_not_flattened(drawn):
    fit = fitted_line("A", np.array(drawn, dtype=float), closed=False, sigma_m=1.0, pegs=NO_PEGS)
    assert len(fit.corners) == 3
    assert np.ptp(fit.corners[:, 0]) == pytest.approx(100.0, abs=3.0)

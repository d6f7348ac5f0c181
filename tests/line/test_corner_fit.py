"""The adjustment of corners and arcs: standard errors against the whole inverse, limits against another solver."""

import numpy as np
import pytest
from scipy.optimize import minimize

from fencegis.line.corner_fit import fit_corners
from fencegis.line.corner_sigma import corner_covariance
from fencegis.line.corner_ties import Shape, Ties
from fencegis.line.curves import straight_only
from fencegis.line.straights import Straight


@pytest.mark.parametrize("closed", [False, True])
def test_corner_covariances_are_blocks_of_the_whole_inverse(closed):
    rng = np.random.default_rng(5)
    angle = np.linspace(0.0, 2.0 * np.pi, 13)[: 13 if closed else 12]
    vertices = 100.0 * np.column_stack([np.sin(angle), np.cos(angle)]) + rng.normal(0, 1, (len(angle), 2))
    if closed:
        vertices[-1] = vertices[0]
    chain = [Straight(first, min(first + 2, len(vertices) - 1)) for first in range(0, len(vertices) - 1, 2)]
    sigma, untraced = rng.uniform(0.5, 2.0, len(vertices)), np.zeros(len(vertices), dtype=bool)
    shape = straight_only(chain, closed=closed)
    fit = fit_corners(vertices, sigma_m=sigma, shape=shape, closed=closed, traced=untraced)
    jacobian, _ = Ties(vertices, sigma, shape, closed=closed, traced=untraced).linearised(fit.corners, fit.rise_m)
    whole = np.linalg.inv((jacobian.T @ jacobian).toarray())
    blocks = [whole[2 * corner : 2 * corner + 2, 2 * corner : 2 * corner + 2] for corner in range(len(fit.corners))]
    assert corner_covariance(jacobian, closed=closed) == pytest.approx(np.array(blocks), rel=1e-9, abs=1e-12)
    assert fit.covariance == pytest.approx(np.array(blocks), rel=1e-9, abs=1e-12)


def test_the_rows_of_an_arc_are_the_slopes_of_what_they_tell():
    rng = np.random.default_rng(8)
    north = np.r_[np.zeros(5), 1, 3, 6, 10, 14, 18, 22, 26]
    vertices = np.column_stack([np.linspace(0, 60, 13), north]) + rng.normal(0, 0.2, (13, 2))
    runs = [Straight(0, 4), Straight(5, 9), Straight(10, 12)]
    shape = Shape(runs, np.array([0, 1, 0], dtype=bool), np.array([0, 1, 1, 0], dtype=bool))
    ties = Ties(vertices, np.full(13, 0.5), shape, closed=False, traced=np.ones(13, dtype=bool))
    corners, rise = ties.start()
    jacobian, off = ties.linearised(corners, rise)
    for unknown in range(ties.size):
        moved, lifted = corners.copy(), rise.copy()
        if unknown < 2 * ties.count:
            moved[unknown // 2, unknown % 2] += 1e-6
        else:
            lifted[ties.arcs[unknown - 2 * ties.count]] += 1e-6
        slope = -(ties.linearised(moved, lifted)[1] - off) / 1e-6
        column = jacobian[:, [unknown]].toarray().ravel()
        bent = np.ones(len(off), dtype=bool)
        assert column[bent] == pytest.approx(slope[bent], rel=1e-3, abs=2e-2 * max(1.0, np.abs(slope).max() / 100))


def test_under_a_limit_the_corners_are_those_of_a_general_solver():
    vertices = np.array([[0, 0], [10, 0.2], [20, 2.6], [30, -0.1], [40, 0.3], [50, 10], [60, 20]], dtype=float)
    sigma, untraced = np.ones(7), np.zeros(7, dtype=bool)
    shape = straight_only([Straight(0, 4), Straight(4, 6)], closed=False)
    free = fit_corners(vertices, sigma_m=sigma, shape=shape, closed=False, traced=untraced)
    held = fit_corners(vertices, sigma_m=sigma, shape=shape, closed=False, traced=untraced, limit=1.7)
    assert free.furthest > 1.7 >= 0.99 * held.furthest
    ties = Ties(vertices, sigma, shape, closed=False, traced=untraced)

    def score(flat):
        corners = flat.reshape(-1, 2)
        return float((ties.linearised(corners, np.zeros(2))[1] ** 2).sum())

    def room(flat):
        return 1.7 - np.abs(ties.offsets_m(flat.reshape(-1, 2), np.zeros(2)))

    best = minimize(score, free.corners.ravel(), method="SLSQP", constraints={"type": "ineq", "fun": room}, tol=1e-12)
    assert held.corners == pytest.approx(best.x.reshape(-1, 2), abs=0.02)
    assert held.sigma_m == pytest.approx(free.sigma_m, rel=0.05)  # a limit is no knowledge

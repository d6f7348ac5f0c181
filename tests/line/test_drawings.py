"""A few cells of the table of runs and corners, held to its measure; the whole table: tests/benchmarks/measure_line.py.

And the makers of truth themselves: what they promise, and the bound against plain sampling.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.optimize import linear_sum_assignment

from fencegis.line.runs import fitted_line

NO_PEGS = np.zeros((0, 2))
CELLS = [
    ("sparse", 1.5, False, 40),
    ("sparse", 1.5, True, 40),
    ("mixed", 0.3, True, 40),
    ("mixed", 1.5, False, 40),
    ("dense", 0.3, True, 35),
    ("dense", 1.5, False, 35),
    ("dense", 1.5, True, 35),
]


@pytest.mark.parametrize(("kind", "sigma", "closed", "count"), CELLS)
def test_corners_are_counted_right_and_as_near_as_can_be(drawings, bound, kind, sigma, closed, count):
    right, ratios = 0, []
    for seed in range(2000, 2000 + count):
        one = drawings.drawing(kind, sigma_m=sigma, closed=closed, seed=seed)
        found = fitted_line("A", one.points, closed=closed, sigma_m=sigma, pegs=NO_PEGS).corners
        if len(found) != len(one.corners):
            continue
        gap = np.hypot(*(one.corners[:, None] - found[None]).transpose(2, 0, 1))
        off = gap[linear_sum_assignment(gap)][one.bends]
        least = bound.corner_bound(one.corners, leg=one.leg, share=one.share, sigma_m=sigma)
        right += 1
        ratios += (off / np.sqrt(np.trace(least, axis1=1, axis2=2))[one.bends]).tolist()
    assert right >= 0.97 * count
    # a stray click taken for a corner, rare and likelier than the truth by its own drawing, would rule a mean square
    assert np.sqrt(np.mean(np.sort(np.square(ratios))[: int(0.99 * len(ratios))])) <= 1.15


@pytest.mark.parametrize("closed", [False, True])
def test_an_irregular_trace_is_counted_right_too(drawings, closed):
    right = 0
    for seed in range(25):
        rng = np.random.default_rng(3000 + seed)
        corners = drawings.loop(rng) if closed else drawings.open_line(rng)
        steps = np.diff(np.vstack([corners, corners[:1]]) if closed else corners, axis=0)
        corner_m = np.append(0.0, np.cumsum(np.hypot(*steps.T)))
        walked = np.cumsum(rng.exponential(rng.uniform(3.0, 20.0), int(corner_m[-1])))
        walked = walked[walked < corner_m[-1]]
        if not closed:
            walked = np.concatenate([[0.0], walked, corner_m[-1:]])
        path = np.vstack([corners, corners[:1]]) if closed else corners
        points = np.column_stack([np.interp(walked, corner_m, path[:, axis]) for axis in (0, 1)])
        points += rng.normal(0.0, 0.7, points.shape)
        fit = fitted_line("A", points, closed=closed, sigma_m=0.7, pegs=NO_PEGS)
        right += len(fit.corners) == len(corners)
    assert right >= 24


@pytest.mark.parametrize("kind", ["sparse", "mixed", "dense"])
@pytest.mark.parametrize("closed", [False, True])
def test_drawings_keep_their_promises(drawings, kind, closed):
    for seed in range(40):
        one = drawings.drawing(kind, sigma_m=0.3, closed=closed, seed=seed)
        assert (shapely.linearrings if closed else shapely.linestrings)(one.corners).is_simple
        assert 3 <= len(one.leg_m) <= 9
        assert one.leg_m.min() >= 80.0
        assert one.leg_m.max() <= 600.0
        begin, end = one.legs
        heading = np.degrees(np.arctan2(*(end - begin).T))
        bend = np.abs((np.diff(heading, append=heading[:1]) + 180.0) % 360.0 - 180.0)[: len(one.bends)]
        assert bend.min() >= 8.0 - 1e-9
        assert bend.max() <= 120.0 + 1e-9
        meant = begin[one.leg] + one.share[:, None] * (end - begin)[one.leg]
        assert np.abs(one.points - meant).max() < 6 * 0.3
        clicked = set(one.on_corner[one.on_corner >= 0].tolist())
        ends = set() if closed else {0, len(one.corners) - 1}
        assert clicked == (ends if kind == "dense" else set(range(len(one.corners))))
    again = drawings.drawing(kind, sigma_m=0.3, closed=closed, seed=39)
    assert np.array_equal(one.points, again.points)


def test_the_bound_is_the_spread_of_corners_where_two_fitted_legs_meet(bound):
    # two legs of vertices that tell square to their leg only: the corner is where the two fitted straights meet
    corners = np.array([[0.0, 0.0], [0.0, 200.0], [200.0, 200.0]])
    share = np.concatenate([np.linspace(0.05, 0.95, 19)] * 2)
    leg = np.repeat([0, 1], 19)
    told = np.append(share, [0.0, 1.0]), np.append(leg, [0, 1])  # and both ends, whose lengths are else unknown
    least = bound.corner_bound(corners, leg=told[1], share=told[0], sigma_m=0.5)[1]
    rng, found = np.random.default_rng(3), []
    for _ in range(4000):
        east = np.polynomial.polynomial.polyfit(200 * np.append(share[:19], 0.0), rng.normal(0, 0.5, 20), 1)
        north = np.polynomial.polynomial.polyfit(200 * np.append(share[:19], 1.0), rng.normal(0, 0.5, 20), 1)
        found.append([east @ [1.0, 200.0], north @ [1.0, 0.0]])
    assert np.cov(np.array(found).T) == pytest.approx(least, abs=0.05 * least[0, 0])

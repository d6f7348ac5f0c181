"""Planes beside the line: exact in every direction, as sure as simulation says, each place on its own run."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis.hazards.plane import fitted, lie_beside, slope_error, square_m
from fencegis.line.chainage import Line, directions_at, points_at

if TYPE_CHECKING:
    from collections.abc import Callable

AT_M = square_m(8.0, 2.0)


def plane(east: float, north: float) -> Callable[[np.ndarray], np.ndarray]:
    return lambda points: 800.0 + east * points[:, 0] + north * points[:, 1]


def test_the_square_reaches_from_edge_to_edge() -> None:
    assert AT_M.tolist() == [-4.0, -2.0, 0.0, 2.0, 4.0]


@pytest.mark.parametrize("towards_deg", np.arange(0.0, 360.0, 45.0))
@pytest.mark.parametrize("walked_deg", [0.0, 77.0, 200.0])
def test_a_plane_comes_out_exact_whichever_way_it_falls_and_we_walk(towards_deg: float, walked_deg: float) -> None:
    falls, walked = np.radians([towards_deg, walked_deg])
    ahead = np.array([np.sin(walked), np.cos(walked)])
    line = Line("A", closed=False, corners=np.array([[10.0, 20.0], [10.0, 20.0] + 31.0 * ahead]))
    lie = lie_beside(line, ground=plane(-0.3 * np.sin(falls), -0.3 * np.cos(falls)), at_m=AT_M, beside_m=(-2.0, 2.0))
    for side in lie.planes:
        assert side.ahead == pytest.approx(-0.3 * np.cos(falls - walked), abs=1e-9)
        assert side.right == pytest.approx(-0.3 * np.sin(falls - walked), abs=1e-9)
        assert side.misfit_m == pytest.approx(0.0, abs=1e-9)


def test_the_places_are_no_further_apart_than_the_rows_and_a_corner_has_both_its_runs() -> None:
    line = Line("A", closed=False, corners=np.array([[0.0, 0.0], [0.0, 13.0], [7.5, 13.0]]))
    lie = lie_beside(line, ground=plane(0.0, -0.1), at_m=AT_M, beside_m=(2.0,))
    assert lie.chainage_m.tolist() == [0, 2, 4, 6, 8, 10, 12, 13, 13, 15, 17, 19, 20.5]
    assert lie.run.tolist() == [0] * 8 + [1] * 5
    assert lie.planes[0].ahead[lie.run == 0] == pytest.approx(-0.1)
    assert lie.planes[0].right[lie.run == 1] == pytest.approx(0.1)  # walking east the south is on the right
    assert lie.planes[0].ahead[lie.run == 1] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("rise_m", [None, np.array([6.0, -3.0])])
def test_the_shared_rows_give_what_each_square_alone_gives(rise_m: np.ndarray | None) -> None:
    def rough(points: np.ndarray) -> np.ndarray:
        return np.sin(points[:, 0] / 3.0) * np.cos(points[:, 1] / 5.0)

    line = Line("A", closed=False, corners=np.array([[0.0, 0.0], [30.0, 17.0], [45.0, -9.0]]), rise_m=rise_m)
    lie = lie_beside(line, ground=rough, at_m=AT_M, beside_m=(-2.0, 2.0))
    for place in range(len(lie.chainage_m)):
        inside = line.run_m[lie.run[place] + 1] - 1e-3
        ahead = directions_at(line, min(lie.chainage_m[place], inside))[0]
        right = np.array([ahead[1], -ahead[0]])
        for off_m, side in zip((-2.0, 2.0), lie.planes, strict=True):
            middle = points_at(line, lie.chainage_m[place])[0] + off_m * right
            points = np.array([middle + u * ahead + v * right for u in AT_M for v in AT_M])
            design = np.column_stack([np.ones(25), np.repeat(AT_M, 5), np.tile(AT_M, 5)])
            best, rest, *_ = np.linalg.lstsq(design, rough(points), rcond=None)
            assert (side.ahead[place], side.right[place]) == pytest.approx(best[1:], abs=1e-9)
            assert side.misfit_m[place] == pytest.approx(np.sqrt(rest[0] / 22.0), rel=1e-6)


def test_a_square_with_one_height_missing_has_no_plane() -> None:
    heights = np.zeros((2, 5, 5))
    heights[0, 1, 3] = np.nan
    planes = fitted(heights, at_m=AT_M)
    assert np.isnan(planes.ahead).tolist() == [True, False]
    assert np.isnan(planes.right).tolist() == [True, False]


@pytest.mark.parametrize("alike_m", [0.0, 8.0 / 3.0])
def test_a_slopes_error_is_what_simulation_scatters(alike_m: float) -> None:
    draw = np.random.default_rng(4)
    ahead, right = (part.ravel() for part in np.meshgrid(AT_M, AT_M, indexing="ij"))
    apart = np.hypot(ahead[:, None] - ahead, right[:, None] - right)
    likeness = np.exp(-apart / alike_m) if alike_m else np.eye(25)
    heights = 0.15 * draw.standard_normal((20_000, 25)) @ np.linalg.cholesky(likeness).T
    planes = fitted(heights.reshape(-1, 5, 5), at_m=AT_M)
    error = 0.15 * slope_error(AT_M, alike_m=alike_m)
    assert (planes.ahead.std(), planes.right.std()) == pytest.approx((error, error), rel=0.03)


def test_errors_alike_over_a_third_of_the_window_harm_a_slope_about_most() -> None:
    """As the abstract of Oksanen and Sarjakoski (2005) says: most where likeness reaches about as far as the window."""
    errors = [slope_error(AT_M, alike_m=alike_m) for alike_m in (0.0, 0.5, 1.0, 8.0 / 3.0, 20.0, 60.0)]
    assert max(errors) == errors[3]
    most = max(slope_error(AT_M, alike_m=alike_m) for alike_m in np.arange(0.5, 30.0, 0.1))
    assert errors[3] > 0.95 * most
    assert 100.0 * 0.15 * errors[0] == pytest.approx(1.0, abs=0.1)  # worked by hand: 0.15 ÷ √200, one per cent

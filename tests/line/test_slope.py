"""Slope of heights in rows and columns; the printed examples are in tests/published."""

from __future__ import annotations

import numpy as np
import pytest

from fencegis.line.slope import horn_gradient


def test_a_plane_has_its_own_gradient_uphill_positive_to_the_east_and_north() -> None:
    column, row = np.meshgrid(np.arange(9), np.arange(7))
    plane = 100 + 0.3 * 2.0 * column - 0.2 * 4.0 * row  # cells of 2 m by 4 m; rows run south
    east, north = horn_gradient(plane, cell_east_m=2.0, cell_north_m=4.0)
    assert east.shape == north.shape == plane.shape
    assert east[1:-1, 1:-1] == pytest.approx(np.full((5, 7), 0.3))
    assert north[1:-1, 1:-1] == pytest.approx(np.full((5, 7), 0.2))


def test_neighbours_that_are_missing_take_the_centre_s_height() -> None:
    east, north = horn_gradient(np.full((3, 3), 7.0), cell_east_m=1.0, cell_north_m=1.0)
    assert not east.any()
    assert not north.any()
    east, north = horn_gradient([[0.0, 8.0]], cell_east_m=1.0, cell_north_m=1.0)
    assert east.tolist() == [[2.0, 2.0]]  # the half of the window that there is: 2 × 8 / 8
    holed = np.array([[1.0, 2.0, 3.0], [1.0, 2.0, np.nan], [1.0, 2.0, 3.0]])
    east, _ = horn_gradient(holed, cell_east_m=1.0, cell_north_m=1.0)
    assert east[1, 1] == pytest.approx(((3 + 2 * 2 + 3) - 4) / 8)
    assert np.isnan(east[1, 2])

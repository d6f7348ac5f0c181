"""The slope and aspect of a 3 × 3 window, through our own kernel."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis.line.slope import horn_gradient

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.published(source="horn-1981", where="slope example: cell of 5, window 50 45 50 / 30 30 30 / 8 10 10")
def test_slope(compare: Callable, printed: type) -> None:
    window = np.array([[50.0, 45.0, 50.0], [30.0, 30.0, 30.0], [8.0, 10.0, 10.0]])  # rows run north to south
    east, north = (float(part[1, 1]) for part in horn_gradient(window, cell_east_m=5.0, cell_north_m=5.0))
    compare(east, "0.05")
    compare(-north, "-3.8")  # the page counts y down the rows; ours is uphill to the north
    compare(float(np.hypot(east, north)), printed("3.80032", 1e-5))  # cut off by the page, not rounded
    compare(float(np.degrees(np.arctan(np.hypot(east, north)))), printed("75.25762", 1e-3))  # with a rounded radian


@pytest.mark.published(source="horn-1981", where="aspect example: window 101 92 85 / 101 92 85 / 101 91 84")
def test_aspect(compare: Callable) -> None:
    window = np.array([[101.0, 92.0, 85.0], [101.0, 92.0, 85.0], [101.0, 91.0, 84.0]])
    east, north = (float(part[1, 1]) for part in horn_gradient(window, cell_east_m=1.0, cell_north_m=1.0))
    compare(east, "-8.125")
    compare(-north, "-0.375")
    compare(float(np.degrees(np.arctan2(-east, -north)) % 360.0), "92.64")  # the way that water runs

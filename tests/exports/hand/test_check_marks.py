"""The two points that are furthest apart, held against trying all."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fencegis.exports.hand.check_marks import furthest_apart

COORDINATE = st.integers(0, 40).map(float)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(points=st.lists(st.tuples(COORDINATE, COORDINATE), min_size=2, max_size=30))
def test_no_two_points_are_further_apart(points: list[tuple[float, float]]) -> None:
    array = np.array(points)
    first, second = furthest_apart(array)
    assert first < second
    best = max(np.hypot(*(one - other)) for one in array for other in array)
    assert np.hypot(*(array[first] - array[second])) == pytest.approx(best)

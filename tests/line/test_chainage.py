"""Stations and points of a planned line."""

import numpy as np
import pytest

from fencegis.line.chainage import Line, cut, directions_at, nearest, nearest_line, points_at
from fencegis.line.counting import equal_parts

BENT = Line("A", closed=False, corners=np.array([[0.0, 0.0], [0.0, 100.0], [50.0, 100.0]]))
SQUARE = Line("B", closed=True, corners=np.array([[0.0, 0.0], [0.0, 10.0], [10.0, 10.0], [10.0, 0.0]]))


def test_points_and_directions_follow_the_line():
    assert points_at(BENT, [0, 50, 100, 130]).tolist() == [[0, 0], [0, 50], [0, 100], [30, 100]]
    assert directions_at(BENT, [50, 100, 150]).tolist() == [[0, 1], [1, 0], [1, 0]]
    assert SQUARE.length_m == 40.0
    assert points_at(SQUARE, 40.0).tolist() == [[0.0, 0.0]]


def test_offsets_are_right_positive_and_go_there_and_back():
    chainage, offset = nearest(BENT, np.array([[3.0, 40.0], [-2.0, 70.0], [20.0, 104.0], [20.0, 97.0], [0.0, -5.0]]))
    assert chainage.tolist() == [40.0, 70.0, 120.0, 120.0, 0.0]
    assert offset.tolist() == [3.0, -2.0, -4.0, 3.0, 5.0]


def test_the_nearest_of_several_lines_is_named():
    line, chainage, offset = nearest_line([BENT, SQUARE], np.array([[5.0, 9.0], [1.0, 60.0]]))
    assert line.tolist() == [1, 0]
    assert chainage.tolist() == [15.0, 60.0]
    assert offset.tolist() == [1.0, 1.0]


def test_a_stretch_keeps_the_corners_in_between():
    assert cut(BENT, 90, 120).tolist() == [[0, 90], [0, 100], [20, 100]]
    assert cut(BENT, 10, 20).tolist() == [[0, 10], [0, 20]]


@pytest.mark.parametrize(
    ("length", "greatest", "parts"),
    [(240.0, 2.4, 100), (240.0009, 2.4, 100), (240.002, 2.4, 101), (0.3, 5.0, 1), (0.0, 5.0, 1)],
)
def test_a_millimetre_over_is_not_another_part(length, greatest, parts):
    assert equal_parts(length, greatest) == parts

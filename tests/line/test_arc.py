"""Arcs by their ends and rise, against the plainest geometry."""

import numpy as np
import pytest

from fencegis.line import arc


def test_a_quarter_turn_to_the_right():
    begin, end, radius = np.array([0.0, 0.0]), np.array([10.0, 10.0]), 10.0  # north, then east, about (10, 0)
    rise = radius * (1.0 - np.cos(np.pi / 4.0))
    assert arc.radius_m(begin, end, rise) == pytest.approx(10.0)
    assert arc.turn_rad(begin, end, rise) == pytest.approx(np.pi / 2.0)
    assert arc.length_m(begin, end, rise) == pytest.approx(5.0 * np.pi)
    assert arc.centre(begin, end, rise) == pytest.approx(np.array([10.0, 0.0]))
    middle = arc.points_on(begin, end, rise, np.array([0.0, 0.5, 1.0]))
    assert middle == pytest.approx(np.array([[0, 0], [10 - 50**0.5, 50**0.5], [10, 10]], dtype=float))


def test_a_left_turn_is_the_right_turn_mirrored():
    begin, end = np.array([0.0, 0.0]), np.array([-10.0, 10.0])
    rise = -10.0 * (1.0 - np.cos(np.pi / 4.0))
    assert arc.radius_m(begin, end, rise) == pytest.approx(-10.0)
    assert arc.length_m(begin, end, rise) == pytest.approx(5.0 * np.pi)
    assert arc.centre(begin, end, rise) == pytest.approx(np.array([-10.0, 0.0]))


def test_right_of_the_arc_is_positive_whichever_way_it_turns():
    begin, end = np.array([0.0, 0.0]), np.array([0.0, 20.0])
    for rise in (2.0, -2.0):  # north; right is east
        on = arc.points_on(begin, end, rise, np.array([0.5]))
        beside = on + np.array([[1.0, 0.0], [-3.0, 0.0]])
        assert arc.offset_m(beside, begin, end, rise) == pytest.approx(np.array([1.0, -3.0]))


def test_more_than_half_a_circle():
    begin, end, radius = np.array([0.0, 0.0]), np.array([6.0, 0.0]), 5.0  # the centre is 4 m off the chord
    rise = arc.rise_of(begin, end, radius, 4.0)
    assert rise == pytest.approx(9.0)
    assert arc.radius_m(begin, end, rise) == pytest.approx(5.0)
    assert arc.length_m(begin, end, rise) == pytest.approx(5.0 * (2.0 * np.pi - 2.0 * np.arcsin(0.6)))


@pytest.mark.parametrize("turn", [0.3, -0.3, 2.0, -2.0, 4.0, -4.0])
def test_the_rise_comes_back_from_radius_and_turn(turn):
    begin, radius = np.array([3.0, 4.0]), 40.0
    heading = 0.7
    chord = 2.0 * radius * np.sin(abs(turn) / 2.0)
    end = begin + chord * np.array([np.sin(heading), np.cos(heading)])
    rise = arc.rise_of(begin, end, np.copysign(radius, turn), turn)
    assert arc.radius_m(begin, end, rise) == pytest.approx(np.copysign(radius, turn))
    assert arc.turn_rad(begin, end, rise) == pytest.approx(turn)


def test_a_row_of_arcs_at_once_is_each_by_itself():
    rng = np.random.default_rng(3)
    begin, end, points = rng.normal(0, 50, (3, 4, 2))
    rise = rng.normal(0, 9, 4)
    together = arc.offset_m(points, begin, end, rise)
    alone = [arc.offset_m(points[[row]], begin[row], end[row], rise[row])[0] for row in range(4)]
    assert together == pytest.approx(np.array(alone))


def test_a_circle_is_found_in_exact_points_and_a_line_is_not_one():
    angle = np.linspace(0.3, 1.4, 7)
    points = np.array([100.0, -30.0]) + 25.0 * np.column_stack([np.sin(angle), np.cos(angle)])
    middle, radius = arc.fitted_circle(points)
    assert middle == pytest.approx(np.array([100.0, -30.0]))
    assert radius == pytest.approx(25.0)
    assert arc.fitted_circle(np.column_stack([np.arange(5.0), 2.0 * np.arange(5.0)]))[1] > 1e9


@pytest.mark.parametrize("rise", [0.0, 6.0, -6.0, 25.0])
def test_the_distance_from_a_run_is_that_from_many_points_on_it(rise):
    rng = np.random.default_rng(6)
    begin, end, points = np.array([0.0, 0.0]), np.array([30.0, 10.0]), rng.normal(10, 25, (40, 2))
    share = np.linspace(0.0, 1.0, 20_001)
    on = arc.points_on(begin, end, rise, share) if rise else begin + share[:, None] * (end - begin)
    least = [np.hypot(*(on - point).T).min() for point in points]
    every = [np.tile(place, (40, 1)) for place in (begin, end)]
    assert arc.distance_m(points, *every, np.full(40, rise)) == pytest.approx(np.array(least), abs=1e-4)

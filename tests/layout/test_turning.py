"""Sums of turns along a line."""

import numpy as np
import pytest

from fencegis.layout.turning import turning_along
from fencegis.line.chainage import Line


def turning(course, **settings):
    return turning_along(course, **{"taken": {}, "bay_m": 5.0, "post_turn_deg": 0.0} | settings)


def between(turns, from_m, to_m):
    return turns.up_to(np.array([from_m, to_m])).between(0, 1)


def bent(course, *turns_deg, leg_m=100.0, **settings):
    heading = np.cumsum(np.radians([0.0, *turns_deg]))
    steps = leg_m * np.column_stack([np.sin(heading), np.cos(heading)])
    return course(*np.vstack([[0.0, 0.0], np.cumsum(steps, axis=0)]).tolist(), **settings)


def test_bends_count_alike_whatever_way_they_turn(course):
    turns = turning(bent(course, 10.0, -20.0))
    assert between(turns, 0.0, 300.0) == pytest.approx(30.0)
    assert between(turns, 0.0, 150.0) == pytest.approx(10.0)
    assert between(turns, 120.0, 180.0) == pytest.approx(0.0, abs=1e-6)


def test_a_strainers_own_turn_is_no_turn_of_its_strains(course):
    turns = turning(bent(course, 10.0, -20.0))
    assert between(turns, 0.0, 100.0) == pytest.approx(0.0, abs=1e-6)
    assert between(turns, 100.0, 200.0) == pytest.approx(0.0, abs=1e-6)
    assert between(turns, 100.0, 300.0) == pytest.approx(20.0)


def test_changes_of_grade_count_as_bends_do(course):
    ground = course((0, 0), (200, 0), profile=([0, 100, 200], [0, 20, 0]))
    turns = turning(ground)
    (joint,) = ground.grades.joint_m[1:-1]
    assert between(turns, 0.0, 200.0) == pytest.approx(2.0 * np.degrees(np.arctan(0.2)), abs=0.5)
    assert between(turns, float(joint), 200.0) == pytest.approx(0.0, abs=1e-6)
    (number,) = np.flatnonzero(ground.grades.joint_m == joint)
    moved = turning(ground, taken={103.0: int(number)})  # the post that takes it stands beside
    assert between(moved, 0.0, 103.0) == pytest.approx(0.0, abs=1e-6)


def test_posts_off_the_string_count_by_the_metre_along_the_ground(course):
    steep = course((0, 0), (300, 0), profile=([0, 300], [0, 225]))
    assert between(turning(steep, post_turn_deg=0.5), 0.0, 300.0) == pytest.approx(375.0 / 5.0 * 0.5, abs=0.1)


def test_a_polygon_turns_by_360_and_its_start_is_the_last_strains_end(course):
    turns = turning(course((0, 0), (0, 50), (50, 50), (50, 0), closed=True))
    assert between(turns, 0.0, 200.0) == pytest.approx(270.0)  # three corners between, the fourth is the strainer's


def test_a_curve_turns_evenly_between_its_ends(course):
    """A quarter circle of 100 m radius as a chord every 5 cm, no corner told: what an arc's headings look like."""
    angle = np.linspace(0.0, np.pi / 2.0, 3142)
    curve = 100.0 * np.column_stack([1.0 - np.cos(angle), np.sin(angle)])
    line = Line("A", False, np.vstack([[0.0, -50.0], curve]))

    class Curved:
        grades = course((0, 0), (0, float(line.length_m))).grades
        corner_m = np.zeros(0)

    Curved.line = line
    turns = turning_along(Curved, taken={}, bay_m=5.0, post_turn_deg=0.0)
    assert between(turns, 0.0, line.length_m) == pytest.approx(90.0, abs=0.1)
    assert between(turns, 50.0, 50.0 + np.pi * 25.0) == pytest.approx(45.0, abs=0.5)
    assert between(turns, 0.0, 49.0) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_sums_rise_along_any_line_and_add_up_to_all_its_turns(course, seed):
    rng = np.random.default_rng(seed)
    line = bent(course, *rng.uniform(-80, 80, rng.integers(1, 6)), leg_m=float(rng.uniform(3.0, 90.0)))
    turns = turning(line, post_turn_deg=0.1)
    place = np.union1d(np.linspace(0.0, line.line.length_m, 400), line.corner_m)
    sums = turns.up_to(place)
    assert (np.diff(sums.before_deg) > -1e-9).all()
    assert (np.diff(sums.past_deg) > -1e-9).all()
    assert (sums.past_deg >= sums.before_deg).all()
    posts = 0.1 / 5.0 * line.line.length_m
    assert sums.between(0, -1) == pytest.approx(np.abs(line.turn_deg).sum() + posts, abs=0.01)

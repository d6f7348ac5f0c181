from __future__ import annotations

import numpy as np
import pytest

from fencegis.inputs.vertices import cleaned, self_crossing


def kept(points: list[tuple[float, float]], *, closed: bool = False) -> tuple[list[int], list[int], list[int]]:
    done = cleaned(np.array(points, dtype=float), closed=closed)
    return done.keep.tolist(), done.repeats.tolist(), done.spikes.tolist()


def test_a_clean_line_is_left_alone():
    assert kept([(0, 0), (10, 0), (10, 10)]) == ([0, 1, 2], [], [])
    assert kept([(0, 0), (10, 0), (10, 10)], closed=True) == ([0, 1, 2], [], [])


def test_repeats():
    assert kept([(0, 0), (0, 0), (0, 0.0005), (10, 0)]) == ([0, 3], [1, 2], [])
    assert kept([(0, 0), (10, 0), (10, 10), (0, 0)], closed=True) == ([0, 1, 2], [3], [])
    assert kept([(0, 0), (0, 0)]) == ([0], [1], [])


def test_closely_drawn_vertices_are_not_eaten_one_after_the_other():
    keep, _, _ = kept([(step * 0.0006, 0.0) for step in range(101)])
    assert len(keep) == 51


def test_spikes():
    assert kept([(0, 0), (10, 0), (10, 5), (10, 0), (20, 0)]) == ([0, 1, 4], [3], [2])
    assert kept([(0, 0), (10, 0), (15, 0), (12, 0), (12, 9)]) == ([0, 1, 3, 4], [], [2])
    assert kept([(0, 0), (5, 0), (10, 0), (10, 8), (10, 0), (5, 0), (0, 9)])[0] == [0, 1, 6]


def test_a_spike_of_several_vertices():
    assert kept([(0, 0), (10, 0), (10, 5), (10, 9), (10, 5), (10, 0), (20, 0)])[0] == [0, 1, 6]


def test_a_spike_at_the_start_of_a_loop():
    keep, _, spikes = kept([(-5, 0), (0, 0), (10, 0), (10, 10), (0, 0.0)], closed=True)
    assert spikes == [0]
    assert len(keep) == 3


def test_a_narrow_turn_is_no_spike():
    assert kept([(0, 0), (100, 0), (0, 0.5)]) == ([0, 1, 2], [], [])


def test_there_and_back_is_nothing():
    assert kept([(0, 0), (10, 0), (0, 0)])[0] == [0]
    there = [(float(step), float(step % 7)) for step in range(20_000)]
    assert kept(there + there[::-1])[0] == [0]
    assert kept(there + there[:0:-1], closed=True)[0] == [0, 1]


@pytest.mark.parametrize("closed", [False, True])
def test_no_crossing(closed: bool):
    assert self_crossing(np.array([(0, 0), (10, 0), (10, 10), (0, 10)], dtype=float), closed=closed) is None


def test_crossing_names_both_legs_and_the_place():
    found = self_crossing(np.array([(0, 0), (10, 10), (10, 0), (0, 10)], dtype=float), closed=False)
    assert found
    assert found[:2] == (0, 2)
    assert found[2].tolist() == [5, 5]


def test_the_closing_leg_counts():
    points = np.array([(0, 0), (10, 0), (5, -5), (5, 5)], dtype=float)
    assert self_crossing(points[:3], closed=False) is None
    assert self_crossing(points, closed=False)
    found = self_crossing(np.array([(0, 0), (10, 0), (10, 10), (5, -5)], dtype=float), closed=True)
    assert found
    assert found[:2] == (0, 2)


def test_running_back_over_oneself_elsewhere_is_a_crossing():
    assert self_crossing(np.array([(0, 0), (10, 0), (10, 5), (4, 0), (2, 0)], dtype=float), closed=False)

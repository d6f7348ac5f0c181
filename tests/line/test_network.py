"""Lines that touch, cross, share a side: planned once, one node, one post."""

import numpy as np
import pytest

from fencegis.line.network import network
from fencegis.line.shared_sides import planned_once
from fencegis.records.site import DrawnLine
from fencegis.records.spec import Spec

NO_PEGS = np.zeros((0, 2))


def drawn(line_id, *vertices, closed=False):
    return DrawnLine(line_id, "", f"feature {line_id}", "wire", None, closed, np.array(vertices, dtype=float), 1.0)


def net_of(*lines, **fence):
    return network(lines, pegs=NO_PEGS, spec=Spec.model_validate({"fence": fence}))


def meetings(net):
    return [(meeting.node_id, meeting.line_id, round(meeting.chainage_m, 2)) for meeting in net.meetings]


def test_a_stem_drawn_short_is_carried_on_to_the_line_it_ends_on():
    net = net_of(drawn("A", (0, 0), (200, 0)), drawn("B", (80, 120), (80, 1.5)))
    assert net.lines[1].corners.tolist() == [[80, 120], [80, 0]]
    assert meetings(net) == [("N01", "A", 80.0), ("N01", "B", 120.0)]
    assert net.notes[0].text == "end drawn 1.50 m away taken to meet line A (within 2.00 m)"


def test_a_stem_drawn_past_the_line_is_cut_back_along_itself():
    net = net_of(drawn("A", (0, 0), (200, 0)), drawn("B", (80, 120), (89, -1.0)))
    tip = net.lines[1].corners[1]
    assert tip[1] == pytest.approx(0.0, abs=1e-9)
    assert tip[0] == pytest.approx(80 + 9 * 120 / 121)


def test_a_stem_near_a_corner_ends_on_the_corner():
    net = net_of(drawn("A", (0, 0), (100, 0), (100, 100)), drawn("B", (101.4, 0.5), (200, -20)))
    assert net.lines[1].corners[0].tolist() == [100, 0]
    assert meetings(net) == [("N01", "A", 100.0), ("N01", "B", 0.0)]


def test_ends_that_touch_are_one_place_the_first_lines():
    net = net_of(drawn("A", (0, 0), (100, 0)), drawn("B", (101, 1), (150, 90)), drawn("C", (99.5, -1), (140, -80)))
    assert net.lines[1].corners[0].tolist() == net.lines[2].corners[0].tolist() == [100, 0]
    assert meetings(net) == [("N01", "A", 100.0), ("N01", "B", 0.0), ("N01", "C", 0.0)]


def test_lines_that_cross_have_a_node_and_keep_their_shape():
    net = net_of(drawn("A", (0, 0), (200, 0)), drawn("B", (50, -40), (50, 60)))
    assert meetings(net) == [("N01", "A", 50.0), ("N01", "B", 40.0)]
    assert net.notes == ()


def test_ends_further_apart_than_the_drawing_allows_do_not_touch():
    net = net_of(drawn("A", (0, 0), (200, 0)), drawn("B", (80, 120), (80, 2.5)))
    assert net.meetings == ()


def test_a_cross_fence_in_a_loop_meets_it_twice():
    loop = drawn("L", (0, 0), (0, 200), (200, 200), (200, 0), closed=True)
    net = net_of(loop, drawn("X", (101, -1.2), (99, 199)))
    assert [(node, line) for node, line, _ in meetings(net)] == [("N01", "L"), ("N01", "X"), ("N02", "L"), ("N02", "X")]
    assert [chainage for _, line, chainage in meetings(net) if line == "L"] == pytest.approx([299, 699], abs=1.5)


def test_a_side_of_two_paddocks_is_planned_once():
    west = drawn("W", (0, 0), (0, 100), (100, 100), (100, 0), closed=True)
    east = drawn("E", (100.6, -0.4), (99.7, 100.5), (220, 100), (220, 0), closed=True)
    pieces, notes = planned_once([west, east], touch_m=2.0)
    assert [piece.line_id for piece in pieces] == ["W", "E.1"]
    assert not pieces[1].closed
    assert "run along W and are planned there, once" in notes[0].text
    net = net_of(west, east)
    ends = net.lines[1].corners[[0, -1]]
    assert {tuple(np.round(end, 6)) for end in ends} == {(100.0, 100.0), (100.0, 0.0)}
    assert sum(line.line.length_m for line in net.lines) == pytest.approx(400 + 120 + 100 + 120, abs=3.0)


def test_a_line_drawn_wholly_along_another_leaves_nothing_to_plan():
    pieces, notes = planned_once([drawn("A", (0, 0), (200, 0)), drawn("B", (20, 0.5), (180, -0.5))], touch_m=2.0)
    assert [piece.line_id for piece in pieces] == ["A"]
    assert notes[0].text == "B: 160.0 m run along A and are planned there, once"


def test_an_offset_line_is_parallel_right_positive():
    net = net_of(drawn("A", (0, 0), (0, 100), (100, 100)), offset_m=2.0)
    assert net.lines[0].corners == pytest.approx(np.array([[2, 0], [2, 98], [100, 98]], dtype=float))


def test_an_offset_loop_shrinks_or_grows_evenly():
    square = drawn("A", (0, 0), (0, 100), (100, 100), (100, 0), closed=True)
    assert net_of(square, offset_m=1.0).lines[0].line.length_m == pytest.approx(392.0)
    assert net_of(square, offset_m=-1.0).lines[0].line.length_m == pytest.approx(408.0)

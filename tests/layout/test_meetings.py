"""Top lines that meet at a post: which line is planned first, and that the others come to it."""

from itertools import permutations

import numpy as np
import pytest

from fencegis.layout.meetings import in_order, notes_on_meetings
from fencegis.layout.post_tables import named
from fencegis.layout.posts import shared_out
from fencegis.layout.railed import railed
from fencegis.layout.strainers import fixed_posts
from fencegis.line.course import courses_of
from fencegis.line.network import network
from fencegis.records.site import DrawnLine
from fencegis.records.spec import Fence, Spec

THROUGH, STEM = ((0, 0), (60, 0)), ((30, 0), (30, 40))


def wavy(points):
    """Ground that climbs to the north-east at a tenth and more, in waves of about 12 m."""
    east, north = points.T
    return 0.08 * east + 0.10 * north + 0.25 * np.sin(east / 2.0) + 0.2 * np.cos(north / 1.7)


@pytest.fixture
def laid_out_lines():
    def lay(paths, *, ground=wavy, closed=(), kind="post and rail", **settings):
        drawn = [
            DrawnLine(name, "", f"feature {name}", kind, None, name in closed, np.array(path, dtype=float), 0.01)
            for name, path in paths.items()
        ]
        net = network(drawn, pegs=np.zeros((0, 2)), spec=Spec())
        fence = Fence(**{"kind": "post and rail", "rail_m": (4.8,), **settings})
        lines = []
        for course in courses_of(net, ground=ground, cell_m=1.0, vertical_error_m=0.05):
            fixed = fixed_posts(course, gates=(), fence=fence, bay_m=fence.post_spacing_m, lift=np.zeros_like)
            lines.append((course, fixed, shared_out(course, fixed=fixed, gates=(), fence=fence)))
        return named(lines), fence

    return lay


@pytest.fixture
def railed_lines(laid_out_lines):
    def rail(paths, **settings):
        lines, fence = laid_out_lines(paths, **settings)
        depth = {name: 0.8 for one in lines for name in one.post_id}
        return {one.line_id: one for one in railed(lines, embed_m=depth, fence=fence, tells_posts=True)}

    return rail


def levels(lines):
    """Return by post every level that a line has there."""
    found = {}
    for one in lines.values():
        for name, level in zip(one.laid_out.post_id, one.level_m, strict=True):
            found.setdefault(name, []).append(level)
    return found


@pytest.mark.parametrize("kind", ["flowing", "straight", "ground"])
def test_at_a_t_on_a_slope_the_stem_comes_to_the_line_that_runs_through(railed_lines, kind):
    lines = railed_lines({"A": THROUGH, "B": STEM}, top_line=kind)
    ((first, second),) = [each for each in levels(lines).values() if len(each) > 1]
    assert first == pytest.approx(second, abs=1e-6)
    alone = railed_lines({"A": THROUGH, "B": ((30, 9), (30, 40))}, top_line=kind)
    assert np.isnan(lines["A"].held_m).all()
    assert np.interp(30.0, lines["A"].bays.post_m, lines["A"].level_m) == pytest.approx(first)
    if kind != "ground":
        assert abs(alone["B"].level_m[-1] - lines["B"].level_m[-1]) < 0.4
        line = lines["B"].heights.line
        assert line.cost * (1 - 1e-3) <= line.bound <= line.cost + 1e-6
        assert lines["B"].held_m[0] == first


@pytest.mark.parametrize("kind", ["flowing", "straight"])
def test_they_would_not_meet_if_they_were_planned_apart(railed_lines, kind):
    lines = railed_lines({"A": THROUGH, "B": STEM}, top_line=kind)
    apart = railed_lines({"B": STEM}, top_line=kind)
    assert abs(apart["B"].level_m[0] - lines["A"].level_m[np.flatnonzero(lines["A"].bays.post_m > 29.99)[0]]) > 0.005


def test_the_line_that_runs_through_goes_first_even_when_it_is_given_last(railed_lines, laid_out_lines):
    lines, _ = laid_out_lines({"A": STEM, "B": THROUGH})
    assert [one.course.line_id for one in in_order(lines)] == ["B", "A"]
    both = railed_lines({"A": STEM, "B": THROUGH})
    assert list(both) == ["A", "B"]
    assert np.isnan(both["B"].held_m).all()
    assert both["A"].level_m[0] == pytest.approx(both["A"].held_m[0], abs=1e-6)


def test_a_ring_of_stems_begins_with_the_first_given(laid_out_lines):
    """Four lines, each ending on the side of the next: A on B, B on C, C on D, D on A."""
    ring = {"A": ((0, 0), (30, 0)), "B": ((30, -10), (30, 30)), "C": ((40, 30), (5, 30)), "D": ((5, 40), (5, 0))}
    lines, _ = laid_out_lines(ring)
    assert [one.course.line_id for one in in_order(lines)] == ["A", "D", "C", "B"]


@pytest.mark.parametrize("kind", ["flowing", "straight"])
def test_lines_meet_wherever_they_share_a_post_in_any_order(railed_lines, kind):
    """A crossing, two ends that meet, a stem, and a loop with a stem to it."""
    paths = [
        ((0, 0), (60, 0)),
        ((20, -30), (20, 30)),
        ((20, 30), (50, 45)),
        ((45, 0), (45, 20)),
        ((60, 0), (80, 0), (80, 20), (60, 20)),
    ]
    for order in list(permutations(range(5)))[::40]:
        given = {"ABCDE"[place]: paths[which] for place, which in enumerate(order)}
        lines = railed_lines(given, top_line=kind, closed=["ABCDE"[order.index(4)]])
        shared = [each for each in levels(lines).values() if len(each) > 1]
        assert len(shared) == 4
        assert max(np.ptp(each) for each in shared) < 1e-6
        for one in lines.values():
            line = one.heights.line
            assert line.cost * (1 - 1e-3) - 1e-6 <= line.bound <= line.cost + 1e-6


def broken(points):
    """A hollow where the stem leaves the through line, and a step down beside it."""
    east, north = points.T
    return 0.3 * np.minimum(np.abs(east - 30.0), 1.0) - np.clip(north, 0.0, 0.5)


def test_where_meeting_breaks_limits_it_is_said_where_and_by_how_much(railed_lines):
    lines = railed_lines({"A": THROUGH, "B": STEM}, ground=broken)
    stem = lines["B"]
    line = stem.heights.line
    assert stem.level_m[0] == pytest.approx(stem.held_m[0], abs=1e-6)
    assert line.breach_m == pytest.approx(line.least_breach_m, abs=1e-5)
    alone = railed_lines({"B": STEM}, ground=broken)["B"].heights.line
    assert line.held_breach_m == pytest.approx(line.least_breach_m - alone.least_breach_m, abs=1e-5)
    assert line.held_breach_m > 0.1
    (note,) = notes_on_meetings(list(lines.values()))
    name = stem.laid_out.post_id[0]
    assert f"to meet another line's top line at {name} this one breaks its limits" in note.text
    assert f"by {line.held_breach_m:.2f} m in all more" in note.text
    assert f"nearest here by {line.high_m[0]:.2f} m" in note.text
    assert (note.severity, note.line_id) == ("doubt", "B")
    assert note.chainage_m == pytest.approx(stem.bays.bay_m[0] / 2.0)
    assert not notes_on_meetings(list(railed_lines({"A": THROUGH, "B": STEM}).values()))


def test_without_known_ground_there_is_nothing_to_meet(railed_lines):
    lines = railed_lines({"A": THROUGH, "B": STEM}, ground=None)
    assert all(one.heights is None and np.isnan(one.held_m).all() for one in lines.values())

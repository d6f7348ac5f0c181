"""Where rails begin and end: every bay covered once, joints staggered, patterns started afresh."""

from itertools import product

import numpy as np
import pytest

from fencegis.layout.joints import cap_pattern, least_radius_m, rail_pattern


def pattern(bays, *, cut=(), opens=(), single=(), rows=3, rail_bays=2, closed=False):
    at = np.zeros(bays + (not closed), dtype=bool)
    at[list(cut)] = True
    gates, short = np.zeros((2, bays), dtype=bool)
    gates[list(opens)], short[list(single)] = True, True
    return rail_pattern(gates, cut=at, single=short, rows=rows, rail_bays=rail_bays, closed=closed)


def rails(found, row):
    here = found.row == row
    return list(zip(found.first[here].tolist(), found.bays[here].tolist(), strict=True))


def joints(found):
    """The posts at which each row has a rail's end, an open line's own ends among them."""
    return [
        set(found.first[found.row == row].tolist()) | set(found.last_post[found.row == row].tolist())
        for row in range(found.row.max() + 1)
    ]


def test_the_first_row_begins_long_and_the_second_short():
    found = pattern(5)
    assert rails(found, 0) == rails(found, 2) == [(0, 2), (2, 2), (4, 1)]
    assert rails(found, 1) == [(0, 1), (1, 2), (3, 2)]


def test_every_row_joins_at_a_cut_post_and_the_pattern_starts_afresh():
    found = pattern(8, cut=[3])
    assert rails(found, 0) == [(0, 2), (2, 1), (3, 2), (5, 2), (7, 1)]
    assert rails(found, 1) == [(0, 1), (1, 2), (3, 1), (4, 2), (6, 2)]
    assert not found.through[3]


def test_no_rail_crosses_a_gate_and_both_its_posts_are_joints_of_every_row():
    found = pattern(7, opens=[3])
    assert all(3 not in range(first, first + bays) for row in range(3) for first, bays in rails(found, row))
    assert all({3, 4} <= row for row in joints(found))


def test_one_bay_rails_lie_in_every_row_where_the_arc_asks_for_them():
    found = pattern(6, single=[2, 3])
    assert [first for row in range(3) for first, bays in rails(found, row) if bays == 1 and first in (2, 3)] == [
        2,
        3,
    ] * 3
    assert (pattern(6, rail_bays=1).bays == 1).all()


@pytest.mark.parametrize(("bays", "rows"), list(product((3, 4, 5, 8, 9), (3, 4, 5))))
def test_round_a_loop_without_a_cut_no_post_carries_every_joint(bays, rows):
    assert not set.intersection(*joints(pattern(bays, rows=rows, closed=True)))


def test_two_rows_round_an_even_loop_share_no_joint_and_round_an_odd_one_a_single_one():
    assert set.intersection(*joints(pattern(8, rows=2, closed=True))) == set()
    assert len(set.intersection(*joints(pattern(9, rows=2, closed=True)))) == 1


@pytest.mark.parametrize("seed", range(60))
def test_each_row_covers_every_bay_once_and_only_cut_posts_carry_every_joint(seed):
    rng = np.random.default_rng(seed)
    closed, bays, rows = bool(seed % 2), int(rng.integers(3, 30)), int(rng.integers(1, 6))
    posts = bays + (not closed)
    cut, opens, single = (rng.random(size) < share for size, share in ((posts, 0.15), (bays, 0.1), (bays, 0.1)))
    opens[0] = False
    found = rail_pattern(opens, cut=cut, single=single, rows=rows, rail_bays=2, closed=closed)
    for row in range(rows):
        covered = np.zeros(bays, dtype=int)
        for first, count in rails(found, row):
            covered[np.arange(first, first + count) % bays] += 1
        np.testing.assert_array_equal(covered, ~opens)
    around = (
        np.concatenate([opens | single, opens | single]) if closed else np.concatenate([[True], opens | single, [True]])
    )
    forced = {
        post
        for post in range(posts)
        if cut[post] or (around[post - 1 + bays] or around[post] if closed else around[post] or around[post + 1])
    }
    assert all(forced.isdisjoint({post}) or not found.through[post] for post in range(posts))
    if rows >= 3 or (rows == 2 and (forced or not bays % 2)):
        assert set.intersection(*joints(found)) <= forced


def test_rails_run_through_every_post_that_is_not_cut_where_joints_are_staggered():
    assert pattern(6, cut=[4]).through.tolist() == [False, True, True, True, False, True, False]
    assert pattern(6, rows=1).through.tolist() == [False, True, False, True, False, True, False]


def test_the_least_radius_follows_the_thickness():
    assert [least_radius_m(thick) for thick in (25.0, 37.5, 50.0, 100.0)] == pytest.approx([40.0, 70.0, 100.0, 200.0])
    assert least_radius_m(0.0) == 0.0


def boards(found):
    return list(zip(found.first.tolist(), found.bays.tolist(), strict=True))


def cap(bays, *, taken=(), stops=(), opens=(), short=(), closed=False):
    posts = bays + (not closed)
    at, used = (np.isin(np.arange(posts), places) for places in (stops, taken))
    gates, pairs = np.isin(np.arange(bays), opens), ~np.isin(np.arange(bays), short)
    return cap_pattern(gates, stops=at, pairs=pairs, taken=used, closed=closed)


def test_a_cap_is_joined_off_the_top_rails_joints():
    assert boards(cap(8, taken=[2, 4, 6])) == [(0, 1), (1, 2), (3, 2), (5, 2), (7, 1)]
    assert boards(cap(7, taken=[2, 4, 6])) == [(0, 1), (1, 2), (3, 2), (5, 2)]


def test_where_every_post_is_taken_a_cap_has_the_fewest_boards():
    assert boards(cap(5, taken=[1, 2, 3, 4])) == [(0, 2), (2, 2), (4, 1)]


def test_a_cap_is_cut_at_stops_and_gates_and_is_one_bay_long_where_two_do_not_fit():
    assert boards(cap(6, stops=[1], opens=[3])) == [(0, 1), (1, 2), (4, 2)]
    assert boards(cap(3, short=[0])) == [(0, 1), (1, 2)]
    assert boards(cap(2, short=[0, 1])) == [(0, 1), (1, 1)]


def test_round_a_loop_a_board_may_run_on_over_the_start():
    assert boards(cap(6, taken=[0, 2, 4], closed=True)) == [(1, 2), (3, 2), (5, 2)]
    assert boards(cap(6, taken=[1, 3, 5], closed=True)) == [(0, 2), (2, 2), (4, 2)]
    assert cap(6, taken=[0], closed=True).row.tolist() == [-1, -1, -1]


@pytest.mark.parametrize("seed", range(12))
def test_no_other_boards_have_fewer_joints_on_posts_taken_or_as_many_and_fewer_boards(seed):
    """Against every way to lay boards of one and two bays."""
    rng = np.random.default_rng(seed)
    bays = int(rng.integers(2, 11))
    taken, short = (np.flatnonzero(rng.random(bays) < share) for share in (0.5, 0.2))
    stops = np.flatnonzero(rng.random(bays) < 0.1)
    found = cap(bays, taken=taken, stops=stops, short=short)

    def ways(post):
        if post == bays:
            return [[]]
        one = [[(post, 1), *rest] for rest in ways(post + 1)]
        fits = post + 2 <= bays and post not in short and post + 1 not in stops
        return one + ([[(post, 2), *rest] for rest in ways(post + 2)] if fits else [])

    def cost(way):
        return sum(first in taken and first not in stops and first > 0 for first, _ in way), len(way)

    assert cost(boards(found)) == min(cost(way) for way in ways(0))

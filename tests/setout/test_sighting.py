"""The fewest sighting pegs, against every choice of pegs on short lines."""

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fencegis.records.spec import Sight
from fencegis.setout.sighting import (
    MOST_PLACES,
    fewest_pegs,
    lowest_seen_m,
    second_pole,
    seen_from,
    standing_places,
)

SIGHT = Sight()


def sees(station, ground, one, two, sight):
    """The twin: the two lines of sight drawn, each held against every point between."""

    def over(eye, pole):
        for between in range(one + 1, two):
            share = (station[between] - station[one]) / (station[two] - station[one])
            line = (1 - share) * (ground[one] + eye) + share * (ground[two] + pole)
            if line < ground[between] + sight.clear_m - 1e-9:
                return False
        return True

    return over(sight.eye_m, sight.pole_m) and over(sight.pole_m, sight.eye_m)


def by_trying(station, ground, sight):
    """The twin: every set of pegs, few first; among as few the least sum of squared sights."""
    last = len(station) - 1
    clear = {pair: sees(station, ground, *pair, sight) for pair in combinations(range(last + 1), 2)}
    for count in range(last):
        good = [
            (sum((station[two] - station[one]) ** 2 for one, two in pairwise(chain)), chain)
            for inner in combinations(range(1, last), count)
            for chain in [(0, *inner, last)]
            if all(clear[pair] for pair in pairwise(chain))
        ]
        if good:
            return min(good)
    raise AssertionError


def rough(seed, count=11):
    dice = np.random.default_rng(seed)
    station = np.concatenate([[0.0], np.cumsum(dice.uniform(2.0, 20.0, count - 1))])
    return station, np.cumsum(dice.normal(0.0, 2.5, count))


@pytest.mark.parametrize("seed", range(40))
def test_the_fewest_pegs_are_those_found_by_trying_every_choice(seed):
    station, ground = rough(seed)
    squares, tried = by_trying(station, ground, SIGHT)
    found = fewest_pegs(station, ground, sight=SIGHT)
    assert len(found) == len(tried)
    assert (np.diff(station[found]) ** 2).sum() == pytest.approx(squares)
    assert all(sees(station, ground, *pair, SIGHT) for pair in pairwise(found))


def test_the_rough_lines_are_worth_trying():
    counts = {len(fewest_pegs(*rough(seed), sight=SIGHT)) for seed in range(40)}
    assert {2, 3, 4} <= counts


@pytest.mark.parametrize("seed", range(10))
def test_who_sees_whom_is_as_drawn_and_both_ways(seed):
    station, ground = rough(seed, count=25)
    back = station[-1] - station[::-1]
    for place in range(24):
        seen = seen_from(station, ground, place, sight=SIGHT)
        assert seen.tolist() == [sees(station, ground, place, two, SIGHT) for two in range(place + 1, 25)]
    for one, two in combinations(range(25), 2):
        forward = seen_from(station, ground, one, sight=SIGHT)[two - one - 1]
        assert forward == seen_from(back, ground[::-1], 24 - two, sight=SIGHT)[two - one - 1]


heights = st.lists(st.floats(-20.0, 20.0), min_size=3, max_size=30)


@settings(max_examples=60, deadline=None)
@given(heights, st.floats(0.0, 1.0))
def test_flattening_the_ground_never_adds_pegs(ground, share):
    station, level = np.arange(len(ground)) * 5.0, np.array(ground)
    assert len(fewest_pegs(station, share * level, sight=SIGHT)) <= len(fewest_pegs(station, level, sight=SIGHT))


@settings(max_examples=60, deadline=None)
@given(heights, st.floats(0.0, 10.0), st.data())
def test_lowering_ground_where_no_peg_stands_never_adds_pegs(ground, by, data):
    station, level = np.arange(len(ground)) * 5.0, np.array(ground)
    pegs = fewest_pegs(station, level, sight=SIGHT)
    free = sorted({*range(len(ground))} - {*map(int, pegs)})
    if free:
        lower = level.copy()
        lower[data.draw(st.sampled_from(free))] -= by
        assert len(fewest_pegs(station, lower, sight=SIGHT)) <= len(pegs)


@settings(max_examples=40, deadline=None)
@given(heights, st.floats(0.4, 2.0))
def test_sighting_lower_never_takes_fewer_pegs(ground, pole):
    station, level = np.arange(len(ground)) * 5.0, np.array(ground)
    low = Sight(pole_m=pole)
    assert len(fewest_pegs(station, level, sight=low)) >= len(fewest_pegs(station, level, sight=SIGHT))


def test_ends_that_see_each_other_need_no_more():
    station = np.arange(0.0, 501.0)
    assert fewest_pegs(station, np.zeros(501), sight=SIGHT).tolist() == [0, 500]
    assert fewest_pegs(station, 0.02 * station, sight=SIGHT).tolist() == [0, 500]


def test_one_crest_takes_one_peg_near_its_top():
    station = np.arange(0.0, 201.0)
    chain = fewest_pegs(station, 8.0 - 0.08 * np.abs(station - 100.0), sight=SIGHT)
    assert len(chain) == 3
    assert abs(station[chain[1]] - 100.0) < 20.0


def crest():
    station = np.arange(0.0, 201.0)
    ground = 8.0 - 0.08 * np.abs(station - 100.0)
    return station, ground, fewest_pegs(station, ground, sight=SIGHT)


def test_the_second_pole_over_a_crest_sees_what_the_peg_sees_past():
    station, ground, chain = crest()
    second = second_pole(station, ground, chain, sight=SIGHT)
    begin, peg, end = chain
    assert second != peg
    assert begin < second < end
    far = begin if second > peg else end
    assert sees(station, ground, min(far, second), max(far, second), SIGHT)


def test_a_knife_edge_between_deep_sides_has_no_room_for_a_second_pole():
    station = np.arange(0.0, 5.0) * 20.0
    ground = np.array([0.0, 0.0, 40.0, 0.0, 0.0])
    chain = fewest_pegs(station, ground, sight=SIGHT)
    assert chain.tolist() == [0, 2, 4]
    assert second_pole(station, ground, chain, sight=SIGHT) is None


def test_how_low_the_next_pole_is_seen():
    station, ground = np.array([0.0, 50.0, 100.0]), np.array([0.0, 1.0, 0.0])
    # over 1.3 m at half way from 1.6 m: down to 1.0 m
    assert lowest_seen_m(station, ground, 0, 2, sight=SIGHT) == pytest.approx(1.0)
    assert lowest_seen_m(station, ground, 2, 0, sight=SIGHT) == pytest.approx(1.0)
    assert lowest_seen_m(station, ground, 0, 1, sight=SIGHT) == 0.0
    assert lowest_seen_m(station, np.zeros(3), 0, 2, sight=SIGHT) == 0.0


def test_a_long_run_offers_the_highest_place_of_each_part():
    ground = np.sin(np.arange(5_000) / 30.0)
    may_stand = standing_places(ground)
    assert len(may_stand) <= MOST_PLACES + 1
    assert {0, 4_999} <= {*map(int, may_stand)}
    assert ground[may_stand].max() == ground.max()
    station = np.arange(5_000.0)
    chain = fewest_pegs(station, 10.0 * ground, sight=SIGHT)
    assert all(seen_from(station, 10.0 * ground, one, sight=SIGHT)[two - one - 1] for one, two in pairwise(chain))


def test_places_that_do_not_see_each_other_give_way_to_every_station():
    # sawteeth: the highest places lie beyond drops that hide them from each other
    station = np.arange(0.0, 2_000.0)
    ground = 12.0 * np.abs(((station / 7.0) % 2.0) - 1.0)
    chain = fewest_pegs(station, ground, sight=SIGHT)
    assert chain[0] == 0
    assert chain[-1] == 1_999
    assert all(seen_from(station, ground, one, sight=SIGHT)[two - one - 1] for one, two in pairwise(chain))


def test_unknown_ground_is_refused():
    with pytest.raises(ValueError, match="ground must be known at every station"):
        fewest_pegs(np.arange(3.0), np.array([0.0, np.nan, 0.0]), sight=SIGHT)

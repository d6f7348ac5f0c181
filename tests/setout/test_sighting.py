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
    peg_chains,
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


def grown(seed, count=11):
    """Rough ground with grass, shrubs and trees on some of its stations, of unknown height or unknown on others."""
    station, ground = rough(seed, count)
    dice = np.random.default_rng(1_000 + seed)
    height = dice.choice([0.0, 0.8, 1.4, 1.7, 9.0, np.inf, np.nan], count, p=[0.55, 0.1, 0.1, 0.05, 0.05, 0.05, 0.1])
    return station, 0.5 * ground, height


def sees_past(station, ground, canopy, one, two, sight):
    """The twin: neither end in the canopy, both lines of sight over every point between, canopy and grass included."""
    if any(canopy[end] >= min(sight.eye_m, sight.pole_m) for end in (one, two)):
        return False
    top = ground + np.where(np.isnan(canopy), 0.0, np.maximum(canopy, sight.clear_m) - sight.clear_m)
    for eye, pole in ((sight.eye_m, sight.pole_m), (sight.pole_m, sight.eye_m)):
        for between in range(one + 1, two):
            share = (station[between] - station[one]) / (station[two] - station[one])
            line = (1 - share) * (ground[one] + eye) + share * (ground[two] + pole)
            if line < top[between] + sight.clear_m - 1e-9:
                return False
    return True


def chains_by_trying(station, ground, canopy, sight):
    """The twin: from each beginning on the furthest that any chain reaches, there by every choice of pegs."""
    count = len(station)
    clear = {pair: sees_past(station, ground, canopy, *pair, sight) for pair in combinations(range(count), 2)}
    stands = [place for place in range(count) if not canopy[place] >= min(sight.eye_m, sight.pole_m)]
    chains = []
    while stands:
        reached = {stands[0]}
        for place in stands[1:]:
            if any(clear[before, place] for before in reached):
                reached.add(place)
        inner = [place for place in stands if stands[0] < place < max(reached)]
        ends = sorted({stands[0], max(reached)})
        good = [
            (len(some), sum((station[two] - station[one]) ** 2 for one, two in pairwise(chain)))
            for number in range(len(inner) + 1)
            for some in combinations(inner, number)
            for chain in [sorted({*ends, *some})]
            if all(clear[pair] for pair in pairwise(chain))
        ]
        chains.append((*ends, *min(good)))
        stands = [place for place in stands if place > max(reached)]
    return chains


@pytest.mark.parametrize("seed", range(60))
def test_over_canopy_too_the_pegs_are_the_fewest_that_trying_every_choice_finds(seed):
    station, ground, canopy = grown(seed)
    found = peg_chains(station, ground, sight=SIGHT, canopy_m=canopy)
    tried = chains_by_trying(station, ground, canopy, SIGHT)
    assert [(chain[0], chain[-1]) for chain in found] == [(chain[0], chain[-3]) for chain in tried]
    for chain, best in zip(found, tried, strict=True):
        assert max(len(chain) - 2, 0) == best[-2]
        assert (np.diff(station[chain]) ** 2).sum() == pytest.approx(best[-1])
        assert all(sees_past(station, ground, canopy, *pair, SIGHT) for pair in pairwise(chain))


def test_the_grown_lines_are_worth_trying():
    chains = [
        peg_chains(station, ground, sight=SIGHT, canopy_m=leaves) for station, ground, leaves in map(grown, range(60))
    ]
    assert {1, 2, 3} <= {len(parts) for parts in chains}
    assert {1, 2, 3, 4} <= {len(chain) for parts in chains for chain in parts}
    bare = [len(fewest_pegs(*grown(seed)[:2], sight=SIGHT)) for seed in range(60)]
    assert any(len(parts) == 1 and len(parts[0]) > few for parts, few in zip(chains, bare, strict=True))


@pytest.mark.parametrize("seed", range(10))
def test_past_canopy_as_without_it_who_sees_whom_is_as_drawn_and_both_ways(seed):
    station, ground, canopy = grown(seed, count=25)
    back = station[-1] - station[::-1]
    for one, two in combinations(range(25), 2):
        drawn = sees_past(station, ground, canopy, one, two, SIGHT)
        assert seen_from(station, ground, one, sight=SIGHT, canopy_m=canopy)[two - one - 1] == drawn
        turned = seen_from(back, ground[::-1], 24 - two, sight=SIGHT, canopy_m=canopy[::-1])
        assert turned[two - one - 1] == drawn


@settings(max_examples=40, deadline=None)
@given(heights, st.floats(0.0, 0.3))
def test_canopy_no_higher_than_grass_changes_nothing(ground, low):
    station, level = np.arange(len(ground)) * 5.0, np.array(ground)
    (chain,) = peg_chains(station, level, sight=SIGHT, canopy_m=np.full(len(ground), low))
    assert chain.tolist() == fewest_pegs(station, level, sight=SIGHT).tolist()


def test_shrubs_are_looked_over_and_trees_part_the_line():
    station, ground, canopy = np.arange(0.0, 101.0), np.zeros(101), np.zeros(101)
    canopy[40:60] = 1.2
    assert [chain.tolist() for chain in peg_chains(station, ground, sight=SIGHT, canopy_m=canopy)] == [[0, 100]]
    canopy[40:60] = 8.0
    parts = peg_chains(station, ground, sight=SIGHT, canopy_m=canopy)
    assert [chain.tolist() for chain in parts] == [[0, 39], [60, 100]]
    canopy[60:] = 8.0
    assert [chain.tolist() for chain in peg_chains(station, ground, sight=SIGHT, canopy_m=canopy)] == [[0, 39]]
    assert peg_chains(station, ground, sight=SIGHT, canopy_m=np.full(101, 8.0)) == ()


def test_ground_that_takes_many_pegs_does_not_part_a_line_that_trees_part_once():
    station = np.arange(0.0, 601.0)
    ground = -60.0 * ((station - 225.0) / 225.0) ** 2  # a dome: each peg sees but a little way
    canopy = np.where(np.abs(station - 470.0) < 20.0, 9.0, 0.0)
    before, after = peg_chains(station, ground, sight=SIGHT, canopy_m=canopy)
    assert (before[0], before[-1], after[0], after[-1]) == (0, 450, 490, 600)
    assert len(before) > 4
    assert before.tolist() == fewest_pegs(station[:451], ground[:451], sight=SIGHT).tolist()


def test_over_trees_in_a_gully_one_bank_sees_the_other():
    station = np.arange(0.0, 101.0)
    ground = -12.0 * np.exp(-(((station - 50.0) / 18.0) ** 4))
    canopy = np.where(np.abs(station - 50.0) < 10.0, 8.0, 0.0)
    assert [chain.tolist() for chain in peg_chains(station, ground, sight=SIGHT, canopy_m=canopy)] == [[0, 100]]


def test_the_foot_of_a_pole_beyond_shrubs_is_not_seen():
    station, ground, canopy = np.arange(0.0, 21.0), np.zeros(21), np.zeros(21)
    canopy[10] = 1.0
    assert lowest_seen_m(station, ground, 0, 20, sight=SIGHT, canopy_m=canopy) == pytest.approx(0.4)
    assert lowest_seen_m(station, ground, 0, 20, sight=SIGHT) == pytest.approx(0.23, abs=0.02)


def test_canopy_that_parts_the_ends_is_refused_as_one_chain():
    canopy = np.array([0.0, 8.0, 0.0])
    with pytest.raises(ValueError, match="canopy must not part the ends"):
        fewest_pegs(np.arange(3.0), np.zeros(3), sight=SIGHT, canopy_m=canopy)


def test_a_long_run_under_trees_is_parted_where_they_stand():
    station = np.arange(3_000.0)
    ground = np.sin(station / 30.0)
    canopy = np.where((station % 500.0) < 12.0, 9.0, 0.0)
    chains = peg_chains(station, ground, sight=SIGHT, canopy_m=canopy)
    assert len(chains) == 6
    for chain in chains:
        for one, two in pairwise(chain):
            assert seen_from(station, ground, one, sight=SIGHT, canopy_m=canopy)[two - one - 1]


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

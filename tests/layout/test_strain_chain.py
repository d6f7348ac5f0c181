"""The cheapest chain of strainers against a plain twin that tries every choice."""

from itertools import combinations, pairwise

import numpy as np
import pytest

from fencegis.catalogue import rows
from fencegis.layout.strain_chain import (
    Costs,
    Limits,
    candidates_m,
    chain_cost,
    cheapest_chain,
    costs_of,
    standing_cost,
)
from fencegis.layout.turning import Turned

STRAIN = costs_of("strain")


def total(places, station, limits, costs, turned, standing):
    """What a choice costs, in plain loops; a limit may only be broken between neighbours, at the cost of a ban."""
    stops = [0, *places, len(station) - 1]
    cost = sum(standing[place] for place in places)
    for begin, end in pairwise(stops):
        length = station[end] - station[begin]
        turns = 0.0 if turned is None else turned.before_deg[end] - turned.past_deg[begin]
        cost += costs.uneven * (length / limits.length_m) ** 2
        if length > limits.length_m + 0.001 or turns > limits.turning_deg + 1e-6:
            cost += costs.forbidden if end == begin + 1 else np.inf
    return cost


def least(station, limits, costs, turned, standing):
    inner = range(1, len(station) - 1)
    choices = (choice for size in range(len(inner) + 1) for choice in combinations(inner, size))
    return min(total(choice, station, limits, costs, turned, standing) for choice in choices)


def turns_at(rng, station):
    """Turns at some stations, and a little everywhere between."""
    at = rng.choice([0.0, 0.0, 3.0, 12.0, 25.0, 60.0], len(station))
    between = 0.05 * np.diff(station)
    before = np.concatenate([[0.0], np.cumsum(at[:-1] + between)])
    return Turned(before, before + at)


@pytest.mark.parametrize("seed", range(120))
def test_no_choice_is_cheaper(seed):
    rng = np.random.default_rng(seed)
    inner = np.sort(rng.uniform(1, 499, rng.integers(3, 11)))
    station = np.concatenate([[0.0], inner, [500.0]])
    greatest = float(rng.choice([60.0, 120.0, 200.0, 260.0]))  # some neighbours are further apart than the first
    turned = turns_at(rng, station) if seed % 3 else None
    limits = Limits(greatest, 41.0 if turned else np.inf)
    welcome, forbidden = rng.random(len(station)) < 0.3, rng.random(len(station)) < 0.3
    costs = STRAIN if seed % 2 else costs_of("string")
    standing = standing_cost(len(station), costs=costs, welcome=welcome, forbidden=forbidden)
    found = cheapest_chain(station, limits=limits, costs=costs, turned=turned, welcome=welcome, forbidden=forbidden)
    expected = least(station, limits, costs, turned, standing)
    assert total(found, station, limits, costs, turned, standing) == pytest.approx(expected, abs=1e-9)

    stops = [0, *found, len(station) - 1]
    at_stops = None if turned is None else Turned(turned.before_deg[stops], turned.past_deg[stops])
    cost = chain_cost(
        station[stops],
        limits=limits,
        costs=costs,
        turned=at_stops,
        welcome=welcome[stops],
        forbidden=forbidden[stops],
    )
    assert cost == pytest.approx(expected, abs=1e-9)


def chain(length, greatest, *, crests=(), ban=None, bends=(), turning=np.inf):
    parts = int(np.ceil(length / greatest))
    station = candidates_m(length, parts=parts, also=np.array([*crests, *(place for place, _ in bends)], dtype=float))
    forbidden = np.zeros(len(station), dtype=bool) if ban is None else (station >= ban[0]) & (station <= ban[1])
    at = sum((np.where(station == place, turn, 0.0) for place, turn in bends), np.zeros(len(station)))
    past = np.cumsum(at)
    found = cheapest_chain(
        station,
        limits=Limits(greatest, turning),
        costs=STRAIN,
        turned=Turned(past - at, past),
        welcome=np.isin(station, crests),
        forbidden=forbidden,
    )
    return station[found].tolist()


def test_level_ground_takes_the_fewest_evenly():
    assert chain(1000.0, 330.0) == pytest.approx([250.0, 500.0, 750.0])
    assert chain(199.0, 200.0) == []
    assert chain(200.0005, 200.0) == []


def test_a_crest_draws_a_strainer_but_adds_none():
    places = chain(1000.0, 330.0, crests=(272.0,))
    assert len(places) == 3
    assert 272.0 in places


def test_none_stands_where_none_may_even_if_that_takes_one_more():
    places = chain(400.0, 200.0, ban=(195.0, 205.0))
    assert len(places) == 2
    assert all(not 195.0 <= place <= 205.0 for place in places)


def test_where_every_place_is_forbidden_the_length_still_holds():
    places = chain(600.0, 200.0, ban=(0.0, 600.0))
    assert places == pytest.approx([200.0, 400.0])


def test_a_strain_that_turns_too_much_is_broken_though_it_is_short():
    bends = ((30.0, 25.0), (60.0, 25.0))
    assert chain(100.0, 200.0, bends=bends, turning=50.0) == []
    (place,) = chain(100.0, 200.0, bends=bends, turning=41.0)
    assert 30.0 <= place <= 60.0


def test_a_bend_that_no_strain_may_pass_is_strained_from():
    assert chain(100.0, 200.0, bends=((37.0, 60.0),), turning=41.0) == [37.0]


def test_no_room_for_a_candidate_is_no_crash():
    station = np.array([0.0, 150.0, 200.0])
    assert cheapest_chain(station, limits=Limits(100.0), costs=STRAIN) == [1]
    turned = Turned(np.array([0.0, 50.0, 50.0]), np.array([0.0, 50.0, 50.0]))
    assert cheapest_chain(station, limits=Limits(500.0, 41.0), costs=STRAIN, turned=turned) == [1]


def test_each_kind_of_chain_has_its_own_whole_set_of_costs():
    assert {row["chain"] for row in rows("strainer_costs")} == {"strain", "string"}
    for kind in ("strain", "string"):
        costs = costs_of(kind)
        assert isinstance(costs, Costs)
        assert costs.forbidden == 1000.0 * costs.post
        assert costs.uneven < costs.post

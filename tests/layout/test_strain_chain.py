"""The cheapest chain of strainers against a plain twin that tries every choice."""

from itertools import combinations

import numpy as np
import pytest

from fencegis.layout.strain_chain import candidates_m, cheapest_chain, standing_cost, strain_cost


def total(places, station, greatest, standing):
    stops = station[[0, *places, len(station) - 1]]
    lengths = np.diff(stops)
    if lengths.max() > greatest + 0.001:
        return np.inf
    return float(strain_cost(lengths, greatest).sum() + standing[list(places)].sum())


@pytest.mark.parametrize("seed", range(60))
def test_no_choice_is_cheaper(seed):
    rng = np.random.default_rng(seed)
    inner = np.sort(rng.uniform(1, 499, rng.integers(3, 11)))
    station = np.concatenate([[0.0], inner, [500.0]])
    greatest = float(max(np.diff(station).max(), rng.choice([120.0, 200.0, 260.0])))
    crest, forbidden = rng.random(len(station)) < 0.3, rng.random(len(station)) < 0.3
    standing = standing_cost(crest, forbidden)
    found = cheapest_chain(station, greatest_m=greatest, crest=crest, forbidden=forbidden)
    every = (
        total(choice, station, greatest, standing)
        for size in range(len(inner) + 1)
        for choice in combinations(range(1, len(station) - 1), size)
    )
    assert total(found, station, greatest, standing) == pytest.approx(min(every), abs=1e-9)


def chain(length, greatest, *, crests=(), ban=None):
    station = candidates_m(length, greatest, also=np.array(crests, dtype=float))
    crest = np.isin(station, crests)
    forbidden = np.zeros(len(station), dtype=bool) if ban is None else (station >= ban[0]) & (station <= ban[1])
    return station[cheapest_chain(station, greatest_m=greatest, crest=crest, forbidden=forbidden)].tolist()


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


def test_candidates_too_far_apart_are_named():
    with pytest.raises(ValueError, match=r"no strainer within 100\.0 m before 150\.0 m"):
        cheapest_chain(
            np.array([0.0, 150.0, 200.0]), greatest_m=100.0, crest=np.zeros(3, bool), forbidden=np.zeros(3, bool)
        )

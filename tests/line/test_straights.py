"""The search for the fewest straights against a plain twin that tries every chain."""

from itertools import combinations, product

import numpy as np
import pytest

from fencegis.line.straights import Straight, across_track, bend_charge, fewest_straights, vertical


def misfit_of(points, weight, kind):
    """Least sum of squares by the textbook: singular values in plan, a fitted straight in profile."""
    middle = np.average(points, axis=0, weights=weight)
    away = (points - middle) * np.sqrt(weight)[:, None]
    if kind is across_track:
        return float(np.linalg.svd(away, compute_uv=False)[-1] ** 2) if len(points) > 1 else 0.0
    slope = (away[:, 0] @ away[:, 1]) / max(away[:, 0] @ away[:, 0], 1e-300)
    return float(((away[:, 1] - slope * away[:, 0]) ** 2).sum())


def every_chain(count, between):
    """All chains: at each chosen place the bend stands on the point, or, if allowed, between it and the one before."""
    for bends in range(count - 1):
        for places in combinations(range(1, count), bends):
            for apart in product((False, True), repeat=bends):
                firsts = [0, *places]
                lasts = [place - 1 if gap else place for place, gap in zip(places, apart, strict=True)] + [count - 1]
                chain = [Straight(first, last) for first, last in zip(firsts, lasts, strict=True)]
                if any(one.last <= one.first for one in chain):
                    continue
                long_enough = all(
                    one.last - one.first >= 2
                    for run, one in enumerate(chain)
                    if (run > 0 and apart[run - 1]) or (run < bends and apart[run])
                )
                allowed = all(between[place] for place, gap in zip(places, apart, strict=True) if gap)
                if long_enough and allowed:
                    yield chain


@pytest.mark.parametrize("kind", [across_track, vertical])
@pytest.mark.parametrize("seed", range(40))
def test_no_chain_scores_less_than_the_one_found(seed, kind):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(3, 9))
    points = np.column_stack([np.sort(rng.uniform(0, 100, count)), rng.normal(0, rng.choice([0.5, 5.0]), count)])
    weight = rng.choice([1.0, 4.0], count)
    between = rng.random(count) < 0.5
    charge = float(rng.choice([0.5, 3.0, 10.0]))

    def score(chain):
        return charge * (len(chain) - 1) + sum(
            misfit_of(points[one.first : one.last + 1], weight[one.first : one.last + 1], kind) for one in chain
        )

    found = fewest_straights(points[:, 0], points[:, 1], weight=weight, misfit=kind, between=between, charge=charge)
    least = min(score(chain) for chain in every_chain(count, between))
    assert score(found) == pytest.approx(least, abs=1e-6)


def test_points_on_two_straights_bend_once_on_the_shared_point():
    points = np.array([[0, 0], [10, 0], [20, 0], [20, 10], [20, 20]], dtype=float)
    chain = fewest_straights(
        points[:, 0],
        points[:, 1],
        weight=np.ones(5),
        misfit=across_track,
        between=np.zeros(5, dtype=bool),
        charge=bend_charge(5),
    )
    assert chain == [Straight(0, 2), Straight(2, 4)]


@pytest.mark.parametrize("kind", [across_track, vertical])
@pytest.mark.parametrize("seed", range(6))
def test_nothing_is_lost_by_measuring_only_what_may_be_best(seed, kind):
    rng = np.random.default_rng(seed)
    count = 90
    along = np.sort(rng.uniform(0, 900, count))
    bent = np.interp(along, [0, 300, 330, 700, 900], rng.uniform(-30, 30, 5))
    points = np.column_stack([along, bent + rng.normal(0, 1.0, count)])
    weight = rng.choice([1.0, 4.0], count)
    between = np.full(count, seed % 3 > 0) & (rng.random(count) < 0.8)
    charge = float(rng.choice([3.0, 6.0, 20.0]))

    def score(chain):
        parts = (slice(one.first, one.last + 1) for one in chain)
        return charge * (len(chain) - 1) + sum(misfit_of(points[part], weight[part], kind) for part in parts)

    best, best_long = np.full(count, np.inf), np.full(count, np.inf)
    for last in range(1, count):
        for first in range(last):
            fit = misfit_of(points[first : last + 1], weight[first : last + 1], kind)
            before = 0.0 if first == 0 else best[first] + charge
            best[last] = min(best[last], before + fit)
            if last - first >= 2:
                if first and between[first]:
                    before = min(before, best_long[first - 1] + charge)
                best_long[last] = min(best_long[last], before + fit)
        best[last] = min(best[last], best_long[last])
    found = fewest_straights(points[:, 0], points[:, 1], weight=weight, misfit=kind, between=between, charge=charge)
    assert score(found) == pytest.approx(best[-1], abs=1e-6)

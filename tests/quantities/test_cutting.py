"""The cutting against every way there is, against its own bounds, and against the rule that bays follow from."""

from __future__ import annotations

import math
import random
from collections import Counter
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fencegis.layout.bay_limit import greatest_bay_m
from fencegis.quantities import patterns
from fencegis.quantities.cutting import cut
from fencegis.quantities.first_fit import first_fit_decreasing, fullest_first, settled, simple_bound
from fencegis.quantities.kinds import alike, coarser, kinds_of
from fencegis.quantities.patterns import by_patterns
from fencegis.quantities.pricing import WORTH, Values, made, proven, within_cost
from fencegis.quantities.sticks import Stick, Stock, whole, yard_of
from fencegis.records.spec import Fence

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fencegis.quantities.cutting import Cutting

KERF_M, TRIM_M = 0.004, 0.025
ONE, TWO = (Stock(4.8),), (Stock(4.8), Stock(3.6))


def seeded(seed: int) -> random.Random:
    return random.Random(seed)  # noqa: S311


def sawn(pieces: Sequence[float], stocks: Sequence[Stock] = ONE) -> Cutting:
    return cut(pieces, stocks=stocks, kerf_m=KERF_M, trim_m=TRIM_M)


def shared_out(pieces: list[int]) -> Iterator[list[list[int]]]:
    """Every way to share pieces out into heaps."""
    if not pieces:
        yield []
        return
    for rest in shared_out(pieces[1:]):
        yield [[pieces[0]], *rest]
        for place in range(len(rest)):
            yield [*rest[:place], [pieces[0], *rest[place]], *rest[place + 1 :]]


def least_by_hand(pieces: Sequence[float], stocks: Sequence[Stock]) -> float:
    """The plain twin: every partition, each heap out of the shortest stock that holds it, paid by the metre."""
    found = math.inf
    for heaps in shared_out(list(range(len(pieces)))):
        cost = 0.0
        for heap in heaps:
            need = sum(pieces[piece] for piece in heap) + KERF_M * (len(heap) - 1) + 2 * TRIM_M
            cost += min((stock.length_m for stock in stocks if stock.length_m >= need - 1e-9), default=math.inf)
        found = min(found, cost)
    return found


def keeps_its_word(cutting: Cutting, pieces: Sequence[float], stocks: Sequence[Stock]) -> None:
    assert sorted(piece for stick in cutting.sticks for piece in stick.pieces) == list(range(len(pieces)))
    for stick, left in zip(cutting.sticks, cutting.left_m, strict=True):
        stock = stocks[stick.stock]
        used = sum(pieces[piece] for piece in stick.pieces) + KERF_M * (len(stick.pieces) - 1)
        room = stock.length_m - (0.0 if stock.trimmed else 2 * TRIM_M)
        assert used <= room + 1e-9
        assert left == pytest.approx(max(0.0, room - used - KERF_M), abs=1e-9)
    taken = Counter(stick.stock for stick in cutting.sticks)
    for place, stock in enumerate(stocks):
        assert stock.count is None or taken[place] <= stock.count
    assert cutting.bound <= cutting.cost
    assert cutting.first_fit is None or cutting.cost <= cutting.first_fit


LENGTHS = st.integers(200, 4750).map(lambda mm: mm / 1000.0)
SOME_STOCKS = st.sampled_from([ONE, TWO, (Stock(4.8), Stock(6.0), Stock(5.4))])


@given(st.lists(st.integers(300, 4750).map(lambda mm: mm / 1000.0), min_size=1, max_size=7), SOME_STOCKS)
@settings(max_examples=120, deadline=None, derandomize=True)
def test_against_every_partition(pieces, stocks) -> None:
    cutting = sawn(pieces, stocks)
    keeps_its_word(cutting, pieces, stocks)
    assert cutting.cost == pytest.approx(least_by_hand(pieces, stocks))
    assert cutting.proven


@given(st.lists(LENGTHS, max_size=60), SOME_STOCKS)
@settings(max_examples=60, deadline=None, derandomize=True)
def test_every_piece_once_no_stick_overfilled_between_bound_and_first_fit(pieces, stocks) -> None:
    cutting = sawn(pieces, stocks)
    keeps_its_word(cutting, pieces, stocks)
    assert cutting == sawn(pieces, stocks)


@given(st.lists(st.integers(300, 2500).map(lambda mm: mm / 1000.0), min_size=1, max_size=25))
@settings(max_examples=25, deadline=None, derandomize=True)
def test_counted_stock_is_never_overdrawn(pieces) -> None:
    stocks = (Stock(4.8), Stock(2.6, count=2), Stock(3.6, count=1))
    keeps_its_word(sawn(pieces, stocks), pieces, stocks)


def test_two_half_rails_and_a_kerf_come_out_of_one_rail() -> None:
    """The bay follows from the rail: 4.8 m, 25 mm off each end, a kerf of 4 mm give 2.373 m, and no more."""
    fence = Fence(kind="post and rail", rail_m=(4.8,))
    half_m = greatest_bay_m("post and rail", fence)
    assert half_m == pytest.approx(2.373)
    cutting = sawn([half_m, half_m])
    assert (len(cutting.sticks), cutting.left_m) == (1, (0.0,))
    assert len(sawn([half_m, half_m + 0.0001]).sticks) == 2


def test_a_piece_as_long_as_the_trimmed_stick_takes_it_whole() -> None:
    assert sawn([4.75]).left_m == (0.0,)
    with pytest.raises(ValueError, match="longer than any stock"):
        sawn([4.7501])
    with pytest.raises(ValueError, match="longer than any stock"):
        sawn([1.0], ())


def test_stock_shorter_than_its_trims_gives_nothing() -> None:
    pieces = [1.0, 2.0, 2.5, 0.7, 1.9]
    assert sawn(pieces, (Stock(0.04), Stock(4.8))).cost == sawn(pieces).cost


def test_what_has_no_length_is_no_piece() -> None:
    with pytest.raises(ValueError, match="no length"):
        sawn([2.0, 0.0])


def test_stock_that_does_not_suffice_is_refused() -> None:
    with pytest.raises(ValueError, match="stock at hand"):
        sawn([2.3, 2.3, 2.3], [Stock(4.8, count=1)])


def test_stock_that_only_just_suffices_is_found_where_longest_first_runs_out() -> None:
    """Six pieces out of two sticks of 3.0 m: longest first wants a third stick."""
    pieces = [1.4, 1.2, 1.0, 0.8, 0.8, 0.8]
    stock = [Stock(3.0, count=2)]
    found = cut(pieces, stocks=stock, kerf_m=0.0, trim_m=0.0)
    assert found.first_fit is None
    assert len(found.sticks) == 2


def test_price_may_choose_the_longer_stock() -> None:
    dear, cheap = Stock(3.6, price=20.0), Stock(4.8, price=15.0)
    cutting = sawn([3.0], [dear, cheap])
    assert (cutting.cost, cutting.sticks[0].stock) == (15.0, 1)
    with pytest.raises(ValueError, match="price"):
        sawn([3.0], [Stock(3.6), cheap])


def test_usable_off_cuts_are_stock_for_the_next_cut() -> None:
    first = sawn([4.0, 2.3, 1.0])
    kept = first.off_cuts()
    assert [stock.length_m for stock in kept] == pytest.approx([1.442, 0.746])
    again = sawn([1.442, 0.7], [Stock(4.8, price=10.0), *kept])
    assert again.cost == 0.0
    assert first.off_cuts(1.5) == []


def test_pieces_of_one_stick_stand_near_one_another_where_that_is_as_cheap() -> None:
    cutting = sawn([2.373, 2.1, 2.2, 2.3])
    assert [stick.pieces for stick in cutting.sticks] == [(0, 1), (2, 3)]


def test_where_longest_first_wastes_two_sticks_in_eleven() -> None:
    """The classic list on which first-fit-decreasing is furthest off (Johnson and others 1974, from memory)."""
    pieces = [0.51] * 6 + [0.27] * 6 + [0.26] * 6 + [0.23] * 12
    found = cut(pieces, stocks=[Stock(1.0)], kerf_m=0.0, trim_m=0.0)
    assert (found.first_fit, found.cost, found.proven) == (11.0, 9.0, True)


@pytest.mark.parametrize("stocks", [ONE, TWO])
def test_the_parts_agree_with_every_partition(stocks) -> None:
    """Bounds never above, heuristics never below, and what is settled lets the rest be as cheap as the whole."""
    rng = seeded(4)
    yard = yard_of(stocks, kerf_m=KERF_M, trim_m=TRIM_M)
    for _ in range(40):
        pieces = [rng.randint(500, 3400) / 1000.0 for _ in range(rng.randint(1, 7))]
        sizes = [whole(piece + KERF_M) for piece in pieces]
        least = whole(least_by_hand(pieces, stocks))
        assert simple_bound(sizes, yard) <= least
        assert min(yard.total(way(sizes, yard)) for way in (first_fit_decreasing, fullest_first)) >= least
        certain, rest = settled(sizes, yard)
        left = whole(least_by_hand([pieces[piece] for piece in rest], stocks))
        assert yard.total(certain) + left == least
        found, bound = by_patterns(sizes, yard, [])
        assert found is not None
        assert yard.total(found) == bound == least


def test_patterns_made_on_demand_prove_the_bound_of_all_patterns(monkeypatch) -> None:
    rng = seeded(5)
    yard = yard_of(TWO, kerf_m=KERF_M, trim_m=TRIM_M)
    sizes = [whole(rng.randint(600, 2400) / 1000.0) for _ in range(14)]
    best, _ = by_patterns(sizes, yard, [])
    monkeypatch.setattr(patterns, "LISTED_KINDS", 0)
    found, bound = by_patterns(sizes, yard, [])
    assert yard.total(found) == bound == yard.total(best)
    monkeypatch.setattr(patterns, "COARSE_KINDS", 6)
    found, bound = by_patterns(sizes, yard, [])
    assert 0 < bound <= yard.total(best) <= yard.total(found)


def test_the_dual_bound_never_passes_the_optimum_whatever_the_values() -> None:
    rng = seeded(6)
    pieces = [1.1, 1.3, 1.7, 2.3, 2.2, 0.9]
    for stocks in (ONE, TWO):
        yard = yard_of(stocks, kerf_m=KERF_M, trim_m=TRIM_M)
        kinds = kinds_of([whole(piece + KERF_M) for piece in pieces])
        least = whole(least_by_hand(pieces, stocks))
        for _ in range(50):
            worth = np.array([rng.randint(0, 50_000_000) for _ in kinds.size], dtype=np.int64)
            assert proven(kinds, yard, worth) <= least
        _, _, worth = made(kinds, yard, [])
        assert 0.9 * least <= yard.round_up(proven(kinds, yard, worth)) <= least


def test_patterns_that_a_cheaper_cutting_could_have_are_all_listed() -> None:
    """Those whose cost is over their worth by at most the spare; none is worth more than it costs."""
    rng = seeded(7)
    yard = yard_of(TWO, kerf_m=KERF_M, trim_m=TRIM_M)
    kinds = kinds_of([whole(rng.randint(600, 2400) / 1000.0) for _ in range(12)])
    high = np.array([2 * WORTH * size for size in kinds.size], dtype=np.int64)
    worth = within_cost(kinds, yard, high)
    over = {
        pattern: WORTH * yard.cost[pattern[0]] - sum(int(worth[kind]) * taken for kind, taken in pattern[1])
        for pattern in patterns.all_patterns(kinds, yard) or []
    }
    assert min(over.values()) >= 0
    assert (worth < high).all()
    spare = sorted(over.values())[len(over) // 2]
    listed = patterns.all_patterns(kinds, yard, Values(kinds, worth, max(yard.room), spare))
    assert set(listed or []) == {pattern for pattern, more in over.items() if more <= spare}


def test_lengths_that_no_stick_tells_apart_are_one_kind() -> None:
    """Every two of these half rails fit a stick and no three: of 300 lengths only the longest is a kind of its own."""
    yard = yard_of(ONE, kerf_m=KERF_M, trim_m=TRIM_M)
    sizes = [whole(2.05 + 0.001 * place + KERF_M) for place in range(300)]
    stretched = alike(sizes, yard)
    assert len(set(stretched.values())) == 2
    assert all(stretched[size] >= size for size in sizes)
    assert sum(set(stretched.values())) <= yard.room[0]


def test_stretching_changes_no_answer() -> None:
    rng = seeded(8)
    yard = yard_of(TWO, kerf_m=KERF_M, trim_m=TRIM_M)
    for _ in range(30):
        pieces = [rng.randint(1250, 3400) / 1000.0 for _ in range(6)]
        sizes = [whole(piece + KERF_M) for piece in pieces]
        stretched = alike(sizes, yard)
        longer = [stretched[size] / 10_000 - KERF_M for size in sizes]
        assert least_by_hand(longer, TWO) == least_by_hand(pieces, TWO)


def test_coarser_kinds_are_never_shorter_and_no_more_than_asked() -> None:
    sizes = list(range(1000, 5000, 7))
    lumped = coarser(sizes, 20)
    assert all(lumped[size] >= size for size in sizes)
    assert len(set(lumped.values())) <= 20
    assert set(lumped.values()) <= set(sizes)


def test_a_pattern_says_how_many_of_each_kind() -> None:
    kinds = kinds_of([30, 20, 30, 10])
    assert (kinds.size, kinds.wanted, kinds.unit) == ((30, 20, 10), (2, 1, 1), 10)
    assert kinds.pattern(Stick(0, (0, 2, 3))) == (0, ((0, 2), (2, 1)))


def test_two_thousand_rails_of_a_fence_are_proven() -> None:
    rng = seeded(1)
    rails = [rng.randint(4500, 4746) if rng.random() < 0.8 else rng.randint(2100, 2373) for _ in range(2000)]
    for stocks in (ONE, TWO):
        cutting = sawn([rail / 1000.0 for rail in rails], stocks)
        keeps_its_word(cutting, [rail / 1000.0 for rail in rails], stocks)
        assert cutting.proven

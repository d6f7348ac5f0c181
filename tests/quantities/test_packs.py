"""Exact, waste, whole packs, left over."""

from __future__ import annotations

import numpy as np
import pytest

from fencegis.quantities.packs import in_packs, shared_out, with_spares


def test_waste_is_added_once_and_rounding_waits_for_the_pack() -> None:
    order = in_packs(1470.0, waste_pct=2.0, pack=1500.0)
    assert (order.packs, order.ordered) == (1, 1500.0)
    assert order.left_pct == pytest.approx(100.0 * (1500.0 - 1470.0 * 1.02) / 1500.0)
    assert in_packs(1471.0, waste_pct=2.0, pack=1500.0).packs == 2


def test_what_fills_its_packs_to_the_last_bit_asks_for_no_more() -> None:
    """0.1 x 3 is a hair over 0.3 in a machine."""
    order = in_packs(0.1 * 3, waste_pct=0.0, pack=0.1)
    assert order.packs == 3
    assert order.left_pct == pytest.approx(0.0)


def test_loose_goods_are_ordered_as_they_are_with_their_waste() -> None:
    order = in_packs(12.5, waste_pct=10.0, pack=None)
    assert (order.packs, order.left_pct) == (None, None)
    assert order.ordered == pytest.approx(13.75)


def test_spares_are_the_whole_materials_not_each_sizes() -> None:
    """Ten sizes of three: 3 % of 30 is one spare, not ten."""
    orders = with_spares([3.0] * 10, waste_pct=3.0)
    assert sum(order.packs or 0 for order in orders) == 31
    assert orders[-1].packs == 4  # the longest can stand in for any


def test_spares_go_by_number() -> None:
    orders = with_spares([572.0, 15.0, 877.0], waste_pct=3.0)
    assert [order.packs for order in orders] == [589, 16, 903]  # 44 spares: 17.19, 0.45, 26.36


def test_no_waste_no_spares() -> None:
    assert [order.packs for order in with_spares([4.0, 2.0], waste_pct=0.0)] == [4, 2]


@pytest.mark.parametrize("whole", [0, 1, 7, 100])
def test_all_that_is_shared_out_arrives(whole: int) -> None:
    weights = np.random.default_rng(whole).uniform(0.0, 10.0, 13)
    given = shared_out(weights, whole)
    assert sum(given) == whole
    assert np.abs(np.array(given) - weights / weights.sum() * whole).max() < 1.0 + 1e-6


def test_a_pack_of_nothing_and_a_negative_waste_are_refused() -> None:
    with pytest.raises(ValueError, match="a pack holds something"):
        in_packs(1.0, waste_pct=0.0, pack=0.0)
    with pytest.raises(ValueError, match="waste is not below nothing"):
        with_spares([1.0], waste_pct=-1.0)

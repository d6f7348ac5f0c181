"""Gaps, and spots to fill or cut."""

import numpy as np
import pytest

from fencegis.layout.bay_ground import bay_ground
from fencegis.layout.rail_limits import limits_of
from fencegis.layout.under_rail import bay_gaps, fill_and_cut, gap_m, rail_heights
from fencegis.records.spec import Fence


def level_rail(*ground, posts=(0.0, 2.0, 4.0), height=1.3, opens=None, around=None):
    """Return bays over (chainage, ground) pairs and the gaps under a level line; the drop is 1 m."""
    station, heights = np.array(ground, dtype=float).T
    bays = bay_ground(np.array(posts), station_m=station, ground_m=heights, round_m=around, opens=opens)
    return bays, gap_m(bays, np.full(len(posts), height), drop_m=1.0)


def spots(bays, gap, width=0.5):
    return fill_and_cut(bays, gap, gap_min_m=0.1, gap_max_m=0.45, width_m=width)


def test_least_and_greatest_gap_and_where():
    bays, gap = level_rail((0, 0), (0.5, 0.1), (2, 0), (3, -0.4), (4, 0))
    gaps = bay_gaps(bays, gap)
    np.testing.assert_allclose(gaps.least_m, [0.2, 0.3])
    np.testing.assert_allclose(gaps.least_at_m, [0.5, 2.0])
    np.testing.assert_allclose(gaps.greatest_m, [0.3, 0.7])
    np.testing.assert_allclose(gaps.greatest_at_m, [0.0, 3.0])


def test_gates_and_unknown_ground_have_no_gap():
    bays, gap = level_rail((0, 0), (1, np.nan), (2, 0), (4, 0), (6, 0), posts=(0.0, 2.0, 4.0, 6.0),
                           opens=np.array([False, True, False]))  # fmt: skip
    gaps = bay_gaps(bays, gap)
    np.testing.assert_array_equal(np.isnan(gaps.least_m), [True, True, False])
    np.testing.assert_array_equal(np.isnan(gaps.greatest_at_m), [True, True, False])


def test_a_hump_is_cut_and_a_hollow_filled():
    # hump of 0.4 over 2 m: over 0.2 it is 1 m wide and 0.2 high; hollow of 0.25 over 2 m: under −0.15 it is 0.8 by 0.1
    found = spots(*level_rail((0, 0), (1, 0.4), (2, 0), (3, -0.25), (4, 0)))
    np.testing.assert_array_equal(found.cut, [True, False])
    np.testing.assert_allclose(found.from_m, [0.5, 2.6])
    np.testing.assert_allclose(found.to_m, [1.5, 3.4])
    np.testing.assert_allclose(found.deepest_m, [0.2, 0.1])
    np.testing.assert_allclose(found.deepest_at_m, [1.0, 3.0])
    np.testing.assert_allclose(found.volume_m3, [0.5 * 0.1, 0.5 * 0.04])


def test_a_spot_runs_on_over_a_post_but_not_over_a_gate():
    ground = (0, 0), (1, 0.4), (3, 0.4), (4, 0)
    found = spots(*level_rail(*ground))
    np.testing.assert_allclose([found.from_m, found.to_m], [[0.5], [3.5]])
    found = spots(*level_rail(*ground, opens=np.array([False, True])))
    np.testing.assert_allclose([found.from_m, found.to_m], [[0.5], [2.0]])


def test_two_humps_with_one_station_between_them_are_two_spots():
    found = spots(*level_rail((0, 0.1), (0.5, 0.3), (1, 0.1), (1.5, 0.3), (2, 0.1), (4, 0.1)))
    np.testing.assert_allclose(found.from_m, [0.25, 1.25])
    np.testing.assert_allclose(found.to_m, [0.75, 1.75])


def test_a_spot_over_a_loops_start_is_two():
    ground = (0, 0.4), (1, 0), (5, 0), (6, 0.4)
    found = spots(*level_rail(*ground, around=6.0))
    np.testing.assert_allclose([found.from_m, found.to_m], [[0.0, 5.5], [0.5, 6.0]])


@pytest.mark.parametrize("seed", range(5))
def test_volumes_against_a_plain_sum_over_millimetres(seed):
    chance = np.random.default_rng(seed)
    station = np.arange(0.0, 12.1, 0.25)
    ground = np.cumsum(chance.normal(0.0, 0.1, len(station)))
    bays, gap = level_rail(*zip(station, ground, strict=True), posts=np.arange(0.0, 12.1, 2.4))
    found = spots(bays, gap, width=1.0)
    fine = np.arange(0.0005, 12.0, 0.001)
    under = 0.3 - np.interp(fine, station, ground)
    assert found.volume_m3[found.cut].sum() == pytest.approx(np.maximum(0.1 - under, 0).sum() * 0.001, abs=1e-4)
    assert found.volume_m3[~found.cut].sum() == pytest.approx(np.maximum(under - 0.45, 0).sum() * 0.001, abs=1e-4)
    for begin, end, cut in zip(found.from_m, found.to_m, found.cut, strict=True):
        inside = under[(fine > begin + 0.001) & (fine < end - 0.001)]
        assert ((inside < 0.1) if cut else (inside > 0.45)).all()


def test_heights_gaps_and_spots_together():
    """A kerb of 0.6 m inside a bay is more than the gap's limits leave room for: it has to be cut, and nothing else."""
    station = np.array([0.0, 6.0, 6.0 + 1e-3, 7.0, 7.0 + 1e-3, 12.0])
    ground = np.array([5.0, 5.0, 5.6, 5.6, 5.0, 5.0])
    bays = bay_ground(np.arange(0.0, 12.1, 2.4), station_m=station, ground_m=ground)
    fence = Fence(kind="post and rail", rail_m=(4.8,))
    every = np.ones(6, dtype=bool)
    limits = limits_of(fence, drop_m=1.0, tallest_m=np.full(6, 1.45), through=every, held_m=np.full(6, np.nan))
    heights = rail_heights(bays, limits=limits, kind="flowing", width_m=0.5)
    assert heights.top_m.max() <= 1.45 + 1e-5
    np.testing.assert_array_equal(heights.spots.cut, [True])
    assert heights.spots.deepest_m[0] == pytest.approx(heights.line.breach_m)
    assert heights.gaps.least_m[2] == pytest.approx(0.1 - heights.line.low_m[2])
    assert heights.line.low_m[2] == pytest.approx(0.25, abs=1e-4)  # 0.6 less the 0.35 between the limits

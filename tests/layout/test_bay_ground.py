"""Bays, the ground under them, and the stations that bind."""

import numpy as np
import pytest

from fencegis.layout.bay_ground import bay_ground


def rough(seed, *, length_m=24.0, step_m=0.25):
    chance = np.random.default_rng(seed)
    station = np.arange(0.0, length_m + step_m / 2, step_m)
    return station, np.cumsum(chance.normal(0.0, 0.05, len(station)))


def test_each_bay_begins_and_ends_with_its_posts_on_the_ground_between_stations():
    bays = bay_ground(
        np.array([0.0, 1.5, 4.0]), station_m=np.array([0.0, 1.0, 4.0]), ground_m=np.array([0.0, 1.0, 4.0])
    )
    np.testing.assert_allclose(bays.station_m, [0.0, 1.0, 1.5, 1.5, 4.0])
    np.testing.assert_array_equal(bays.bay, [0, 0, 0, 1, 1])
    np.testing.assert_allclose(bays.ground_m, [0.0, 1.0, 1.5, 1.5, 4.0])
    np.testing.assert_allclose(bays.post_ground_m, [0.0, 1.5, 4.0])
    np.testing.assert_array_equal(bays.bent, [1])


def test_a_loop_has_a_bay_back_to_its_first_post():
    station, ground = np.array([0.0, 5.0, 10.0, 15.0, 20.0]), np.array([0.0, 1.0, 2.0, 1.0, 0.0])
    bays = bay_ground(np.array([0.0, 6.0, 12.0]), station_m=station, ground_m=ground, round_m=20.0)
    np.testing.assert_allclose(bays.bay_m, [6.0, 6.0, 8.0])
    np.testing.assert_allclose(bays.station_m[bays.bay == 2], [12.0, 15.0, 20.0])
    np.testing.assert_allclose(bays.ground_m[bays.bay == 2], [1.6, 1.0, 0.0])
    np.testing.assert_array_equal(bays.bent, [0, 1, 2])
    # rises 1.2 over 6 m, then 0.4 over 6 m, then falls 1.6 over 8 m
    np.testing.assert_allclose(bays.bend @ bays.post_ground_m, [40.0, 0.4 / 0.06 - 20.0, -20.0 - 0.4 / 0.06])


@pytest.mark.parametrize("above", [True, False])
@pytest.mark.parametrize("seed", range(5))
def test_a_straight_rail_is_nearest_to_the_ground_at_a_station_that_binds(seed, above):
    """Against a plain look at every station, for many rails."""
    station, ground = rough(seed)
    bays = bay_ground(np.arange(0.0, 24.1, 2.4), station_m=station, ground_m=ground)
    kept = bays.binding(above=above)
    assert len(kept) < len(bays.bay)
    chance = np.random.default_rng(100 + seed)
    for _ in range(50):
        over = (bays.from_posts(chance.normal(0.0, 1.0, 11)) - bays.ground_m) * (1.0 if above else -1.0)
        for bay in range(10):
            assert over[kept][bays.bay[kept] == bay].min() == pytest.approx(over[bays.bay == bay].min(), abs=1e-12)


def test_no_station_can_be_spared_of_those_that_bind():
    station, ground = rough(3)
    bays = bay_ground(np.arange(0.0, 24.1, 2.4), station_m=station, ground_m=ground)
    kept = bays.binding(above=True)
    for first, middle, last in zip(kept[:-2], kept[1:-1], kept[2:], strict=True):
        if bays.bay[first] == bays.bay[last]:
            place = [bays.station_m[each] for each in (first, middle, last)]
            assert bays.ground_m[middle] > np.interp(place[1], place[::2], bays.ground_m[[first, last]])


def test_a_gate_and_unknown_ground_bind_nothing():
    station, ground = rough(1)
    ground[station > 20.0] = np.nan
    opens = np.zeros(10, dtype=bool)
    opens[2] = True
    bays = bay_ground(np.arange(0.0, 24.1, 2.4), station_m=station, ground_m=ground, opens=opens)
    kept = bays.binding(above=True)
    assert not (bays.bay[kept] == 2).any()
    assert not np.isnan(bays.ground_m[kept]).any()
    assert np.isnan(bays.post_ground_m[-1])


def test_ground_outside_the_stations_is_unknown():
    bays = bay_ground(np.array([0.0, 2.0, 4.0]), station_m=np.array([0.0, 3.0]), ground_m=np.array([1.0, 1.0]))
    np.testing.assert_array_equal(np.isnan(bays.post_ground_m), [False, False, True])


@pytest.mark.parametrize(
    ("posts", "around"), [([0.0], None), ([0.0, 2.0, 2.0], None), ([0.0, 2.0], 4.0), ([0, 2, 5], 5.0)]
)
def test_too_few_posts_or_none_that_rise(posts, around):
    with pytest.raises(ValueError, match="at least two posts, a loop three, and their chainages rise"):
        bay_ground(np.array(posts, dtype=float), station_m=np.array([0.0, 5.0]), ground_m=np.zeros(2), round_m=around)


def test_how_far_a_post_is_off_a_straight_rail_over_unequal_bays():
    bays = bay_ground(np.array([0.0, 1.0, 4.0]), station_m=np.array([0.0, 4.0]), ground_m=np.zeros(2))
    level = np.array([0.3, 0.7, 0.2])
    off = level[1] - np.interp(1.0, [0.0, 4.0], level[[0, 2]])
    assert bays.bend_for(off)[0] == pytest.approx(-(bays.bend @ level)[0])

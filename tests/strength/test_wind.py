"""Wind by solidity. What stands in print is held in tests/published."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fencegis.strength.wind import gust_kpa, is_open, open_coefficient, screen_coefficient, solidity, strip_kn_m


def test_twice_the_speed_presses_four_times() -> None:
    assert gust_kpa([0.0, 20.0, 40.0]).tolist() == pytest.approx([0.0, 0.25, 1.0])
    assert gust_kpa(20.0, density_kg_m3=2.5) == pytest.approx(0.5)


def test_a_speed_below_zero_is_refused() -> None:
    with pytest.raises(ValueError, match="wind speed is not below zero"):
        gust_kpa([10.0, -1.0])


def test_solidity_of_rails_and_wires() -> None:
    assert solidity(3, size_m=0.15, height_m=1.2) == pytest.approx(0.375)
    assert solidity(6, size_m=0.0025, height_m=1.1) == pytest.approx(0.0136, abs=5e-5)
    assert solidity(9, size_m=0.15, height_m=1.2) == 1.0  # boards that lap


def test_the_table_of_open_fences_ends_where_a_screen_begins() -> None:
    assert is_open([0.0, 0.7, 0.71, 1.0]).tolist() == [True, True, False, False]
    assert np.isnan(open_coefficient([0.71, 1.0], shape="flat")).all()


@pytest.mark.parametrize("solid", [-0.01, 1.01])
def test_a_solidity_that_cannot_be_is_refused(solid: float) -> None:
    for refuses in (
        lambda: open_coefficient(solid, shape="flat"),
        lambda: screen_coefficient(solid),
        lambda: strip_kn_m(solid, height_m=1.0, shape="round", pressure_kpa=1.0),
    ):
        with pytest.raises(ValueError, match="a solidity is from 0 to 1"):
            refuses()


def test_a_screen_carries_most_at_its_end_and_one_with_gaps_alike_everywhere() -> None:
    away = [0.0, 0.3, 0.31, 2.0, 2.1, 4.0, 4.1, np.inf]
    assert screen_coefficient(1.0, from_end=away).tolist() == pytest.approx([3.4, 3.4, 2.1, 2.1, 1.7, 1.7, 1.2, 1.2])
    assert screen_coefficient(0.75, from_end=away).tolist() == pytest.approx([1.2] * 8)
    assert screen_coefficient(0.9, from_end=0.0) == pytest.approx((3.4 + 1.2) / 2.0)  # half way from 0.8 to 1


def test_force_goes_with_the_solid_area_until_it_is_a_screen() -> None:
    three_rails = strip_kn_m(0.375, height_m=1.2, shape="flat", pressure_kpa=0.5)
    assert three_rails == pytest.approx(0.5 * 1.6 * 3 * 0.15)
    boarded = strip_kn_m(1.0, height_m=1.2, shape="flat", pressure_kpa=0.5)
    assert boarded == pytest.approx(0.5 * 1.2 * 1.2)
    assert strip_kn_m(1.0, height_m=1.2, shape="flat", pressure_kpa=0.5, from_end_m=0.1) == pytest.approx(
        boarded * 3.4 / 1.2
    )


@given(
    solid=st.floats(0.0, 1.0),
    more=st.floats(0.0, 1.0),
    height=st.floats(0.3, 3.0),
    end=st.floats(0.0, 50.0),
    shape=st.sampled_from(["flat", "round"]),
)
def test_a_denser_fence_bears_hardly_less_and_never_more_than_a_lone_plate(
    solid: float, more: float, height: float, end: float, shape: str
) -> None:
    """The table's rows step down for flat members: up to 11 % less just after a step."""
    how = {"height_m": height, "shape": shape, "pressure_kpa": 1.0, "from_end_m": end}
    one, denser = (float(strip_kn_m(share, **how)) for share in (solid, min(1.0, solid + more)))
    assert denser >= 0.88 * one
    assert 0.0 <= one <= 3.4 * height * max(solid, 0.0) + 1e-9 or solid > 0.7


@given(solid=st.floats(0.0, 1.0), times=st.floats(1.0, 5.0))
def test_force_is_in_proportion_to_pressure_and_height(solid: float, times: float) -> None:
    once = float(strip_kn_m(solid, height_m=1.0, shape="flat", pressure_kpa=0.4))
    assert strip_kn_m(solid, height_m=1.0, shape="flat", pressure_kpa=0.4 * times) == pytest.approx(once * times)
    assert strip_kn_m(solid, height_m=times, shape="flat", pressure_kpa=0.4) == pytest.approx(once * times)

"""How posts come into each soil. Figures without a print are held in tests/common_practice."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fencegis.line.zones import ROCKS, soil_names
from fencegis.strength.holes import hole_mm, number, over_post_mm, ring_l, set_by, water_l


@pytest.mark.parametrize("how", ["driven", "bored", "dug"])
def test_the_site_says_how_unless_the_soil_does(how: str) -> None:
    assert {set_by(soil, post_set=how) for soil in ("gravel", "loam", "clay", "sand")} == {how}
    assert {set_by(soil, post_set=how) for soil in ROCKS} == {"bored"}
    assert set_by("bog", post_set=how) == "driven"


def test_a_driven_post_has_no_hole_and_no_water() -> None:
    hole = hole_mm(["sand", "sand"], ["driven", "bored"], post_mm=175.0)
    assert np.isnan(hole).tolist() == [True, False]
    assert water_l(["sand", "sand"], hole_mm=hole, post_mm=175.0, embed_m=1.0).tolist()[0] == 0.0


def test_the_auger_is_larger_in_sand_than_in_firm_ground_and_a_dug_hole_larger_still() -> None:
    for soil in soil_names():
        if soil != "sand":
            assert over_post_mm("sand", how="bored") > over_post_mm(soil, how="bored")
    assert over_post_mm("clay", how="bored") == 0.0  # a tight fit
    assert over_post_mm("sand", how="dug") > over_post_mm("sand", how="bored")


def test_rock_takes_no_water_and_clay_less_than_sand() -> None:
    rock, clay, sand = water_l(["rock", "clay", "sand"], hole_mm=325.0, post_mm=175.0, embed_m=0.9)
    assert rock == 0.0
    assert clay == pytest.approx(sand / 2.0)


@given(st.floats(0.3, 1.5), st.floats(100.0, 300.0), st.floats(0.0, 150.0))
def test_water_is_never_less_than_the_least_and_grows_with_the_ring(
    embed_m: float, post_mm: float, over_mm: float
) -> None:
    thin, wide = (
        float(water_l(["sand"], hole_mm=[post_mm + over], post_mm=[post_mm], embed_m=[embed_m])[0])
        for over in (over_mm, over_mm + 10.0)
    )
    assert wide >= thin >= number("least water")


def test_the_ring_is_the_hole_less_the_post() -> None:
    assert float(ring_l(200.0, post_mm=0.0, embed_m=1.0)) == pytest.approx(31.416, abs=0.001)
    assert float(ring_l(200.0, post_mm=200.0, embed_m=1.0)) == 0.0


def test_a_figure_that_is_not_there_is_refused() -> None:
    with pytest.raises(KeyError, match=r"holes\.csv has no 'beer' for 'sand'"):
        number("beer", "sand")

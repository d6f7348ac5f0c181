"""Common practice, with no print: what a hole takes. Worked by hand from the practice that the catalogue states."""

from __future__ import annotations

import pytest

from fencegis.strength.holes import number, over_post_mm, water_l


@pytest.mark.parametrize(
    ("hole_mm", "post_mm", "embed_m", "litres"), [(300.0, 240.0, 0.8, 16), (350.0, 240.0, 0.9, 37)]
)
def test_water_for_a_hole_in_sand(hole_mm: float, post_mm: float, embed_m: float, litres: int) -> None:
    """The ring between hole and post, four tenths of it water, twice."""
    ours = water_l(["sand"], hole_mm=[hole_mm], post_mm=[post_mm], embed_m=[embed_m])
    assert round(float(ours[0])) == litres


def test_no_hole_that_takes_water_gets_less_than_ten_litres() -> None:
    assert water_l(["loam"], hole_mm=[176.0], post_mm=[175.0], embed_m=[0.6]).tolist() == [10.0]


def test_in_sand_the_auger_is_40_to_80_mm_over_the_post() -> None:
    assert (number("least bored over post", "sand"), number("most bored over post", "sand")) == (40.0, 80.0)
    assert 40.0 <= over_post_mm("sand", how="bored") <= 80.0


def test_170_holes_of_20_litres_are_three_and_a_half_tonnes_to_cart() -> None:
    """A 235 mm hole for a 175 mm post, 1.13 m deep in sand: about 18 L."""
    each = float(water_l(["sand"], hole_mm=[235.0], post_mm=[175.0], embed_m=[1.13])[0])
    assert 15.0 < each < 20.0
    assert 2.5 < 170.0 * each / 1000.0 < 3.5

"""Sizes as text, masses, and what the contractor's own rates say of waste and packs."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from fencegis.quantities.materials import given, length_m, materials, numbers, piece_kg, rate_items, volume_m3
from fencegis.records.rates import Rate
from fencegis.strength.wire import mass_kg_km


def test_a_size_tells_length_and_volume() -> None:
    assert numbers("125 x 1.8") == (125.0, 1.8)
    assert length_m("150 x 50 x 4.8") == 4.8
    assert volume_m3("150 x 50 x 4.8") == pytest.approx(0.036)
    assert volume_m3("125 x 1.8") == pytest.approx(math.pi / 4 * 0.125**2 * 1.8)
    assert length_m("2.13") == 2.13
    assert math.isnan(volume_m3("2.13"))


@pytest.mark.parametrize("words", ["dense", "125 mm, no length", "", "x 2", "1 x 2 x 3 x 4"])
def test_words_are_no_size(words: str) -> None:
    assert numbers(words) == ()
    assert math.isnan(length_m(words))


def test_a_material_in_a_size_is_called_with_its_units() -> None:
    known = materials()
    assert known["post"].words("125 x 1.8") == "round post, 125 mm x 1.8 m"
    assert known["rail"].words("150 x 50 x 4.8") == "rail, 150 x 50 mm x 4.8 m"
    assert known["gate leaf"].words("3.6") == "gate leaf, 3.6 m"
    assert known["clearing"].words("dense") == "clearing, dense"
    assert known["staple"].words("") == "staple"


def test_mass_is_the_rows_or_the_timbers_or_not_known() -> None:
    known = materials()
    assert piece_kg(known["dropper"], "", density_kg_m3=800.0) == known["dropper"].mass_kg
    assert piece_kg(known["post"], "125 x 1.8", density_kg_m3=1150.0) == pytest.approx(25.4, abs=0.05)
    assert math.isnan(piece_kg(known["gate leaf"], "3.6", density_kg_m3=1150.0))
    assert math.isnan(piece_kg(known["brace rail"], "2.13", density_kg_m3=1150.0))


def test_the_wires_mass_is_that_of_the_steel_in_it() -> None:
    assert materials()["wire"].mass_kg == pytest.approx(mass_kg_km(2.5) / 1000.0, abs=5e-6)


def test_own_waste_and_pack_go_before_the_catalogues_and_a_sizes_before_a_materials() -> None:
    post = materials()["post"]
    own = Rate("post", "each", Decimal(9), "material", waste_pct=Decimal(5), pack=Decimal(10))
    of_size = Rate("post 125 x 1.8", "each", Decimal(9), "material", pack=Decimal(25))
    other = Rate("wire", "m", Decimal(1), "material", waste_pct=Decimal(50))
    labour = Rate("post", "h", Decimal(40), "labour", waste_pct=Decimal(70))
    assert given(None, post, "125 x 1.8") == (3.0, 1.0)
    assert given([other, labour], post, "125 x 1.8") == (3.0, 1.0)
    assert given([of_size, own], post, "125 x 1.8") == (5.0, 25.0)
    assert given([of_size, own], post, "125 x 2.4") == (5.0, 10.0)
    assert rate_items("post", "125 x 1.8") == ("post 125 x 1.8", "post")
    assert rate_items("wire", "") == ("wire",)

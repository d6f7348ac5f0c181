"""What a kilometre of wire weighs, by the lengths of coils that a notice prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fencegis.strength.wire import mass_kg_km

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.parametrize(("diameter_mm", "metres"), [(2.5, "648"), (4.0, "253")])
@pytest.mark.published(source="press-wire-1980", where="a 25 kg coil of 2.50 mm is 648 m long, of 4.00 mm 253 m")
def test_length_of_a_coil(compare: Callable, printed: type, diameter_mm: float, metres: str) -> None:
    """Whole metres, cut off; zinc, which is lighter than steel, moves it by less than a metre."""
    compare(1000.0 * 25.0 / mass_kg_km(diameter_mm), printed(metres, 1.0))

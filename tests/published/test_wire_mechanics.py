"""Wires under tension, by examples that others worked; sag stands with the conductors, for it is the same curve."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis.strength.values import value_of
from fencegis.strength.wire import cold_rise_kn, stay_force, stretch_m, tension_after

if TYPE_CHECKING:
    from collections.abc import Callable


def diameter_mm(area_mm2: float) -> float:
    return float(np.sqrt(4.0 * area_mm2 / np.pi))


@pytest.mark.published(source="stretch-nickel", where="2.0 mm × 30 m, 300 N, 207 GPa, in mm")
def test_stretch_of_a_nickel_wire(compare: Callable) -> None:
    compare(float(stretch_m(30.0, diameter_mm=2.0, tension_kn=0.3, modulus_gpa=207.0)) * 1000.0, "13.8")


@pytest.mark.published(source="stretch-steel", where="0.50 mm × 1.8 m, 15 N, 210 GPa, in mm")
def test_stretch_of_a_steel_wire(compare: Callable) -> None:
    compare(float(stretch_m(1.8, diameter_mm=0.5, tension_kn=0.015, modulus_gpa=210.0)) * 1000.0, "0.655")


@pytest.mark.published(source="cold-wire-20", where="0.5 mm², 20 °C to 0 °C, 12 millionths, 200 GPa, in N")
def test_a_held_wire_from_20_degrees_to_0(compare: Callable, printed: type) -> None:
    rise = cold_rise_kn(20.0, diameter_mm=diameter_mm(0.5), modulus_gpa=200.0, expansion_per_k=12e-6)
    compare(float(rise) * 1000.0, printed("24", 0.01))


@pytest.mark.published(source="cold-wire-50", where="2 mm², 50 °C to 30 °C, 11 millionths, 200 GPa, in N")
def test_a_held_wire_from_50_degrees_to_30(compare: Callable, printed: type) -> None:
    rise = cold_rise_kn(20.0, diameter_mm=diameter_mm(2.0), modulus_gpa=200.0, expansion_per_k=11e-6)
    compare(float(rise) * 1000.0, printed("88", 0.01))


@pytest.mark.published(source="rope-friction-27", where="100 kg × 9.81 m/s², friction 0.2, three quarters round, in N")
def test_a_load_let_down_round_a_pole(compare: Callable) -> None:
    (left,) = tension_after(270.0, tension_kn=0.981, friction=0.2)
    compare(float(left) * 1000.0, "382.26")


@pytest.mark.published(source="guy-12-4", where="3000 lb at 37.5 ft, 2500 lb at 35.5 ft, stay at 36.5 ft, lead 15 ft")
def test_the_force_in_a_stay(compare: Callable) -> None:
    """Inputs and equations are printed; these results are what those equations give, worked out apart from us."""
    stay = stay_force([3000.0, 2500.0], heights_m=[37.5, 35.5], stay_height_m=36.5, lead_m=15.0)
    compare(stay.along_kn, "14505.4")
    compare(stay.level_kn, "5513.7")
    compare(stay.upright_kn, "13416.7")
    compare(stay.slope_deg, "67.66")


@pytest.mark.published(source="bc-wire-307", where="barbed wire: a roll of 1,320 ft is about 80 lb")
def test_a_roll_of_barbed_wire(compare: Callable, printed: type) -> None:
    roll_kg = value_of("wire", "barbed mass") * 1320.0 * 0.3048 / 1000.0
    compare(roll_kg / 0.45359237, printed("80", 0.005))

"""The distances to keep from power lines, at the edges of the printed tables, and a sagging span as printed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

from fencegis.hazards.approach import allowance, at_power
from fencegis.hazards.overhead_notes import least_height
from fencegis.line.hanging import curve_length, sag

if TYPE_CHECKING:
    from collections.abc import Callable

FOOT_M = 0.3048


def asked(voltage_kv: float, rule_set: str, *, insulated: bool = False) -> float:
    distance_m = at_power(voltage_kv, insulated=insulated, rule_set=rule_set).distance_m
    assert distance_m is not None
    return distance_m


@pytest.mark.published(
    source="osha-1926-1408", where="Table A, each row at its upper bound, which it includes, and just above"
)
@pytest.mark.parametrize(
    ("voltage_kv", "feet"),
    [
        (0.0, "10"),
        (50.0, "10"),
        (50.001, "15"),
        (200.0, "15"),
        (200.001, "20"),
        (350.0, "20"),
        (350.001, "25"),
        (500.0, "25"),
        (500.001, "35"),
        (750.0, "35"),
        (750.001, "45"),
        (1000.0, "45"),
    ],
)
def test_table_a(voltage_kv: float, feet: str, compare: Callable, printed: type) -> None:
    compare(asked(voltage_kv, "osha-1926-1408") / FOOT_M, printed(feet, 1e-9))  # a whole number of feet, exactly


@pytest.mark.published(
    source="osha-1926-1408", where="Table A, over 1,000 kV: established by the line's owner or an engineer"
)
def test_table_a_ends(compare: Callable) -> None:
    compare(at_power(1000.1, insulated=False, rule_set="osha-1926-1408").distance_m, "None")


@pytest.mark.published(source="osha-1926-1409", where="voltage not known, over 350 kV not ruled out: 50 ft")
def test_table_a_voltage_unknown(compare: Callable, printed: type) -> None:
    compare(asked(math.nan, "osha-1926-1408") / FOOT_M, printed("50", 1e-9))  # a whole number of feet, exactly


@pytest.mark.published(source="nsw-wnopl-2006", where="ordinary persons: to 132 kV, above to 330 kV, above")
@pytest.mark.parametrize(
    ("voltage_kv", "metres"),
    [(0.4, "3"), (132.0, "3"), (132.1, "6"), (330.0, "6"), (330.1, "8"), (500.0, "8"), (math.nan, "8")],
)
def test_new_south_wales(voltage_kv: float, metres: str, compare: Callable, printed: type) -> None:
    compare(asked(voltage_kv, "nsw-2006"), printed(metres, 1e-9))


@pytest.mark.published(
    source="qld-exclusion-zones", where="untrained persons: to 132 kV, to 330 kV; a 10 m class exists"
)
@pytest.mark.parametrize(
    ("voltage_kv", "metres"), [(11.0, "3"), (132.0, "3"), (132.1, "6"), (330.0, "6"), (330.1, "10"), (math.nan, "10")]
)
def test_queensland(voltage_kv: float, metres: str, compare: Callable, printed: type) -> None:
    compare(asked(voltage_kv, "qld"), printed(metres, 1e-9))


@pytest.mark.published(source="wa-whs-166a", where="r. 166A: to 1 kV insulated and bare, to 33 kV, above")
@pytest.mark.parametrize(
    ("voltage_kv", "insulated", "metres"),
    [
        (1.0, True, "0.5"),
        (1.0, False, "1.0"),
        (1.001, True, "3.0"),
        (1.001, False, "3.0"),
        (33.0, False, "3.0"),
        (33.1, False, "6.0"),
        (math.nan, False, "6.0"),
    ],
)
def test_western_australia(voltage_kv: float, insulated: bool, metres: str, compare: Callable, printed: type) -> None:
    compare(asked(voltage_kv, "wa-2022", insulated=insulated), printed(metres, 1e-9))


@pytest.mark.published(source="hse-ais8", where="least heights: to 33 kV, 132, 275 and 400 kV")
@pytest.mark.parametrize(
    ("voltage_kv", "metres"),
    [(0.4, "5.2"), (11.0, "5.2"), (33.0, "5.2"), (132.0, "6.7"), (275.0, "7.0"), (400.0, "7.3")],
)
def test_least_heights(voltage_kv: float, metres: str, compare: Callable) -> None:
    compare(least_height(voltage_kv)[0], metres)


@pytest.mark.published(
    source="iec-60335-2-76", where="electric fences: from lines to 1, to 33 and above 33 kV; height beside them"
)
@pytest.mark.parametrize(
    ("name", "metres"),
    [
        ("electric_to_1_kv_m", "3"),
        ("electric_to_33_kv_m", "4"),
        ("electric_above_33_kv_m", "8"),
        ("electric_height_m", "3"),
        ("electric_beside_to_1_kv_m", "2"),
        ("electric_beside_above_1_kv_m", "15"),
    ],
)
def test_electric_fences(name: str, metres: str, compare: Callable, printed: type) -> None:
    compare(allowance(name), printed(metres, 1e-9))


@pytest.mark.published(source="sag-calculator", where="worked example: 1.5 N/m over 100 m at 5,000 N")
def test_sag_and_length_of_a_span(compare: Callable) -> None:
    hang_m = sag(100.0, load_n_m=1.5, tension_n=5000.0)
    compare(hang_m, "0.375")
    compare(curve_length(100.0, sag_m=hang_m), "100.00375")


@pytest.mark.published(source="sag-physics", where="worked example: 1 kg/m over 500 m at 10,000 kgf")
def test_sag_of_a_long_span(compare: Callable) -> None:
    compare(sag(500.0, load_n_m=1.0 * 9.80665, tension_n=10_000.0 * 9.80665), "3.125")

"""Traverses worked in surveying texts: legs, closure, balance, coordinates, area; and the units that deeds are in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis.inputs.bearing_text import bearing_deg
from fencegis.line.traverse import area_m2, balanced, closure, steps_en
from fencegis.records.title import METRES, TitleLeg

if TYPE_CHECKING:
    from collections.abc import Callable

# As printed: bearing, length in feet, latitude, departure, and both as balanced by the compass rule.
FOUR_SIDES = [
    ("S 68°05'35\"W", 472.68, "-176.357", "-438.548", "-176.386", "-438.574"),
    ("N 19°46'00\"W", 216.13, "203.395", "-73.093", "203.382", "-73.105"),
    ("N 45°55'20\"E", 276.52, "192.357", "198.651", "192.340", "198.635"),
    ("S 54°59'15\"E", 382.24, "-219.312", "313.065", "-219.336", "313.044"),
]
FIVE_SIDES = [
    ("26° 10'", "N 26° 10'E", 285.10, "255.88", "125.72"),
    ("104° 35'", "S 75° 25'E", 610.45, "-153.70", "590.78"),
    ("195° 30'", "S 15° 30'W", 720.48, "-694.28", "-192.54"),
    ("358° 18'", "N 1° 42'W", 203.00, "202.91", "-6.02"),
    ("306° 54'", "N 53° 06'W", 647.02, "388.48", "-517.41"),
]


def four_sides() -> tuple[np.ndarray, np.ndarray]:
    return np.array([bearing_deg(row[0]) for row in FOUR_SIDES]), np.array([row[1] for row in FOUR_SIDES])


def five_sides(column: int = 0) -> tuple[np.ndarray, np.ndarray]:
    return np.array([bearing_deg(str(row[column])) for row in FIVE_SIDES]), np.array([row[2] for row in FIVE_SIDES])


@pytest.mark.published(source="open-surveying", where="chapter E, Figure E-6: latitudes and departures, sums 1347.57")
def test_four_sides_in_quadrant_bearings(compare: Callable, printed: type) -> None:
    for (east, north), row in zip(steps_en(*four_sides()).tolist(), FOUR_SIDES, strict=True):
        compare(north, row[2])
        compare(east, row[3])
    gap = closure(*four_sides())
    compare(gap.north_m, printed("0.083", 0.002))  # the page adds four numbers rounded to 0.001
    compare(gap.east_m, printed("0.075", 0.002))
    compare(gap.perimeter_m, "1347.57")


@pytest.mark.published(source="open-surveying", where="chapter E, adjusted latitudes and departures")
def test_four_sides_balanced(compare: Callable, printed: type) -> None:
    corners = balanced(*four_sides())
    for (east, north), row in zip(np.diff(np.vstack([corners, corners[:1]]), axis=0).tolist(), FOUR_SIDES, strict=True):
        compare(north, printed(row[4], 0.001))  # from latitudes and corrections each rounded to 0.001
        compare(east, printed(row[5], 0.001))


@pytest.mark.published(
    source="open-surveying", where="chapter G, Figure G-7: coordinates B, C, D from A 500.000 2000.000"
)
def test_four_sides_coordinates(compare: Callable, printed: type) -> None:
    places = (("323.614", "1561.426"), ("526.996", "1488.321"), ("719.336", "1686.956"))
    for (east, north), (north_page, east_page) in zip(balanced(*four_sides())[1:].tolist(), places, strict=True):
        compare(500.0 + north, printed(north_page, 0.002))  # up to three balanced legs, each rounded to 0.001
        compare(2000.0 + east, printed(east_page, 0.002))


@pytest.mark.published(source="open-surveying", where="chapter G, example 1: sums 3,590,045.6 and 3,384,174.1 sq ft")
def test_four_sides_area(compare: Callable, printed: type) -> None:
    corners = np.array([[2000.0, 500.0], [1561.426, 323.614], [1488.321, 526.996], [1686.956, 719.336]])
    twice = 3_590_045.6 - 3_384_174.1
    compare(2.0 * area_m2(corners), printed(f"{twice:.1f}", 0.2))  # two sums of four products, each rounded to 0.1
    compare(2.0 * area_m2(balanced(*four_sides())), printed(f"{twice:.1f}", 2.0))  # corners rounded to 0.001 ft


@pytest.mark.published(source="open-surveying", where="solution of problem 1 on traverse area: 38,970 ± 5 sq ft")
def test_area_of_five_corners(compare: Callable, printed: type) -> None:
    north = [1541.207, 1373.915, 1299.818, 1343.189, 1569.360]
    east = [2215.890, 2336.574, 2350.205, 2523.212, 2359.080]
    compare(area_m2(np.column_stack([east, north])), printed("38970", 5.0))


@pytest.mark.published(source="open-surveying", where="solution of problem 2 on traverse area: 250,550 ± 20 sq ft")
def test_area_of_four_corners(compare: Callable, printed: type) -> None:
    north, east = [600.000, 254.542, 97.543, 470.303], [1000.000, 1209.288, 566.876, 397.969]
    compare(area_m2(np.column_stack([east, north])), printed("250550", 20.0))


@pytest.mark.parametrize("column", [0, 1], ids=["azimuths", "bearings"])
@pytest.mark.published(
    source="purdue-asm-215", where="calculation of latitudes and departures, by azimuths and bearings"
)
def test_five_sides_in_azimuths_and_in_bearings(compare: Callable, column: int) -> None:
    for (east, north), row in zip(steps_en(*five_sides(column)).tolist(), FIVE_SIDES, strict=True):
        compare(north, row[3])
        compare(east, row[4])


@pytest.mark.published(source="purdue-asm-215", where="misclosure −0.71, +0.53 of 2466.05: 0.89, precision 1/2771")
def test_five_sides_closure(compare: Callable, printed: type) -> None:
    gap = closure(*five_sides())
    compare(gap.perimeter_m, "2466.05")
    compare(gap.east_m, "0.53")
    compare(gap.north_m, printed("-0.71", 0.01))  # the page adds five latitudes rounded to 0.01
    compare(gap.length_m, printed("0.89", 0.01))  # and takes the length of that
    compare(gap.one_in, printed("2771", 30.0))  # and divides by it: 0.005 in 0.89 are 16, 0.01 are 31


@pytest.mark.published(source="purdue-asm-215", where="coordinates B to E by the compass rule from A 10000, 10000")
def test_five_sides_coordinates(compare: Callable, printed: type) -> None:
    places = (("10255.96", "10125.66"), ("10102.44", "10716.31"), ("9408.37", "10523.62"), ("9611.34", "10517.55"))
    for (east, north), (north_page, east_page) in zip(balanced(*five_sides())[1:].tolist(), places, strict=True):
        compare(10_000.0 + north, printed(north_page, 0.015))  # the page adds legs and corrections rounded to 0.01
        compare(10_000.0 + east, printed(east_page, 0.015))


@pytest.mark.parametrize(
    ("unit", "metres", "tolerance"),
    [
        ("ft", "0.3048", 1e-16),
        ("chain", "20.1168", 1e-14),
        ("link", "0.201168", 1e-16),
        ("us-ft", "0.304800609601", None),
    ],
)
@pytest.mark.published(source="nist-survey-foot", where="table Units based on the foot: foot, chain, link")
def test_units_of_a_deed(compare: Callable, printed: type, unit: str, metres: str, tolerance: float | None) -> None:
    leg = TitleLeg(2, "A", None, 0.0, 1.0, unit, chord=False)
    compare(repr(leg.length_m), printed(metres, tolerance))


@pytest.mark.published(source="nist-survey-foot", where="chain 66 ft, link 0.66 ft; survey chain 20.116 840 234 m")
def test_a_chain_is_66_feet_of_either_kind(compare: Callable, printed: type) -> None:
    compare(METRES["chain"] / METRES["ft"], printed("66", 1e-12))
    compare(METRES["link"] / METRES["ft"], printed("0.66", 1e-14))
    compare(repr(66.0 * METRES["us-ft"]), "20.116840234")

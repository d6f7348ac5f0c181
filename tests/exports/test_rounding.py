"""Numbers leave the program rounded by the unit at the tail of their name, and only once."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pytest
import shapely

from fencegis.exports.rounding import decimals, lon_lat, printed, rounded, rounded_frame, rounded_number

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


@pytest.mark.parametrize(
    ("name", "places"),
    [
        ("length_m", 3),
        ("turn_deg", 4),
        ("pull_kn", 3),
        ("grade_pct", 2),
        ("offset_mm", 1),
        ("mass_kg", 1),
        ("centre_lon_deg", 7),
        ("lat_deg", 7),
        ("stick", 3),
        ("m", 3),
        ("each", 0),
    ],
)
def test_the_unit_decides_the_decimals(name: str, places: int) -> None:
    assert decimals(name) == places


def test_every_numeric_column_of_every_layer_is_rounded(small_plan: Plan) -> None:
    for layer, frame in small_plan.layers():
        after = rounded_frame(frame)
        assert list(after.columns) == list(frame.columns)
        for name in after.select_dtypes("float64").columns:
            moved = np.abs(after[name] - frame[name]).max()
            assert math.isnan(moved) or moved <= 0.5 * 10 ** -decimals(name) + 1e-9, (layer, name)


def test_geometry_is_rounded_to_the_millimetre_and_keeps_its_grid(small_plan: Plan) -> None:
    after = rounded_frame(small_plan.bays)
    coordinates = shapely.get_coordinates(after.geometry)
    assert np.array_equal(coordinates, np.round(coordinates, 3))
    assert after.crs == small_plan.bays.crs


def test_no_minus_zero() -> None:
    assert str(rounded_number(-0.0001, "gap_m")) == "0.0"
    assert printed(pd.Series([-0.0001]), "gap_m") == ["0.000"]
    assert not np.signbit(rounded([-0.00001], "grade_pct")).any()


def test_printed_cells_have_fixed_decimals_no_exponent_and_nothing_where_empty() -> None:
    assert printed(pd.Series([1.0, math.nan, 1e7, 2.0005001]), "gap_m") == ["1.000", "", "10000000.000", "2.001"]
    assert printed(pd.Series([math.nan, math.nan]), "gap_m") == ["", ""]
    assert printed(pd.Series(["a", None], dtype="str"), "name") == ["a", ""]
    assert printed(pd.Series([1, pd.NA], dtype="Int64"), "row") == ["1", ""]


def test_longitudes_stay_below_180() -> None:
    turned = lon_lat([[179.99999999, 1.0], [-180.0, 1.0], [10.123456789, -89.99999999]])
    assert turned.tolist() == [[-180.0, 1.0], [-180.0, 1.0], [10.1234568, -90.0]]

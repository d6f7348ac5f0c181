"""Declination of the World Magnetic Model 2025, through our own function."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from fencegis.line.bearings import declination_deg, declination_in_year_deg

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


@pytest.mark.parametrize(
    ("year", "height_km", "lat", "lon", "declination"),
    [
        (2025.0, 0, 80, 0, "1.28"),
        (2025.0, 0, 0, 120, "-0.16"),
        (2025.0, 0, -80, 240, "68.78"),
        (2025.0, 100, 0, 120, "-0.15"),
        (2025.0, 100, -80, 240, "68.21"),
        (2027.5, 0, 80, 0, "2.59"),
        (2027.5, 0, 0, 120, "-0.24"),
    ],
)
@pytest.mark.published(source="wmm2025", where="test value table of the report: D")
def test_declination(compare: Callable, year: float, height_km: int, lat: int, lon: int, declination: str) -> None:
    compare(declination_in_year_deg(lon, lat, height_m=1000.0 * height_km, year=year), declination)
    if year.is_integer():
        ours = declination_deg(lon, lat, height_m=1000.0 * height_km, day=date(int(year), 1, 1))
        compare(ours, declination)


@pytest.mark.published(source="wmm2025", where="official test values file, every second row: field 5, declination")
def test_declination_of_the_long_table(compare: Callable, outside_data: Callable[[str], Path]) -> None:
    table = outside_data("wmm2025_test_values.txt").read_text()
    rows = [line.split() for line in table.splitlines() if line and not line.startswith("#")]
    assert len(rows) >= 50
    for year, height_km, lat, lon, declination, *_ in rows:
        ours = declination_in_year_deg(float(lon), float(lat), height_m=1000.0 * float(height_km), year=float(year))
        compare(ours, declination)

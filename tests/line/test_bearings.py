"""Bearings of spans from three norths."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from pyproj import CRS, Geod, Proj, Transformer

from fencegis.line import bearings as b
from fencegis.records.site import Grid, Site
from fencegis.records.spec import Spec

LON, LAT = 144.4, -37.95
WORKING = CRS(
    f"+proj=tmerc +lat_0={LAT} +lon_0={LON} +k=1.00002 +x_0=50000 +y_0=80000 +datum=WGS84 +units=m +no_defs"
).to_wkt()


def site(**spec: object) -> Site:
    return Site("a", "a", Spec(**spec), Grid(WORKING, CRS("WGS 84").to_wkt(), LON, LAT, 100.0, 1.00002), ())


def walked(azimuth: float, metres: float = 800.0) -> tuple[np.ndarray, np.ndarray]:
    """A span from near the site's centre, walked on the ellipsoid."""
    to_grid = Transformer.from_crs("EPSG:4326", WORKING, always_xy=True)
    lon, lat = LON + 0.1, LAT + 0.05
    there = Geod(ellps="WGS84").fwd(lon, lat, azimuth, metres)
    return np.array([to_grid.transform(lon, lat)]), np.array([to_grid.transform(*there[:2])])


@pytest.mark.parametrize("azimuth", [0.001, 45.0, 135.0, 180.0, 271.5, 359.999])
def test_true_bearing_is_the_azimuth_walked(azimuth: float) -> None:
    assert b.true_bearing_deg(*walked(azimuth), grid_wkt=WORKING) == pytest.approx(azimuth, abs=1e-7)


def test_the_way_back_differs_by_half_a_turn_and_the_convergence() -> None:
    start, end = walked(90.0, 5000.0)
    back = b.true_bearing_deg(end, start, grid_wkt=WORKING)[0]
    assert abs(back - 270.0) < 0.05
    assert back != pytest.approx(270.0, abs=1e-3)


def test_grid_bearing_is_true_bearing_plus_convergence() -> None:
    start, end = walked(60.0, 200.0)
    lon, lat = Transformer.from_crs(WORKING, "EPSG:4326", always_xy=True).transform(*start[0])
    convergence = Proj("EPSG:32755").get_factors(lon, lat).meridian_convergence  # PROJ: positive towards east
    grid = b.grid_bearing_deg(start, end, grid_wkt=WORKING, official="EPSG:32755")[0]
    assert abs(convergence) > 1.0
    assert grid == pytest.approx(60.0 - convergence, abs=1e-4)


def test_grid_bearing_where_the_grid_counts_west_and_south() -> None:
    """Hartebeesthoek94 / Lo19 counts west and south: its bearings are still from its north."""
    to_grid = Transformer.from_crs("EPSG:4148", "EPSG:32734", always_xy=True)
    start, end = (np.array([to_grid.transform(19.0, lat)]) for lat in (-33.0, -32.99))  # north, on its central meridian
    east = np.array([to_grid.transform(19.01, -33.0)])
    to_north, to_east = (
        b.grid_bearing_deg(start, there, grid_wkt="EPSG:32734", official="EPSG:2048")[0] for there in (end, east)
    )
    assert min(to_north, 360.0 - to_north) == pytest.approx(0.0, abs=1e-6)
    assert to_east == pytest.approx(90.0, abs=0.01)


def test_a_span_without_length_has_no_bearing() -> None:
    point = np.array([[50_000.0, 80_000.0]])
    assert np.isnan(b.true_bearing_deg(point, point, grid_wkt=WORKING)).all()
    assert np.isnan(b.grid_bearing_deg(point, point, grid_wkt=WORKING, official="EPSG:32755")).all()


def test_magnetic_is_true_less_declination() -> None:
    assert b.magnetic_bearing_deg(np.array([5.0, 100.0]), 11.8).tolist() == pytest.approx([353.2, 88.2])


@pytest.mark.parametrize("day", [date(2024, 12, 31), date(2030, 1, 2)])
def test_declination_refuses_days_outside_the_model(day: date) -> None:
    with pytest.raises(ValueError, match=r"outside the World Magnetic Model 2025: 2025\.0 to 2030\.0"):
        b.declination_deg(LON, LAT, height_m=0.0, day=day)


def test_first_and_last_day_of_the_model() -> None:
    first, last = (b.declination_deg(LON, LAT, height_m=0.0, day=date(year, 1, 1)) for year in (2025, 2030))
    assert 0.0 < abs(last - first) < 1.0


def test_decimal_year_counts_leap_days() -> None:
    assert b.decimal_year(date(2028, 7, 2)) == pytest.approx(2028 + 183 / 366)
    assert b.decimal_year(date(2027, 12, 31)) == pytest.approx(2028 - 1 / 365)


def test_columns_and_note_of_a_dated_site() -> None:
    columns, (note,) = b.bearings(*walked(60.0), site=site(date=date(2026, 3, 1)))
    east = b.declination_deg(LON, LAT, height_m=100.0, day=date(2026, 3, 1))
    assert columns["bearing_true_deg"] - columns["bearing_magnetic_deg"] == pytest.approx(east)
    assert list(columns) == ["bearing_true_deg", "bearing_grid_deg", "bearing_magnetic_deg"]
    assert f"for 2026-03-01: declination {east:.1f}° east, ±0.36°" in note.text


def test_no_date_is_said_and_gives_no_magnetic_bearing() -> None:
    columns, (note,) = b.bearings(*walked(60.0), site=site())
    assert np.isnan(columns["bearing_magnetic_deg"]).all()
    assert not np.isnan(columns["bearing_grid_deg"]).any()
    assert note.text == "site.toml has no date: no magnetic bearings."


def test_a_day_outside_the_model_is_said() -> None:
    columns, (note,) = b.bearings(*walked(60.0), site=site(date=date(2031, 1, 1)))
    assert np.isnan(columns["bearing_magnetic_deg"]).all()
    assert "2031-01-01 is outside the years of the World Magnetic Model 2025 (2025 to 2030)" in note.text


def test_a_hair_west_of_north_is_not_called_360() -> None:
    assert b.magnetic_bearing_deg(np.array([11.8]), 11.8 + 1e-14).tolist() == [0.0]


def test_thousand_spans_at_once() -> None:
    rng = np.random.default_rng(7)
    start = rng.uniform(45_000, 55_000, (1000, 2))
    end = start + rng.uniform(-500, 500, (1000, 2))
    together = b.true_bearing_deg(start, end, grid_wkt=WORKING)
    assert together[500] == b.true_bearing_deg(start[500], end[500], grid_wkt=WORKING)[0]
    assert ((together >= 0) & (together < 360)).all()

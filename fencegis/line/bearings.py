"""Bearings of spans: from true north, from the north of the official grid, from magnetic north on a day."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import TYPE_CHECKING

import numpy as np
from pyproj import CRS, Geod, Transformer

from fencegis.line.official_grid import official_grid, to_official
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from datetime import date

    import numpy.typing as npt
    from pygeomag import GeoMag
    from pygeomag.geomag import GeoMagResult

    from fencegis.records.site import Site

    Floats = npt.NDArray[np.float64]

MODEL = "World Magnetic Model 2025"
MODEL_FROM, MODEL_TO = 2025.0, 2030.0  # decimal years, as the model's report has them


def bearings(from_en: Floats, to_en: Floats, *, site: Site) -> tuple[dict[str, Floats], tuple[Note, ...]]:
    """Return the bearings of spans as columns of the layer `runs`, and what to know about them.

    `from_en` and `to_en` are (n, 2), easting and northing in the working grid; bearings are degrees clockwise, 0 to
    360, at the span's start. The magnetic ones are NaN when the work has no day or the day is outside the model.
    """
    true = true_bearing_deg(from_en, to_en, grid_wkt=site.grid.wkt)
    grid = grid_bearing_deg(from_en, to_en, grid_wkt=site.grid.wkt, official=official_grid(site))
    declination, note = _declination_of(site)
    columns = {
        "bearing_true_deg": true,
        "bearing_grid_deg": grid,
        "bearing_magnetic_deg": magnetic_bearing_deg(true, declination),
    }
    return columns, (note,)


def true_bearing_deg(from_en: Floats, to_en: Floats, *, grid_wkt: str) -> Floats:
    """Return the geodesic azimuth at each span's start, degrees clockwise from true north, 0 to 360.

    `from_en` and `to_en` are (n, 2) in the projected CRS `grid_wkt`; the geodesic is on that grid's own ellipsoid.
    NaN where the two ends are one.
    """
    to_degrees, geod = _unprojected(grid_wkt)
    start, end = (np.asarray(points, dtype=float).reshape(-1, 2) for points in (from_en, to_en))
    start_lon, start_lat = to_degrees.transform(start[:, 0], start[:, 1])
    end_lon, end_lat = to_degrees.transform(end[:, 0], end[:, 1])
    azimuth, _, distance = geod.inv(start_lon, start_lat, end_lon, end_lat)
    return np.where(np.asarray(distance) > 0, _round_the_circle(np.asarray(azimuth)), np.nan)


def grid_bearing_deg(from_en: Floats, to_en: Floats, *, grid_wkt: str, official: str) -> Floats:
    """Return the plane bearing of each span in the official grid, degrees clockwise from its north, 0 to 360.

    `from_en` and `to_en` are (n, 2) in the projected CRS `grid_wkt`; `official` is an EPSG code or WKT. NaN where the
    two ends are one or cannot be transformed.
    """
    start = to_official(from_en, grid_wkt=grid_wkt, official=official)
    step = to_official(to_en, grid_wkt=grid_wkt, official=official) - start
    bearing = _round_the_circle(np.degrees(np.arctan2(step[:, 0], step[:, 1])))
    return np.where(np.hypot(step[:, 0], step[:, 1]) > 0, bearing, np.nan)


def magnetic_bearing_deg(true_deg: Floats, declination: float) -> Floats:
    """Return what a compass reads along true bearings: true less declination (east positive), 0 to 360."""
    return _round_the_circle(np.asarray(true_deg, dtype=float) - declination)


def declination_deg(lon_deg: float, lat_deg: float, *, height_m: float, day: date) -> float:
    """Return the magnetic declination on a day, degrees, east positive, by the World Magnetic Model 2025.

    Longitude and latitude are WGS 84, `height_m` is above the ellipsoid (the sea does as well). Raises ValueError for
    a day outside the model's five years.
    """
    return declination_in_year_deg(lon_deg, lat_deg, height_m=height_m, year=decimal_year(day))


def declination_in_year_deg(lon_deg: float, lat_deg: float, *, height_m: float, year: float) -> float:
    """Return the declination at a decimal year, degrees, east positive; as `declination_deg` otherwise."""
    return float(_field(lon_deg, lat_deg, height_m, year).d)


def declination_sigma_deg(lon_deg: float, lat_deg: float, *, height_m: float, day: date) -> float:
    """Return one standard error of the declination, degrees: what the model cannot know of the field.

    √(0.26² + (5417 nT ÷ horizontal intensity)²), the error model of the WMM2025 technical report, as pygeomag has it.
    A compass beside a tractor or wire is worse by far.
    """
    return float(_field(lon_deg, lat_deg, height_m, decimal_year(day)).calculate_uncertainty().d)


def decimal_year(day: date) -> float:
    """Return the year and the share of it that has passed when the day begins."""
    days = (day.replace(month=12, day=31) - day.replace(month=1, day=1)).days + 1
    return day.year + (day.timetuple().tm_yday - 1) / days


def _round_the_circle(degrees: Floats) -> Floats:
    wrapped = degrees % 360.0
    return np.where(wrapped == 360.0, 0.0, wrapped)  # −1e-15 % 360 is 360


def _declination_of(site: Site) -> tuple[float, Note]:
    """Return one declination for the whole site: over 20 km it changes by less than its own error."""
    day, grid = site.spec.date, site.grid
    if day is None:
        return np.nan, Note("default", "site.toml has no date: no magnetic bearings.")
    try:
        degrees = declination_deg(grid.centre_lon_deg, grid.centre_lat_deg, height_m=grid.height_m, day=day)
    except ValueError:
        return np.nan, Note(
            "default",
            f"No magnetic bearings: {day} is outside the years of the {MODEL} ({MODEL_FROM:.0f} to {MODEL_TO:.0f}).",
        )
    error = declination_sigma_deg(grid.centre_lon_deg, grid.centre_lat_deg, height_m=grid.height_m, day=day)
    way = "east" if degrees >= 0 else "west"
    return degrees, Note(
        "default",
        f"Magnetic bearings by the {MODEL} for {day}: declination {abs(degrees):.1f}° {way}, ±{error:.2f}°"
        " (one standard error). Iron, wire and machines turn a compass by more.",
    )


def _field(lon_deg: float, lat_deg: float, height_m: float, year: float) -> GeoMagResult:
    if not MODEL_FROM <= year <= MODEL_TO:
        raise ValueError(f"{year:.2f} is outside the {MODEL}: {MODEL_FROM} to {MODEL_TO}")
    return _model().calculate(glat=lat_deg, glon=lon_deg, alt=height_m / 1000.0, time=year)


@cache
def _model() -> GeoMag:
    from pygeomag import GeoMag

    return GeoMag(coefficients_file="wmm/WMM_2025.COF")


@lru_cache(maxsize=16)
def _unprojected(grid_wkt: str) -> tuple[Transformer, Geod]:
    """Return the way from a grid to its own longitude and latitude, and the ellipsoid they are on."""
    crs = CRS(grid_wkt)
    geographic, geod = crs.geodetic_crs, crs.get_geod()
    if geographic is None or geod is None:
        raise ValueError(f"not a grid on an ellipsoid: {crs.name}")
    return Transformer.from_crs(crs.to_wkt(), geographic.to_wkt(), always_xy=True), geod

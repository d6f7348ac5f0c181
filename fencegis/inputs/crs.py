"""Coordinate systems: the datum of the drawing, the working grid on it, and the steps between two systems."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from pyproj import CRS, Transformer, network
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import TransverseMercatorConversion
from pyproj.crs.crs import CoordinateOperation  # type: ignore[attr-defined]
from pyproj.exceptions import CRSError, ProjError
from pyproj.transformer import AreaOfInterest, TransformerGroup

from fencegis.errors import FencegisError
from fencegis.inputs.findings import words
from fencegis.records.notes import Note
from fencegis.records.site import Grid
from fencegis.records.terrain import Operation

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

network.set_network_enabled(active=False)  # type: ignore[attr-defined]  # else results change from day to day

WGS84 = CRS.from_epsg(4326)
FALSE_EASTING_M, FALSE_NORTHING_M = 50_000.0, 80_000.0  # positive, unlike each other, unlike any official grid
_CENTRE_DECIMALS = 3  # so that moving a vertex does not move the grid
_HEIGHT_STEP_M = 10.0
_WORTH_A_NOTE_M = 1.0


class UnknownSystemError(FencegisError):
    """A name that is no coordinate system, or not one of the kind wanted; the text says which."""


@dataclass(frozen=True, eq=False)
class Moved:
    """Points after a change of system, (n, 2) with east or longitude first, and what PROJ did."""

    points: Floats
    operation: Operation


def geographic(name: str) -> CRS:
    """Return the geographic CRS in degrees that `name` (a name or code PROJ knows) names.

    Raises UnknownSystemError when PROJ does not know it, when it is projected or not in degrees.
    """
    crs = named(name)
    if not crs.is_geographic or crs.is_compound:
        raise UnknownSystemError(f"{crs.name} is not a geographic system (longitude and latitude)")
    return datum_of(crs)


def named(name: str) -> CRS:
    """Return the CRS of a name or code that PROJ knows. Raises UnknownSystemError."""
    text = name.strip()
    if not text or text[0] in "+{" or "proj=" in text or "[" in text:  # a PROJ string has no datum: no shift at all
        raise UnknownSystemError(f'"{words(name)}" is not the name or code of a coordinate system')
    try:
        crs = CRS.from_user_input(text)
    except (CRSError, ValueError):  # ValueError: characters that no name has
        raise UnknownSystemError(f'PROJ knows no coordinate system "{words(name)}"') from None
    if crs.ellipsoid is not None and not 6.3e6 < crs.ellipsoid.semi_major_metre < 6.5e6:
        raise UnknownSystemError(f"{crs.name} is not a system of the Earth")
    return WGS84 if crs.equals(WGS84, ignore_axis_order=True) else crs  # "OGC:CRS84" is WGS 84 by another name


def datum_of(crs: CRS) -> CRS:
    """Return the 2-D geographic CRS below `crs`. Raises UnknownSystemError when there is none in degrees."""
    flat = crs.to_2d()
    base = flat.source_crs if flat.is_bound else flat
    below = base.geodetic_crs if base is not None else None
    if below is None or not below.is_geographic or not _in_degrees(below):
        raise UnknownSystemError(f"{crs.name} does not rest on longitude and latitude in degrees")
    return below.to_2d()


def _in_degrees(crs: CRS) -> bool:
    return all(math.isclose(axis.unit_conversion_factor, math.radians(1.0)) for axis in crs.axis_info[:2])


def working_grid(lonlat_deg: Floats, *, datum: CRS, height_m: float) -> Grid:
    """Return the working grid for (n, 2) longitudes and latitudes on `datum` and ground of mean height `height_m`.

    Transverse Mercator on the datum's own ellipsoid, centred on the vertices (their mean as unit vectors, rounded to
    0.001°), its scale 1 + h/R with h rounded to 10 m and R = √(MN) at the centre, so that grid distance is ground
    distance: within 6 parts per million up to 20 km from the centre, heights above the ellipsoid taken as given.
    """
    lon_deg, lat_deg = centre_of(lonlat_deg)
    height = round(height_m / _HEIGHT_STEP_M) * _HEIGHT_STEP_M
    scale = 1.0 + height / _mean_radius_m(datum, lat_deg)
    projected = ProjectedCRS(
        conversion=_conversion(lon_deg, lat_deg, scale), geodetic_crs=datum, name=f"Site grid on {datum.name}"
    )
    return Grid(projected.to_wkt(), datum.to_wkt(), lon_deg, lat_deg, height, scale)


def centre_of(lonlat_deg: Floats) -> tuple[float, float]:
    """Return longitude and latitude of the mean of the points as unit vectors, rounded to 0.001°."""
    lon, lat = np.radians(lonlat_deg).T
    east, north, up = np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)
    centre = np.array([east.mean(), north.mean(), up.mean()])
    lon_deg = float(np.degrees(np.arctan2(centre[1], centre[0])))
    lat_deg = float(np.degrees(np.arctan2(centre[2], np.hypot(centre[0], centre[1]))))
    return round(lon_deg, _CENTRE_DECIMALS) + 0.0, round(lat_deg, _CENTRE_DECIMALS) + 0.0  # + 0.0: no −0


def moved(points: Floats, *, source: CRS | str, target: CRS | str) -> Moved:
    """Return (n, 2) points of `source` in `target`, east or longitude first in both; not a number outside its domain.

    One transformation asked of PROJ, with no third system of ours; operation and accuracy are read after use. Raises
    UnknownSystemError when PROJ has no way between the two.
    """
    source, target = CRS(source), CRS(target)
    try:
        transformer = Transformer.from_crs(source, target, always_xy=True)
    except ProjError:
        raise UnknownSystemError(f"PROJ knows no way from {source.name} to {target.name}") from None
    first, second = transformer.transform(points[:, 0], points[:, 1])
    result = np.column_stack([first, second]).astype(float)
    result[~np.isfinite(result).all(axis=1)] = np.nan
    try:
        used: Transformer = transformer.get_last_used_operation()
    except ProjError:  # nothing to do between the two, or no point inside the domain
        used = transformer
    accuracy = used.accuracy if used.accuracy is not None and used.accuracy >= 0 else None
    between = f"{source.name} → {target.name}"
    return Moved(result, Operation(between, used.description, accuracy, _missing_grids(source, target, points)))


def doubts(operation: Operation, *, source: CRS | str, target: CRS | str) -> tuple[Note, ...]:
    """Return a note when the step was PROJ's own way through WGS 84, a ballpark, of unknown accuracy or over 1 m."""
    ends = " ".join(datum_of(CRS(end)).name for end in (source, target))
    reasons = []
    if "ballpark" in operation.operation.lower():
        reasons.append("PROJ knows no proper step between the two and took them as the same (ballpark)")
    elif "WGS 84" in operation.operation and "WGS 84" not in ends:
        reasons.append("PROJ went through WGS 84")
    if operation.accuracy_m is None:
        reasons.append("its accuracy is not known")
    elif operation.accuracy_m > _WORTH_A_NOTE_M:
        reasons.append(f"it is good to {operation.accuracy_m:g} m only")
    if not reasons:
        return ()
    grids = f"; better with {', '.join(operation.missing_grids)}, not installed here" if operation.missing_grids else ""
    return (Note("doubt", f"Change of datum {operation.between}: {'; '.join(reasons)}{grids}."),)


def _conversion(lon_deg: float, lat_deg: float, scale: float) -> CoordinateOperation:
    conversion = TransverseMercatorConversion(
        latitude_natural_origin=lat_deg,
        longitude_natural_origin=lon_deg,
        false_easting=FALSE_EASTING_M,
        false_northing=FALSE_NORTHING_M,
        scale_factor_natural_origin=scale,
    )
    return CoordinateOperation.from_json_dict({**conversion.to_json_dict(), "name": "Site grid"})


def _mean_radius_m(datum: CRS, lat_deg: float) -> float:
    """√(MN): M and N are the radii of curvature along the meridian and across it."""
    ellipsoid = datum.ellipsoid
    if ellipsoid is None:
        raise UnknownSystemError(f"{datum.name} has no ellipsoid")
    major, minor = ellipsoid.semi_major_metre, ellipsoid.semi_minor_metre
    squared = 1.0 - (minor / major) ** 2
    bent = 1.0 - squared * float(np.sin(np.radians(lat_deg))) ** 2
    return major * float(np.sqrt(1.0 - squared)) / bent


def _missing_grids(source: CRS, target: CRS, points: Floats) -> tuple[str, ...]:
    """Name the grid files of better operations for this place that are not on this machine."""
    if datum_of(source) == datum_of(target):
        return ()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # that the best operation is missing is what we ask
        group = TransformerGroup(source, target, always_xy=True, area_of_interest=_area(source, points))
    return tuple(sorted({g.short_name for op in group.unavailable_operations for g in op.grids if not g.available}))


def _area(source: CRS, points: Floats) -> AreaOfInterest | None:
    lonlat = points
    if not source.is_geographic:
        to_lonlat = Transformer.from_crs(source, datum_of(source), always_xy=True)
        lonlat = np.column_stack(to_lonlat.transform(points[:, 0], points[:, 1]))
    lonlat = lonlat[np.isfinite(lonlat).all(axis=1)]
    if not len(lonlat):
        return None
    lon_deg, lat_deg = centre_of(lonlat)
    south, north = max(lat_deg - 0.01, -90.0), min(lat_deg + 0.01, 90.0)
    return AreaOfInterest(max(lon_deg - 0.01, -180.0), south, min(lon_deg + 0.01, 180.0), north)

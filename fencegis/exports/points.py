"""The rover's file: key points in an official grid, and a page of text that says what the numbers are."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from pyproj import CRS, Proj, Transformer

from fencegis.exports.cautions import cautions
from fencegis.exports.csv_tables import csv_text
from fencegis.exports.file_text import code
from fencegis.exports.key_points import key_points
from fencegis.exports.plan_hash import LONG, plan_sha256
from fencegis.exports.positions import WGS84, accuracy_words, doubt_m, doubt_words, operation
from fencegis.exports.rounding import lon_lat, printed
from fencegis.line.official_grid import official_grid, to_official

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.exports.key_points import Place
    from fencegis.records.plan import Plan
    from fencegis.records.terrain import Operation

    Floats = npt.NDArray[np.float64]

HEADING = "not a boundary; for finding, not for marking"
HEADER = ("P", "N", "E", "Z", "D")
CHECK_STEP_M = 100.0


@dataclass(frozen=True)
class RoverFile:
    """The two files' bytes and the datum change behind them."""

    points: bytes
    text: bytes
    operation: Operation


def rover_file(plan: Plan) -> RoverFile:
    """Return `points_pnezd.csv` and `points_pnezd.txt`.

    Point, northing, easting, height, code in the official grid of the site, all in that grid's unit, three decimals,
    the height empty where the ground is unknown. Two computed check points stand first. A point that PROJ cannot put
    into the grid has empty coordinates.
    """
    grid = official_grid(plan.site)
    places = key_points(plan)
    drawn = np.array([(place.easting_m, place.northing_m) for place in places]).reshape(-1, 2)
    positions = to_official(drawn, grid_wkt=plan.crs, official=grid)
    checks = check_points(positions, step=CHECK_STEP_M)
    heights = np.array([place.ground_m for place in places]) / _unit_m(grid)
    table = zip(
        ["CHK1", "CHK2", *(place.name for place in places)],
        *(_cells(np.concatenate([checks[:, axis], positions[:, axis]])) for axis in (1, 0)),
        ["", "", *_cells(heights)],
        ["CHECK COMPUTED NOTHING STANDS HERE"] * 2 + [_code(plan, place) for place in places],
        strict=True,
    )
    used = operation(plan, grid, name=_name(grid))
    text = _text(plan, grid=grid, checks=checks, used=used)
    return RoverFile(csv_text([HEADER, *table]).encode(), text.encode(), used)


def check_points(positions: Floats, *, step: float) -> Floats:
    """Return two points where the official grid's lines cross: south-west and north-east of all `positions`.

    (n, 2) east and north in; (2, 2) out, whole multiples of `step`; NaN when no position is known.
    """
    known = positions[np.isfinite(positions).all(axis=1)]
    if not len(known):
        return np.full((2, 2), np.nan)
    return np.array([np.floor(known.min(axis=0) / step), np.ceil(known.max(axis=0) / step)]) * step


def scale_factors(plan: Plan, *, grid: str) -> tuple[float, float]:
    """Return the grid's scale factor at the site's middle, and that times the height factor R/(R + h).

    The second takes a level distance on the ground at the site's mean height to a distance in the grid. R is the
    ellipsoid's mean radius there, the root of the product of the two principal ones.
    """
    middle = plan.runs.total_bounds.reshape(2, 2).mean(axis=0)
    crs = CRS(grid)
    to_geographic = Transformer.from_crs(plan.crs, crs.geodetic_crs, always_xy=True)
    longitude, latitude = to_geographic.transform(*middle)
    factors = Proj(crs).get_factors(longitude, latitude)
    scale = math.sqrt(factors.meridional_scale * factors.parallel_scale)
    ellipsoid = crs.ellipsoid
    if ellipsoid is None:
        raise ValueError(f"{grid} has no ellipsoid")
    axis_m = ellipsoid.semi_major_metre
    squared = 1.0 - (ellipsoid.semi_minor_metre / axis_m) ** 2
    radius_m = axis_m * math.sqrt(1.0 - squared) / (1.0 - squared * math.sin(math.radians(latitude)) ** 2)
    return scale, scale * radius_m / (radius_m + plan.site.grid.height_m)


def _code(plan: Plan, place: Place) -> str:
    sigma_m = doubt_m(plan.site, place.line_id)
    doubt = f"DRAWN +-{sigma_m:.1f}M" if sigma_m > 0.0 else "DRAWN DOUBT NOT STATED"
    return f"{code(place.short)} CH {place.chainage_m:.1f} {doubt}"


def _cells(values: Floats) -> list[str]:
    import pandas as pd

    return printed(pd.Series(values, dtype="float64"), "m")


def _text(plan: Plan, *, grid: str, checks: Floats, used: Operation) -> str:
    crs = CRS(grid)
    scale, combined = scale_factors(plan, grid=grid)
    unit = crs.axis_info[0].unit_name
    authority = crs.to_authority()
    lines = [
        HEADING,
        "",
        "File: points_pnezd.csv. Columns: P point, N northing, E easting, Z height, D code; a header line first.",
        f"Grid: {crs.name}, {':'.join(authority) if authority else 'no EPSG code'}",
        f"Datum: {crs.geodetic_crs.name if crs.geodetic_crs else 'unknown'}",
        f"Unit of N, E and Z: {unit}",
        "Height datum: as the elevation file's; not checked. An empty Z is an unknown height, not 0.",
        "Coordinates are grid, not ground.",
        f"Scale factor of the grid at the site: {scale:.8f}",
        f"Grid distance = level ground distance x {combined:.8f} (at {plan.site.grid.height_m:.0f} m)",
        f"From the drawing's datum by: {used.operation}",
        f"Accuracy of that: {accuracy_words(used)}",
        *(f"Grid file that PROJ would have liked and does not have: {name}" for name in used.missing_grids),
        f"Position: {doubt_words(doubt_m(plan.site))}. This is besides the accuracy above.",
        "Three decimals are the file's, not the drawing's.",
        "",
        "Check points, computed; nothing stands there. Load the file, ask the rover for the latitude and longitude of",
        "both, and hold them against these (WGS 84). If they differ by more than a few metres, the grid, the datum or",
        "the order of N and E is set wrongly: stop and mend that first.",
        *_check_lines(checks, grid),
        "",
        "Cautions, each with where it holds and why; in full on the sheets and the map:",
        *(_plain_spaces(f"{caution.about}: {caution.where}") for caution in cautions(plan)),
        "",
        f"Plan {plan_sha256(plan)[:LONG]}",
    ]
    return "\n".join(lines) + "\n"


def _plain_spaces(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def _check_lines(checks: Floats, grid: str) -> list[str]:
    to_degrees = Transformer.from_crs(grid, WGS84, always_xy=True)
    places = lon_lat(np.column_stack(to_degrees.transform(checks[:, 0], checks[:, 1])))
    return [
        f"CHK{number}: N {north:.3f}  E {east:.3f}  latitude {lat_deg:.7f}  longitude {lon_deg:.7f}"
        for number, ((east, north), (lon_deg, lat_deg)) in enumerate(zip(checks, places, strict=True), start=1)
    ]


def _unit_m(grid: str) -> float:
    return float(CRS(grid).axis_info[0].unit_conversion_factor)


def _name(grid: str) -> str:
    return str(CRS(grid).name)

"""The official grid that a surveyor on site works in: which one it is, and the working grid's points in it."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from pyproj import CRS, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import UTMConversion
from pyproj.database import query_crs_info
from pyproj.enums import PJType

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.records.site import Site

    Floats = npt.NDArray[np.float64]

SCOPE = ("engineering survey", "topographic mapping")  # the EPSG database's words for a grid that surveyors work in
EQUIVALENT = 70  # PROJ's confidence for "the same system under another name", as MGA zones are UTM's


def official_grid(site: Site) -> str:
    """Return the official projected CRS, as an EPSG code where there is one, else as WKT.

    The first that there is of: `[points] grid`; the raster's own when it is projected (not Web Mercator, which no
    surveyor works in); the grid on the boundary's datum that the EPSG database lists for survey at the place; UTM on
    the boundary's datum.
    """
    return _chosen(site)[0]


def why_grid(site: Site) -> str:
    """Return in words why the official grid is the one it is."""
    return _chosen(site)[1]


def survey_grids(site: Site) -> list[tuple[str, str]]:
    """Return code and name of every grid that the EPSG database lists for engineering survey at the site's middle.

    On any datum, in order of their codes. Its areas are boxes of latitude and longitude: near a border some belong
    next door.
    """
    return [(code, name) for code, name, _ in _listed(site.grid.centre_lon_deg, site.grid.centre_lat_deg)]


def _chosen(site: Site) -> tuple[str, str]:
    if site.spec.points.grid is not None:
        return site.spec.points.grid, "named in site.toml"
    if site.terrain is not None and site.terrain.patches:
        own = _projected(site.terrain.patches[0].crs_wkt)
        if own is not None:
            return own, "the elevation file's own"
    place = site.grid.centre_lon_deg, site.grid.centre_lat_deg
    found = by_area(site.grid.datum, *place)
    if found is not None:
        return found, "by area of use, from the EPSG database, on the drawing's datum; name another in site.toml"
    return utm(site.grid.datum, *place), "UTM on the drawing's datum, for want of one named or listed for survey"


@lru_cache(maxsize=64)
def by_area(datum: str, lon_deg: float, lat_deg: float) -> str | None:
    """Return the grid on a geographic CRS that the EPSG database lists for survey and mapping at a place, or None.

    Of several: a country's or state's own before UTM, metres before feet, then the least area of use: zones are cut so
    that the scale stays near one. Nothing for WGS 84: the database lists no grid on it for survey.
    """
    geographic = CRS(datum).geodetic_crs
    if geographic is None or geographic.name == "WGS 84":
        return None
    own = f"{geographic.name} / "
    ranked = [
        ("UTM zone" in name, CRS(code).axis_info[0].unit_name != "metre", area, code)
        for code, name, area in _listed(lon_deg, lat_deg)
        if name.startswith(own)
    ]
    return min(ranked)[-1] if ranked else None


@lru_cache(maxsize=64)
def _listed(lon_deg: float, lat_deg: float) -> tuple[tuple[str, str, float], ...]:
    """Return code, name and area of use (square degrees) of the grids for engineering survey and mapping at a place."""
    box = AreaOfInterest(lon_deg, lat_deg, lon_deg, lat_deg)
    found = query_crs_info(
        auth_name="EPSG", pj_types=PJType.PROJECTED_CRS, area_of_interest=box, contains=True, allow_deprecated=False
    )
    grids = {}
    for info in found:
        code, area = f"EPSG:{info.code}", info.area_of_use
        scope = (CRS(code).scope or "").lower()
        if area is not None and all(word in scope for word in SCOPE):
            wide_deg = (area.east - area.west) % 360.0
            grids[code] = (code, info.name, wide_deg * (area.north - area.south))
    return tuple(grids[code] for code in sorted(grids, key=lambda code: int(code.partition(":")[2])))


@lru_cache(maxsize=64)
def utm(datum: str, lon_deg: float, lat_deg: float) -> str:
    """Return the UTM zone of a place on a geographic CRS (WKT, name or code), as an EPSG code where there is one."""
    zone = 1 + int((lon_deg + 180.0) % 360.0 // 6.0)
    if 56.0 <= lat_deg < 64.0 and zone == 31 and lon_deg >= 3.0:
        zone = 32  # 32V is widened over south-west Norway
    hemisphere = "N" if lat_deg >= 0 else "S"
    geographic = CRS(datum).geodetic_crs
    name = f"{geographic.name if geographic else datum} / UTM zone {zone}{hemisphere}"
    return _named(ProjectedCRS(UTMConversion(str(zone), hemisphere=hemisphere), name=name, geodetic_crs=geographic))


def to_official(points: Floats, *, grid_wkt: str, official: str) -> Floats:
    """Return (n, 2) points of the working grid as east and north in the official grid, in its own unit.

    East and north also where the grid itself counts west and south, as in southern Africa. A point that PROJ cannot
    transform is NaN.
    """
    points = np.asarray(points, dtype=float).reshape(-1, 2)
    moved = np.column_stack(_transformer(grid_wkt, official).transform(points[:, 0], points[:, 1]))
    moved[~np.isfinite(moved)] = np.nan
    ways = [axis.direction for axis in CRS(official).axis_info[:2]]
    if set(ways) == {"south", "west"}:  # the order that "always east first" leaves as it is
        return -moved[:, [ways.index("west"), ways.index("south")]]
    return moved


def _projected(crs_wkt: str) -> str | None:
    crs = CRS(crs_wkt)
    flat = crs.sub_crs_list[0] if crs.is_compound else crs
    while flat.is_bound and flat.source_crs is not None:
        flat = flat.source_crs
    operation = flat.coordinate_operation
    if not flat.is_projected or operation is None or "Pseudo Mercator" in operation.method_name:
        return None
    return _named(flat)


@lru_cache(maxsize=64)
def _identified(wkt: str) -> str:
    found = CRS(wkt).to_authority("EPSG", min_confidence=EQUIVALENT)
    return ":".join(found) if found else wkt


def _named(crs: CRS) -> str:
    return _identified(crs.to_wkt())


@lru_cache(maxsize=16)
def _transformer(from_crs: str, to_crs: str) -> Transformer:
    return Transformer.from_crs(from_crs, to_crs, always_xy=True)

"""The official grid that a surveyor on site works in: which one it is, and the working grid's points in it."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from pyproj import CRS, Transformer
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import UTMConversion

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.records.site import Site

    Floats = npt.NDArray[np.float64]

EQUIVALENT = 70  # PROJ's confidence for "the same system under another name", as MGA zones are UTM's


def official_grid(site: Site) -> str:
    """Return the official projected CRS, as an EPSG code where there is one, else as WKT.

    The first that there is of: `[points] grid`; the raster's own when it is projected (not Web Mercator, which no
    surveyor works in); UTM on the boundary's datum.
    """
    if site.spec.points.grid is not None:
        return site.spec.points.grid
    if site.terrain is not None and site.terrain.patches:
        own = _projected(site.terrain.patches[0].crs_wkt)
        if own is not None:
            return own
    return utm(site.grid.datum, site.grid.centre_lon_deg, site.grid.centre_lat_deg)


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

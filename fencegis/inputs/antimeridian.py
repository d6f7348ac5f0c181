"""Lines across the 180° meridian: GeoJSON cuts them there (RFC 7946, 3.1.9), a fence is not cut."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.inputs.positions import Part

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

_TOLERANCE_DEG = 1e-9


def unwrapped(lonlat_deg: Floats, middle_lon_deg: float) -> Floats:
    """Return the points with longitudes within 180° of the middle: no jump at the meridian."""
    away = (lonlat_deg[:, 0] - middle_lon_deg + 180.0) % 360.0 - 180.0
    near = np.abs(lonlat_deg[:, 0] - middle_lon_deg) <= 180.0  # these stay as written, to the last bit
    return np.column_stack([np.where(near, lonlat_deg[:, 0], middle_lon_deg + away), lonlat_deg[:, 1]])


def joined(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    """Return the parts of one feature with those that meet at ±180° made one, the direction of drawing kept."""
    if not (_touches(parts, 180.0) and _touches(parts, -180.0)):
        return parts
    if any(part.role == "ring" for part in parts):
        return _joined_rings(parts)
    return _joined_lines(parts)


def _touches(parts: tuple[Part, ...], meridian_deg: float) -> bool:
    return any((np.abs(part.lonlat_deg[:, 0] - meridian_deg) < _TOLERANCE_DEG).any() for part in parts)


def _joined_lines(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    chain = list(parts)
    place = 0
    while place < len(chain):
        following = [n for n, part in enumerate(chain) if n != place and _goes_on(chain[place], part)]
        if not following:
            place += 1
            continue
        one, other = chain[place], chain[following[0]]
        lonlat = np.vstack([one.lonlat_deg, other.lonlat_deg[1:]])
        chain[place] = Part(one.role, lonlat, np.append(one.heights_m, other.heights_m[1:]), one.polygon)
        del chain[following[0]]
        place = 0
    return tuple(chain)


def _goes_on(one: Part, other: Part) -> bool:
    end, start = one.lonlat_deg[-1], other.lonlat_deg[0]
    opposite = abs(abs(end[0] - start[0]) - 360.0) < _TOLERANCE_DEG
    return bool(opposite and abs(end[1] - start[1]) < _TOLERANCE_DEG)


def _joined_rings(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    """Join the polygons that share a side on the meridian; a polygon that is not valid is left for later checks."""
    polygons = []
    for number in sorted({part.polygon for part in parts}):
        outer, *holes = [unwrapped(part.lonlat_deg, 180.0) for part in parts if part.polygon == number]
        if min(len(ring) for ring in (outer, *holes)) < 4:
            return parts
        polygons.append(shapely.Polygon(outer, holes))
    if not all(polygon.is_valid for polygon in polygons):
        return parts
    whole = shapely.union_all(polygons)
    rings = []
    for number, polygon in enumerate(shapely.get_parts(whole)):
        for ring in (polygon.exterior, *polygon.interiors):
            lonlat = shapely.get_coordinates(ring)
            rings.append(Part("ring", lonlat, np.full(len(lonlat), np.nan), number))
    return tuple(rings)

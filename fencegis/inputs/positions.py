"""Positions as GeoJSON lists them → arrays, each number looked at: null, NaN and text stand where one should."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from fencegis.inputs.findings import words

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.inputs.findings import Findings

    Floats = npt.NDArray[np.float64]

Role = Literal["point", "line", "ring"]
_OUT_OF_DEGREES = 360.0


@dataclass(frozen=True, eq=False)
class Part:
    """A point, line or ring of a feature: `lonlat_deg` is (n, 2), `heights_m` (n,) with NaN where none is given.

    A ring's first vertex is repeated at its end. `polygon` counts the polygons of the feature from 0.
    """

    role: Role
    lonlat_deg: Floats
    heights_m: Floats
    polygon: int = 0


def read_part(raw: Any, role: Role, polygon: int, *, label: str, found: Findings) -> Part | None:
    """Return a part from its list of positions, or None when a position is at fault, which is added to `found`."""
    if not isinstance(raw, list) or not raw:
        found.fault(label, "its coordinates are empty or no list.", fix="draw it again.")
        return None
    for number, position in enumerate(raw, 1):
        if not _is_position(position):
            place = label if role == "point" else f"{label}, vertex {number}"
            found.fault(place, f"{_blame(position)}.", fix="give two numbers, longitude then latitude, or delete it.")
            return None
    points = np.array([position[:2] for position in raw], dtype=float)
    heights = np.array([position[2] if len(position) > 2 else math.nan for position in raw], dtype=float)
    if role == "ring" and not np.array_equal(points[0], points[-1]):
        points, heights = np.vstack([points, points[:1]]), np.append(heights, heights[0])
        found.note("repair", label, "a ring that was not closed is closed.")
    return Part(role, points, heights, polygon)


def _is_position(position: Any) -> bool:
    if not isinstance(position, list) or len(position) < 2:
        return False
    try:
        return all(type(value) in (int, float) and math.isfinite(value) for value in position[:3])
    except OverflowError:  # a whole number too large for a float
        return False


def _blame(position: Any) -> str:
    """Say what is wrong with a position that is none."""
    if not isinstance(position, list):
        return f"{_said(position)} stands where a position should"
    if len(position) < 2:
        return "a position has fewer than two numbers"
    named_values = zip(("longitude", "latitude", "height"), position, strict=False)
    return "; ".join(f"its {name} is {_said(value)}" for name, value in named_values if not _is_position([value, 0]))


def _said(value: Any) -> str:
    if value is None:
        return "null"
    if isinstance(value, str):
        return f'text ("{words(value, most=20)}"), not a number'
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "a table"
    return "not a number (NaN)" if value != value else words(value, most=20)


def wrong_degrees(points: Floats) -> tuple[str, str] | None:
    """Return fault and fix when (n, 2) points cannot be longitude and latitude in degrees, None when they can."""
    lon, lat = np.abs(points).T
    wrong = (lon > 180.0) | (lat > 90.0)
    if not wrong.any():
        return None
    first = points[np.argmax(wrong)]
    shown = f"{first[0]:.10g}, {first[1]:.10g}"
    if (np.maximum(lon, lat) > _OUT_OF_DEGREES).any():
        fault = f"{shown} is not longitude and latitude; it looks like metres of a projected system."
        fix = "export it as longitude/latitude, or give its system in a crs member."
    elif lon.max() <= 90.0 and lat.max() <= 180.0:
        fault = f"{shown} has a latitude beyond 90°; the two look swapped."
        fix = "write longitude first, then latitude."
    else:
        fault = f"{shown} is not a longitude within 180° and a latitude within 90°."
        fix = "correct the vertex; east of the 180° meridian subtract 360 from the longitude."
    return fault, fix

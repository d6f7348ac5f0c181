"""A feature's parts → the shapes of its layer, in longitude and latitude, with what is wrong with them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.inputs.properties import HIGHEST_GROUND_M

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy.typing as npt

    from fencegis.inputs.findings import Findings
    from fencegis.inputs.geojson import Feature

    Floats = npt.NDArray[np.float64]


def points(feature: Feature, found: Findings) -> list[shapely.Geometry]:  # noqa: ARG001 (all shapes are made alike)
    """Return a Point for each part that is one."""
    return [shapely.Point(part.lonlat_deg[0]) for part in feature.parts if part.role == "point"]


def paths(feature: Feature, found: Findings) -> list[shapely.Geometry]:
    """Return a LineString for each part that is a line, heights left out."""
    return [shapely.LineString(lonlat) for lonlat, _ in _lines(feature, found)]


def conductors(feature: Feature, found: Findings) -> list[shapely.Geometry]:
    """Return a LineString for each part that is a line, a Point for each pole: 3-D when every vertex has a height."""
    made: list[shapely.Geometry] = []
    for pole in feature.parts:
        if pole.role == "point":
            at_m = _conductor_heights(pole.heights_m, feature.label, found)
            made.append(shapely.Point(pole.lonlat_deg[0] if at_m is None else [*pole.lonlat_deg[0], at_m[0]]))
    for lonlat, given_m in _lines(feature, found):
        heights_m = _conductor_heights(given_m, feature.label, found)
        made.append(shapely.LineString(lonlat if heights_m is None else np.column_stack([lonlat, heights_m])))
    return made


def outlines(feature: Feature, found: Findings, *, otherwise: str = "") -> list[shapely.Geometry]:
    """Return a Polygon a part, holes and all; `otherwise` ends the advice on one that encloses nothing."""
    made: list[shapely.Geometry] = []
    rings = [part for part in feature.parts if part.role == "ring"]
    for number in sorted({part.polygon for part in rings}):
        edges = [part.lonlat_deg for part in rings if part.polygon == number]
        polygon = shapely.Polygon(edges[0], edges[1:]) if min(map(len, edges)) >= 4 else None
        if polygon is None or polygon.convex_hull.area == 0.0:
            found.fault(feature.label, "its outline encloses nothing.", fix=f"draw it again{otherwise}.")
        elif not polygon.is_valid:
            found.fault(feature.label, "its outline crosses itself.", fix=f"draw it again{otherwise}.")
        else:
            made.append(polygon)
    return made


def crowns(feature: Feature, found: Findings) -> list[shapely.Geometry]:
    """Return a Point or Polygon a part."""
    return [*points(feature, found), *outlines(feature, found, otherwise=", or draw a Point")]


def paths_and_outlines(feature: Feature, found: Findings) -> list[shapely.Geometry]:
    """Return a LineString or Polygon a part."""
    return [*paths(feature, found), *outlines(feature, found)]


def any_shapes(feature: Feature, found: Findings) -> list[shapely.Geometry]:
    """Return a Point, LineString or Polygon a part."""
    return [*points(feature, found), *paths_and_outlines(feature, found)]


def round_shapes(feature: Feature, found: Findings) -> list[shapely.Geometry]:
    """Return a Point, LineString or Polygon a part; what has no area of its own needs `radius_m`."""
    flat = any(part.role != "ring" for part in feature.parts)
    if flat and feature.properties.get("radius_m") is None:
        fix = "add radius_m, or draw the area as a Polygon."
        found.fault(feature.label, "it is no area, and radius_m does not say how far to keep from it.", fix=fix)
        return []
    return any_shapes(feature, found)


def _lines(feature: Feature, found: Findings) -> Iterator[tuple[Floats, Floats]]:
    """Yield the vertices of each line without repeated ones, and their heights, NaN where none is given."""
    for part in feature.parts:
        if part.role != "line":
            continue
        steps = np.diff(part.lonlat_deg, axis=0).any(axis=1)
        keep = np.concatenate([[True], steps])
        if keep.sum() < 2:
            found.fault(feature.label, "it has fewer than two distinct vertices.", fix="draw it again, or delete it.")
            continue
        if not steps.all():
            found.note("repair", feature.label, f"repeated vertices are left out ({np.sum(~steps)}).")
        yield part.lonlat_deg[keep], part.heights_m[keep]


def _conductor_heights(heights_m: Floats, label: str, found: Findings) -> Floats | None:
    given = np.isfinite(heights_m)
    if not given.any():
        return None
    if not given.all():
        fault = f"vertex {int(np.argmin(given)) + 1} has no height and others have one."
        found.fault(label, fault, fix="give every vertex its height, or none and height_m instead.")
        return None
    if not heights_m.any():
        found.note("doubt", label, "every vertex has height 0, which is taken as no height given.")
        return None
    if (np.abs(heights_m) > HIGHEST_GROUND_M).any():
        worst = heights_m[np.argmax(np.abs(heights_m))]
        found.fault(label, f"a vertex has height {worst:g} m.", fix="give heights in metres above the raster's datum.")
        return None
    return heights_m

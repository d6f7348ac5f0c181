"""What the user gives for a tracing page → `Tracing`: the orthophoto, the shape of the ground, lines to begin with."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np

from fencegis.errors import InputError
from fencegis.inputs.backdrop import backdrop_of, imagery_problems
from fencegis.inputs.boundary_geopackage import read_geopackage
from fencegis.inputs.boundary_points import read_points
from fencegis.inputs.crs import WGS84, moved, working_grid
from fencegis.inputs.drawn_layers import BOUNDARY_GEOMETRIES, drawn_layers
from fencegis.inputs.findings import Findings, words
from fencegis.inputs.gdal import open_raster, place_faults
from fencegis.inputs.geojson import read_features
from fencegis.inputs.text_file import read_text
from fencegis.inputs.tracing_picture import tracing_picture
from fencegis.records.tracing import Tracing

if TYPE_CHECKING:
    from pathlib import Path

    from pyproj import CRS

    from fencegis.errors import Problem
    from fencegis.inputs.geojson import Collection, Feature
    from fencegis.inputs.positions import Part
    from fencegis.inputs.text_file import TextFile
    from fencegis.records.backdrop import Picture
    from fencegis.records.tracing import TracingPicture

_DECIMALS = 9  # of a degree: a tenth of a millimetre
_LARGE_ACROSS = 64  # points across and up, about which a large raster of heights is read


def read_tracing(imagery: Path, *, elevation: Path | None = None, boundary: Path | None = None) -> Tracing:
    """Return what a tracing page over `imagery` is made from, or raise InputError with all that is wrong.

    `elevation` gives a shaded relief to switch to; `boundary` (GeoJSON, GeoPackage or CSV, in any system) the lines
    that are there to begin with.
    """
    problems: list[Problem] = list(imagery_problems(imagery, folder=imagery.parent))
    problems += _elevation_faults(elevation) if elevation else []
    lines, notes, faults = _boundary(boundary) if boundary else ((), (), [])
    if problems or faults:
        raise InputError([*problems, *faults])
    picture = tracing_picture(imagery)
    relief = _relief(elevation, picture) if elevation else None
    name = imagery.resolve().parent.name if imagery.stem == "imagery" else imagery.stem
    return Tracing(words(name), name, picture, relief, drawn_layers(), lines, notes)


def _elevation_faults(path: Path) -> list[Problem]:
    try:
        with open_raster(path, name=path.name, folder=None) as raster:
            return place_faults(raster, name=path.name)
    except InputError as error:
        return list(error.problems)


def _relief(path: Path, picture: TracingPicture) -> Picture | None:
    """Return the ground under the picture, lit from the north-west; raises InputError when it has no height there."""
    south, west, north, east = picture.bounds
    corners = np.array([[west, south], [east, south], [east, north], [west, north]])
    grid = working_grid(corners, datum=WGS84, height_m=0.0)
    spread = np.linspace(0.0, 1.0, _LARGE_ACROSS)
    across, up = (side.ravel() for side in np.meshgrid(spread, spread))
    inside = np.column_stack([west + across * (east - west), south + up * (north - south)])
    places = moved(inside, source=WGS84, target=grid.wkt).points
    extent = (*places.min(axis=0).tolist(), *places.max(axis=0).tolist())
    under = backdrop_of(
        elevation_sources=[path], imagery=None, grid_wkt=grid.wkt, extent_en=extent, line_en=places
    ).hillshade
    if under is None:
        found = Findings(path.name)
        found.fault("", "it has no height anywhere under the imagery.", fix="give elevation of this place, or none.")
        raise InputError(found.problems)
    return under


def _boundary(path: Path) -> tuple[tuple[dict[str, Any], ...], tuple[str, ...], list[Problem]]:
    """Return the lines of a boundary as GeoJSON features on WGS 84, what was noted, and what is wrong."""
    found = Findings(path.name)
    source = read_text(path, found)
    collection = None if source is None else _collection(path, source, found, target=WGS84)
    if collection is None or found.faults:
        return (), (), list(found.problems)
    features = tuple(_feature(feature) for feature in collection.features)
    return features, tuple(note.text for note in found.notes), []


def _collection(path: Path, source: TextFile, found: Findings, *, target: CRS) -> Collection | None:
    if path.suffix == ".csv":
        return read_points(source, found, target=target, wanted=BOUNDARY_GEOMETRIES)
    if path.suffix == ".gpkg":
        return read_geopackage(path, found, target=target, wanted=BOUNDARY_GEOMETRIES)
    return read_features(source, found, assumed=WGS84, target=target, wanted=BOUNDARY_GEOMETRIES, empty_allowed=False)


def _feature(feature: Feature) -> dict[str, Any]:
    polygons = sorted({part.polygon for part in feature.parts if part.role == "ring"})
    rings = [[_places(part) for part in feature.parts if part.polygon == number] for number in polygons]
    lines = [_places(part) for part in feature.parts if part.role == "line"]
    parts, kind = (rings, "Polygon") if rings else (lines, "LineString")
    geometry = (
        {"type": kind, "coordinates": parts[0]}
        if len(parts) == 1
        else {
            "type": f"Multi{kind}",
            "coordinates": parts,
        }
    )
    return {"type": "Feature", "properties": _finite(feature.properties), "geometry": geometry}


def _places(part: Part) -> list[list[float]]:
    places: list[list[float]] = np.round(part.lonlat_deg, _DECIMALS).tolist()
    return places


def _finite(properties: dict[str, Any]) -> dict[str, Any]:
    """Return the properties as JSON can hold them: numbers that are none become null."""
    plain: dict[str, Any] = json.loads(json.dumps(properties, default=str), parse_constant=lambda _: None)
    return plain

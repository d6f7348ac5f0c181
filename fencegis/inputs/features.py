"""Pegs, gates, overhead lines, trees and what was seen on the walk → tables with the same columns for every site.

A number that nobody gave is NaN, a word None. Units and limits are those of `inputs.properties`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely

from fencegis.inputs.crs import moved
from fencegis.inputs.findings import Findings, words
from fencegis.inputs.geojson import read_features
from fencegis.inputs.properties import (
    GateProperties,
    OverheadProperties,
    PegProperties,
    Properties,
    SoilProperties,
    TreeProperties,
    WalkProperties,
    note_near_misses,
    properties_of,
)
from fencegis.inputs.soil_zones import note_overlaps
from fencegis.inputs.text_file import read_text
from fencegis.inputs.walk_gpx import read_waypoints

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import geopandas as gpd
    import numpy.typing as npt
    from pyproj import CRS

    from fencegis.errors import Problem
    from fencegis.inputs.geojson import Feature
    from fencegis.inputs.positions import Part
    from fencegis.inputs.text_file import TextFile
    from fencegis.records.notes import Note
    from fencegis.records.site import Grid
    from fencegis.records.terrain import Operation

    Floats = npt.NDArray[np.float64]
    Shapes = Callable[[Feature, Findings], list[shapely.Geometry]]

WALK_KINDS = ("soil", "rock", "wet", "tree", "service", "old post", "access", "photo", "phone signal")
_HIGHEST_GROUND_M = 9_000.0
_DTYPES: dict[type, str] = {float: "float64", bool: "bool"}  # the rest as objects, so that None stays None


class LayerRead(NamedTuple):
    """One file's features: `rows` in file order, `shapes` of the same length, in longitude and latitude."""

    file: str
    rows: tuple[dict[str, Any], ...]
    shapes: tuple[shapely.Geometry, ...]
    problems: tuple[Problem, ...]
    notes: tuple[Note, ...]
    operations: tuple[Operation, ...] = ()
    source: TextFile | None = None


@dataclass(frozen=True)
class Layer:
    """One layer: its columns after `feature`, with what they hold, the geometries it takes and how a row is made."""

    columns: dict[str, type]
    model: type[Properties]
    geometries: tuple[str, ...]
    shapes: Shapes


def read_layer(path: Path, name: str, *, assumed: CRS, datum: CRS) -> LayerRead:
    """Return the features of layer `name` of `LAYERS` from its file, with all that is wrong in it.

    They come on `datum`; a file that does not say which system it is in is taken to be in `assumed`.
    """
    found = Findings(path.name)
    source = read_text(path, found)
    layer = LAYERS[name]
    collection = None
    if source is not None:
        if path.suffix == ".gpx":
            collection = read_waypoints(source, found, datum=datum)
        else:
            collection = read_features(
                source, found, assumed=assumed, target=datum, wanted=layer.geometries, empty_allowed=True
            )
    if collection is None:
        return LayerRead(path.name, (), (), found.problems, tuple(found.notes), (), source)
    note_near_misses(collection.features, layer.model, found)
    rows, shapes = _rows(collection.features, layer, found)
    _note_kinds(rows, name, found)
    if name == "soils":
        note_overlaps(rows, shapes, found)
    return LayerRead(path.name, rows, shapes, found.problems, tuple(found.notes), collection.operations, source)


def on_grid(layers: list[LayerRead], name: str, grid: Grid) -> gpd.GeoDataFrame:
    """Return what the files of layer `name` hold as one table in the working grid; no row when they are empty."""
    import geopandas as gpd
    import pandas as pd

    rows = [row for layer in layers for row in layer.rows]
    shapes = np.array([shape for layer in layers for shape in layer.shapes], dtype=object)
    high = shapely.has_z(shapes)
    for chosen in (high, ~high):
        if chosen.any():
            shapes[chosen] = shapely.transform(shapes[chosen], _to(grid), include_z=bool(high[chosen][0]))
    columns: dict[str, pd.Series[Any]] = {}
    for column, holds in {"feature": str, **LAYERS[name].columns}.items():
        cells = [row[column] for row in rows]
        columns[column] = pd.Series(cells, dtype=_DTYPES.get(holds, "object"))
    return gpd.GeoDataFrame(columns, geometry=list(shapes), crs=grid.wkt)


def _to(grid: Grid) -> Callable[[Floats], Floats]:
    """Return the step from longitude and latitude to the grid, heights left as they are."""

    def step(points: Floats) -> Floats:
        flat = moved(points[:, :2], source=grid.datum, target=grid.wkt).points
        return np.column_stack([flat, points[:, 2:]])

    return step


def _rows(
    features: tuple[Feature, ...], layer: Layer, found: Findings
) -> tuple[tuple[dict[str, Any], ...], tuple[shapely.Geometry, ...]]:
    rows: list[dict[str, Any]] = []
    shapes: list[shapely.Geometry] = []
    for feature in features:
        given = properties_of(feature, layer.model, found)
        made = layer.shapes(feature, found)
        if given is not None:
            values = given.model_dump()
            rows += [{"feature": feature.label, **values} for _ in made]
            shapes += made
    return tuple(rows), tuple(shapes)


def _note_kinds(rows: tuple[dict[str, Any], ...], name: str, found: Findings) -> None:
    """Fill in the kind that nobody gave, and say so."""
    fallback = {"pegs": "survey", "overhead": "power"}.get(name)
    without = [row for row in rows if "kind" in row and row["kind"] is None]
    if fallback:
        found.note_each("default", [row["feature"] for row in without], f"kind is not given; taken as “{fallback}”.")
        for row in without:
            row["kind"] = fallback
    if name == "walk":
        strange = [row for row in rows if row["kind"] not in (None, *WALK_KINDS)]
        given = ", ".join(f"“{kind}”" for kind in dict.fromkeys(words(row["kind"]) for row in strange))
        text = f"kind {given} is none of {', '.join(WALK_KINDS)}; it is kept as given."
        found.note_each("doubt", [row["feature"] for row in strange], text)
        for row in rows:
            row["text"] = row["text"] or row["name"]


def _points(feature: Feature, found: Findings) -> list[shapely.Geometry]:  # noqa: ARG001 (a row's maker has both)
    return [shapely.Point(part.lonlat_deg[0]) for part in feature.parts]


def _conductors(feature: Feature, found: Findings) -> list[shapely.Geometry]:
    """Return a LineString a part: 3-D when every vertex has a height."""
    made: list[shapely.Geometry] = []
    for part in feature.parts:
        steps = np.diff(part.lonlat_deg, axis=0).any(axis=1)
        keep = np.concatenate([[True], steps])
        if keep.sum() < 2:
            found.fault(feature.label, "it has fewer than two distinct vertices.", fix="draw it again, or delete it.")
            continue
        if not steps.all():
            found.note("repair", feature.label, f"repeated vertices are left out ({np.sum(~steps)}).")
        heights_m = _conductor_heights(part.heights_m[keep], feature.label, found)
        lonlat = part.lonlat_deg[keep]
        made.append(shapely.LineString(lonlat if heights_m is None else np.column_stack([lonlat, heights_m])))
    return made


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
    if (np.abs(heights_m) > _HIGHEST_GROUND_M).any():
        worst = heights_m[np.argmax(np.abs(heights_m))]
        found.fault(label, f"a vertex has height {worst:g} m.", fix="give heights in metres above the raster's datum.")
        return None
    return heights_m


def _crowns(feature: Feature, found: Findings) -> list[shapely.Geometry]:
    """Return a Point or Polygon a part."""
    points = _points(_with(feature, [part for part in feature.parts if part.role == "point"]), found)
    return [*points, *_outlines(feature, found, otherwise=", or draw a Point")]


def _outlines(feature: Feature, found: Findings, *, otherwise: str = "") -> list[shapely.Geometry]:
    """Return a Polygon a part, holes and all; `otherwise` ends the advice on one that encloses nothing."""
    made: list[shapely.Geometry] = []
    rings = [part for part in feature.parts if part.role == "ring"]
    for number in sorted({part.polygon for part in rings}):
        outlines = [part.lonlat_deg for part in rings if part.polygon == number]
        polygon = shapely.Polygon(outlines[0], outlines[1:]) if min(map(len, outlines)) >= 4 else None
        if polygon is None or polygon.convex_hull.area == 0.0:
            found.fault(feature.label, "its outline encloses nothing.", fix=f"draw it again{otherwise}.")
        elif not polygon.is_valid:
            found.fault(feature.label, "its outline crosses itself.", fix=f"draw it again{otherwise}.")
        else:
            made.append(polygon)
    return made


def _with(feature: Feature, parts: list[Part]) -> Feature:
    return type(feature)(feature.label, feature.properties, tuple(parts))


_POINTS = ("Point", "MultiPoint")
LAYERS: dict[str, Layer] = {
    "pegs": Layer({"name": str, "kind": str}, PegProperties, _POINTS, _points),
    "gates": Layer(
        {
            "name": str,
            "opening_m": float,
            "leaf_m": float,
            "leaves": float,
            "hinge": str,
            "swing_side": str,
            "setback_m": float,
            "wing_m": float,
            "gate_post_mm": float,
        },
        GateProperties,
        _POINTS,
        _points,
    ),
    "overhead": Layer(
        {
            "name": str,
            "kind": str,
            "voltage_kv": float,
            "height_m": float,
            "sag_m": float,
            "half_width_m": float,
            "height_error_m": float,
            "height_from": str,
            "insulated": object,
            "support": str,
        },
        OverheadProperties,
        ("LineString", "MultiLineString"),
        _conductors,
    ),
    "trees": Layer(
        {"name": str, "height_m": float, "limb_m": float, "spread_m": float, "dead": bool},
        TreeProperties,
        (*_POINTS, "Polygon", "MultiPolygon"),
        _crowns,
    ),
    "soils": Layer({"name": str, "soil": str}, SoilProperties, ("Polygon", "MultiPolygon"), _outlines),
    "walk": Layer({"kind": str, "text": str}, WalkProperties, _POINTS, _points),
}

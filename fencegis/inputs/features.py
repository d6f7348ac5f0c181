"""A site's layers as GeoJSON, and the walk as GPX → tables with the same columns for every site (`inputs.layers`)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely

from fencegis.inputs.crs import moved
from fencegis.inputs.findings import Findings, words
from fencegis.inputs.geojson import read_features
from fencegis.inputs.layers import LAYERS
from fencegis.inputs.properties import note_near_misses, properties_of
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
    from fencegis.inputs.layers import Layer
    from fencegis.inputs.text_file import TextFile
    from fencegis.records.notes import Note
    from fencegis.records.site import Grid
    from fencegis.records.terrain import Operation

    Floats = npt.NDArray[np.float64]

WALK_KINDS = ("soil", "rock", "wet", "tree", "service", "old post", "access", "photo", "phone signal")
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
    _fill_and_note(rows, name, found)
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


def _fill_and_note(rows: tuple[dict[str, Any], ...], name: str, found: Findings) -> None:
    """Fill in the kind that nobody gave, and say so and what else a layer cannot do without."""
    fallback = LAYERS[name].kind_taken
    without = [row for row in rows if "kind" in row and row["kind"] is None]
    if fallback:
        found.note_each("default", [row["feature"] for row in without], f"kind is not given; taken as “{fallback}”.")
        for row in without:
            row["kind"] = fallback
    if name == "existing":
        text = "kind does not say what becomes of the old fence: keep, pull or tie in."
        found.note_each("doubt", [row["feature"] for row in without], text)
    if name == "services":
        text = "quality is not given: it counts as the least sure, D, known from records or hearsay alone."
        found.note_each("doubt", [row["feature"] for row in rows if row["quality"] is None], text)
    if name == "walk":
        strange = [row for row in rows if row["kind"] not in (None, *WALK_KINDS)]
        given = ", ".join(f"“{kind}”" for kind in dict.fromkeys(words(row["kind"]) for row in strange))
        text = f"kind {given} is none of {', '.join(WALK_KINDS)}; it is kept as given."
        found.note_each("doubt", [row["feature"] for row in strange], text)
        for row in rows:
            row["text"] = row["text"] or row["name"]

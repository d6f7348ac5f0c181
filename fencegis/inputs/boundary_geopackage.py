"""`boundary.gpkg` → the drawn lines of a GeoPackage, held to the same checks as those of GeoJSON."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from pyproj import CRS
from pyproj.exceptions import CRSError

from fencegis.inputs.crs import UnknownSystemError, datum_of, named
from fencegis.inputs.findings import words
from fencegis.inputs.geojson import Collection, features_of

if TYPE_CHECKING:
    from pathlib import Path

    from fencegis.inputs.findings import Findings

LAYER = "boundary"
_BEGINNING = b"SQLite format 3\x00"
_AGAIN = "export the line again as a GeoPackage, or as boundary.geojson."


def read_geopackage(path: Path, found: Findings, *, target: CRS | None, wanted: tuple[str, ...]) -> Collection | None:
    """Return the features of the layer `boundary`, or of the only layer, on the geographic CRS `target`.

    None, with a fault, when the file, its layer or its system cannot be used; `target` None keeps its own datum.
    """
    with path.open("rb") as file:
        if file.read(len(_BEGINNING)) != _BEGINNING:
            found.fault("", "it is not a GeoPackage.", fix=_AGAIN)
            return None
    import pyogrio  # loads GDAL
    from pyogrio.errors import DataLayerError, DataSourceError

    try:
        layer = _layer([str(name) for name, _ in pyogrio.list_layers(path)], found)
        own = None if layer is None else _system(pyogrio.read_info(path, layer=layer)["crs"], found)
        if own is None:
            return None
        table = pyogrio.read_dataframe(path, layer=layer)
    except (DataSourceError, DataLayerError) as error:
        found.fault("", f"it cannot be read ({words(error, most=160)}).", fix=_AGAIN)
        return None
    if not len(table):
        found.fault("", "it holds no feature.", fix="draw the line, then export the layer again.")
        return None
    members = [_member(row, shape) for row, shape in zip(_properties(table), table.geometry, strict=True)]
    return features_of(members, found, own=own, assumed=own, target=target, wanted=wanted)


def _layer(names: list[str], found: Findings) -> str | None:
    if LAYER in names:
        return LAYER
    if len(names) == 1:
        return names[0]
    listed = f"{len(names)} layers: {', '.join(words(name, most=30) for name in names[:8])}" if names else "no layer"
    found.fault("", f"it has {listed}, and none is called {LAYER}.", fix=f"call the layer of the line {LAYER}.")
    return None


def _system(given: str | None, found: Findings) -> CRS | None:
    """Return the layer's system, by its code; None and a fault when it has none."""
    try:
        code = CRS.from_user_input(given).to_authority() if given else None
        crs = None if code is None else named(":".join(code)).to_2d()
        if crs is not None:
            datum_of(crs)
            return crs
    except (CRSError, UnknownSystemError) as error:
        found.fault("", f"its system cannot be used ({words(error)}).", fix="export it with an EPSG code.")
        return None
    found.fault("", "it does not say, by a code, which system it is in.", fix="export it with an EPSG code.")
    return None


def _properties(table: Any) -> list[dict[str, Any]]:
    """Return each row's cells as JSON would have them; what is neither a number, a flag nor text becomes text."""
    rows = table.drop(columns=table.geometry.name)
    if not len(rows.columns):
        return [{} for _ in range(len(table))]
    return [dict(row) for row in json.loads(rows.to_json(orient="records", date_format="iso", default_handler=str))]


def _member(properties: dict[str, Any], shape: Any) -> dict[str, Any]:
    geometry = None if shape is None else json.loads(json.dumps(shape.__geo_interface__))
    return {"type": "Feature", "properties": properties, "geometry": geometry}

"""The layers that can be drawn, told to the tracing page by the very models that read them: the two cannot part."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fencegis.catalogue import rows
from fencegis.inputs import shapes
from fencegis.inputs.features import WALK_KINDS
from fencegis.inputs.layers import LAYERS
from fencegis.inputs.properties import BoundaryProperties
from fencegis.records.tracing import DrawnLayer, LayerField

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fencegis.inputs.properties import Properties
    from fencegis.records.tracing import Holds

BOUNDARY_GEOMETRIES = ("LineString", "MultiLineString", "Polygon", "MultiPolygon")
_HOLDS: dict[str, Holds] = {"number": "number", "integer": "whole", "boolean": "flag", "string": "text"}


def drawn_layers() -> tuple[DrawnLayer, ...]:
    """Return the boundary and every layer of a site, each with its file, geometries and properties, boundary first."""
    boundary = DrawnLayer(
        "boundary", "boundary.geojson", BOUNDARY_GEOMETRIES, tuple(_fields("boundary", BoundaryProperties))
    )
    others = [
        DrawnLayer(
            name,
            f"{name}.geojson",
            layer.geometries,
            tuple(_fields(name, layer.model)),
            ("radius_m",) if layer.shapes is shapes.round_shapes else (),
        )
        for name, layer in LAYERS.items()
    ]
    return (boundary, *others)


def _fields(layer: str, model: type[Properties]) -> Iterator[LayerField]:
    """Yield a model's fields as its JSON schema states them: kind of value, limits, words, whether needed."""
    schema = model.model_json_schema(by_alias=False)
    for name, about in schema["properties"].items():
        kind: dict[str, Any] = next((one for one in about.get("anyOf", [about]) if one.get("type") != "null"), about)
        words = tuple(kind.get("enum", ())) or _words(layer, name)
        yield LayerField(
            name,
            "word" if words and words != WALK_KINDS else _HOLDS[kind["type"]],
            words,
            least=kind.get("minimum"),
            above=kind.get("exclusiveMinimum"),
            most=kind.get("maximum"),
            longest=kind.get("maxLength"),
            needed=name in schema.get("required", ()),
        )


def _words(layer: str, name: str) -> tuple[str, ...]:
    """Return the words of a property whose model leaves them to a list kept elsewhere; those of a walk only suggest."""
    if name == "soil":
        return tuple(row["soil"] for row in rows("soils"))
    return WALK_KINDS if (layer, name) == ("walk", "kind") else ()

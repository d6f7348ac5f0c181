"""What each layer of a site holds: its columns, the properties it is read by, the shapes it takes.

A number that nobody gave is NaN, a word None. Units and limits are those of `inputs.properties`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.inputs import shapes
from fencegis.inputs.properties import (
    ExistingProperties,
    GateProperties,
    KeepoutProperties,
    OverheadProperties,
    PegProperties,
    Properties,
    ServiceProperties,
    SoilProperties,
    TrackProperties,
    TreeProperties,
    WalkProperties,
    WatercourseProperties,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    import shapely

    from fencegis.inputs.findings import Findings
    from fencegis.inputs.geojson import Feature

    Shapes = Callable[[Feature, Findings], list[shapely.Geometry]]

_POINTS = ("Point", "MultiPoint")
_LINES = ("LineString", "MultiLineString")
_AREAS = ("Polygon", "MultiPolygon")


@dataclass(frozen=True)
class Layer:
    """One layer: its columns after `feature`, with what they hold, the geometries it takes and how a row is made.

    `kind_taken` is the kind where nobody gave one, with a note; None leaves the cell empty.
    """

    columns: dict[str, type]  # object: a flag that may be None
    model: type[Properties]
    geometries: tuple[str, ...]
    shapes: Shapes
    kind_taken: str | None = None


LAYERS: dict[str, Layer] = {
    "pegs": Layer({"name": str, "kind": str}, PegProperties, _POINTS, shapes.points, kind_taken="survey"),
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
        shapes.points,
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
            "swing_m": float,
            "height_from": str,
            "insulated": object,
            "support": str,
        },
        OverheadProperties,
        (*_LINES, *_POINTS),
        shapes.conductors,
        kind_taken="power",
    ),
    "trees": Layer(
        {
            "name": str,
            "height_m": float,
            "limb_m": float,
            "spread_m": float,
            "dead": bool,
            "keep": object,
            "root_m": float,
            "trunk_m": float,
        },
        TreeProperties,
        (*_POINTS, *_AREAS),
        shapes.crowns,
    ),
    "soils": Layer({"name": str, "soil": str}, SoilProperties, _AREAS, shapes.outlines),
    "walk": Layer({"kind": str, "text": str}, WalkProperties, _POINTS, shapes.points),
    "watercourses": Layer(
        {"name": str, "kind": str, "width_m": float, "flood_level_m": float, "perennial": object},
        WatercourseProperties,
        (*_LINES, *_AREAS),
        shapes.paths_and_outlines,
    ),
    "services": Layer(
        {
            "name": str,
            "owner": str,
            "kind": str,
            "quality": str,
            "buffer_m": float,
            "depth_m": float,
            "exposed": bool,
        },
        ServiceProperties,
        (*_POINTS, *_LINES, *_AREAS),
        shapes.any_shapes,
        kind_taken="unknown",
    ),
    "keepout": Layer(
        {"name": str, "reason": str, "radius_m": float},
        KeepoutProperties,
        (*_POINTS, *_LINES, *_AREAS),
        shapes.round_shapes,
    ),
    "tracks": Layer({"name": str, "kind": str, "width_m": float}, TrackProperties, _LINES, shapes.paths),
    "existing": Layer({"name": str, "kind": str, "wires": float}, ExistingProperties, _LINES, shapes.paths),
}

"""What the layers and their properties are called on the tracing page, and which tools each has."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from fencegis.records.tracing import DrawnLayer, LayerField


class Title(NamedTuple):
    """A layer's heading, and one of it."""

    title: str
    one: str


TITLES = {
    "boundary": Title("Fence lines", "Fence line"),
    "gates": Title("Gates", "Gate"),
    "pegs": Title("Pegs and marks", "Peg"),
    "existing": Title("Old fence", "Old fence"),
    "overhead": Title("Wires overhead", "Wire"),
    "trees": Title("Trees", "Tree"),
    "watercourses": Title("Creeks and drains", "Creek"),
    "keepout": Title("No-go areas", "No-go area"),
    "services": Title("Buried services", "Service"),
    "tracks": Title("Tracks", "Track"),
    "soils": Title("Soil zones", "Soil zone"),
    "walk": Title("Seen on site", "Note"),
}
TOOLS = {"Point": "mark", "LineString": "line", "Polygon": "outline"}
LABELS = {
    "line_id": "Letter of the line",
    "opening_m": "Opening between post faces",
    "leaf_m": "Width of a leaf",
    "leaves": "Leaves",
    "hinge": "Hinge at which end of the run",
    "swing_side": "Swings to the",
    "setback_m": "Set back from the line",
    "wing_m": "Wing fence, length",
    "gate_post_mm": "Gate post, thickness",
    "voltage_kv": "Voltage",
    "height_m": "Height",
    "sag_m": "Sag",
    "half_width_m": "Half the width of the wires",
    "height_error_m": "Height may be out by",
    "swing_m": "Wind moves it sideways by",
    "height_from": "Height known from",
    "limb_m": "Lowest limb, height",
    "spread_m": "Spread, across",
    "keep": "Client wants it kept",
    "root_m": "Root zone, radius",
    "trunk_m": "Trunk, across",
    "width_m": "Width",
    "flood_level_m": "Flood level, height",
    "perennial": "Runs all year",
    "quality": "Quality level of the locating",
    "buffer_m": "Owner asks to keep off by",
    "depth_m": "Depth",
    "exposed": "Dug out by hand and seen",
    "radius_m": "Keep off by",
    "wires": "Wires",
    "text": "What was seen",
}
OF_LAYER = {("overhead", "height_m"): "Lowest wire above ground"}
UNITS = {"m": "m", "mm": "mm", "kv": "kV"}


def layer_table(layers: tuple[DrawnLayer, ...]) -> list[dict[str, Any]]:
    """Return the layers as the page's script takes them, in the order of the panel."""
    order = list(TITLES)
    ranked = sorted(layers, key=lambda layer: order.index(layer.name) if layer.name in order else len(order))
    return [_layer(layer) for layer in ranked]


def _layer(layer: DrawnLayer) -> dict[str, Any]:
    title, one = TITLES.get(layer.name, Title(layer.name.capitalize(), layer.name.capitalize()))
    shapes = [TOOLS[geometry] for geometry in layer.geometries if geometry in TOOLS]
    if layer.name == "boundary":
        shapes = ["loop" if shape == "outline" else shape for shape in shapes]
    return {
        "name": layer.name,
        "file": layer.file,
        "title": title,
        "one": one,
        "geometries": list(layer.geometries),
        "shapes": shapes,
        "off_areas": list(layer.needed_off_areas),
        "fields": [_field(layer.name, about) for about in layer.fields],
    }


def _field(layer: str, about: LayerField) -> dict[str, Any]:
    stem, _, tail = about.name.rpartition("_")
    unit = UNITS.get(tail, "") if stem else ""
    plain = (stem if unit else about.name).replace("_", " ").capitalize()
    label = OF_LAYER.get((layer, about.name)) or LABELS.get(about.name, plain)
    return {**asdict(about), "words": list(about.words), "label": label, "unit": unit}

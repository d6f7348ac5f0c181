"""What the site's files give, drawn faintly below the plan: overhead lines, trees, pegs, what was seen on the walk."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fencegis.exports.map_words import metres, number, present
from fencegis.exports.page_text import plain

if TYPE_CHECKING:
    import geopandas as gpd

    from fencegis.exports.map_layers import Wgs84
    from fencegis.records.plan import Plan

    Rows = list[dict[str, Any]]

TITLES = {"overhead": "Overhead line, as given", "trees": "Tree, as given", "pegs": "Peg", "walk": "Seen on the walk"}
# Column → words and unit; what is not here is not said.
SAID: dict[str, tuple[str, str]] = {
    "name": ("Name", ""),
    "kind": ("Kind", ""),
    "text": ("Note", ""),
    "voltage_kv": ("Voltage", "kV"),
    "height_m": ("Height above ground", "m"),
    "sag_m": ("Sag", "m"),
    "limb_m": ("Lowest limb", "m"),
    "spread_m": ("Spread, across", "m"),
}
ASKED = {"overhead": ("voltage_kv", "height_m"), "trees": ("limb_m",)}


def given_data(plan: Plan, where: Wgs84) -> dict[str, Any]:
    """Return the drawn lines and each layer of the site that has something in it."""
    data: dict[str, Any] = {"drawn": _drawn(plan, where)}
    for name in TITLES:
        layer = getattr(plan.site, name)
        data[name] = [] if layer is None or not len(layer) else _rows(name, layer, where)
    return data


def _drawn(plan: Plan, where: Wgs84) -> list[list[list[float]]]:
    lines = []
    for line in plan.site.drawn:
        path = np.vstack([line.vertices, line.vertices[:1]]) if line.closed else line.vertices
        lines.append(where.of_points(path[:, :2]).tolist())
    return lines


def _rows(name: str, layer: gpd.GeoDataFrame, where: Wgs84) -> Rows:
    rows: Rows = []
    single = layer.explode(ignore_index=True)
    single = single[~(single.geometry.is_empty | single.geometry.isna())].reset_index(drop=True)
    outlines = [shape.exterior if isinstance(shape, shapely.Polygon) else shape for shape in single.geometry]
    for feature, shape, at in zip(single.to_dict("records"), single.geometry, where.of_shapes(outlines), strict=True):
        row: dict[str, Any] = {"at": at, "say": {"title": TITLES[name], "lead": "", "facts": _facts(name, feature)}}
        if name == "trees" and isinstance(shape, shapely.Point) and present(feature.get("spread_m")):
            row["radius_m"] = round(float(feature["spread_m"]) / 2.0, 2)
        rows.append(row)
    return rows


def _facts(layer: str, feature: dict[Any, Any]) -> list[list[str]]:
    facts = []
    for column, (words, unit) in SAID.items():
        value = feature.get(column)
        if present(value):
            facts.append([words, _worded(value, unit)])
        elif column in ASKED.get(layer, ()):
            facts.append([words, "not known"])
    if layer == "trees" and feature.get("dead") is True:
        facts.append(["State", "dead"])
    return facts


def _worded(value: Any, unit: str) -> str:
    if unit == "m":
        return metres(float(value))
    return f"{number(float(value), 1)} {unit}" if unit else plain(str(value))

"""What the site's files give, drawn faintly below the plan: overhead lines, trees, pegs, water, services and others."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fencegis.exports.page_text import plain
from fencegis.exports.words import metres, number, present

if TYPE_CHECKING:
    import geopandas as gpd

    from fencegis.exports.map.layers import Wgs84
    from fencegis.records.plan import Plan

    Rows = list[dict[str, Any]]

TITLES = {"overhead": "Overhead line, as given", "trees": "Tree, as given", "pegs": "Peg", "walk": "Seen on the walk"}
BESIDE = {  # layers drawn as thin lines and outlines, with title and lead
    "watercourses": ("Water, as given", ""),
    "services": ("Buried service, as given", "Not a place to dig by: private lines are not on public plans."),
    "keepout": ("No-go area, as given", ""),
    "tracks": ("Track, as given", ""),
    "existing": ("Old fence, as given", "An old fence is often not the boundary."),
}
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
    "reason": ("Why", ""),
    "radius_m": ("To keep from it", "m"),
    "owner": ("Owner", ""),
    "quality": ("Quality level of its place", ""),
    "buffer_m": ("Distance its owner asks for", "m"),
    "depth_m": ("Depth", "m"),
    "width_m": ("Width", "m"),
    "flood_level_m": ("Flood level, above the raster's datum", "m"),
    "wires": ("Wires", "#"),
}
FLAGS = {  # column → words for the name, for yes and for no; what is empty, or has no words, is not said
    "dead": ("State", "dead", ""),
    "keep": ("Client's wish", "to be kept", "need not be kept"),
    "exposed": ("On site", "dug out by hand and seen", ""),
    "perennial": ("Flow", "all year", "at times only"),
}
ASKED = {
    "overhead": ("voltage_kv", "height_m"),
    "trees": ("limb_m",),
    "services": ("owner", "quality", "depth_m"),
    "existing": ("kind",),
}


def given_data(plan: Plan, where: Wgs84) -> dict[str, Any]:
    """Return the drawn lines and each layer of the site that has something in it."""
    data: dict[str, Any] = {"drawn": _drawn(plan, where)}
    for name, title in TITLES.items():
        layer = getattr(plan.site, name)
        data[name] = [] if layer is None or not len(layer) else _rows(name, layer, where, title=title)
    data["beside"] = []
    for name, (title, lead) in BESIDE.items():
        layer = getattr(plan.site, name)
        if layer is not None and len(layer):
            data["beside"] += [row | {"look": name} for row in _rows(name, layer, where, title=title, lead=lead)]
    return data


def _drawn(plan: Plan, where: Wgs84) -> list[list[list[float]]]:
    lines = []
    for line in plan.site.drawn:
        path = np.vstack([line.vertices, line.vertices[:1]]) if line.closed else line.vertices
        lines.append(where.of_points(path[:, :2]).tolist())
    return lines


def _rows(name: str, layer: gpd.GeoDataFrame, where: Wgs84, *, title: str, lead: str = "") -> Rows:
    rows: Rows = []
    single = layer.explode(ignore_index=True)
    single = single[~(single.geometry.is_empty | single.geometry.isna())].reset_index(drop=True)
    outlines = [shape.exterior if isinstance(shape, shapely.Polygon) else shape for shape in single.geometry]
    for feature, shape, at in zip(single.to_dict("records"), single.geometry, where.of_shapes(outlines), strict=True):
        row: dict[str, Any] = {"at": at, "say": {"title": title, "lead": lead, "facts": _facts(name, feature)}}
        size_m: Any = feature.get("spread_m" if name == "trees" else "radius_m")
        if isinstance(shape, shapely.Point) and present(size_m):
            row["radius_m"] = round(float(size_m) / (2.0 if name == "trees" else 1.0), 2)
        if name in BESIDE and isinstance(shape, shapely.Polygon):
            row["area"] = True
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
    for column, (words, yes, no) in FLAGS.items():
        flag = feature.get(column)
        if isinstance(flag, bool) and (said := yes if flag else no):
            facts.append([words, said])
    return facts


def _worded(value: Any, unit: str) -> str:
    if unit == "m":
        return metres(float(value))
    if unit == "#":
        return f"{value:.0f}"
    return f"{number(float(value), 1)} {unit}" if unit else plain(str(value))

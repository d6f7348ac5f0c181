"""Poles that were given without the line between them: which two of them a wire may hang between."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fencegis.hazards.approach import allowance
from fencegis.hazards.given import flag_or_none, label, number, text_or_none

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import geopandas as gpd

    from fencegis.hazards.found import Floats, Places

    Row = Mapping[Any, Any]

_WIDEST = ("voltage_kv", "sag_m", "half_width_m", "height_error_m", "swing_m")


@dataclass(frozen=True, eq=False)
class Strung:
    """A drawn line overhead, a line that we hung between poles, or a pole by itself, and what its rows say of it.

    `rows` are their places in the layer; `joined` is how many poles we joined, 0 for a line that a person drew.
    """

    rows: tuple[int, ...]
    cells: Row
    shape: shapely.LineString | shapely.Point
    label: str
    joined: int = 0


def strung(layer: gpd.GeoDataFrame) -> list[Strung]:
    """Return the drawn lines of the layer, one for each part, and after them its poles, joined where they may be."""
    rows = layer.drop(columns=layer.geometry.name).to_dict("records")
    single = [
        Strung((place,), row, part, label(row))
        for place, (row, geometry) in enumerate(zip(rows, layer.geometry, strict=True))
        for part in (shapely.get_parts(geometry) if geometry is not None else ())
        if isinstance(part, shapely.LineString | shapely.Point) and not part.is_empty
    ]
    drawn = [one for one in single if isinstance(one.shape, shapely.LineString)]
    poles = [one for one in single if isinstance(one.shape, shapely.Point)]
    for kind in ("power", "phone"):
        like = [one for one in poles if (one.cells.get("kind") == "phone") == (kind == "phone")]
        drawn += _hung(like, [one.shape for one in drawn if (one.cells.get("kind") == "phone") == (kind == "phone")])
    return drawn


def cannot_be_placed(layer: gpd.GeoDataFrame) -> bool:
    """Say whether the layer has a feature that is neither line nor pole."""
    drawn = {"LineString", "MultiLineString", "Point", "MultiPoint"}
    return any(shape is None or shape.is_empty or shape.geom_type not in drawn for shape in layer.geometry)


def wires_between(points: Floats, span_m: Floats) -> Places:
    """Return (n, 2) which of the (m, 2) poles a wire may hang between: any two with no third nearer to them both.

    `span_m` (m,) is the longest span of each; two are joined up to the longer of theirs. Of poles along one line the
    neighbours are joined; where lines run side by side every wire that there may be is there, and some that are not.
    """
    from scipy.spatial import cKDTree

    tree = cKDTree(points)
    pairs = tree.query_pairs(float(span_m.max(initial=0.0)), output_type="ndarray")
    apart_m = np.hypot(*(points[pairs[:, 0]] - points[pairs[:, 1]]).T)
    order = np.lexsort([pairs[:, 1], pairs[:, 0]])
    pairs, apart_m = pairs[order], apart_m[order]
    near = (apart_m > 0.0) & (apart_m <= np.maximum(*span_m[pairs].T))
    pairs, apart_m = pairs[near], apart_m[near]
    about = tree.query_ball_point(points[pairs[:, 0]], apart_m)
    alone = [not _between(points, pair, third, gap_m) for pair, third, gap_m in zip(pairs, about, apart_m, strict=True)]
    kept: Places = pairs[np.array(alone, dtype=bool)]
    return kept


def _between(points: Floats, pair: Places, third: Sequence[int], gap_m: float) -> bool:
    """Say whether one of the others is nearer to both poles than these are to each other."""
    away_m = [np.hypot(*(points[third] - points[end]).T) for end in pair]
    return bool((np.maximum(*away_m) < gap_m * (1.0 - 1e-9)).any())


def _hung(poles: Sequence[Strung], drawn: Sequence[shapely.Geometry]) -> Iterator[Strung]:
    """Yield the lines between the poles, and those that stand by themselves and on no drawn line."""
    if not poles:
        return
    points = np.array([shapely.get_coordinates(one.shape)[0] for one in poles])
    on = [_lines_at(one.shape, drawn) for one in poles]
    spans_m = np.array([_longest_span_m(one.cells) for one in poles])
    wires = np.array([pair for pair in wires_between(points, spans_m) if not on[pair[0]] & on[pair[1]]], dtype=np.intp)
    for place in np.setdiff1d(np.arange(len(poles)), wires):
        if not on[place]:
            yield poles[place]
    for group in _groups(wires.reshape(-1, 2), len(poles)):
        yield from _lines(
            [poles[place] for place in np.unique(group)], [[poles[one].shape for one in two] for two in group]
        )


def _lines_at(pole: shapely.Geometry, drawn: Sequence[shapely.Geometry]) -> set[int]:
    """Return which of the drawn lines the pole stands on."""
    near = shapely.dwithin(np.asarray(drawn, dtype=object), pole, allowance("pole_on_line_m"))
    return set(np.flatnonzero(near).tolist())


def _longest_span_m(row: Row) -> float:
    voltage_kv = number(row, "voltage_kv")
    high = row.get("support") == "tower" or voltage_kv > allowance("half_width_split_kv")
    return allowance("span_tower_m" if high else "span_pole_m")


def _groups(wires: Places, poles: int) -> Iterator[Places]:
    """Yield the wires that hang together."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    graph = coo_array((np.ones(len(wires)), (wires[:, 0], wires[:, 1])), shape=(poles, poles))
    of = connected_components(graph, directed=False)[1][wires[:, 0]]
    for one in np.unique(of):
        yield wires[of == one]


def _lines(poles: Sequence[Strung], wires: Sequence[Sequence[shapely.Geometry]]) -> Iterator[Strung]:
    """Yield the wires of one group as lines that end where three or more meet; what is not known of all is unknown."""
    high = all(bool(np.isfinite(shapely.get_coordinates(one.shape, include_z=True)[:, 2]).all()) for one in poles)
    spans = [shapely.LineString([shapely.get_coordinates(end, include_z=high)[0] for end in wire]) for wire in wires]
    called = f"{poles[0].label} and {len(poles) - 1} more, {len(poles)} poles joined by us, look up"
    rows, cells = tuple(row for one in poles for row in one.rows), _gravest([one.cells for one in poles])
    for line in shapely.get_parts(shapely.line_merge(shapely.multilinestrings(spans))):
        yield Strung(rows, cells, line, called, joined=len(poles))


def _gravest(rows: Sequence[Row]) -> Row:
    """Return of several poles' cells those that raise most flags."""
    insulated = [flag_or_none(row, "insulated") for row in rows]
    sources = {text_or_none(row, "height_from") for row in rows}
    numbers = {name: max(_all_or_none(rows, name), default=math.nan) for name in _WIDEST}
    return {
        **rows[0],
        **numbers,
        "height_m": min(_all_or_none(rows, "height_m"), default=math.nan),
        "insulated": False if False in insulated else None if None in insulated else True,
        "support": "tower" if any(row.get("support") == "tower" for row in rows) else rows[0].get("support"),
        "height_from": "eye" if "eye" in sources else sources.pop() if len(sources) == 1 else None,
    }


def _all_or_none(rows: Sequence[Row], name: str) -> list[float]:
    """Return a number of every row, or nothing when one has none."""
    values = [number(row, name) for row in rows]
    return [] if any(math.isnan(value) for value in values) else values

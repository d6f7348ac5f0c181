"""What stands in the machine's way beside the line: keep-outs, trees, water, as the layers have them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fencegis.catalogue import rows
from fencegis.hazards.given import label, number
from fencegis.hazards.trees import tree_number
from fencegis.line.chainage import points_at, rights_at

if TYPE_CHECKING:
    from collections.abc import Iterator

    import geopandas as gpd
    import numpy.typing as npt

    from fencegis.hazards.found import Floats
    from fencegis.line.chainage import Line
    from fencegis.records.site import Site

    Flags = npt.NDArray[np.bool_]


@cache
def access_m(name: str) -> float:
    """Return a number of `catalogue/access.csv` in metres; KeyError when there is none."""
    return {row["name"]: float(row["value"]) for row in rows("access")}[name]


@dataclass(frozen=True, eq=False)
class Obstacles:
    """Areas in plan that a machine keeps out of, with how each is called, and which are water."""

    shapes: tuple[shapely.Geometry, ...]
    labels: tuple[str, ...]
    water: tuple[bool, ...]
    tree: shapely.STRtree

    def in_water(self, points: Floats) -> Flags:
        """Return which of (n, 2) points lie in water: there the line crosses it, and that is told as a crossing."""
        wet = np.zeros(len(points), dtype=bool)
        if any(self.water):
            point, shape = self.tree.query(np.asarray(shapely.points(points)), predicate="intersects")
            wet[point[np.array(self.water)[shape]]] = True
        return wet

    def near(self, shape: shapely.Geometry, within_m: float) -> list[int]:
        """Return which come within a distance of a shape."""
        return sorted(self.tree.query(shape, predicate="dwithin", distance=within_m).tolist()) if self.shapes else []


def obstacles(site: Site) -> Obstacles:
    """Return the obstacles of a site as they stand, before any clearing."""
    found = [*_keepouts(site.keepout), *_trees(site.trees), *_water(site.watercourses)]
    shapes = tuple(shape for shape, _ in found if not shapely.is_empty(shape))
    labels = tuple(text for shape, text in found if not shapely.is_empty(shape))
    return Obstacles(shapes, labels, tuple(text.startswith("water") for text in labels), shapely.STRtree(list(shapes)))


def _keepouts(layer: gpd.GeoDataFrame | None) -> Iterator[tuple[shapely.Geometry, str]]:
    for row, shape in _parts(layer):
        radius_m = float(np.nan_to_num(number(row, "radius_m"), nan=0.0))
        yield (shapely.buffer(shape, radius_m) if radius_m else shape), f"keep-out, {label(row)}"


def _trees(layer: gpd.GeoDataFrame | None) -> Iterator[tuple[shapely.Geometry, str]]:
    for row, shape in _parts(layer):
        trunk_m = number(row, "trunk_m")
        half_m = (tree_number("stem") if np.isnan(trunk_m) else trunk_m) / 2.0
        yield (shapely.buffer(shape, half_m) if isinstance(shape, shapely.Point) else shape), f"tree, {label(row)}"


def _water(layer: gpd.GeoDataFrame | None) -> Iterator[tuple[shapely.Geometry, str]]:
    for row, shape in _parts(layer):
        width_m = float(np.nan_to_num(number(row, "width_m"), nan=0.0))
        line = isinstance(shape, shapely.LineString)
        yield (shapely.buffer(shape, max(width_m, 0.1) / 2.0) if line else shape), f"water, {label(row)}"


def _parts(layer: gpd.GeoDataFrame | None) -> Iterator[tuple[dict[Any, Any], shapely.Geometry]]:
    if layer is None:
        return
    records = layer.drop(columns=layer.geometry.name).to_dict("records")
    for row, shape in zip(records, layer.geometry, strict=True):
        if shape is not None:
            for part in shapely.get_parts(shapely.force_2d(shape)):
                yield row, part


def room_m(points: Floats, aside: Floats, found: Obstacles, *, look_m: float) -> tuple[Floats, list[int]]:
    """Return how far from each of (n, 2) points the way aside is free, and which obstacle ends it (−1: none).

    `aside` is (n, 2) of length one: the direction to look in. Free as far as `look_m` counts as `look_m`.
    """
    free, ends = np.full(len(points), look_m), [-1] * len(points)
    if not found.shapes or not len(points):
        return free, ends
    ways = np.asarray(shapely.linestrings(np.stack([points, points + look_m * aside], axis=1)))
    way, shape = found.tree.query(ways, predicate="intersects")
    if not len(way):
        return free, ends
    met = shapely.intersection(ways[way], np.array(found.shapes, dtype=object)[shape])
    away = shapely.distance(shapely.points(points[way]), met)
    for one, thing, distance in zip(way.tolist(), shape.tolist(), away.tolist(), strict=True):
        if distance < free[one]:
            free[one], ends[one] = distance, thing
    return free, ends


def turns_within_m(line: Line, *, at_end: bool, found: Obstacles, circle_m: float, sides: tuple[int, ...]) -> float:
    """Return how far back from an end of a line the machine first finds a circle to turn in, infinite when nowhere.

    The circle lies on one of `sides` of the line (1 right, −1 left), touching it at most.
    """
    step_m, half_m = 2.0, circle_m / 2.0
    back = np.arange(0.0, line.length_m + step_m, step_m).clip(max=line.length_m)
    chainage = line.length_m - back if at_end else back
    for begin in range(0, len(back), 64):
        here = slice(begin, begin + 64)
        right = rights_at(line, chainage[here])
        clear = np.zeros(len(right), dtype=bool)
        for side in sides:
            middle = shapely.points(points_at(line, chainage[here]) + side * half_m * right)
            blocked = np.zeros(len(right), dtype=bool)
            if found.shapes:
                blocked[np.unique(found.tree.query(middle, predicate="dwithin", distance=half_m)[0])] = True
            clear |= ~blocked
        if clear.any():
            return float(back[here][int(clear.argmax())])
    return float("inf")

"""Zones of soil that lie over one another: which of two is taken is said when they are read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fencegis.line.zones import soil_names

if TYPE_CHECKING:
    from fencegis.inputs.findings import Findings

LEAST_M2 = 1.0  # edges drawn twice by hand cross each other a little
_DEGREE_M = 111_000.0


def note_overlaps(rows: tuple[dict[str, Any], ...], shapes: tuple[shapely.Geometry, ...], found: Findings) -> None:
    """Note where zones of different soil overlap, once for each two soils; `shapes` are in longitude and latitude."""
    if not rows:
        return
    names = soil_names()
    zones = np.array(shapes, dtype=object)
    rank = np.array([names.index(row["soil"]) for row in rows])
    firmer, softer = shapely.STRtree(zones).query(zones, predicate="intersects")
    unlike = rank[firmer] < rank[softer]
    firmer, softer = firmer[unlike], softer[unlike]
    shared = _shared_m2(zones[firmer], zones[softer]) >= LEAST_M2
    firmer, softer = firmer[shared], softer[shared]
    labels: dict[tuple[int, int], list[str]] = {}
    for one, other in zip(firmer.tolist(), softer.tolist(), strict=True):
        pair = int(rank[one]), int(rank[other])
        labels.setdefault(pair, []).append(f"{rows[one]['feature']} over {rows[other]['feature']}")
    for (firm, soft), where in sorted(labels.items()):
        text = f"zones of {names[firm]} and {names[soft]} overlap; {names[soft]}, the softer, is taken there."
        found.note_each("doubt", where, text)


def _shared_m2(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Return the areas in common, in square metres near enough to tell a sliver from a zone."""
    areas = shapely.area(shapely.intersection(one, other)) * _DEGREE_M**2
    latitude = shapely.get_y(shapely.centroid(one))
    return np.asarray(areas * np.cos(np.radians(latitude)))

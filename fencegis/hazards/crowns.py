"""Crowns that only the canopy raster shows: limbs over the machine that nobody measured.

A canopy raster tells how high leaves reach, not how low limbs hang, so a crown over the machine's reach is flagged
whatever its height; trees of `trees.geojson` whose lowest limb was measured answer for themselves.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.hazards.near import joined
from fencegis.hazards.trees import tree_number
from fencegis.line.canopy import canopy_at
from fencegis.line.chainage import points_at, rights_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.hazards.found import Floats, Stretch
    from fencegis.hazards.trees import Tree
    from fencegis.line.chainage import Line
    from fencegis.records.site import Site

    Flags = npt.NDArray[np.bool_]

STEP_M = 1.0
_BLOCK = 4000  # stations looked up at once


@dataclass(frozen=True)
class Crown:
    """A stretch under leaves, how high they reach (infinite where the raster only says that there are some)."""

    stretch: Stretch
    highest_m: float


def crowns(line: Line, *, site: Site, within_m: float, measured: Sequence[Tree]) -> tuple[list[Crown], list[Stretch]]:
    """Return the crowns within a distance of the line, and the stretches about which the raster says nothing.

    `measured` are trees whose lowest limb is known: under their crowns the raster is not asked.
    """
    if site.canopy is None:
        return [], []
    station = np.linspace(0.0, line.length_m, max(2, int(np.ceil(line.length_m / STEP_M)) + 1))
    known = _about(measured)
    highest, unknown = np.full(len(station), -np.inf), np.zeros(len(station), dtype=bool)
    across = np.linspace(-within_m, within_m, 2 * int(np.ceil(within_m / STEP_M)) + 1)
    for begin in range(0, len(station), _BLOCK):
        here = slice(begin, begin + _BLOCK)
        cells = _cells(line, station[here], across)
        high = canopy_at(site.canopy, site.grid.wkt, cells)
        if known is not None:
            high[shapely.intersects_xy(known, cells)] = 0.0
        high = high.reshape(-1, len(across))
        unknown[here] = np.isnan(high).any(axis=1)
        highest[here] = np.fmax.reduce(high, axis=1, initial=-np.inf)
    low = tree_number("low crown")
    found = [
        Crown(stretch, float(highest[(station >= stretch[0] - 1e-9) & (station <= stretch[1] + 1e-9)].max()))
        for stretch in _stretches(line, station, highest >= low)
    ]
    return found, _stretches(line, station, unknown)


def _cells(line: Line, station: Floats, across: Floats) -> Floats:
    right = rights_at(line, station)
    return np.asarray((points_at(line, station)[:, None, :] + across[None, :, None] * right[:, None, :]).reshape(-1, 2))


def _about(measured: Sequence[Tree]) -> shapely.Geometry | None:
    """Return the ground under measured crowns and a metre round them, None when there is none."""
    if not measured:
        return None
    known: shapely.Geometry = shapely.union_all([shapely.buffer(tree.shape, STEP_M) for tree in measured])
    shapely.prepare(known)
    return known


def _stretches(line: Line, station: Floats, chosen: Flags) -> list[Stretch]:
    """Return the stretches of stations that are chosen, half a step wider at both ends."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], np.asarray(chosen, dtype=int), [0]]))).reshape(-1, 2)
    half_m = STEP_M / 2.0
    ends = [(float(station[begin]) - half_m, float(station[end - 1]) + half_m) for begin, end in edges.tolist()]
    return joined(ends, length_m=line.length_m)

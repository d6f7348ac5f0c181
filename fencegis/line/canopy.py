"""How high the leaves reach over a line: by whole cells, each of which holds the highest leaf in it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.chainage import points_at
from fencegis.line.ground import cell_positions

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.line.chainage import Line
    from fencegis.records.terrain import Canopy, Patch

    Floats = npt.NDArray[np.float64]

CLOSEST_M = 0.1  # between the places where canopy is looked up, however fine its cells


def canopy_at(canopy: Canopy, grid_wkt: str, points: npt.ArrayLike) -> Floats:
    """Return (n,) metres of canopy above the ground at (n, 2) eastings and northings of the working grid.

    That of the cell that a point lies in, not smoothed: a tree of one cell keeps its height. Infinite where there is
    cover and nobody knows how high, NaN where nothing is known.
    """
    places = np.asarray(points, dtype=float).reshape(-1, 2)
    found = np.full(len(places), np.nan)
    for patch in canopy.heights.patches:
        missing = np.flatnonzero(np.isnan(found))
        found[missing] = _of_cells(patch, grid_wkt, places[missing])
    return np.where(found > 0.0, np.inf, found) if canopy.cover_only else found


def canopy_about(canopy: Canopy, grid_wkt: str, line: Line, station_m: Floats) -> Floats:
    """Return (n,) metres: the highest canopy above the ground on each station's own part of the line.

    A station's part reaches half-way to its neighbours, (n,) rising. It is looked up at half a cell's steps at most, so
    that no tree stands unseen between two stations. Infinite and NaN as in `canopy_at`, NaN where nothing at all is
    known of the part.
    """
    highest = np.full(len(station_m), np.nan)
    if not canopy.heights.patches or not len(station_m):
        return highest
    edges = np.concatenate([station_m[:1], (station_m[:-1] + station_m[1:]) / 2.0, station_m[-1:]])
    step_m = max(canopy.heights.cell_m / 2.0, CLOSEST_M)
    steps = math.ceil(float(np.diff(edges).max()) / step_m)
    share = np.linspace(0.0, 1.0, steps + 1)
    places = edges[:-1, None] + share * np.diff(edges)[:, None]
    found = canopy_at(canopy, grid_wkt, points_at(line, places.ravel())).reshape(places.shape)
    np.fmax.reduce(found, axis=1, out=highest)
    return highest


def _of_cells(patch: Patch, grid_wkt: str, places: Floats) -> Floats:
    """Return (n,) numbers of the cells that the places lie in, NaN outside, where void and in tiles not read."""
    column, row = cell_positions(
        places, grid_wkt=grid_wkt, crs_wkt=patch.crs_wkt, affine=patch.affine, shape=patch.shape
    )
    rows, columns = patch.shape
    inside = np.flatnonzero((column >= 0) & (column < columns) & (row >= 0) & (row < rows))
    down, across = row[inside].astype(np.int64), column[inside].astype(np.int64)
    tile_row, in_row = np.divmod(down, patch.tiles.shape[1])
    tile_column, in_column = np.divmod(across, patch.tiles.shape[2])
    tile = patch.tile_of[tile_row, tile_column]
    found = np.full(len(places), np.nan)
    found[inside] = np.where(tile >= 0, patch.tiles[tile, in_row, in_column], np.nan)
    return found

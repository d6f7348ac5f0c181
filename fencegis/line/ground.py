"""Ground level at points of the working grid, from the tiles of height that were read near the line.

Points are transformed to the raster's own system; the raster is never warped.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from pyproj import CRS, Transformer

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.records.terrain import Patch, Terrain

    Floats = npt.NDArray[np.float64]
    Whole = npt.NDArray[np.int64]
    Flags = npt.NDArray[np.bool_]

NO_WEIGHT = 1e-9  # a corner with less than this share of a point is rounding, not a neighbour
ON_THE_LATTICE = 1e-3  # of a cell: rasters whose cells lie on each other to this are one raster in several files


@dataclass(frozen=True)
class _Part:
    """A patch as part of a lattice: the lattice's column and row of the patch's first cell."""

    patch: Patch
    column: int
    row: int


def heights(terrain: Terrain, grid_wkt: str, points: npt.ArrayLike) -> Floats:
    """Return (n,) heights in metres at (n, 2) eastings and northings of the working grid; NaN where nothing is known.

    Bilinear between cell centres. A void corner drops out and the weights of the others are brought back to one; half a
    cell beyond the outermost centres is still inside the raster. Rasters whose cells lie on one lattice (the tiles of
    one survey) are read as one, so that a seam between two files is no edge; among other rasters that overlap the first
    with a height wins. A tile that was not read gives NaN, never a guess from its neighbours.
    """
    places = np.asarray(points, dtype=float).reshape(-1, 2)
    ground = np.full(len(places), np.nan)
    for lattice in _lattices(terrain.patches):
        missing = np.flatnonzero(np.isnan(ground))
        if not missing.size:
            break
        first = lattice[0].patch
        column, row = cell_positions(
            places[missing], grid_wkt=grid_wkt, crs_wkt=first.crs_wkt, affine=first.affine, shape=first.shape
        )
        ground[missing] = _bilinear(lattice, column, row)
    return ground


def cell_positions(
    points: Floats, *, grid_wkt: str, crs_wkt: str, affine: Sequence[float], shape: tuple[int, int]
) -> tuple[Floats, Floats]:
    """Return (n,) columns and (n,) rows, as fractions, of (n, 2) points of the working grid in a raster.

    0, 0 is the upper left corner of the first cell, whose centre is 0.5, 0.5. Longitudes are taken on the raster's side
    of the 180th meridian. A point that PROJ cannot transform is NaN.
    """
    moved = np.array(transformer(grid_wkt, crs_wkt).transform(points[:, 0], points[:, 1]))
    x, y = np.where(np.isfinite(moved), moved, np.nan)
    a, b, c, d, e, f = affine[:6]
    if circle := _circle(crs_wkt):
        middle = c + a * shape[1] / 2 + b * shape[0] / 2
        x = x + circle * np.round((middle - x) / circle)
    x, y = x - c, y - f
    size = a * e - b * d
    return (e * x - b * y) / size, (a * y - d * x) / size


@cache
def transformer(grid_wkt: str, crs_wkt: str) -> Transformer:
    """Return PROJ's way from the working grid to a raster's system, east and longitude first; asked once for a pair."""
    return Transformer.from_crs(grid_wkt, crs_wkt, always_xy=True)


@cache
def _circle(crs_wkt: str) -> float:
    """Return once round the world in the system's unit; 0 when it is not of longitudes."""
    crs = CRS(crs_wkt)
    return 2 * np.pi / crs.axis_info[0].unit_conversion_factor if crs.is_geographic else 0.0


def _lattices(patches: tuple[Patch, ...]) -> tuple[tuple[_Part, ...], ...]:
    """Return the patches in groups whose cells lie on one lattice, in the order of each group's first patch."""
    groups: list[list[_Part]] = []
    for patch in patches:
        for group in groups:
            part = _placed(patch, group[0].patch)
            if part:
                group.append(part)
                break
        else:
            groups.append([_Part(patch, 0, 0)])
    return tuple(map(tuple, groups))


def _placed(patch: Patch, first: Patch) -> _Part | None:
    """Return where `patch` stands on the lattice of `first`, or None when its cells do not lie on it."""
    a, b, c, d, e, f = first.affine
    own_a, own_b, own_c, own_d, own_e, own_f = patch.affine
    if patch.crs_wkt != first.crs_wkt or not np.allclose((own_a, own_b, own_d, own_e), (a, b, d, e), rtol=1e-9, atol=0):
        return None
    x, y, size = own_c - c, own_f - f, a * e - b * d
    column, row = (e * x - b * y) / size, (a * y - d * x) / size
    if max(abs(column - round(column)), abs(row - round(row))) > ON_THE_LATTICE:
        return None
    return _Part(patch, round(column), round(row))


def _bilinear(lattice: tuple[_Part, ...], column: Floats, row: Floats) -> Floats:
    """Return (n,) heights at fractional columns and rows of the lattice."""
    ground = np.full(len(column), np.nan)
    inside = np.flatnonzero(_inside(lattice, column, row))
    across, down = column[inside] - 0.5, row[inside] - 0.5
    left, top = np.floor(across).astype(np.int64), np.floor(down).astype(np.int64)
    across, down = across - left, down - top
    total, weight, unread = np.zeros(len(inside)), np.zeros(len(inside)), np.zeros(len(inside), dtype=bool)
    for step_down, share_down in ((0, 1 - down), (1, down)):
        for step_across, share_across in ((0, 1 - across), (1, across)):
            share = share_down * share_across
            value, not_read = _cells(lattice, left + step_across, top + step_down)
            counts = (share > NO_WEIGHT) & ~np.isnan(value)
            total[counts] += share[counts] * value[counts]
            weight[counts] += share[counts]
            unread |= not_read & (share > NO_WEIGHT)
    known = (weight > 0) & ~unread
    ground[inside[known]] = total[known] / weight[known]
    return ground


def _inside(lattice: tuple[_Part, ...], column: Floats, row: Floats) -> Flags:
    inside = np.zeros(len(column), dtype=bool)
    for part in lattice:
        rows, columns = part.patch.shape
        across, down = column - part.column, row - part.row
        inside |= (across >= 0) & (across <= columns) & (down >= 0) & (down <= rows)
    return inside


def _cells(lattice: tuple[_Part, ...], column: Whole, row: Whole) -> tuple[Floats, Flags]:
    """Return (n,) heights of cells of the lattice, NaN where void or outside, and which lie in a tile not read."""
    value = np.full(len(column), np.nan)
    unread = np.zeros(len(column), dtype=bool)
    for part in lattice:
        patch = part.patch
        across, down = column - part.column, row - part.row
        here = np.isnan(value) & (across >= 0) & (across < patch.shape[1]) & (down >= 0) & (down < patch.shape[0])
        cells = np.flatnonzero(here)
        tile_row, in_row = np.divmod(down[cells], patch.tiles.shape[1])
        tile_column, in_column = np.divmod(across[cells], patch.tiles.shape[2])
        tile = patch.tile_of[tile_row, tile_column]
        read = tile >= 0
        value[cells[read]] = patch.tiles[tile[read], in_row[read], in_column[read]]
        unread[cells] |= ~read
    return value, unread & np.isnan(value)

"""Which tiles of a raster the work touches, and those tiles, read block by block."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING, NamedTuple, TypeVar

import numpy as np
from rasterio.windows import Window

from fencegis.inputs.cell_values import heights_of
from fencegis.inputs.gdal import by_two
from fencegis.line.ground import cell_positions

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy.typing as npt
    from rasterio.io import DatasetReader

    from fencegis.inputs.cell_values import Meaning

    Floats = npt.NDArray[np.float64]
    Whole = npt.NDArray[np.int64]
    Flags = npt.NDArray[np.bool_]
    Corridors = Sequence[tuple[Floats, float]]
    Cells = npt.NDArray[np.generic]
    Pair = tuple[int, int]  # rows, columns

Number = TypeVar("Number", bound=np.generic)

OWN_BLOCKS = range(64, 1025)  # sides of a raster's own blocks that are read as they are
BLOCK_CELLS = 256  # side of what is read at a time from rasters in strips or in other blocks
TILE_CELLS = 64  # least side of the tiles that are kept of a block
LEAST_STEP_M = 8.0  # between the places where a corridor is looked at


class Places(NamedTuple):
    """Where heights are wanted: (n, 2) points on the corridors' lines, and half the side of the square about each."""

    points: Floats
    reach_m: Floats


class Tiling(NamedTuple):
    """How a raster is taken apart: blocks are read, and of each block the tiles that are touched are kept."""

    block: Pair  # cells
    tile: Pair  # cells; whole numbers of tiles make up a block

    @property
    def per_block(self) -> Pair:
        """Tiles down and across in one block."""
        return self.block[0] // self.tile[0], self.block[1] // self.tile[1]


@dataclass(frozen=True, eq=False)
class Touched:
    """A window of whole blocks of a raster, and which of its tiles are touched.

    The window is a block wider on each side than what is touched, so that its edge is not taken for the raster's.
    """

    first: Pair  # row and column of the window's first cell
    shape: Pair  # cells
    flags: Flags  # (tile row, tile column)


class TilesRead(NamedTuple):
    """Tiles of height, where each stands, and how often numbers came up that are no height, though nothing says so."""

    tiles: npt.NDArray[np.float32]
    tile_of: npt.NDArray[np.int32]
    odd: Counter[float]


def places_along(corridors: Corridors) -> Places:
    """Return places on the corridors' lines, so near to each other that the squares about them cover the corridors."""
    points, reach = [np.empty((0, 2))], [np.empty(0)]
    for line, radius_m in corridors:
        step = max(radius_m / 4, LEAST_STEP_M)
        chainage = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
        at = np.linspace(0.0, chainage[-1], 1 + int(np.ceil(chainage[-1] / step)))
        points.append(np.column_stack([np.interp(at, chainage, line[:, axis]) for axis in (0, 1)]))
        reach.append(np.full(len(at), radius_m + step / 2))
    return Places(np.vstack(points), np.concatenate(reach))


def tiling_of(raster: DatasetReader) -> Tiling:
    """Return how the raster is taken apart: by its own blocks where their size allows, else by squares."""
    own = raster.block_shapes[0]
    block = own if all(side in OWN_BLOCKS for side in own) else (BLOCK_CELLS, BLOCK_CELLS)
    rows, columns = min(block[0], raster.height), min(block[1], raster.width)
    return Tiling((rows, columns), (_tile_side(rows), _tile_side(columns)))


def touched_tiles(
    places: Places, tiling: Tiling, *, grid_wkt: str, crs_wkt: str, affine: Sequence[float], shape: Pair
) -> Touched | None:
    """Return the tiles that hold a cell which interpolation about the places may ask for; None when there is none."""
    corners = [places.points + places.reach_m[:, None] * np.array(way) for way in ((-1, -1), (-1, 1), (1, -1), (1, 1))]
    column, row = cell_positions(np.vstack(corners), grid_wkt=grid_wkt, crs_wkt=crs_wkt, affine=affine, shape=shape)
    column, row = column.reshape(4, -1), row.reshape(4, -1)
    near = _reached(row, shape[0]) & _reached(column, shape[1])
    if not near.any():
        return None
    top, bottom = _tiles_between(row[:, near], shape[0], tiling.tile[0])
    left, right = _tiles_between(column[:, near], shape[1], tiling.tile[1])
    (row_0, row_1), (column_0, column_1) = (
        _window(low.min(), high.max(), per_block, -(-cells // block))
        for low, high, per_block, cells, block in zip(
            (top, left), (bottom, right), tiling.per_block, shape, tiling.block, strict=True
        )
    )
    # Each place marks a box of tiles by +1 and −1 at its corners, to be summed along both sides.
    marks = np.zeros((row_1 - row_0 + 1, column_1 - column_0 + 1), dtype=np.int32)
    bottom, right = bottom + 1, right + 1
    for rows, columns, step in ((top, left, 1), (top, right, -1), (bottom, left, -1), (bottom, right, 1)):
        np.add.at(marks, (rows - row_0, columns - column_0), step)
    np.cumsum(np.cumsum(marks, axis=0, out=marks), axis=1, out=marks)
    first = row_0 * tiling.tile[0], column_0 * tiling.tile[1]
    last = min(row_1 * tiling.tile[0], shape[0]), min(column_1 * tiling.tile[1], shape[1])
    return Touched(first, (last[0] - first[0], last[1] - first[1]), marks[:-1, :-1] > 0)


def read_tiles(raster: DatasetReader, meaning: Meaning, touched: Touched, tiling: Tiling) -> TilesRead:
    """Return the touched tiles in metres.

    Each block is read once and only what is touched of it is kept, so that memory grows with the line.
    """
    count = int(np.count_nonzero(touched.flags))
    tiles = np.empty((count, *tiling.tile), dtype=np.float32)
    tile_of = np.full(touched.flags.shape, -1, dtype=np.int32)
    tile_of[touched.flags] = np.arange(count)

    def fill(source: DatasetReader, block: Pair) -> Cells:
        here, top, left = _place(block, touched, tiling)
        wanted = touched.flags[here]
        stored, mask = _read_block(source, meaning, top, left, tiling.block)
        mask = None if mask is None else _cut(mask, tiling, wanted)
        tiles[tile_of[here][wanted]], odd = heights_of(_cut(stored, tiling, wanted), mask, meaning)
        return odd

    odd = by_two(raster, fill, list(_blocks(raster, touched, tiling)))
    return TilesRead(tiles, tile_of, Counter(chain.from_iterable(part.tolist() for part in odd)))


def _place(block: Pair, touched: Touched, tiling: Tiling) -> tuple[tuple[slice, slice], int, int]:
    """Return where a block of the window stands among its tiles, and the raster's row and column of its first cell."""
    (row, column), (down, across) = block, tiling.per_block
    here = np.s_[row * down : (row + 1) * down, column * across : (column + 1) * across]
    return here, touched.first[0] + row * tiling.block[0], touched.first[1] + column * tiling.block[1]


def _read_block(
    raster: DatasetReader, meaning: Meaning, top: int, left: int, block: Pair
) -> tuple[Cells, npt.NDArray[np.uint8] | None]:
    """Return a whole block as stored and its mask, 0 where void; beyond the raster's edge the mask is 0."""
    rows, columns = min(block[0], raster.height - top), min(block[1], raster.width - left)
    window = Window(left, top, columns, rows)
    stored = raster.read(1, window=window)
    mask = raster.read_masks(1, window=window) if meaning.masked else None
    if stored.shape == block:
        return stored, mask
    whole, inside = np.zeros(block, dtype=stored.dtype), np.zeros(block, dtype=np.uint8)
    whole[:rows, :columns] = stored
    inside[:rows, :columns] = 255 if mask is None else mask
    return whole, inside


def _cut(cells: npt.NDArray[Number], tiling: Tiling, wanted: Flags) -> npt.NDArray[Number]:
    """Return the wanted tiles of a block, (tile, row, column)."""
    (down, across), (rows, columns) = tiling.per_block, tiling.tile
    return cells.reshape(down, rows, across, columns).swapaxes(1, 2)[wanted]


def _blocks(raster: DatasetReader, touched: Touched, tiling: Tiling) -> Iterator[Pair]:
    """Yield row and column, in the window, of each block to read; those within one block of the file together."""
    down, across = tiling.per_block
    rows, columns = touched.flags.shape
    blocks = np.argwhere(touched.flags.reshape(rows // down, down, columns // across, across).any(axis=(1, 3)))
    in_file = (blocks * tiling.block + touched.first) // raster.block_shapes[0]
    for at in np.lexsort((blocks[:, 1], blocks[:, 0], in_file[:, 1], in_file[:, 0])):
        yield int(blocks[at, 0]), int(blocks[at, 1])


def _tile_side(block_side: int) -> int:
    """Return the smallest whole part of a block's side that still makes a tile."""
    return min((part for part in range(TILE_CELLS, block_side) if block_side % part == 0), default=block_side)


def _reached(position: Floats, cells: int) -> Flags:
    """Say of (4, n) positions along one side of a raster whether the span of each four comes near one of its cells."""
    finite = np.isfinite(position).all(axis=0)
    reached: Flags = finite & (position.max(axis=0) > -1) & (position.min(axis=0) < cells + 1)
    return reached


def _tiles_between(position: Floats, cells: int, side: int) -> tuple[Whole, Whole]:
    """Return the first and the last tile that hold the neighbours of the span of each four positions."""
    first = np.clip(np.floor(position.min(axis=0) - 0.5), 0, cells - 1).astype(np.int64) // side
    last = np.clip(np.floor(position.max(axis=0) - 0.5) + 1, 0, cells - 1).astype(np.int64) // side
    return first, last


def _window(low: int, high: int, per_block: int, blocks: int) -> Pair:
    """Return first tile and end of the window of whole blocks about the tiles from `low` to `high`."""
    return max(int(low) // per_block - 1, 0) * per_block, min(int(high) // per_block + 2, blocks) * per_block

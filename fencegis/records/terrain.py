"""Ground heights near the line, as read: only the tiles of the raster that the work touches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

COARSE = 1.1  # of a bay: ground known no closer than that tells nothing of a single post


@dataclass(frozen=True, eq=False)
class Patch:
    """One raster's tiles near the line.

    `tiles` is (tile, row, column) of heights in metres, float32, NaN where void. `tile_of` is (tile row, tile column)
    over the patch, the raster's window around the work, and holds the tile's place in `tiles`, or −1 where nothing was
    read. `affine` has the six
    numbers a, b, c, d, e, f of (column, row) → (x, y) of a cell's upper left corner in `crs_wkt`; a cell's centre is
    half a cell further.
    """

    source: str
    crs_wkt: str
    affine: tuple[float, float, float, float, float, float]
    shape: tuple[int, int]
    tiles: npt.NDArray[np.float32]
    tile_of: npt.NDArray[np.int32]

    @property
    def cell(self) -> tuple[float, float]:
        """Width and height of a cell in the raster's own units, both positive."""
        a, b, _, d, e, _ = self.affine
        return (a**2 + d**2) ** 0.5, (b**2 + e**2) ** 0.5


@dataclass(frozen=True, eq=False)
class Terrain:
    """All that is known of the ground; where patches overlap the first that has a height wins."""

    patches: tuple[Patch, ...]
    cell_m: float  # the coarsest cell's size on the ground
    operations: tuple[Operation, ...] = ()

    def tells_posts(self, bay_m: float) -> bool:
        """Return whether the cells are fine enough to tell the ground at posts a bay apart."""
        return self.cell_m <= COARSE * bay_m


@dataclass(frozen=True, eq=False)
class Canopy:
    """How high the leaves reach above the ground: `heights` in metres, NaN where unknown.

    With `cover_only` the raster says where there is canopy and not how high: the numbers are 1 and 0.
    """

    heights: Terrain
    cover_only: bool = False


@dataclass(frozen=True)
class Operation:
    """What PROJ did between two systems, read after use. `accuracy_m` is None when PROJ states none."""

    between: str
    operation: str
    accuracy_m: float | None
    missing_grids: tuple[str, ...] = ()

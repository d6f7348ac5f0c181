"""How steep a raster of heights is, cell by cell."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]


def horn_gradient(heights: npt.ArrayLike, *, cell_east_m: float, cell_north_m: float) -> tuple[Floats, Floats]:
    """Return the rise per metre to the east and to the north, uphill positive, each in the shape of `heights`.

    `heights` is (row, column), rows from north to south, columns from west to east; cell sizes are positive. Each
    cell's gradient is of its 3 × 3 window, the nearer neighbours counted twice (B. K. P. Horn, Hill shading and the
    reflectance map, Proceedings of the IEEE 69, 1981). A neighbour that is missing, beyond the edge or NaN, takes the
    centre's value; where the centre is NaN the gradient is NaN.
    """
    centre = np.asarray(heights, dtype=float)
    rows, columns = centre.shape
    framed = np.pad(centre, 1, constant_values=np.nan)
    to_east, to_south = np.zeros_like(centre), np.zeros_like(centre)
    for down, across in ((-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)):
        cell = framed[1 + down : 1 + down + rows, 1 + across : 1 + across + columns]
        neighbour = np.where(np.isnan(cell), centre, cell)
        to_east += across * (2 - abs(down)) * neighbour
        to_south += down * (2 - abs(across)) * neighbour
    void = np.isnan(centre)
    to_east[void] = to_south[void] = np.nan
    return to_east / (8 * cell_east_m), to_south / (-8 * cell_north_m)

"""How the rows of rails share out the height of a post and rail fence, and the catalogue's numbers for rails."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows
from fencegis.errors import Problem

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.records.spec import Fence

    Floats = npt.NDArray[np.float64]

A_HAIR_M = 1e-9


def row_drops_m(fence: Fence) -> Floats:
    """Return how far each row's top lies below the top line, plumb (rails,); the top row's is 0.

    Rows are evenly spaced. With the top row's top at the height wanted, the gap under the bottom row is midway between
    its limits. A single row has no say in its own height: there the gap decides.
    """
    return np.linspace(0.0, max(_under_m(fence) - fence.rail_depth_mm / 1000.0, 0.0), fence.rails)


def bottom_drop_m(fence: Fence) -> float:
    """Return how far the under edge of the bottom row lies below the top line, plumb."""
    return float(row_drops_m(fence)[-1] + fence.rail_depth_mm / 1000.0)


def faults_of_rows(fence: Fence) -> list[Problem]:
    """Return the fault of more rows than find room, one over the other, in the height wanted."""
    need_m = fence.rails * fence.rail_depth_mm / 1000.0
    if fence.rails > 1 and _under_m(fence) < need_m - A_HAIR_M:
        fault = (
            f"{fence.rails} rails of {fence.rail_depth_mm:g} mm do not find room in height_m, {fence.height_m:g}, over"
            f" a gap of {gap_wanted_m(fence):.3f} m, midway between its limits."
        )
        fix = f"make height_m {need_m + gap_wanted_m(fence):.3f} at least, or take fewer or shallower rails."
        return [Problem("site.toml", "[fence] height_m", fault, fix)]
    return []


def gap_wanted_m(fence: Fence) -> float:
    """Return the gap under the bottom row that is best: midway between its limits."""
    return (fence.gap_min_m + fence.gap_max_m) / 2.0


def rail_number(item: str) -> float:
    """Return the value of an item of `catalogue/rails.csv`. Raises KeyError when there is no such item."""
    for row in rows("rails"):
        if row["item"] == item:
            return float(row["value"])
    raise KeyError(f"rails.csv has no item {item!r}")


def _under_m(fence: Fence) -> float:
    return fence.height_m - gap_wanted_m(fence)

"""How deep a post stands that nothing but its own height asks a depth of: by the shares that agencies print.

A printed share is depth ÷ length of the post. The length is not planned before the top line is, so the depth follows
from the height above the ground instead: share ÷ (1 − share) × height.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows
from fencegis.strength.footing import soil_named

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]


def line_depth_m(soil: str, *, height_m: float) -> float:
    """Return how deep a line post of that height above the ground stands, by the soil's `line_rule`.

    Raises ValueError for a soil that is not in the catalogue.
    """
    return depth_of_share_m(printed_share(soil_named(soil).line_rule), height_m=height_m)


def end_depth_m(soil: str, *, height_m: float) -> float:
    """Return how deep a post at an end, a corner or a change of grade stands that no wire pulls at, by `end_rule`.

    Raises ValueError for a soil that is not in the catalogue.
    """
    return depth_of_share_m(printed_share(soil_named(soil).end_rule), height_m=height_m)


def printed_share(row_id: str) -> float:
    """Return depth ÷ length of the post of a row of `catalogue/embedment.csv`. Raises ValueError without such a row."""
    for row in rows("embedment"):
        if row["id"] == row_id:
            return float(row["in_ground_m"]) / float(row["post_m"])
    raise ValueError(f"embedment.csv has no row {row_id!r}")


def depth_of_share_m(share: float, *, height_m: float) -> float:
    """Return the depth that puts this share of a post into the ground when `height_m` of it stand above."""
    return share / (1.0 - share) * height_m


def of_each(depth_of: Callable[[str], float], soils: Sequence[str] | npt.NDArray[np.object_]) -> Floats:
    """Return `depth_of` of each soil (n,), worked out once for each that comes up."""
    found = {soil: depth_of(soil) for soil in set(soils)}
    return np.array([found[soil] for soil in soils], dtype=float)

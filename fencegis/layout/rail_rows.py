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


def faults_of_housing(fence: Fence) -> list[Problem]:
    """Return the faults of rails between posts that leave a post too thin, or whose edges do not reach into it."""
    if fence.rails_fixed != "centred":
        return []
    thinnest, web, key = min(fence.post_mm, fence.gate_post_mm), rail_number("web between housings"), "housing_mm"
    most, least = (thinnest - web) / 2.0, round_off_mm(thinnest, thick_mm=fence.rail_thick_mm)
    given = f"{key} is {fence.housing_mm:g}"
    if fence.rail_thick_mm >= thinnest:
        fault = f"rails {fence.rail_thick_mm:g} mm thick are not let into posts of {thinnest:g} mm."
        return [Problem("site.toml", "[fence] rails_fixed", fault, 'take thicker posts, or rails_fixed = "face".')]
    if fence.housing_mm > most + A_HAIR_M:
        fault = f"{given}: two of them leave less than {web:g} mm of the thinnest post, {thinnest:g} mm, between them."
        fix = f"make it {most:g} at most." if most > least else 'take thicker posts, or rails_fixed = "face".'
        return [Problem("site.toml", f"[fence] {key}", fault, fix)]
    if fence.housing_mm <= least:
        fault = (
            f"{given}, but the edges of a rail {fence.rail_thick_mm:g} mm thick reach into a round post of"
            f" {thinnest:g} mm only past {least:.1f} mm."
        )
        fix = f"make it more than {least:.1f}, {most:g} at most." if most > least else "take thicker posts."
        return [Problem("site.toml", f"[fence] {key}", fault, fix)]
    return []


def round_off_mm(post_mm: float, *, thick_mm: float) -> float:
    """Return how far a round post falls back from its front at the edges of a rail let into it; NaN when too thin."""
    half_mm, square = post_mm / 2.0, (post_mm**2 - thick_mm**2) / 4.0
    return half_mm - square**0.5 if square >= 0.0 else float("nan")


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

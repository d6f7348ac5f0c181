"""From a tape on the ground to the official grid and back."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from pyproj import CRS, Proj, Transformer

from fencegis.exports.key_points import rows
from fencegis.exports.page_text import plain
from fencegis.line.official_grid import to_official

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


@dataclass(frozen=True)
class GroundFactor:
    """`point_scale` of the grid, `height` factor R/(R + h), and their product `combined`.

    A level distance on the ground times `combined` is the distance in the grid; a grid distance divided by it is what a
    tape reads.
    """

    point_scale: float
    height: float

    @property
    def combined(self) -> float:
        """What takes a level ground distance to the grid."""
        return self.point_scale * self.height

    @property
    def mm_a_hundred_m(self) -> float:
        """How many millimetres the grid is longer than the ground over 100 m; negative where it is shorter."""
        return (self.combined - 1.0) * 1e5


@dataclass(frozen=True)
class Example:
    """One run: level length on the ground, and between its ends in the official grid, in metres."""

    run_id: str
    line_id: str
    ground_m: float
    grid_m: float


def ground_factor(grid: str, *, lon_deg: float, lat_deg: float, height_m: float) -> GroundFactor:
    """Return the factors of an official grid (code or WKT) at a place of its own datum, at a height.

    R is the ellipsoid's mean radius there, the root of the product of the two principal ones. Raises ValueError for a
    grid without an ellipsoid.
    """
    crs = CRS(grid)
    factors = Proj(crs).get_factors(lon_deg, lat_deg)
    scale = math.sqrt(factors.meridional_scale * factors.parallel_scale)
    ellipsoid = crs.ellipsoid
    if ellipsoid is None:
        raise ValueError(f"{grid} has no ellipsoid")
    axis_m = ellipsoid.semi_major_metre
    squared = 1.0 - (ellipsoid.semi_minor_metre / axis_m) ** 2
    radius_m = axis_m * math.sqrt(1.0 - squared) / (1.0 - squared * math.sin(math.radians(lat_deg)) ** 2)
    return GroundFactor(scale, radius_m / (radius_m + height_m))


def site_factor(plan: Plan, *, grid: str) -> GroundFactor:
    """Return the factors at the middle of the plan and the site's mean height."""
    middle = plan.runs.total_bounds.reshape(2, 2).mean(axis=0)
    to_geographic = Transformer.from_crs(plan.crs, CRS(grid).geodetic_crs, always_xy=True)
    lon_deg, lat_deg = to_geographic.transform(*middle)
    return ground_factor(grid, lon_deg=lon_deg, lat_deg=lat_deg, height_m=plan.site.grid.height_m)


def longest_run(plan: Plan, *, grid: str) -> Example | None:
    """Return the longest straight run with its length on the ground and in the grid; None when all are arcs.

    The grid's length is that between the ends' own coordinates in the grid, so it checks the factor and does not use
    it. None too where PROJ cannot put an end into the grid.
    """
    straight = plan.runs[plan.runs["kind"] != "arc"]
    if straight.empty:
        return None
    run = next(rows(straight.loc[[straight["length_m"].idxmax()]]))
    ends = shapely.get_coordinates(run.geometry)[[0, -1]]
    moved = to_official(ends, grid_wkt=plan.crs, official=grid) * float(CRS(grid).axis_info[0].unit_conversion_factor)
    grid_m = float(np.hypot(*(moved[1] - moved[0])))
    return Example(str(run.run_id), str(run.line_id), float(run.length_m), grid_m) if math.isfinite(grid_m) else None


def factor_lines(factor: GroundFactor, example: Example | None, *, height_m: float) -> list[str]:
    """Return as lines of text what the factors are, which way each is applied, and an example on the site's own run."""
    longer = "longer" if factor.mm_a_hundred_m > 0.0 else "shorter"
    lines = [
        "Coordinates are grid, not ground.",
        f"Point scale factor of the grid at the site: {factor.point_scale:.8f}",
        f"Height factor R/(R + h) at {height_m:.0f} m: {factor.height:.8f}",
        f"Combined factor, their product: {factor.combined:.8f}",
        f"Tape to grid: multiply a level distance by {factor.combined:.8f}.",
        f"Grid to tape: divide a distance between coordinates by {factor.combined:.8f}.",
        f"A distance in the grid is {abs(factor.mm_a_hundred_m):.0f} mm {longer} a hundred metres than the tape's.",
    ]
    if example is not None:
        sum_m = f"{example.ground_m:.3f} m x {factor.combined:.8f} = {example.ground_m * factor.combined:.3f} m"
        lines += [
            f"Example, run {plain(example.run_id)}, the longest straight: {example.ground_m:.3f} m level on ground,",
            f"{sum_m} in the grid; its ends' coordinates are {example.grid_m:.3f} m apart.",
        ]
    return lines

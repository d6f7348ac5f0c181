"""Where things are outside the working grid, how far off that may be, and what PROJ did to get there."""

from __future__ import annotations

import math
import warnings
from typing import TYPE_CHECKING

import numpy as np
from pyproj import Transformer
from pyproj.transformer import TransformerGroup

from fencegis.exports.rounding import lon_lat
from fencegis.quantities.takeoff import drawn_line
from fencegis.records.terrain import Operation

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.records.plan import Plan
    from fencegis.records.site import Site

    Floats = npt.NDArray[np.float64]

WGS84 = "EPSG:4326"


def lon_lat_deg(plan: Plan, points: Floats) -> Floats:
    """Return (n, 2) points of the working grid as WGS 84 longitude and latitude, rounded to seven decimals."""
    points = np.asarray(points, dtype=float).reshape(-1, 2)
    to_degrees = Transformer.from_crs(plan.crs, WGS84, always_xy=True)
    return lon_lat(np.column_stack(to_degrees.transform(points[:, 0], points[:, 1])))


def operation(plan: Plan, to_crs: str, *, name: str) -> Operation:
    """Return what PROJ does at the site's middle from the working grid to `to_crs`, read after use."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # pyproj's word for a grid that is not there: it is told here
        group = TransformerGroup(plan.crs, to_crs, always_xy=True)
    missing = sorted(
        {grid.short_name for other in group.unavailable_operations for grid in other.grids if not grid.available}
    )
    used = Transformer.from_crs(plan.crs, to_crs, always_xy=True)
    used.transform(*_middle(plan))
    last = used.get_last_used_operation()
    accuracy = None if last.accuracy is None or last.accuracy < 0 else float(last.accuracy)
    return Operation(f"working grid to {name}", last.description, accuracy, tuple(missing))


def accuracy_words(used: Operation) -> str:
    """Return an operation's accuracy as it is printed."""
    if used.accuracy_m is None:
        return "not stated"
    return f"{used.accuracy_m:g} m" if used.accuracy_m > 0.0 else "a change of projection only, none lost"


def doubt_m(site: Site, line_id: str | None = None) -> float:
    """Return one standard deviation of a drawn position in east and in north, each: the hand's and the common shift's.

    The hand's is that of one line, or the specification's where no line is named.
    Zero says that nobody stated a doubt, not that there is none.
    """
    boundary = site.spec.boundary
    line = None if line_id is None else drawn_line(site, line_id)
    return math.hypot(boundary.vertex_sigma_m if line is None else line.sigma_m, boundary.shift_sigma_m)


def doubt_95_m(sigma_m: float) -> float:
    """Return the radius that holds 95 of 100 positions whose east and north are each off by `sigma_m`.

    The distance is then Rayleigh distributed, so the radius is sigma times the root of -2 ln 0.05.
    """
    return sigma_m * math.sqrt(-2.0 * math.log(0.05))


def doubt_short(sigma_m: float) -> str:
    """Return the doubt as it is printed beside each point."""
    return f"drawn +-{sigma_m:.1f} m" if sigma_m > 0.0 else "how far off is not stated"


def doubt_words(sigma_m: float) -> str:
    """Return the doubt as it is printed once in a file."""
    if sigma_m <= 0.0:
        return doubt_short(sigma_m)
    return (
        f"{doubt_short(sigma_m)} (one standard deviation in east and in north, each; "
        f"95 of 100 within {doubt_95_m(sigma_m):.1f} m)"
    )


def _middle(plan: Plan) -> tuple[float, float]:
    west, south, east, north = plan.runs.total_bounds
    return (west + east) / 2.0, (south + north) / 2.0

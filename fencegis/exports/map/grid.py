"""The official grid for the map's page: east and north as a polynomial in latitude and longitude.

The page has no PROJ. PROJ's own numbers over the site's extent are fitted by least squares, and the fit's greatest
error, looked for between the places that it was fitted to, goes with it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from pyproj import CRS

from fencegis.exports.page_text import plain
from fencegis.line.official_grid import official_grid, to_official

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.exports.map.layers import Wgs84
    from fencegis.records.plan import Plan

    Floats = npt.NDArray[np.float64]

GOOD_M = 0.001
GREATEST_M = 0.010
DEGREES = range(1, 8)
PAD_M = 300.0  # beyond the fence on every side, and a tenth of its extent
NODES, CHECKS = 12, 31


def official_fit(plan: Plan, where: Wgs84) -> dict[str, Any] | None:
    """Return the grid's name, unit and the polynomial with its greatest error in metres; None where PROJ has no way.

    `u` and `v` are latitude and longitude less `middle`, over `reach`, from -1 to 1; the terms of `east` and `north`
    are u^i v^j in the order of `terms`. The lowest degree that is good to a millimetre is taken. Also None when no
    degree comes within 10 mm, as on a site of hundreds of kilometres.
    """
    name = official_grid(plan.site)
    crs = CRS(name)
    unit_m = float(crs.axis_info[0].unit_conversion_factor)
    fitted, checked = (_places(plan, steps) for steps in (_chebyshev(NODES), np.linspace(-1.0, 1.0, CHECKS)))
    given = [to_official(points, grid_wkt=plan.crs, official=name) for points in (fitted, checked)]
    if not (np.isfinite(given[0]).all() and np.isfinite(given[1]).all()):
        return None
    degrees = [where.exact(points) for points in (fitted, checked)]
    low, high = degrees[1].min(axis=0), degrees[1].max(axis=0)
    middle, reach = np.round((low + high) / 2.0, 7), np.ceil((high - low) * 0.5e6) / 1e6
    scaled = [(place - middle) / reach for place in degrees]
    for degree in DEGREES:
        powers = terms(degree)
        weights = np.linalg.lstsq(_table(scaled[0], powers), given[0], rcond=None)[0].round(5)
        error_m = float(np.hypot(*(_table(scaled[1], powers) @ weights - given[1]).T).max() * unit_m)
        if error_m <= GOOD_M:
            break
    if error_m > GREATEST_M:
        return None
    authority = crs.to_authority()
    return {
        "name": plain(f"{crs.name}, {':'.join(authority)}" if authority else crs.name),
        "unit": "m" if unit_m == 1.0 else plain(crs.axis_info[0].unit_name),
        "middle": middle.tolist(),
        "reach": reach.tolist(),
        "degree": degree,
        "east": weights[:, 0].tolist(),
        "north": weights[:, 1].tolist(),
        "error_mm": max(0.1, round(error_m * 1000.0, 1)),
    }


def terms(degree: int) -> list[tuple[int, int]]:
    """Return the exponents of latitude and longitude of every term up to a degree, in the order of the page."""
    return [(total - j, j) for total in range(degree + 1) for j in range(total + 1)]


def _table(scaled: Floats, powers: list[tuple[int, int]]) -> Floats:
    return np.column_stack([scaled[:, 0] ** i * scaled[:, 1] ** j for i, j in powers])


def _places(plan: Plan, steps: Floats) -> Floats:
    """Return eastings and northings (n, 2) of a net over the fence's extent and what lies beside it."""
    low, high = plan.runs.total_bounds.reshape(2, 2)
    half = (high - low) / 2.0
    half += PAD_M + 0.1 * half
    across, up = np.meshgrid(steps, steps)
    return np.asarray((low + high) / 2.0 + half * np.column_stack([across.ravel(), up.ravel()]), dtype=float)


def _chebyshev(count: int) -> Floats:
    """Return the Chebyshev nodes with both ends: a fit to them is nearly the best there is in the worst place."""
    return np.asarray(np.cos(np.pi * np.arange(count) / (count - 1)), dtype=float)

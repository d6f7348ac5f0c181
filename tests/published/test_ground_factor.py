"""Ground and grid at the Australian survey manual's places, by the factor that the rover's text prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from pyproj import Geod, Transformer

from fencegis.exports.hand.ground_factor import ground_factor

if TYPE_CHECKING:
    from collections.abc import Callable

FLINDERS = 144 + 25 / 60 + 29.52440 / 3600, -(37 + 57 / 60 + 3.72030 / 3600)
BUNINYONG = 143 + 55 / 60 + 35.38390 / 3600, -(37 + 39 / 60 + 10.15610 / 3600)


@pytest.mark.parametrize(
    ("place", "grid", "scale"),
    [
        pytest.param(FLINDERS, "EPSG:7855", "1.00023056", id="Flinders Peak"),
        pytest.param(BUNINYONG, "EPSG:7855", "1.00050567", id="Buninyong"),
        pytest.param(BUNINYONG, "EPSG:7854", "1.00042107", id="Buninyong in zone 54"),
    ],
)
@pytest.mark.published(source="icsm-mga", where="Table C-1 (p. 81): point scale factor")
def test_the_point_scale_factor_in_the_rovers_text(compare: Callable, place: tuple, grid: str, scale: str) -> None:
    found = ground_factor(grid, lon_deg=place[0], lat_deg=place[1], height_m=0.0)
    compare(found.point_scale, scale)
    compare(found.combined, scale)  # at sea level the height takes nothing


@pytest.mark.published(source="icsm-mga", where="Table 5.1 (p. 56): plane and ellipsoidal distance of 55 km")
def test_dividing_a_grid_distance_by_the_factors_mean_gives_the_ellipsoids(compare: Callable, printed: type) -> None:
    """Simpson's rule over both ends and the middle of the line, as line scale factors are taken."""
    middle = Geod(ellps="GRS80").npts(*FLINDERS, *BUNINYONG, 1)[0]
    ends = [
        ground_factor("EPSG:7855", lon_deg=p[0], lat_deg=p[1], height_m=0.0).combined for p in (FLINDERS, BUNINYONG)
    ]
    between = ground_factor("EPSG:7855", lon_deg=middle[0], lat_deg=middle[1], height_m=0.0).combined
    to_grid = Transformer.from_crs("EPSG:7844", "EPSG:7855", always_xy=True)
    plane_m = float(np.hypot(*np.subtract(to_grid.transform(*FLINDERS), to_grid.transform(*BUNINYONG))))
    compare(plane_m, "54992.279")
    compare(plane_m / ((ends[0] + 4.0 * between + ends[1]) / 6.0), printed("54972.271", 0.002))

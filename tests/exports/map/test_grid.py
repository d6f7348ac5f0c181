"""The official grid as a polynomial, against PROJ itself at places that the fit has not seen."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from pyproj import CRS, Transformer

from fencegis.exports.map.grid import official_fit, terms
from fencegis.exports.map.layers import Wgs84

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def _site(longitude: float, latitude: float, official: str | None, *, across_m: float) -> Any:
    """Return of a plan as much as the fit reads: a fence's box on a working grid at that place."""
    wkt = CRS(f"+proj=tmerc +lat_0={latitude} +lon_0={longitude} +k=1.0001 +x_0=50000 +y_0=80000 +ellps=GRS80").to_wkt()
    half = across_m / 2.0
    box = np.array([50_000.0 - half, 80_000.0 - half, 50_000.0 + half, 80_000.0 + half])
    site = SimpleNamespace(
        spec=SimpleNamespace(points=SimpleNamespace(grid=official)),
        terrain=None,
        grid=SimpleNamespace(datum=CRS(wkt).geodetic_crs.to_wkt(), centre_lon_deg=longitude, centre_lat_deg=latitude),
    )
    return SimpleNamespace(site=site, crs=wkt, runs=SimpleNamespace(total_bounds=box))


def _value(fit: dict[str, Any], axis: str, latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
    u = (latitude - fit["middle"][0]) / fit["reach"][0]
    v = (longitude - fit["middle"][1]) / fit["reach"][1]
    powers = terms(fit["degree"])
    return sum(weight * u**i * v**j for weight, (i, j) in zip(fit[axis], powers, strict=True))  # type: ignore[return-value]


@pytest.mark.parametrize(
    ("longitude", "latitude", "official"),
    [
        (146.3, -34.9, "EPSG:7855"),  # MGA
        (-109.9, 46.6, "EPSG:2256"),  # a state plane, feet
        (-1.5, 53.0, "EPSG:27700"),  # the British grid
        (174.8, -41.0, "EPSG:2193"),
        (28.0, -26.0, "EPSG:2053"),  # counts west and south
        (25.0, 68.0, "EPSG:3067"),
        (179.999, -17.0, "EPSG:32760"),  # on the 180th meridian
    ],
)
@pytest.mark.parametrize("across_m", [200.0, 20_000.0])
def test_it_is_within_a_few_millimetres_of_proj(
    longitude: float, latitude: float, official: str, across_m: float
) -> None:
    plan = _site(longitude, latitude, official, across_m=across_m)
    where = Wgs84(plan.crs, longitude)
    fit = official_fit(plan, where)
    assert fit is not None
    chance = np.random.default_rng(5)
    low, high = plan.runs.total_bounds.reshape(2, 2)
    points = chance.uniform(low - 250.0, high + 250.0, (4000, 2))
    degrees = where.exact(points)
    # straight from degrees, by PROJ's own order of axes, not by the way that the fit was made
    direct = Transformer.from_crs(CRS(plan.crs).geodetic_crs, official, always_xy=True)
    east, north = direct.transform(degrees[:, 1], degrees[:, 0])
    if official == "EPSG:2053":
        east, north = -np.asarray(east), -np.asarray(north)
    unit_m = CRS(official).axis_info[0].unit_conversion_factor
    error_m = unit_m * np.hypot(
        _value(fit, "east", degrees[:, 0], degrees[:, 1]) - east,
        _value(fit, "north", degrees[:, 0], degrees[:, 1]) - north,
    )
    assert error_m.max() < 0.010
    assert error_m.max() * 1000.0 <= fit["error_mm"] + 0.11
    assert fit["name"].startswith(CRS(official).name)


def test_a_small_site_needs_few_terms_and_a_vast_one_gets_none() -> None:
    small = _site(146.3, -34.9, "EPSG:7855", across_m=200.0)
    fit = official_fit(small, Wgs84(small.crs, 146.3))
    assert fit is not None
    assert fit["degree"] <= 2
    vast = _site(146.3, -34.9, "EPSG:7855", across_m=6_000_000.0)
    assert official_fit(vast, Wgs84(vast.crs, 146.3)) is None


def test_the_unit_is_the_grids_own(small_plan: Plan) -> None:
    points = small_plan.site.spec.points.model_copy(update={"grid": "EPSG:2256"})
    spec = small_plan.site.spec.model_copy(update={"points": points})
    fit = official_fit(
        replace(small_plan, site=replace(small_plan.site, spec=spec)),
        Wgs84(small_plan.crs, small_plan.site.grid.centre_lon_deg),
    )
    assert fit is None or fit["unit"] != "m"  # far outside its area of use
    american = _site(-109.9, 46.6, "EPSG:2256", across_m=500.0)
    found = official_fit(american, Wgs84(american.crs, -109.9))
    assert found is not None
    assert "foot" in found["unit"]

"""Tape to grid and back, held against distances that know nothing of the factor."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS, Geod, Transformer

from fencegis.exports.hand.ground_factor import GroundFactor, factor_lines, ground_factor, longest_run, site_factor

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def test_the_scale_at_a_central_meridian_is_utms_own() -> None:
    """0.9996 by definition of UTM; at sea level nothing comes from the height."""
    found = ground_factor("EPSG:32755", lon_deg=147.0, lat_deg=-34.5, height_m=0.0)
    assert found.point_scale == pytest.approx(0.9996, abs=1e-8)
    assert found.height == 1.0
    assert found.combined == found.point_scale
    assert found.mm_a_hundred_m == pytest.approx(-40.0, abs=0.001)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(lon_deg=st.floats(144.1, 149.9), lat_deg=st.floats(-60.0, -10.0), height_m=st.floats(0.0, 3000.0),
       azimuth_deg=st.floats(0.0, 360.0))  # fmt: skip
def test_ground_times_combined_is_grid_anywhere(
    lon_deg: float, lat_deg: float, height_m: float, azimuth_deg: float
) -> None:
    """A geodesic of 500 m, lifted to the height by the ellipsoid's own radius along it, against plane distance."""
    ellipsoid = Geod(ellps="GRS80")
    end = ellipsoid.fwd(lon_deg, lat_deg, azimuth_deg, 500.0)[:2]
    to_grid = Transformer.from_crs("EPSG:7844", "EPSG:7855", always_xy=True)
    grid_m = float(np.hypot(*np.subtract(to_grid.transform(*end), to_grid.transform(lon_deg, lat_deg))))
    to_space = Transformer.from_crs("EPSG:7843", "EPSG:7842", always_xy=True)
    ends = [np.array(to_space.transform(*place, height_m)) for place in ((lon_deg, lat_deg), end)]
    ground_m = float(np.linalg.norm(ends[1] - ends[0]))
    factor = ground_factor("EPSG:7855", lon_deg=lon_deg, lat_deg=lat_deg, height_m=height_m)
    # At 3 000 m the radius along a meridian and across it differ by up to 2 parts per million from their mean.
    assert grid_m == pytest.approx(ground_m * factor.combined, rel=6e-6)
    assert grid_m / factor.combined == pytest.approx(ground_m, rel=6e-6)


def test_the_combined_factor_takes_the_plans_ground_to_the_grid(small_plan: Plan) -> None:
    """1 000 m in the plan, which is 1 000 m of ground at 620 m, in the official grid."""
    combined = site_factor(small_plan, grid="EPSG:7855").combined
    to_grid = Transformer.from_crs(small_plan.crs, "EPSG:7855", always_xy=True)
    middle = small_plan.runs.total_bounds.reshape(2, 2).mean(axis=0)
    ends = np.array([to_grid.transform(*(middle + step)) for step in ((-300.0, -400.0), (300.0, 400.0))])
    assert np.hypot(*(ends[1] - ends[0])) / 1000.0 == pytest.approx(combined, abs=1e-6)


def test_the_example_is_the_sites_longest_straight_run_and_agrees_with_its_own_coordinates(small_plan: Plan) -> None:
    example = longest_run(small_plan, grid="EPSG:7855")
    assert example
    assert example.ground_m == small_plan.runs["length_m"].max()
    combined = site_factor(small_plan, grid="EPSG:7855").combined
    assert example.grid_m == pytest.approx(example.ground_m * combined, abs=0.001)
    feet = longest_run(small_plan, grid=_in_feet())
    assert feet
    assert feet.grid_m == pytest.approx(example.grid_m, abs=0.001)  # metres whatever the grid's unit


def _in_feet() -> str:
    grid = CRS("EPSG:7855").to_json_dict()
    foot = {"type": "LinearUnit", "name": "US survey foot", "conversion_factor": 1200.0 / 3937.0}
    for axis in grid["coordinate_system"]["axis"]:
        axis["unit"] = foot
    del grid["id"]
    return str(CRS.from_json_dict(grid).to_wkt())


def test_an_arc_is_no_example(small_plan: Plan) -> None:
    plan = dataclasses.replace(small_plan, runs=small_plan.runs.assign(kind="arc"))
    assert longest_run(plan, grid="EPSG:7855") is None


def test_the_text_says_which_way_to_apply_it(small_plan: Plan) -> None:
    factor = GroundFactor(0.9999, 0.9999)
    example = longest_run(small_plan, grid="EPSG:7855")
    lines = factor_lines(factor, example, height_m=637.1)
    assert lines[0] == "Coordinates are grid, not ground."
    assert "Tape to grid: multiply a level distance by 0.99980001." in lines
    assert "Grid to tape: divide a distance between coordinates by 0.99980001." in lines
    assert "A distance in the grid is 20 mm shorter a hundred metres than the tape's." in lines
    assert lines[-1].startswith("72.000 m x 0.99980001 = 71.986 m in the grid; its ends' coordinates are 72.0")
    assert len(factor_lines(factor, None, height_m=0.0)) == len(lines) - 2

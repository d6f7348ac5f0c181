"""Where things are in the world, and how far off."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import numpy as np
import pytest
from pyproj import Geod

from fencegis.exports.positions import doubt_95_m, doubt_m, doubt_words, lon_lat_deg, operation
from fencegis.records.spec import Boundary

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def with_boundary(site, **keys):
    return dataclasses.replace(site, spec=site.spec.model_copy(update={"boundary": Boundary(**keys)}))


def test_the_grids_false_origin_is_the_sites_middle(small_plan: Plan) -> None:
    assert lon_lat_deg(small_plan, np.array([[50_000.0, 80_000.0]])).tolist() == [[149.2, -34.5]]


def test_lengths_on_the_ellipsoid_are_the_plans_less_the_height(small_plan: Plan) -> None:
    """GeographicLib's geodesic (in PROJ) against the grid: 620 m up, lengths are 1 + h/R those on the ellipsoid."""
    ends = np.array([[50_000.0, 80_000.0], [50_600.0, 80_800.0]])
    (lon_1, lat_1), (lon_2, lat_2) = lon_lat_deg(small_plan, ends)
    length_m = Geod(ellps="WGS84").inv(lon_1, lat_1, lon_2, lat_2)[2] * (1.0 + 620.0 / 6_371_000.0)
    assert length_m == pytest.approx(1000.0, abs=0.02)


def test_the_operation_is_read_after_use_with_its_accuracy_and_what_was_missing(small_plan: Plan) -> None:
    used = operation(small_plan, "EPSG:7855", name="GDA2020 / MGA zone 55")
    assert used.between == "working grid to GDA2020 / MGA zone 55"
    assert "GDA2020 to WGS 84" in used.operation
    assert used.accuracy_m == 3.0  # EPSG's own figure for that operation
    assert all(grid.endswith(".tif") for grid in used.missing_grids)


def test_a_ballpark_has_no_accuracy(small_plan: Plan) -> None:
    assert operation(small_plan, "EPSG:27700", name="far away").accuracy_m is None


def test_doubt_is_the_hands_and_the_common_shifts(small_plan: Plan) -> None:
    assert doubt_m(small_plan.site) == pytest.approx(3.1623, abs=1e-4)  # 1 and 3
    assert doubt_m(with_boundary(small_plan.site, datum="unknown")) == pytest.approx(3.7417, abs=1e-4)  # and 2
    assert doubt_m(with_boundary(small_plan.site, drawn_from="survey")) == 0.0


def test_doubt_of_one_line_takes_that_lines_hand(small_plan: Plan) -> None:
    lines = tuple(dataclasses.replace(line, sigma_m=4.0) for line in small_plan.site.drawn)
    site = dataclasses.replace(small_plan.site, drawn=lines)
    assert doubt_m(site, "A") == pytest.approx(5.0)
    assert doubt_m(site, "A.2") == pytest.approx(5.0)
    assert doubt_m(site, "elsewhere") == doubt_m(site)


def test_95_of_100_by_drawing_lots() -> None:
    rng = np.random.default_rng(7)
    away = np.hypot(*rng.normal(scale=3.0, size=(2, 200_000)))
    assert (away <= doubt_95_m(3.0)).mean() == pytest.approx(0.95, abs=0.002)


def test_no_doubt_given_is_not_no_doubt() -> None:
    assert doubt_words(0.0) == "how far off is not stated"
    assert doubt_words(10.0**0.5).startswith(
        "drawn +-3.2 m (one standard deviation in east and in north, each; 95 of 100"
    )

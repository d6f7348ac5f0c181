"""The rover's file: columns in the order of its name, heights empty when unknown, no look of having been surveyed."""

from __future__ import annotations

import csv
import dataclasses
import io
from typing import TYPE_CHECKING

import numpy as np
import pytest
from pyproj import Transformer

from fencegis.exports.key_points import key_points
from fencegis.exports.points import check_points, rover_file, scale_factors
from fencegis.records.spec import Boundary, Points

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


@pytest.fixture(scope="module")
def rover(small_plan: Plan):
    return rover_file(small_plan)


@pytest.fixture(scope="module")
def table(rover):
    return list(csv.reader(io.StringIO(rover.points.decode())))


def with_spec(plan, **update):
    site = dataclasses.replace(plan.site, spec=plan.site.spec.model_copy(update=update))
    return dataclasses.replace(plan, site=site)


def test_the_columns_are_pnezd_to_three_decimals(table) -> None:
    assert table[0] == ["P", "N", "E", "Z", "D"]
    for row in table[1:]:
        assert len(row) == 5
        assert all(len(cell.split(".")[1]) == 3 for cell in row[1:3])


def test_points_are_the_waypoints_in_the_rasters_own_grid(small_plan: Plan, table) -> None:
    places = key_points(small_plan)
    assert [row[0] for row in table[1:]] == ["CHK1", "CHK2", *(place.name for place in places)]
    to_grid = Transformer.from_crs(small_plan.crs, "EPSG:7855", always_xy=True)
    for row, place in zip(table[3:], places, strict=True):
        east, north = to_grid.transform(place.easting_m, place.northing_m)
        assert (float(row[1]), float(row[2])) == pytest.approx((north, east), abs=0.0006)
        assert float(row[3]) == pytest.approx(place.ground_m, abs=0.0006)


def test_codes_say_drawn_and_how_far_off(table) -> None:
    assert table[1][4] == table[2][4] == "CHECK COMPUTED NOTHING STANDS HERE"
    assert all(row[4].endswith("DRAWN +-3.2M") for row in table[3:])
    assert all(
        set(row[4]) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 .+-") and row[4][0].isalpha() for row in table[1:]
    )


def test_a_survey_that_states_no_doubt_is_not_without_doubt(small_plan: Plan) -> None:
    lines = tuple(dataclasses.replace(line, sigma_m=0.0) for line in small_plan.site.drawn)
    plan = with_spec(small_plan, boundary=Boundary(drawn_from="survey"))
    plan = dataclasses.replace(plan, site=dataclasses.replace(plan.site, drawn=lines))
    rows = list(csv.reader(io.StringIO(rover_file(plan).points.decode())))
    assert all(row[4].endswith("DRAWN DOUBT NOT STATED") for row in rows[3:])


def test_an_unknown_height_is_empty_not_zero(small_plan: Plan) -> None:
    strainers = small_plan.strainers.assign(ground_m=np.nan)
    profile = small_plan.profile.assign(ground_m=np.nan)
    plan = dataclasses.replace(small_plan, strainers=strainers, profile=profile)
    rows = list(csv.reader(io.StringIO(rover_file(plan).points.decode())))
    assert {row[3] for row in rows[1:]} == {""}


def test_the_text_says_first_what_the_file_is_not(small_plan: Plan, rover) -> None:
    lines = rover.text.decode().splitlines()
    assert lines[0] == "not a boundary; for finding, not for marking"
    text = "\n".join(lines)
    for words in (
        "Grid: GDA2020 / MGA zone 55, EPSG:7855",
        "Datum: GDA2020",
        "Unit of N, E and Z: metre",
        "Height datum: as the elevation file's; not checked.",
        "Coordinates are grid, not ground.",
        "Accuracy of that: 3 m",
        rover.operation.operation,
        "Overhead lines: flagged: H1, H3, line A 12.0 m to 31.5 m; line B 48.0 m to 60.0 m",
        "Boundary: the whole fence",
    ):
        assert words in text


def test_the_check_points_are_crossings_of_the_grid_and_stand_beside_their_latitude_and_longitude(table, rover) -> None:
    to_degrees = Transformer.from_crs("EPSG:7855", "EPSG:4326", always_xy=True)
    text = rover.text.decode()
    for name, north, east, height, _ in table[1:3]:
        assert float(north) % 100.0 == float(east) % 100.0 == 0.0
        assert height == ""
        lon_deg, lat_deg = to_degrees.transform(float(east), float(north))
        assert f"{name}: N {north}  E {east}  latitude {lat_deg:.7f}  longitude {lon_deg:.7f}" in text


def test_check_points_lie_round_the_work() -> None:
    assert check_points(np.array([[101.0, 250.0], [380.0, 199.0]]), step=100.0).tolist() == [[100, 100], [400, 300]]
    assert np.isnan(check_points(np.full((2, 2), np.nan), step=100.0)).all()


def test_the_combined_factor_takes_ground_to_grid(small_plan: Plan) -> None:
    """Held against distances: 1 000 m in the plan, which is 1 000 m of ground at 620 m, in the official grid."""
    _, combined = scale_factors(small_plan, grid="EPSG:7855")
    to_grid = Transformer.from_crs(small_plan.crs, "EPSG:7855", always_xy=True)
    middle = small_plan.runs.total_bounds.reshape(2, 2).mean(axis=0)
    ends = np.array([to_grid.transform(*(middle + step)) for step in ((-300.0, -400.0), (300.0, 400.0))])
    assert np.hypot(*(ends[1] - ends[0])) / 1000.0 == pytest.approx(combined, abs=1e-6)


def test_the_scale_factor_at_a_central_meridian_is_utms_own(small_plan: Plan) -> None:
    """0.9996 by definition of UTM."""
    wkt = small_plan.crs.replace("149.2", "147")
    plan = dataclasses.replace(small_plan, crs=wkt)
    assert scale_factors(plan, grid="EPSG:32755")[0] == pytest.approx(0.9996, abs=1e-8)


def test_a_named_grid_in_feet_has_heights_in_feet(small_plan: Plan) -> None:
    plan = with_spec(small_plan, points=Points(grid="EPSG:2263"))
    wkt = plan.crs.replace("149.2", "-74.0").replace("-34.5", "40.7")
    moved = {name: frame.set_crs(wkt, allow_override=True) for name, frame in plan.layers() if "geometry" in frame}
    rover = rover_file(dataclasses.replace(plan, crs=wkt, **moved))
    rows = {row[0]: row for row in csv.reader(io.StringIO(rover.points.decode()))}
    assert float(rows["A01E"][3]) == pytest.approx(
        619.6 * 3937.0 / 1200.0, abs=0.0006
    )  # the US survey foot's definition
    assert "Unit of N, E and Z: US survey foot" in rover.text.decode()


def test_nothing_in_the_files_is_a_formula_or_markup(small_plan: Plan) -> None:
    hazards = small_plan.hazards.assign(hazard_id="=cmd|' /C calc'!A0")
    rover = rover_file(dataclasses.replace(small_plan, hazards=hazards))
    for row in csv.reader(io.StringIO(rover.points.decode())):
        assert not any(cell.startswith(("=", "@")) for cell in row)
    assert rover.text.decode().isascii()

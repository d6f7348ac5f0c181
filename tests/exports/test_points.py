"""The rover's file: columns in the order of its name, heights empty when unknown, no look of having been surveyed."""

from __future__ import annotations

import csv
import dataclasses
import io
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pytest
import shapely
from pyproj import Transformer

from fencegis.exports.key_points import key_points
from fencegis.exports.points import rover_file
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
    assert all(row[4].endswith("DRAWN +-3.2M") for row in table[1:])
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


def test_the_other_order_holds_the_same_points_and_spells_its_order(rover, table) -> None:
    other = list(csv.reader(io.StringIO(rover.eastings_first.decode())))
    assert other == [[p, e, n, z, d] for p, n, e, z, d in table]
    text = rover.text.decode()
    assert "File: points_pnezd.csv. Columns: P point, N northing, E easting, Z height, D code." in text
    assert "File: points_penzd.csv. Columns: P point, E easting, N northing, Z height, D code." in text


def test_without_pegs_the_check_marks_are_the_two_turns_furthest_apart(small_plan: Plan, table, rover) -> None:
    places = {place.name: place for place in key_points(small_plan)}
    turns = [p for p in places.values() if p.kind in {"end", "corner", "junction"}]
    far = max(
        ((a, b) for a in turns for b in turns if a.name < b.name),
        key=lambda pair: np.hypot(pair[0].easting_m - pair[1].easting_m, pair[0].northing_m - pair[1].northing_m),
    )
    rows = {row[0]: row for row in table[1:]}
    for name, place in zip(("CHK1", "CHK2"), far, strict=True):
        assert rows[name][1:4] == rows[place.name][1:4]
        assert rows[name][4] == f"CHECK {place.kind.upper()} {place.name} DRAWN +-3.2M"
    assert "2. No two pegs are given" in rover.text.decode()


def test_two_pegs_come_before_corners(small_plan: Plan) -> None:
    places = [(50_000.0, 80_000.0), (50_010.0, 80_000.0), (50_090.0, 80_050.0)]
    kinds = ["survey", "found", "line mark"]
    pegs = gpd.GeoDataFrame({"kind": kinds}, geometry=[shapely.Point(*p) for p in places], crs=small_plan.crs)
    plan = dataclasses.replace(small_plan, site=dataclasses.replace(small_plan.site, pegs=pegs))
    file = rover_file(plan)
    rows = list(csv.reader(io.StringIO(file.points.decode())))[1:3]
    assert [row[4] for row in rows] == ["CHECK SURVEY PEG AS GIVEN", "CHECK LINE MARK PEG AS GIVEN"]
    assert [row[3] for row in rows] == ["", ""]  # nobody gave a height
    to_grid = Transformer.from_crs(plan.crs, "EPSG:7855", always_xy=True)
    for row, place in zip(rows, (places[0], places[2]), strict=True):
        east, north = to_grid.transform(*place)
        assert (float(row[1]), float(row[2])) == pytest.approx((north, east), abs=0.0006)
    assert "2. Stand the pole on both pegs" in file.text.decode()


def test_the_check_marks_stand_beside_their_latitude_and_longitude(table, rover) -> None:
    to_degrees = Transformer.from_crs("EPSG:7855", "EPSG:4326", always_xy=True)
    text = rover.text.decode()
    for name, north, east, _, _ in table[1:3]:
        lon_deg, lat_deg = to_degrees.transform(float(east), float(north))
        line = next(line for line in text.splitlines() if line.startswith(f"{name} ("))
        assert f"N {north}  E {east}  latitude" in line
        printed = [float(line.split(word)[1].split()[0]) for word in ("longitude ", "latitude ")]
        assert printed == pytest.approx([lon_deg, lat_deg], abs=6e-8)


def test_a_plan_without_two_turns_has_no_check_marks_and_says_so(small_plan: Plan) -> None:
    none = {name: getattr(small_plan, name).iloc[:0] for name in ("strainers", "corners", "gates", "hazards")}
    file = rover_file(dataclasses.replace(small_plan, **none))
    assert file.points.decode() == "P,N,E,Z,D\n"
    assert "No two points are far enough apart for check marks" in file.text.decode()


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

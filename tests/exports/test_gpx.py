"""GPX that old and new readers take, and that says what it is not for."""

from __future__ import annotations

import dataclasses
import subprocess
import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING

import gpxpy
import numpy as np
import pandas as pd
import pyogrio
import pytest
from lxml import etree
from pyproj import Geod, Transformer

from fencegis.exports import gpx
from fencegis.exports.key_points import hazards_first, post_points
from fencegis.exports.key_points import key_points as walked
from fencegis.exports.plan_hash import plan_sha256

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

TOLERANCE_M = 0.020
SPACE = {"g": "http://www.topografix.com/GPX/1/1"}


def key_points(plan):
    """The places in the order of the file."""
    return hazards_first(walked(plan))


def away_m(plan, lon_lat, places) -> np.ndarray:
    """Return how far each longitude and latitude is from where the plan has the place, by PROJ's geodesic."""
    back = Transformer.from_crs(plan.crs, "EPSG:4326", always_xy=True)
    true = np.array([back.transform(place.easting_m, place.northing_m) for place in places])
    read = np.asarray(lon_lat)
    return np.abs(Geod(ellps="WGS84").inv(read[:, 0], read[:, 1], true[:, 0], true[:, 1])[2])


@pytest.fixture(scope="module")
def written(small_plan: Plan, tmp_path_factory):
    path = tmp_path_factory.mktemp("gpx") / "waypoints.gpx"
    path.write_bytes(gpx.waypoints(small_plan))
    return path


def test_valid_against_the_schema(small_plan: Plan, outside_data) -> None:
    schema = etree.XMLSchema(etree.parse(outside_data("gpx11.xsd")))
    for content in (gpx.waypoints(small_plan), gpx.posts(small_plan)):
        schema.assertValid(etree.fromstring(content))


def test_xmllint_agrees(written, outside_data, require_program) -> None:
    command = [
        require_program("xmllint"),
        "--noout",
        "--nonet",
        "--schema",
        str(outside_data("gpx11.xsd")),
        str(written),
    ]
    assert subprocess.run(command, capture_output=True, check=False).returncode == 0


def test_gpxpy_reads_names_places_heights_and_tracks(small_plan: Plan, written) -> None:
    read = gpxpy.parse(written.read_text(encoding="utf-8"))
    places = key_points(small_plan)
    assert [point.name for point in read.waypoints] == [place.name for place in places]
    points = [(point.longitude, point.latitude) for point in read.waypoints]
    assert away_m(small_plan, points, places).max() < TOLERANCE_M
    assert [point.elevation for point in read.waypoints] == [round(place.ground_m, 3) for place in places]
    assert [len(track.segments[0].points) for track in read.tracks] == [3, 2]


def test_gdal_reads_the_same_places(small_plan: Plan, written) -> None:
    places = key_points(small_plan)
    read = pyogrio.read_dataframe(written, layer="waypoints")
    assert list(read["name"]) == [place.name for place in places]
    assert away_m(small_plan, read.geometry.get_coordinates().to_numpy(), places).max() < TOLERANCE_M
    assert len(pyogrio.read_dataframe(written, layer="tracks")) == 2


def test_gpsbabel_reads_the_same_places(small_plan: Plan, written, tmp_path, require_program) -> None:
    out = tmp_path / "through.gpx"
    subprocess.run(
        [require_program("gpsbabel"), "-i", "gpx", "-f", str(written), "-o", "gpx", "-F", str(out)], check=True
    )
    read = gpxpy.parse(out.read_text(encoding="utf-8"))
    places = key_points(small_plan)
    assert [point.name for point in read.waypoints] == [place.name for place in places]
    points = [(point.longitude, point.latitude) for point in read.waypoints]
    assert away_m(small_plan, points, places).max() < TOLERANCE_M


@pytest.mark.parametrize("form", ["garmin_txt", "ozi", "kml", "unicsv"])
def test_gpsbabel_keeps_every_name_whole_in_other_formats(
    small_plan: Plan, written, tmp_path, require_program, form
) -> None:
    out = tmp_path / "out"
    subprocess.run(
        [require_program("gpsbabel"), "-i", "gpx", "-f", str(written), "-o", form, "-F", str(out)], check=True
    )
    text = "".join(path.read_text(encoding="utf-8", errors="replace") for path in tmp_path.glob("out*"))
    assert [place.name for place in key_points(small_plan) if place.name not in text] == []


def test_it_says_what_it_is_not_for_how_far_off_it_is_and_which_plan(small_plan: Plan, written) -> None:
    root = ET.fromstring(written.read_bytes())
    about = root.findtext("g:metadata/g:desc", namespaces=SPACE)
    assert about.startswith("a desk drawing: for finding, not for marking; not a boundary; drawn +-3.2 m (one standard")
    assert "their datum not checked" in about
    digits = plan_sha256(small_plan)[:6]
    for text in (
        about,
        *(e.text for e in root.findall("g:wpt/g:desc", SPACE)),
        *(e.text for e in root.findall("g:trk/g:desc", SPACE)),
    ):
        assert text.endswith(f"plan {digits}")
    assert all("not for marking" in e.text for e in root.findall("g:wpt/g:desc", SPACE))


def test_numbers_have_seven_decimals_and_no_exponent(written) -> None:
    root = ET.fromstring(written.read_bytes())
    numbers = [e.get(key) for e in root.iter() for key in ("lat", "lon") if e.get(key)]
    assert numbers
    assert all(len(number.split(".")[1]) == 7 and "e" not in number for number in numbers)


def test_hostile_text_stays_text(written) -> None:
    text = written.read_text(encoding="utf-8")
    assert text.startswith("<?xml")  # no byte order mark
    assert "script&gt;" not in text
    assert "<b>" not in text
    assert "‹/script›‹b›North‹/b›" in text


def test_no_height_where_the_ground_is_unknown(small_plan: Plan) -> None:
    read = gpxpy.parse(gpx.posts(small_plan).decode())
    places = post_points(small_plan)
    assert [point.elevation is None for point in read.waypoints] == [bool(np.isnan(place.ground_m)) for place in places]
    assert any(point.elevation is None for point in read.waypoints)


def test_posts_are_all_there_and_headed_not_for_set_out(small_plan: Plan) -> None:
    read = gpxpy.parse(gpx.posts(small_plan).decode())
    assert len(read.waypoints) == len(small_plan.posts)
    assert read.name.startswith("NOT FOR SET-OUT")
    assert read.description.startswith("NOT FOR SET-OUT")
    assert read.tracks == []


def test_a_line_over_the_antimeridian_is_still_valid(small_plan: Plan, outside_data) -> None:
    wkt = small_plan.crs.replace("149.2", "179.9999")
    moved = {
        name: frame.set_crs(wkt, allow_override=True) for name, frame in small_plan.layers() if "geometry" in frame
    }
    content = gpx.waypoints(dataclasses.replace(small_plan, crs=wkt, **moved))
    etree.XMLSchema(etree.parse(outside_data("gpx11.xsd"))).assertValid(etree.fromstring(content))
    longitudes = [point.longitude for point in gpxpy.parse(content.decode()).waypoints]
    assert min(longitudes) < -179.0
    assert 179.0 < max(longitudes) < 180.0


def test_a_plan_with_nothing_to_point_at_is_a_file_without_waypoints(small_plan: Plan) -> None:
    none = {name: getattr(small_plan, name).iloc[:0] for name in ("strainers", "corners", "gates", "hazards")}
    read = gpxpy.parse(gpx.waypoints(dataclasses.replace(small_plan, **none)).decode())
    assert read.waypoints == []
    assert len(read.tracks) == 2
    assert pd.notna(read.description)

"""Other programs read every name whole and every place within its digits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import gpxpy
import pyogrio
import pytest
from lxml import etree

from fencegis.exports.hand.files import post_files, waypoint_files

if TYPE_CHECKING:
    from types import ModuleType

    from fencegis.records.plan import Plan

KINDS = ["6 letters", "8 letters", "10 letters", "14 letters", "30 letters"]


def test_gpsbabel_brings_every_name_back_whole_and_every_place(
    register_plan: Plan, read_back: ModuleType, tmp_path, require_program, form
) -> None:
    plan, file = read_back.one_file(register_plan, form.kind)
    found = read_back.through(require_program("gpsbabel"), form, file, plan, tmp_path)
    assert found.sent == found.back == found.whole == found.unique == 27
    assert found.worst_m < form.most_m


def test_names_too_long_for_an_old_format_do_not_come_back_whole(
    register_plan: Plan, read_back: ModuleType, tmp_path, require_program
) -> None:
    """So the comparison can fail: ten letters sent through a format of eight."""
    old = next(form for form in read_back.FORMS if form.name == "magellan")
    plan, file = read_back.one_file(register_plan, "10 letters")
    assert read_back.through(require_program("gpsbabel"), old, file, plan, tmp_path).whole < len(file.places)


@pytest.mark.parametrize("kind", KINDS)
def test_gpxpy_and_gdal_read_names_places_routes_and_tracks(
    register_plan: Plan, read_back: ModuleType, tmp_path, kind: str
) -> None:
    plan, file = read_back.one_file(register_plan, kind)
    (tmp_path / file.name).write_bytes(file.content)
    for found in read_back.straight(file, plan, tmp_path).values():
        assert found.sent == found.back == found.whole == found.unique == 27
        assert found.worst_m < 0.020
    read = gpxpy.parse(file.content.decode())
    assert len(pyogrio.read_dataframe(tmp_path / file.name, layer="tracks")) == len(read.tracks) == 2
    assert (
        len(pyogrio.read_dataframe(tmp_path / file.name, layer="routes")) == len(read.routes) == 1
    )  # B has one post of its own
    for route in read.routes:  # a unit that counts route points as waypoints finds them under the same names
        assert {point.name for point in route.points} <= {place.name for place in file.places}


@pytest.mark.parametrize("keys", [{}, {"kind": "6 letters", "points": 50}, {"kind": "30 letters", "track_points": 2}])
def test_every_file_holds_to_the_schema(register_plan: Plan, read_back: ModuleType, outside_data, keys: dict) -> None:
    schema = etree.XMLSchema(etree.parse(outside_data("gpx11.xsd")))
    plan = read_back.with_handheld(register_plan, **keys)
    for file in (*waypoint_files(plan), *post_files(plan)):
        schema.assertValid(etree.fromstring(file.content))

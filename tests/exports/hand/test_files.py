"""Which files a unit gets: within its limits, whole runs together, hazards first, nothing lost."""

from __future__ import annotations

import csv
import dataclasses
import io
from typing import TYPE_CHECKING

import gpxpy
import pandas as pd
import pytest

from fencegis.exports import gpx
from fencegis.exports.hand.files import every_name, post_files, waypoint_files
from fencegis.exports.hand.limits import SYMBOLS
from fencegis.exports.hand.name_table import COLUMNS, name_table
from fencegis.exports.hand.run_places import RunPlaces
from fencegis.exports.key_points import WARNING, key_points, post_points
from fencegis.exports.plan_hash import plan_sha256

if TYPE_CHECKING:
    from types import ModuleType

    from fencegis.records.plan import Plan


@pytest.fixture(scope="module")
def long_plan(register_plan: Plan) -> Plan:
    """Enough strainers for several files: one each half metre of A, and a flag over most of the line."""
    row = register_plan.strainers.iloc[[0]]
    at = [0.5 * number for number in range(1, 239)]
    more = [row.assign(chainage_m=chainage, reason="length", strainer_id=f"S{chainage}") for chainage in at]
    strainers = pd.concat([register_plan.strainers, *more], ignore_index=True)
    flags = register_plan.hazards
    wide = flags[flags["hazard_id"] == "H1"].assign(hazard_id="H99", from_m=1.0, to_m=119.0)
    hazards = pd.concat([flags, wide], ignore_index=True)
    return dataclasses.replace(register_plan, strainers=strainers, hazards=hazards)


def test_without_limits_it_is_the_one_file_as_ever(register_plan: Plan) -> None:
    (file,) = waypoint_files(register_plan)
    assert (file.name, file.content) == ("waypoints.gpx", gpx.waypoints(register_plan))
    assert [place.name for place in file.places] == list(file.long_names)
    (posts,) = post_files(register_plan)
    assert (posts.name, posts.content) == ("posts.gpx", gpx.posts(register_plan))


def test_hazards_stand_first_in_each_file_and_names_rise_within_both_parts(long_plan: Plan, read_back) -> None:
    for file in waypoint_files(read_back.with_handheld(long_plan, kind="8 letters", points=100)):
        points = gpxpy.parse(file.content.decode()).waypoints
        first = [point.type in WARNING for point in points]
        assert first == sorted(first, reverse=True)
        for part in (True, False):
            names = [point.name for point, is_first in zip(points, first, strict=True) if is_first is part]
            assert names == sorted(names)


@pytest.mark.parametrize("kind", ["6 letters", "8 letters", "10 letters", "14 letters", "30 letters"])
def test_every_place_is_in_one_file_and_no_file_or_load_is_over_its_limit(
    long_plan: Plan, read_back: ModuleType, kind: str
) -> None:
    plan = read_back.with_handheld(long_plan, kind=kind, points=60, points_in_all=150)
    files = waypoint_files(plan)
    assert [file.name for file in files] == ["lines.gpx", *(f"waypoints_{n}.gpx" for n in range(1, len(files)))]
    assert len(files) > 4
    assert [long for file in files for long in file.long_names] == [place.name for place in key_points(plan)]
    names = [place.name for file in files for place in file.places]
    assert names == sorted(set(names))
    held: dict[int, int] = {}
    for file in files:
        read = gpxpy.parse(file.content.decode())
        assert len(read.waypoints) == len(file.places) <= 60
        held[file.load] = held.get(file.load, 0) + len(file.places)
    assert list(held) == list(range(1, len(held) + 1))
    assert all(count <= 150 for count in held.values())
    assert {file.name for file in files} <= every_name()


def test_a_run_is_not_cut_where_it_fits(long_plan: Plan, read_back: ModuleType) -> None:
    plan = read_back.with_handheld(long_plan, points=200)
    runs = RunPlaces(plan)
    where: dict[str, set[str]] = {}
    for file in waypoint_files(plan):
        for place in file.places:
            where.setdefault(runs.at(place), set()).add(file.name)
    assert len(where) == 3
    assert all(len(names) == 1 for names in where.values())


def test_a_file_says_which_flags_reach_past_its_points(long_plan: Plan, read_back: ModuleType) -> None:
    files = waypoint_files(read_back.with_handheld(long_plan, points=60))[1:]
    about = [gpxpy.parse(file.content.decode()).description for file in files]
    on_a = [text for text, file in zip(about, files, strict=True) if file.places[0].line_id == "A"]
    said = [text.partition("flags that reach past the points of this file: ")[2].partition(";")[0] for text in on_a]
    assert len(said) > 2
    assert all("H99 overhead power" in words.split(", ") for words in said)
    assert sum("H4 buried service" in words for words in said) == 2  # 45 to 60 m, cut at 57 m
    assert all(f"file {number} of {len(files)}" in text for number, text in enumerate(about, start=1))
    whole = gpxpy.parse(gpx.waypoints(long_plan).decode()).description
    assert "reach past" not in whole


def test_lines_are_cut_under_the_limit_of_tracks_and_join(register_plan: Plan, read_back: ModuleType) -> None:
    (file,) = waypoint_files(read_back.with_handheld(register_plan, track_points=2, names=6))
    read = gpxpy.parse(file.content.decode())
    assert [track.name for track in read.tracks] == ["ALINE1", "ALINE2", "BLINE"]
    ends = [[(p.latitude, p.longitude) for p in track.segments[0].points] for track in read.tracks]
    assert ends[0][-1] == ends[1][0]


def test_routes_go_through_what_stands_in_walking_order_under_their_limit(long_plan: Plan, read_back) -> None:
    plan = read_back.with_handheld(long_plan, route_points=50)
    (file,) = waypoint_files(plan)
    routes = gpxpy.parse(file.content.decode()).routes
    on_a = [route for route in routes if route.name.startswith("A")]
    assert all(2 <= len(route.points) <= 50 for route in routes)
    names = [on_a[0].points[0].name, *(point.name for route in on_a for point in route.points[1:])]
    assert names == [place.name for place in file.places if place.line_id == "A" and place.kind not in WARNING]
    assert waypoint_files(long_plan)[0].content.count(b"<rte>") == 0


@pytest.mark.parametrize(("symbols", "known"), [("plain", True), ("none", False)])
def test_symbols_are_words_of_the_plain_set_or_none(register_plan, read_back, symbols: str, known: bool) -> None:
    (file,) = waypoint_files(read_back.with_handheld(register_plan, symbols=symbols))
    points = gpxpy.parse(file.content.decode()).waypoints
    assert [point.symbol for point in points] == [SYMBOLS[point.type] if known else None for point in points]


def test_posts_are_split_alike_and_each_file_is_headed_not_for_set_out(register_plan, read_back) -> None:
    files = post_files(read_back.with_handheld(register_plan, kind="6 letters", points=50))
    assert len(files) > 1
    assert {file.name for file in files} <= every_name()
    for file in files:
        read = gpxpy.parse(file.content.decode())
        assert read.name.startswith("NOT FOR SET-OUT")
        assert read.description.startswith("NOT FOR SET-OUT")
    assert [name for file in files for name in file.long_names] == [p.name for p in post_points(register_plan)]


def test_names_of_posts_and_of_key_points_differ(register_plan: Plan) -> None:
    """Loaded together under one name, an old unit writes one over the other."""
    assert not {p.name for p in key_points(register_plan)} & {p.name for p in post_points(register_plan)}


def test_each_point_ends_with_the_plans_first_digits(register_plan: Plan, read_back: ModuleType) -> None:
    plan = read_back.with_handheld(register_plan, kind="10 letters")
    read = gpxpy.parse(waypoint_files(plan)[0].content.decode())
    marked = [*read.waypoints, *read.routes, *read.tracks, *(p for route in read.routes for p in route.points)]
    assert all(thing.description.endswith(f"plan {plan_sha256(plan)[:6]}") for thing in marked)


def test_the_name_table_tells_what_each_name_stands_for(long_plan: Plan, read_back: ModuleType) -> None:
    plan = read_back.with_handheld(long_plan, kind="8 letters", points=100)
    files = waypoint_files(plan)
    text = name_table(plan, files).decode("utf-8-sig")
    head, *cells = csv.reader(io.StringIO(text))
    assert tuple(head) == COLUMNS
    assert [row[0] for row in cells] == sorted(place.name for file in files for place in file.places)
    table = {row[1]: dict(zip(head, row, strict=True)) for row in cells}
    for place in key_points(plan):
        row = table[place.name]
        assert row["what"] == f"{place.short}, line {place.line_id} at {place.chainage_m:.1f} m"
        assert (float(row["longitude"]), float(row["latitude"])) == (place.lon_deg, place.lat_deg)
        assert row["short_name"] in next(file.content.decode() for file in files if file.name == row["file"])
    gates = [row for row in table.values() if row["what"].startswith("gate,")]
    assert [row["post_number"] for row in gates] == ["A012", "A013"]  # post centres of the plan made by hand
    begins = next(row for row in table.values() if row["what"].startswith("H1 overhead power begins"))
    assert (begins["run"], begins["post_number"]) == ("A1", "A006 to A007")


def test_no_cell_of_the_name_table_is_a_formula(register_plan: Plan) -> None:
    hazards = register_plan.hazards.assign(hazard_id="=cmd|' /C calc'!A0")
    plan = dataclasses.replace(register_plan, hazards=hazards)
    for row in csv.reader(io.StringIO(name_table(plan, waypoint_files(plan)).decode("utf-8-sig"))):
        assert not any(cell.startswith(("=", "+", "@")) for cell in row)


def test_every_name_is_a_thousand_files_and_more() -> None:
    assert {"waypoints.gpx", "lines.gpx", "posts_1.gpx", "waypoints_0999.gpx", "waypoints_99.gpx"} <= every_name()
    assert "waypoints_0.gpx" not in every_name()

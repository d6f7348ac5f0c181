"""What hazard steps found, on the map: at its true place, with its words."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pytest
import shapely

from fencegis.exports.courses import Courses
from fencegis.exports.map.found import TREES, clearing_rows, found_data, tree_rows, unchecked_rows
from fencegis.exports.map.layers import Wgs84
from fencegis.exports.post_places import PostPlaces

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def _wgs84(plan: Plan) -> Wgs84:
    return Wgs84(plan.crs, plan.site.grid.centre_lon_deg)


def _trees(plan: Plan) -> list[dict[str, object]]:
    return tree_rows(plan, _wgs84(plan), Courses(plan), PostPlaces(plan))


def test_trees_stand_off_the_line_as_far_as_the_plan_says_and_on_that_side(register_plan: Plan) -> None:
    rows, courses = _trees(register_plan), Courses(register_plan)
    assert [row["what"] for row in rows] == ["go", "limb", "keep", "look"]
    trees = register_plan.trees
    places = courses.beside("A", trees["chainage_m"].to_numpy(), trees["offset_m"].to_numpy())
    assert [row["at"] for row in rows] == _wgs84(register_plan).of_points(places).tolist()
    assert set(TREES) == {"to go", "to limb", "to keep", "to look at"}
    say = rows[0]["say"]
    assert say["title"] == "Tree T01: to go"  # type: ignore[index]
    assert "3.1\u00a0m left of it" in say["lead"]  # type: ignore[index]


def test_beyond_a_corner_a_tree_stands_where_the_data_has_it(register_plan: Plan) -> None:
    corner = Courses(register_plan).points("A", [72.0])[0]
    stem = shapely.Point(corner[0] + 3.0, corner[1] - 5.0)
    trees = register_plan.trees.iloc[:1].assign(
        feature="feature 9", chainage_m=72.0, offset_m=stem.distance(shapely.Point(corner))
    )
    trees = trees.set_geometry([shapely.Point(corner)])
    given = gpd.GeoDataFrame({"feature": ["feature 9"], "name": [None]}, geometry=[stem], crs=register_plan.crs)
    plan = replace(register_plan, trees=trees, site=replace(register_plan.site, trees=given))
    assert _trees(plan)[0]["at"] == _wgs84(plan).of_points(np.array([[stem.x, stem.y]])).tolist()[0]


def test_clearing_lies_on_its_side_as_wide_as_said(register_plan: Plan) -> None:
    rows = clearing_rows(register_plan, _wgs84(register_plan))
    assert [row["density"] for row in rows] == ["dense", "open", "open"]
    course = Courses(register_plan)
    for row, one in zip(rows, register_plan.clearing.itertuples(), strict=True):
        outline = shapely.Polygon([(lon, lat) for lat, lon in row["at"]])
        middle = (one.from_m + one.to_m) / 2.0
        for share, inside in ((0.5, True), (1.5, False), (-0.5, False)):
            off = one.width_m * share * (1.0 if one.side == "right" else -1.0)
            ((lat, lon),) = _wgs84(register_plan).of_points(course.beside("A", [middle], [off])).tolist()
            assert outline.contains(shapely.Point(lon, lat)) == inside


def test_a_crossing_tells_span_drop_angle_and_how_it_is_fenced(register_plan: Plan) -> None:
    (row,) = found_data(register_plan, _wgs84(register_plan))["crossings"]
    facts = dict(row["say"]["facts"])
    assert facts["Fenced by"].startswith("a swinging panel hung from end assemblies")
    assert (facts["Span, bank to bank"], facts["Drop of the bed below the line"]) == ("10.0\u00a0m", "1.5\u00a0m")
    assert facts["Angle to the flow"] == "71°"
    assert "Flood level over the bed" not in facts
    courses = Courses(register_plan)
    assert row["bed"] == _wgs84(register_plan).of_points(courses.points("B", [10.0])).tolist()[0]


def test_air_and_ways_say_what_is_known(register_plan: Plan) -> None:
    data = found_data(register_plan, _wgs84(register_plan))
    assert [row["id"] for row in data["headroom"]] == ["2.4\u00a0m", "?"]
    assert dict(data["headroom"][1]["say"]["facts"])["Least air under limbs"] == "not known"
    (way,) = data["access"]
    assert dict(way["say"]["facts"])["Room left"] == "1.9\u00a0m"
    assert way["say"]["title"] == "Way for the machine: narrow"


def test_stretches_not_checked_tile_what_the_checks_leave_out(register_plan: Plan) -> None:
    data = unchecked_rows(register_plan, _wgs84(register_plan), Courses(register_plan))
    kinds = {kind for kind, _ in data["answers"]}
    assert "Overhead power lines" not in kinds
    assert {"Creeks and drains", "Side slope"} <= kinds
    void = [row for row in data["rows"] if row["where"] == "Line A, 96.0\u00a0m to 110.0\u00a0m."]
    said = {tuple(data["answers"][place]) for place in void[0]["has"]}
    assert ("Side slope", "no ground heights here") in said
    assert all(row["has"] == sorted(set(row["has"])) for row in data["rows"])


def test_a_plan_without_any_has_empty_layers(small_plan: Plan) -> None:
    data = found_data(small_plan, _wgs84(small_plan))
    assert [data[name] for name in ("crossings", "trees", "clearing", "headroom", "access")] == [[]] * 5


@pytest.mark.parametrize("name", ["crossings", "trees", "clearing", "headroom", "access"])
def test_every_text_of_a_file_stays_on_one_line(register_plan: Plan, name: str) -> None:
    frame = getattr(register_plan, name)
    plan = replace(register_plan, **{name: frame.assign(basis="one\ntwo\u202ethree")} if "basis" in frame else {})
    for row in found_data(plan, _wgs84(plan))[name]:
        assert not any("\n" in text or "\u202e" in text for _, text in row["say"]["facts"])

"""The long section's arrays for the map's page, read back and held against the plan's own tables."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely

from fencegis.exports.courses import Courses
from fencegis.exports.map.layers import Wgs84
from fencegis.exports.map.section import course, section_lines

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def _lines(plan: Plan) -> list[dict[str, Any]]:
    return section_lines(plan, Wgs84(plan.crs, plan.site.grid.centre_lon_deg))


def _heights(line: dict[str, Any], name: str) -> tuple[np.ndarray, np.ndarray]:
    chainage = np.cumsum(line[name]["m"]) / 100.0
    height = np.array([np.nan if step is None else line["low"] + step / 100.0 for step in line[name]["h"]])
    return chainage, height


def test_every_line_is_there_with_its_course(small_plan: Plan) -> None:
    lines, courses = _lines(small_plan), Courses(small_plan)
    assert [line["id"] for line in lines] == small_plan.runs["line_id"].drop_duplicates().tolist()
    where = Wgs84(small_plan.crs, small_plan.site.grid.centre_lon_deg)
    for line in lines:
        expected = where.of_points(courses.points(line["id"], line["way"]["m"]))
        assert np.abs(np.array(line["way"]["at"]) - expected).max() < 3e-8
        assert line["way"]["m"] == sorted(line["way"]["m"])


def test_chainage_on_an_arc_is_the_arcs_and_not_its_chords(small_plan: Plan) -> None:
    angle = np.linspace(0.0, np.pi / 2, 9)
    bent = shapely.LineString(100.0 * np.column_stack([np.sin(angle), 1.0 - np.cos(angle)]))
    runs = small_plan.runs.iloc[:1].assign(from_m=10.0, to_m=10.0 + 50.0 * np.pi).set_geometry([bent])
    _, chainage = course(runs)
    assert chainage == pytest.approx(10.0 + 100.0 * angle)


def test_heights_are_the_plans_to_a_few_centimetres(small_plan: Plan) -> None:
    for line in _lines(small_plan):
        profile = small_plan.profile[small_plan.profile["line_id"] == line["id"]]
        for name, column, within in (("ground", "ground_m", 0.045), ("fitted", "fitted_m", 0.013)):
            chainage, height = _heights(line, name)
            told = np.interp(profile["chainage_m"], chainage, height)
            assert np.abs(told - profile[column]).max() < within, name


def test_what_is_not_known_stays_a_gap(small_plan: Plan) -> None:
    line_id = small_plan.runs["line_id"].iloc[0]
    here = (small_plan.profile["line_id"] == line_id) & small_plan.profile["chainage_m"].between(40.0, 60.0)
    assert here.sum() > 1
    profile = small_plan.profile.copy()
    profile.loc[here, ["ground_m", "fitted_m"]] = np.nan
    line = _lines(replace(small_plan, profile=profile))[0]
    chainage, height = _heights(line, "fitted")
    gap = chainage[np.isnan(height)]
    assert ((gap >= 40.0) & (gap <= 60.0)).sum() == 1
    assert any(kind == "unknown" for _, _, kind, _ in line["breaks"])
    bare = _lines(replace(small_plan, profile=profile.iloc[:0]))[0]
    assert bare["low"] is None
    assert bare["ground"] == {"m": [], "h": []}


def test_posts_and_bays_are_those_of_the_line(small_plan: Plan) -> None:
    for line in _lines(small_plan):
        bays = small_plan.bays[small_plan.bays["line_id"] == line["id"]]
        rows = np.cumsum(line["posts"]["row"])
        names = small_plan.posts["post_id"].to_numpy()[rows]
        chainage = np.cumsum(line["posts"]["m"]) / 100.0
        assert set(names) == set(bays["from_post"]) | set(bays["to_post"])
        assert line["posts"]["bay"].count("1") == bays["from_m"].nunique()
        expected = dict(zip(bays["from_post"], bays["from_m"], strict=True)) | dict(
            zip(bays["to_post"], bays["to_m"], strict=True)
        )
        assert chainage == pytest.approx([expected[name] for name in names], abs=0.006)


def test_flags_crossings_and_marks_carry_their_names(register_plan: Plan) -> None:
    lines = _lines(register_plan)
    assert {flag["id"] for line in lines for flag in line["flags"]} == set(register_plan.hazards["hazard_id"])
    assert {one["id"] for line in lines for one in line["crossings"]} == set(register_plan.crossings["crossing_id"])
    kinds = {kind for line in lines for _, _, kind, _ in line["stands"]}
    assert {"corner", "gate", "strainer"} <= kinds

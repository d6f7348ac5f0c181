"""Places on, beside and along the planned lines."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from fencegis.exports.courses import Courses

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def test_places_beside_the_line_are_square_off_it_right_positive(small_plan: Plan) -> None:
    courses = Courses(small_plan)
    on = courses.points("A", [30.0])[0]
    east, north = math.sin(math.radians(80.0)), math.cos(math.radians(80.0))
    assert courses.beside("A", [30.0], [4.0])[0] == pytest.approx(on + 4.0 * np.array([north, -east]))
    assert courses.beside("A", [30.0], [-4.0])[0] == pytest.approx(on - 4.0 * np.array([north, -east]))


def test_at_a_corner_a_place_is_off_on_the_bisector(small_plan: Plan) -> None:
    courses = Courses(small_plan)
    corner = courses.points("A", [72.0])[0]
    middle = math.radians((80.0 + 125.0) / 2.0 + 90.0)
    assert courses.beside("A", [72.0], [5.0])[0] == pytest.approx(
        corner + 5.0 * np.array([math.sin(middle), math.cos(middle)]), abs=1e-6
    )


def test_stations_are_those_of_the_posts(small_plan: Plan) -> None:
    courses = Courses(small_plan)
    posts = small_plan.posts[small_plan.posts["line_id"] == "A"]
    assert courses.points("A", posts["chainage_m"].to_numpy()) == pytest.approx(
        shapely.get_coordinates(posts.geometry.to_numpy())
    )
    piece = courses.piece("A", 60.0, 80.0)
    assert piece.length == pytest.approx(20.0)
    assert len(piece.coords) == 3  # it goes round the corner


def test_chainage_of_an_arc_is_matched_though_chords_are_shorter(small_plan: Plan) -> None:
    turns = np.linspace(0.0, math.pi / 2.0, 5)
    radius = 120.0 / (math.pi / 2.0)
    arc = shapely.LineString(np.column_stack([radius * np.sin(turns), radius * (1.0 - np.cos(turns))]))
    runs = small_plan.runs.iloc[:1].assign(to_m=120.0).set_geometry([arc])
    courses = Courses(replace(small_plan, runs=runs))
    assert arc.length < 120.0
    assert courses.points("A", [120.0])[0] == pytest.approx([radius, radius])
    assert courses.points("A", [60.0])[0] == pytest.approx(arc.interpolate(0.5, normalized=True).coords[0])

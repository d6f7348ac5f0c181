"""What is said about pegs, unknown ground and what was seen on the walk."""

from dataclasses import replace
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from fencegis.line.course import course_of
from fencegis.line.network import network
from fencegis.line.site_notes import notes_on_ground, notes_on_pegs, walked_notes
from fencegis.records.notes import Note
from fencegis.records.site import DrawnLine
from fencegis.records.spec import Spec


@pytest.fixture
def course():
    drawn = DrawnLine("A", "", "feature 1", "wire", None, False, np.array([[0.0, 0.0], [100.0, 0.0]]), 1.0)
    (planned,) = network([drawn], pegs=np.zeros((0, 2)), spec=Spec()).lines

    def ground(points):
        return np.where((points[:, 0] > 30) & (points[:, 0] < 50), np.nan, 12.0)

    return course_of(planned, nodes={}, owned=frozenset(), ground=ground, cell_m=1.0, vertical_error_m=0.15)


def layer(**columns):
    points = columns.pop("at")
    return gpd.GeoDataFrame(columns, geometry=[shapely.Point(point) for point in points])


def test_unknown_ground_is_told_from_where_to_where(course):
    site = SimpleNamespace(terrain=SimpleNamespace(cell_m=1.0), spec=Spec())
    (note,) = notes_on_ground([course], site=site)
    assert note.text == "no ground height from 30.0 m to 50.0 m: grades not checked, length counted as level"
    assert (note.severity, note.line_id, note.chainage_m) == ("doubt", "A", 30.0)


def test_a_raster_coarser_than_the_posts_says_so(course):
    site = SimpleNamespace(terrain=SimpleNamespace(cell_m=30.0), spec=Spec())
    assert notes_on_ground([course], site=site)[-1].text.startswith("cells of 30 m are coarser than the posts (5.0 m)")


def test_no_elevation_needs_no_note_of_its_own(course):
    assert notes_on_ground([replace(course)], site=SimpleNamespace(terrain=None, spec=Spec())) == []


def test_a_post_that_would_stand_on_a_survey_mark_is_told(course):
    posts = pd.DataFrame({"line_id": ["A", "A"], "chainage_m": [0.0, 5.0], "post_id": ["A-001", "A-002"]})
    pegs = layer(
        at=[(0, 0), (50, 1.2), (5, 0.1)],
        kind=["survey", "found", "agreed"],
        feature=["feature 1", "feature 2", "feature 3"],
    )
    on_it, beside, agreed = notes_on_pegs([course], posts, pegs=pegs)
    assert on_it.severity == "doubt"
    assert "post A-001 would stand on it: keep the mark, set the post 0.5 m clear" in on_it.text
    assert beside.text == "pegs.geojson, feature 2: found peg, 1.20 m left of the planned line"
    assert agreed.severity == "seen"
    assert notes_on_pegs([course], posts, pegs=None) == []


def test_what_was_seen_on_the_walk_lands_at_its_chainage(course):
    walk = layer(at=[(20, -3), (60, 0.2), (70, 90)], kind=["wet", "rock", "photo"], text=["soft", None, "the gate"])
    assert walked_notes([course], walk=walk) == [
        Note("seen", "wet: soft (3 m right)", "A", 20.0),
        Note("seen", "rock", "A", 60.0),
        Note("seen", "photo: the gate (90 m left)", "A", None),
    ]


def test_a_ditch_too_short_to_fit_is_told():
    drawn = DrawnLine("A", "", "feature 1", "wire", None, False, np.array([[0.0, 0.0], [300.0, 0.0]]), 1.0)
    (planned,) = network([drawn], pegs=np.zeros((0, 2)), spec=Spec()).lines

    def ground(points):
        return 20.0 - 1.4 * (np.abs(points[:, 0] - 120.0) < 1.5)

    ditched = course_of(planned, nodes={}, owned=frozenset(), ground=ground, cell_m=1.0, vertical_error_m=0.4)
    site = SimpleNamespace(terrain=SimpleNamespace(cell_m=1.0), spec=Spec())
    (note,) = notes_on_ground([ditched], site=site)
    assert note.text == "ground 1.4 m below the fitted grades: look for a drain"
    assert note.chainage_m == pytest.approx(120.0, abs=1.5)

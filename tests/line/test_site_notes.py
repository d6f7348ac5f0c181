"""What is said about pegs, unknown ground and what was seen on the walk."""

import re
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
from fencegis.line.zones import SoilSpan
from fencegis.records.notes import Note
from fencegis.records.site import DrawnLine
from fencegis.records.spec import Spec
from fencegis.records.terrain import Terrain


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
    site = SimpleNamespace(terrain=Terrain((), 1.0), spec=Spec())
    note = notes_on_ground([course], site=site)[0]
    assert note.text == "no ground height from 30.0 m to 50.0 m: grades not checked, length counted as level"
    assert (note.severity, note.line_id, note.chainage_m) == ("doubt", "A", 30.0)


def test_a_raster_coarser_than_the_posts_says_so(course):
    site = SimpleNamespace(terrain=Terrain((), 30.0), spec=Spec())
    said = notes_on_ground([course], site=site)[-1].text
    assert said.startswith("cells of 30 m are coarser than the posts (5.0 m)")
    for what in ("better than a cell", "Lift, gaps under the fence", "held back", "at least what is given"):
        assert what in said


@pytest.mark.parametrize("cell", [1.0, 5.0, 12.0])
def test_the_length_along_the_ground_is_held_against_heights_joined_up(cell):
    """A known slope with a known wobble: the fitted length is the slope's, the joined-up ones by plain trigonometry."""
    drawn = DrawnLine("A", "", "feature 1", "wire", None, False, np.array([[0.0, 0.0], [600.0, 0.0]]), 1.0)
    (planned,) = network([drawn], pegs=np.zeros((0, 2)), spec=Spec()).lines

    def height(along):
        return 0.3 * along + 0.2 * np.sin(1.3 * along)

    sloping = course_of(
        planned,
        nodes={},
        owned=frozenset(),
        ground=lambda points: np.where(points[:, 0] > 500.0, np.nan, height(points[:, 0])),
        cell_m=cell,
        vertical_error_m=0.3,
    )
    (band,) = [
        note.text
        for note in notes_on_ground([sloping], site=SimpleNamespace(terrain=Terrain((), cell), spec=Spec()))
        if note.text.startswith("length along")
    ]
    known_m = sloping.grades.unknown_m[0][0]
    parts = []
    for step in (1.0, 5.0, 10.0):
        chainage = np.linspace(0.0, known_m, round(known_m / step) + 1)
        parts.append(np.hypot(np.diff(chainage), np.diff(height(chainage))).sum())
    fitted, *joined = (float(number) for number in re.findall(r"(\d+\.\d)(?= m| /)", band))
    assert fitted == pytest.approx(known_m * np.hypot(1.0, 0.3), abs=1.5)
    assert joined[0] == pytest.approx(parts[0], abs=0.1)  # the wobble, joined up every metre
    if cell < 10.0:
        assert joined[1:] == pytest.approx(parts[1:], abs=1.5)
    assert band.endswith(f"; {600.0 - known_m:.0f} m of unknown ground left out")


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
    assert "post A-001 would stand on it: keep the mark, set the post 0.5 m off it" in on_it.text
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


def test_what_was_seen_is_held_against_the_soil_zone_beside_the_line(course):
    walk = layer(at=[(20, 2), (60, 14), (60, 16), (90, 0)], kind=["rock"] * 4, text=["ledge"] * 4)
    zones = {"A": (SoilSpan(0.0, 30.0, "rock"), SoilSpan(30.0, 80.0, "loam"), SoilSpan(80.0, 100.0, None))}
    agrees, against, too_far, nobody = (note.text for note in walked_notes([course], walk=walk, zones=zones))
    assert agrees == "rock: ledge (2 m left)"
    assert "(14 m left) – soils.geojson has loam here: the ground counts, dig a test hole" in against
    assert too_far == "rock: ledge (16 m left)"
    assert nobody == "rock: ledge – no soil zone covers this place"


def test_a_ditch_too_short_to_fit_is_told():
    drawn = DrawnLine("A", "", "feature 1", "wire", None, False, np.array([[0.0, 0.0], [300.0, 0.0]]), 1.0)
    (planned,) = network([drawn], pegs=np.zeros((0, 2)), spec=Spec()).lines

    def ground(points):
        return 20.0 - 1.4 * (np.abs(points[:, 0] - 120.0) < 1.5)

    ditched = course_of(planned, nodes={}, owned=frozenset(), ground=ground, cell_m=1.0, vertical_error_m=0.4)
    site = SimpleNamespace(terrain=Terrain((), 1.0), spec=Spec())
    note = notes_on_ground([ditched], site=site)[0]
    assert note.text == "ground 1.4 m below the fitted grades: look for a drain"
    assert note.chainage_m == pytest.approx(120.0, abs=1.5)

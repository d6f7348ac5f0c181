"""Power lines over the way in, at travelling height; and where a track is steepest."""

from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pytest
import shapely

from fencegis.hazards.found import Scene
from fencegis.hazards.ways import notes_on_ways
from fencegis.records.spec import Spec

TRACK = shapely.LineString([(0.0, 50.0), (60.0, 50.0)])
WIRE = shapely.LineString([(30.0, 0.0), (30.0, 100.0)])
MACHINE = {"working_height_m": 5.2, "reach_m": 2.0, "travel_height_m": 3.0, "width_m": 1.6}


def notes(machine=MACHINE, height_m=8.5, ground=lambda points: 0.1 * points[:, 0], tracks=(TRACK,)):
    spec = Spec.model_validate(
        {
            "machine": machine,
            "boundary": {"drawn_from": "survey", "position_error_m": 0.0},
            "elevation": {"vertical_error_m": 1e-9},
            "rules": {"approach": "nsw-2006"},
        }
    )
    own = {"feature": "feature 1", "kind": "power", "voltage_kv": 11.0, "height_m": height_m, "sag_m": np.nan}
    own |= {"half_width_m": 0.0, "height_error_m": 0.0, "swing_m": 0.0, "support": "pole", "insulated": False}
    overhead = gpd.GeoDataFrame([own], geometry=[WIRE])
    layer = gpd.GeoDataFrame({"feature": [f"feature {n}" for n, _ in enumerate(tracks, 1)]}, geometry=list(tracks))
    site = SimpleNamespace(spec=spec, overhead=overhead, tracks=layer)
    return [note.text for note in notes_on_ways(Scene([], site, ground))]


def test_the_way_in_is_looked_at_with_the_mast_down():
    assert not any("power" in text for text in notes())  # 5.5 m are left over 3 m
    (text,) = [text for text in notes(height_m=5.5) if "power" in text]
    assert "2.4 m left" in text or "2.5 m left" in text  # the rim of the machine stands on higher ground
    assert "3 m asked for" in text
    assert "at its travelling height" in text


def test_without_a_travelling_height_the_machine_counts_as_it_works():
    own = {name: value for name, value in MACHINE.items() if name != "travel_height_m"}
    (text,) = [text for text in notes(machine=own, height_m=8.0) if "power" in text]
    assert "its travelling height not given" in text
    assert "a machine of 5.2 m" in text


def test_the_steepest_of_a_track_is_told_where_there_are_heights():
    ground = lambda points: np.interp(points[:, 0], [30.0, 38.0, 50.0], [0.0, 2.4, 4.0])  # noqa: E731
    (text,) = [text for text in notes(ground=ground, height_m=30.0) if "steepest" in text]
    assert "steepest 30 % over 8 m, from 30 m along it" in text
    unknown = notes(ground=lambda points: np.full(len(points), np.nan), height_m=30.0)
    (text,) = [text for text in unknown if "no ground" in text]
    assert "its steepness is not checked" in text


def test_no_track_no_note():
    assert notes(tracks=()) == []
    site = SimpleNamespace(tracks=None)
    assert notes_on_ways(Scene([], site, None)) == []


@pytest.mark.parametrize("short", [shapely.LineString([(0.0, 0.0), (0.5, 0.0)])])
def test_a_track_shorter_than_a_step_is_none(short):
    assert notes(tracks=(short,)) == []

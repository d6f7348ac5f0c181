"""Soil along a line: where zones begin and end, which of two counts, and what nobody drew."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from fencegis.catalogue import rows
from fencegis.line.chainage import Line, points_at
from fencegis.line.zones import SoilSpan, against_zone, notes_on_soils, soil_names, soil_spans, soils_at

if TYPE_CHECKING:
    from collections.abc import Sequence

BENT = Line("A", False, np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 100.0)]))
LOOP = Line("L", True, np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)]))
Box = tuple[str, float, float, float, float]


def zones(*boxes: Box) -> gpd.GeoDataFrame:
    shapes = [shapely.box(*sides) for _, *sides in boxes]
    return gpd.GeoDataFrame({"soil": [soil for soil, *_ in boxes]}, geometry=shapes)


def told(line: Line, *boxes: Box) -> list[tuple[float, float, str | None]]:
    return [(round(span.from_m, 6), round(span.to_m, 6), span.soil) for span in soil_spans(line, soils=zones(*boxes))]


def test_a_zone_begins_and_ends_exactly_where_the_line_crosses_its_edge() -> None:
    slanted = shapely.Polygon([(30, -10), (50, 10), (60, 10), (60, -10)])  # its edge crosses the line at 40
    spans = soil_spans(BENT, soils=gpd.GeoDataFrame({"soil": ["clay"]}, geometry=[slanted]))
    assert [(span.from_m, span.to_m, span.soil) for span in spans] == [
        (0.0, pytest.approx(40.0, abs=1e-9), None),
        (pytest.approx(40.0, abs=1e-9), pytest.approx(60.0, abs=1e-9), "clay"),
        (pytest.approx(60.0, abs=1e-9), 200.0, None),
    ]


def test_a_zone_round_a_corner_is_one_stretch() -> None:
    assert told(BENT, ("loam", 80, -20, 120, 30)) == [(0, 80, None), (80, 130, "loam"), (130, 200, None)]


def test_a_zone_with_a_hole_is_cut_by_it() -> None:
    ring = shapely.Polygon(shapely.box(10, -20, 90, 20).exterior, [shapely.box(40, -5, 50, 5).exterior.coords])
    spans = soil_spans(BENT, soils=gpd.GeoDataFrame({"soil": ["loam"]}, geometry=[ring]))
    assert [span.soil for span in spans] == [None, "loam", None, "loam", None]
    assert (spans[2].from_m, spans[2].to_m) == (40.0, 50.0)


def test_where_zones_overlap_the_softer_is_taken_whatever_their_order() -> None:
    firm, soft = ("rock", -10.0, -10.0, 60.0, 10.0), ("sand", 40.0, -10.0, 110.0, 110.0)
    assert told(BENT, firm, soft) == told(BENT, soft, firm) == [(0, 40, "rock"), (40, 200, "sand")]


def test_neighbours_of_one_soil_are_one_stretch_and_a_sliver_between_goes_to_the_softer() -> None:
    assert told(BENT, ("loam", -1, -1, 50, 1), ("loam", 50, -1, 101, 101)) == [(0, 200, "loam")]
    assert told(BENT, ("rock", -1, -1, 50, 1), ("sand", 50.04, -1, 101, 101)) == [(0, 50, "rock"), (50, 200, "sand")]


def test_a_zone_that_only_touches_the_line_is_not_on_it() -> None:
    assert told(BENT, ("clay", 20, 0, 40, 0.0001), ("rock", 150, 0, 160, 9))[1] == (20, 40, "clay")  # along its edge
    assert told(BENT, ("clay", -20, -20, 0, 0)) == [(0, 200, None)]  # at a point


def test_no_span_of_a_loop_crosses_its_start() -> None:
    assert told(LOOP, ("sand", -20, -20, 20, 20)) == [(0, 20, "sand"), (20, 380, None), (380, 400, "sand")]


@pytest.mark.parametrize("given_soils", [None, zones()])
def test_without_zones_nothing_is_known(given_soils: gpd.GeoDataFrame | None) -> None:
    assert soil_spans(BENT, soils=given_soils) == (SoilSpan(0.0, 200.0, None),)


SIDE = st.integers(-30, 130)


SIZE = st.integers(5, 60)


@given(st.lists(st.tuples(st.sampled_from(soil_names()), SIDE, SIDE, SIZE, SIZE), max_size=6))
def test_every_station_has_the_softest_of_the_zones_it_lies_in(
    made: Sequence[tuple[str, int, int, int, int]],
) -> None:
    """Against a plain twin that asks each zone about each place."""
    boxes = [(soil, east, north, east + wide, north + high) for soil, east, north, wide, high in made]
    spans = soil_spans(LOOP, soils=zones(*boxes))
    assert spans[0].from_m == 0.0
    assert spans[-1].to_m == LOOP.length_m
    assert all(one.to_m == other.from_m and one.soil != other.soil for one, other in pairwise(spans))
    chainage = np.arange(0.5, 400.0, 1.0)  # whole metres are edges
    ours = soils_at(pd.DataFrame({"line_id": "L", "chainage_m": chainage}), {"L": spans})
    for place, soil in zip(points_at(LOOP, chainage), ours, strict=True):
        inside = [name for name, west, south, *far in boxes if west < place[0] < far[0] and south < place[1] < far[1]]
        if any(place[axis] in box[1 + axis :: 2] for box in boxes for axis in (0, 1)):
            continue  # a zone whose edge lies along the line
        assert soil == max(inside, key=soil_names().index, default=None)


def test_a_post_on_an_edge_takes_the_softer_and_one_beside_unknown_ground_is_unknown() -> None:
    spans = {"A": soil_spans(BENT, soils=zones(("rock", -1, -1, 50, 1), ("sand", 50, -1, 101, 20)))}
    stations = pd.DataFrame({"line_id": "A", "chainage_m": [0.0, 49.0, 50.0, 51.0, 120.0, 121.0, 200.0]})
    assert soils_at(stations, spans).tolist() == ["rock", "rock", "sand", "sand", None, None, None]


def test_soils_stand_from_the_firmest_to_the_softest() -> None:
    """Softer is what a brace stands deeper in; among equals what bears less."""
    depth = {row["id"]: float(row["in_ground_m"]) for row in rows("embedment")}
    order = [(depth[row["brace_rule"]], -float(row["lateral_kpa_m"] or 0.0)) for row in rows("soils")]
    assert order == sorted(order)


def test_what_no_zone_covers_is_told_in_metres() -> None:
    spans = {"A": soil_spans(BENT, soils=zones(("rock", 20, -1, 50, 1))), "L": (SoilSpan(0.0, 400.0, "loam"),)}
    (note,) = notes_on_soils(spans, given=True, assumed="sand")
    assert note.line_id == "A"
    assert note.severity == "doubt"
    assert note.text.startswith("soils.geojson covers no soil along 170 m (0 to 20 m, 50 to 200 m): not checked; ")
    assert "rest on sand, the deeper assumption" in note.text


def test_without_a_file_one_note_is_for_all_lines() -> None:
    spans = {line.line_id: soil_spans(line, soils=None) for line in (BENT, LOOP)}
    (note,) = notes_on_soils(spans, given=False, assumed="sand")
    assert note.text.startswith("no soils.geojson: soil is not checked along 600 m;")


@pytest.mark.parametrize(
    ("kind", "text", "soil", "said"),
    [
        ("rock", "ledge at 0.3 m", "rock", ""),
        ("rock", None, "crystalline rock", ""),
        ("rock", None, "loam", "soils.geojson has loam here"),
        ("wet", None, "bog", ""),
        ("wet", None, "sand", "soils.geojson has sand here"),
        ("soil", "Deep loam over clay", "clay", ""),
        ("soil", "Deep loam", "rock", "soils.geojson has rock here"),
        ("soil", "sandstone, by the look of it", "rock", ""),  # names no soil of ours
        ("soil", "deep loam", None, "no soil zone covers this place"),
        ("tree", "in the sand", None, ""),
        ("access", "rock", "loam", ""),
    ],
)
def test_what_was_seen_is_held_against_the_zone(kind: str, text: str | None, soil: str | None, said: str) -> None:
    found = against_zone(kind, text, soil)
    assert found.startswith(said)
    assert bool(found) == bool(said)

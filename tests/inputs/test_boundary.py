from __future__ import annotations

import json
import time
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from fencegis.inputs.boundary import BoundaryRead, drawn_lines, read_boundary
from fencegis.inputs.crs import WGS84, geographic, moved, working_grid
from fencegis.records.spec import Boundary, Fence, Spec

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

Read = "Callable[..., BoundaryRead]"
CRS_7855 = {"type": "name", "properties": {"name": "EPSG:7855"}}


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., BoundaryRead]:
    def read_it(holds: Any, *, spec: Spec | None = None, datum: str | None = None) -> BoundaryRead:
        path = tmp_path / "boundary.geojson"
        data = holds if isinstance(holds, str | bytes) else json.dumps(holds)
        path.write_bytes(data if isinstance(data, bytes) else data.encode())
        return read_boundary(path, spec=spec or Spec(), datum=datum and geographic(datum))

    return read_it


def told(done: BoundaryRead) -> list[str]:
    return [str(problem) for problem in done.problems]


def noted(done: BoundaryRead) -> list[str]:
    assert not done.problems, told(done)
    return [f"{note.severity}: {note.text}" for note in done.notes]


def drawn(done: BoundaryRead) -> Any:
    assert not done.problems, told(done)
    assert done.datum
    lonlat = np.vstack([line.lonlat_deg for line in done.lines])
    return drawn_lines(done.lines, working_grid(lonlat, datum=done.datum, height_m=0.0), sigma_m=1.0)


def test_a_line_string(read, layer, feature, place):
    said = {"name": "North side", "kind": "wire", "label": "agreed"}
    done = read(layer(feature("LineString", [place(0, 0), place(200, 0)], **said)))
    (line,) = drawn(done)
    assert (line.line_id, line.name, line.feature) == ("A", "North side", "feature 1 (North side)")
    assert (line.kind, line.label, line.closed, line.sigma_m) == ("wire", "agreed", False, 1.0)
    assert np.diff(line.vertices, axis=0) == pytest.approx(np.array([[200.0, 0.0]]), abs=0.01)
    assert noted(done) == []


def test_every_part_and_ring_is_a_line_named_in_file_order(read, layer, feature, place):
    def box(east, north, size):
        corners = [(0, 0), (size, 0), (size, size), (0, size), (0, 0)]
        return [place(east + e, north + n) for e, n in corners]

    done = read(
        layer(
            feature("MultiLineString", [[place(0, 0), place(9, 0)], [place(0, 5), place(9, 5)]]),
            feature("Polygon", [box(0, 100, 90), box(20, 120, 30)], line_id=7),
            feature("LineString", [place(0, -50), place(9, -50)], line_id="C"),
        )
    )
    assert [problem.fault for problem in done.problems] == ["line_id “7” is that of feature 2, part 1 too."]
    assert done.problems[0].feature == "feature 2, part 2"
    done = read(
        layer(
            feature("MultiLineString", [[place(0, 0), place(9, 0)], [place(0, 5), place(9, 5)]]),
            feature("MultiPolygon", [[box(0, 100, 90), box(20, 120, 30)], [box(200, 100, 9)]]),
            feature("LineString", [place(0, -50), place(9, -50)], line_id="C"),
        )
    )
    lines = drawn(done)
    assert [line.line_id for line in lines] == ["A", "B", "D", "E", "F", "C"]
    assert [line.closed for line in lines] == [False, False, True, True, True, False]
    assert [len(line.vertices) for line in lines] == [2, 2, 4, 4, 4, 2]
    assert lines[3].feature == "feature 2, part 2"


def test_after_z_comes_aa(read, layer, feature, place):
    done = read(layer(*(feature("LineString", [place(0, n), place(50, n)]) for n in range(28))))
    assert [line.line_id for line in done.lines][25:] == ["Z", "AA", "AB"]


def test_a_bare_geometry_and_a_single_feature_will_do(read, feature, place):
    ends = [place(0, 0), place(50, 0)]
    assert len(drawn(read({"type": "LineString", "coordinates": ends}))) == 1
    assert len(drawn(read(feature("LineString", ends)))) == 1


def test_a_byte_order_mark_does_no_harm(read, layer, feature, place):
    text = json.dumps(layer(feature("LineString", [place(0, 0), place(50, 0)])))
    assert len(drawn(read(b"\xef\xbb\xbf" + text.encode()))) == 1


class TestLoops:
    def test_ends_in_one_place(self, read, layer, feature, place):
        ring = [place(0, 0), place(90, 0), place(90, 90), place(0, 0)]
        done = read(layer(feature("LineString", ring)))
        assert noted(done) == []
        assert drawn(done)[0].closed
        assert len(drawn(done)[0].vertices) == 3

    def test_ends_within_what_touches(self, read, layer, feature, place):
        ring = [place(0, 0), place(90, 0), place(90, 90), place(1, -1)]
        done = read(layer(feature("LineString", ring)))
        assert drawn(done)[0].closed
        (note,) = done.notes
        assert note.text == (
            "boundary.geojson, feature 1: its ends are 1.41 m apart, within 2.00 m, so it is taken as a loop."
        )
        assert (note.severity, note.line_id) == ("repair", "A")

    def test_ends_further_apart_stay_open(self, read, layer, feature, place):
        ring = [place(0, 0), place(90, 0), place(90, 90), place(1, 2)]
        assert not drawn(read(layer(feature("LineString", ring))))[0].closed
        survey = Spec(boundary=Boundary(drawn_from="survey"))
        ring[-1] = place(0.5, 0.5)
        assert not drawn(read(layer(feature("LineString", ring)), spec=survey))[0].closed

    def test_a_line_hardly_longer_than_what_touches_is_no_loop(self, read, layer, feature, place):
        rough = Spec(boundary=Boundary(position_error_m=10.0))
        short = [place(0, 0), place(6, 0), place(12, 1), place(12, 2)]
        assert not drawn(read(layer(feature("LineString", short)), spec=rough))[0].closed

    def test_ends_that_overshoot(self, read, layer, feature, place):
        ring = [place(0, 0), place(90, 0), place(90, 90), place(0, 90), place(0.5, -0.5)]
        line = drawn(read(layer(feature("LineString", ring))))[0]
        assert line.closed
        assert len(line.vertices) == 4


class TestRepairs:
    def test_repeated_vertices(self, read, layer, feature, place):
        done = read(layer(feature("LineString", [place(0, 0), place(0, 0), place(9, 0)], line_id="x")))
        assert noted(done) == ["repair: boundary.geojson, feature 1: repeated vertices are left out (vertex 2)."]
        assert done.notes[0].line_id == "x"

    def test_an_unclosed_ring(self, read, layer, feature, place):
        done = read(layer(feature("Polygon", [[place(0, 0), place(90, 0), place(90, 90)]])))
        assert noted(done) == ["repair: boundary.geojson, feature 1: a ring that was not closed is closed."]
        assert len(drawn(done)[0].vertices) == 3

    def test_a_spike(self, read, layer, feature, place):
        spur = [place(0, 0), place(100, 0), place(100, 40), place(100, 0), place(200, 0)]
        done = read(layer(feature("LineString", spur)))
        assert "a spike of zero width is cut off (vertex 3); if a spur is meant, draw it as a line." in noted(done)[1]
        assert len(drawn(done)[0].vertices) == 3

    def test_heights_are_left_out(self, read, layer, feature, place):
        done = read(layer(feature("LineString", [place(0, 0, 650.0), place(90, 0, 651.0)])))
        assert "heights of the vertices are left out" in noted(done)[0]
        assert drawn(done)[0].vertices.shape == (2, 2)

    def test_parts_cut_at_the_180th_meridian(self, read, layer, feature):
        done = read(
            layer(
                feature("MultiLineString", [[[179.999, 10], [180, 10.0005]], [[-180, 10.0005], [-179.999, 10.001]]]),
                feature(
                    "MultiPolygon",
                    [
                        [[[179.999, 11], [180, 11], [180, 11.001], [179.999, 11.001], [179.999, 11]]],
                        [[[-180, 11], [-179.999, 11], [-179.999, 11.001], [-180, 11.001], [-180, 11]]],
                    ],
                ),
            )
        )
        line, loop = drawn(done)
        assert (line.line_id, loop.line_id) == ("A", "B")
        assert np.hypot(*(line.vertices[-1] - line.vertices[0])) == pytest.approx(245.3, abs=0.5)
        assert np.ptp(loop.vertices, axis=0) == pytest.approx([218.6, 110.6], abs=0.3)
        assert sum("180° meridian are joined" in note for note in noted(done)) == 2

    def test_a_line_over_the_180th_meridian_that_is_not_cut(self, read, layer, feature):
        (line,) = drawn(read(layer(feature("LineString", [[179.999, 0], [-179.999, 0]]))))
        assert np.hypot(*(line.vertices[-1] - line.vertices[0])) == pytest.approx(222.6, abs=0.1)


class TestSystems:
    def test_the_older_member_names_the_datum_when_nobody_else_does(self, read, layer, feature):
        done = read(layer(feature("LineString", [[600_000, 6_098_000], [600_100, 6_098_000]]), crs=CRS_7855))
        assert done.datum == geographic("GDA2020")
        assert done.stated
        assert noted(done) == [
            "repair: boundary.geojson: the older crs member is honoured: coordinates are read as GDA2020 / MGA zone 55."
        ]
        back = moved(done.lines[0].lonlat_deg, source=done.datum, target="EPSG:7855").points
        assert back == pytest.approx(np.array([[600_000, 6_098_000], [600_100, 6_098_000]]), abs=1e-4)

    def test_and_is_brought_to_the_datum_that_the_specification_names(self, read, layer, feature):
        ends = [[600_000, 6_098_000], [600_100, 6_098_000]]
        done = read(layer(feature("LineString", ends), crs=CRS_7855), datum="WGS84")
        assert done.datum == WGS84
        assert done.operations[0].accuracy_m == 3.0
        assert any("good to 3 m only" in note for note in noted(done))

    def test_the_usual_member_of_a_map_program(self, read, layer, feature, place):
        crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
        done = read(layer(feature("LineString", [place(0, 0), place(90, 0)]), crs=crs))
        assert done.datum == WGS84
        assert done.stated

    @pytest.mark.parametrize(
        ("crs", "said"),
        [
            (None, "the crs member names no coordinate system"),
            ({"type": "link", "properties": {"href": "x"}}, "the crs member names no coordinate system"),
            ({"type": "name", "properties": {"name": "EPSG:1"}}, 'PROJ knows no coordinate system "EPSG:1"'),
            ({"type": "name", "properties": {"name": "EPSG:5773"}}, "does not rest on longitude and latitude"),
        ],
    )
    def test_a_member_that_names_nothing(self, read, layer, feature, place, crs, said):
        (fault,) = told(read(layer(feature("LineString", [place(0, 0), place(90, 0)]), crs=crs)))
        assert fault.startswith("boundary.geojson, crs: ")
        assert said in fault

    def test_numbers_outside_the_system(self, read, layer, feature):
        (fault,) = told(read(layer(feature("LineString", [[1e9, 1e9], [1e9, 2e9]]), crs=CRS_7855)))
        assert "feature 1: its coordinates lie outside GDA2020 / MGA zone 55" in fault


LINE = "feature 1 (x)"
BAD_FILES = [
    ("", "boundary.geojson: the file is empty."),
    ('{"type":\n "x",,}', "boundary.geojson, line 2, column 6: it is not JSON here"),
    ("[1, 2]", "it is JSON but not GeoJSON."),
    ('{"type": "Topology"}', "it is JSON but not a GeoJSON FeatureCollection."),
    ('{"type": "FeatureCollection", "features": {}}', "it is JSON but not a GeoJSON FeatureCollection."),
    ('{"type": "FeatureCollection", "features": []}', "it holds no feature."),
    ('{"type": "FeatureCollection", "features": [3]}', "feature 1: it is not a GeoJSON Feature."),
    ('{"a": ' + "[" * 100_000, "it is nested too deeply"),
    ('{"a": ' + "9" * 9_999 + "}", "it holds a number that cannot be read"),
    (b'{"type": "caf\xe9"}', "line 1 is not UTF-8 text."),
]
BAD_GEOMETRIES = [
    (None, "it has no geometry."),
    ({"type": "Point", "coordinates": [1, 2]}, "its geometry is Point."),
    ({"type": "GeometryCollection", "geometries": []}, "its geometry is GeometryCollection. Fix: split it"),
    ({"type": ["LineString"]}, "its geometry is ['LineString']."),
    ({"type": "LineString", "coordinates": []}, "its coordinates are empty or no list."),
    ({"type": "LineString", "coordinates": {}}, "its coordinates are empty or no list."),
    ({"type": "Polygon", "coordinates": [[]]}, "its coordinates are empty or no list."),
    ({"type": "MultiPolygon", "coordinates": [3]}, "its coordinates are empty or no list."),
    ({"type": "LineString", "coordinates": [[[[1]]], 2]}, "vertex 1: a position has fewer than two numbers."),
]
BAD_COORDINATES = [
    ("[[148, -35]]", "it has fewer than two distinct vertices."),
    ("[[148, -35], [148, -35], [148, -35]]", "it has fewer than two distinct vertices."),
    ("[[148, -35], [148.0000001, -35]]", "it is 0.009 m long, too short for a fence."),
    ("[[148, -35], [NaN, -35]]", "vertex 2: its longitude is not a number (NaN)."),
    ("[[148, -35], [148, Infinity]]", "vertex 2: its latitude is inf."),
    ("[[148, -35], [148, 1e999]]", "vertex 2: its latitude is inf."),
    ("[[148, -35], [148, 1" + "0" * 400 + "]]", "vertex 2: its latitude is 1000000"),
    ("[[148, -35], [null, -35]]", "vertex 2: its longitude is null."),
    ('[[148, -35], ["148.1", "-35"]]', 'vertex 2: its longitude is text ("148.1"), not a number; its latitude is text'),
    ("[[148, -35], [true, -35]]", "vertex 2: its longitude is True."),
    ("[[148, -35], [148.1, -35, null]]", "vertex 2: its height is null."),
    ("[[148, -35], [148.1]]", "vertex 2: a position has fewer than two numbers."),
    ("[[148, -35], 148.1]", "vertex 2: 148.1 stands where a position should."),
    ("[148, -35]", "vertex 1: 148 stands where a position should."),
    ("[[600000, 6098000], [600100, 6098000]]", "600000, 6098000 is not longitude and latitude; it looks like metres"),
    ("[[-35.1, 148.2], [-35.2, 148.2]]", "-35.1, 148.2 has a latitude beyond 90°; the two look swapped."),
    ("[[181, -35], [181.1, -35]]", "181, -35 is not a longitude within 180°"),
    ("[[148, -35], [148.2, -35.2], [148.2, -35], [148, -35.2]]", "the line crosses itself (legs from vertex 1 and"),
    ("[[148, -35], [14.8, -35]]", "km from the middle of the site."),
]


class TestFaults:
    @pytest.mark.parametrize(("text", "said"), BAD_FILES)
    def test_of_the_file(self, read, text, said):
        (fault,) = told(read(text))
        assert said in fault
        assert "Fix: " in fault

    @pytest.mark.parametrize(("geometry", "said"), BAD_GEOMETRIES)
    def test_of_a_geometry(self, read, layer, geometry, said):
        (fault,) = told(read(layer({"type": "Feature", "properties": {"name": "x"}, "geometry": geometry})))
        assert fault.startswith(f"boundary.geojson, {LINE}")
        assert said in fault

    @pytest.mark.parametrize(("coordinates", "said"), BAD_COORDINATES)
    def test_of_coordinates(self, read, coordinates, said):
        (fault,) = told(
            read(
                '{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"name": "x"}, '
                f'"geometry": {{"type": "LineString", "coordinates": {coordinates}}}}}]}}'
            )
        )
        assert fault.startswith(f"boundary.geojson, {LINE}")
        assert said in fault
        assert "Fix: " in fault

    @pytest.mark.parametrize(
        ("properties", "said"),
        [
            ({"kind": "stone"}, 'kind is "stone", which is not one of "wire" or "post and rail".'),
            ({"label": 3}, 'label is 3, which is not one of "boundary", "agreed" or "internal".'),
            ({"line_id": [1]}, "line_id is a list, which is not text in quotes."),
            ({"line_id": "x" * 41}, "line_id is longer than 40 characters."),
            ({"name": True}, "name is true, which is not text in quotes."),
            ({"kind": "post and rail"}, "a post and rail fence needs rail_m"),
        ],
    )
    def test_of_properties(self, read, layer, feature, place, properties, said):
        (fault,) = told(read(layer(feature("LineString", [place(0, 0), place(90, 0)], **properties))))
        assert said in fault

    def test_rail_lines_are_fine_with_rails(self, read, layer, feature, place):
        spec = Spec(fence=Fence(rail_m=(4.8,)))
        done = read(layer(feature("LineString", [place(0, 0), place(90, 0)], kind="Post and rail")), spec=spec)
        assert drawn(done)[0].kind == "post and rail"

    def test_two_line_ids_alike(self, read, layer, feature, place):
        done = read(layer(*(feature("LineString", [place(0, n), place(90, n)], line_id="B") for n in (0, 9))))
        assert "feature 2: line_id “B” is that of feature 1 too." in told(done)[0]

    def test_a_line_id_that_a_cut_line_would_get(self, read, layer, feature, place):
        lines = [feature("LineString", [place(0, n), place(90, n)], line_id=i) for n, i in ((0, "B"), (9, "B.1"))]
        assert "is how a piece cut from line “B” is called" in told(read(layer(*lines)))[0]

    def test_a_ring_that_crosses_itself_or_holds_nothing(self, read, layer, feature, place):
        bow = [place(0, 0), place(90, 90), place(90, 0), place(0, 90), place(0, 0)]
        flat = [place(0, 200), place(90, 200), place(0, 200)]
        done = told(read(layer(feature("Polygon", [bow]), feature("Polygon", [flat]))))
        assert "feature 1: the line crosses itself" in done[0]
        assert "feature 2: it encloses nothing." in done[1]

    def test_all_together_and_never_thousands(self, read, layer, feature, place):
        good = feature("LineString", [place(0, 0), place(90, 0)])
        bad = [feature("LineString", [[600_000 + n, 6e6], [600_000, 6e6]]) for n in range(500)]
        done = read(layer(good, *bad))
        assert len(done.problems) == 21
        assert done.problems[-1].fault == "480 more faults are not listed."

    def test_text_of_the_file_stays_on_one_line(self, read, layer, feature):
        (fault,) = told(read(layer(feature("Point", [1, 2], name="a\nb\x1b[2J\ud800 " + "long" * 50))))
        assert fault.isprintable()
        assert len(fault) < 250


def test_a_key_misspelt_is_noted(read, layer, feature, place):
    done = read(layer(feature("LineString", [place(0, 0), place(90, 0)], lineid="x", owner="somebody")))
    assert noted(done) == ["doubt: boundary.geojson, feature 1: “lineid” is not read; if line_id is meant, rename it."]


def test_a_far_flung_site_is_noted(read, layer, feature, place):
    done = read(layer(feature("LineString", [place(0, 0), place(60_000, 0)])))
    assert "30 km from the middle; beyond 20 km lengths err" in noted(done)[0]


def test_thirty_thousand_vertices_are_quick(read, layer, feature):
    """The aim is well under a second; the limit leaves room for a busy machine."""
    angle = np.linspace(0, 2 * np.pi, 30_001)
    wave = 0.03 * (1 + 0.05 * np.sin(9 * angle))
    ring = np.column_stack([148 + wave * np.cos(angle), -35 + wave * np.sin(angle)])
    ring[-1] = ring[0]
    text = json.dumps(layer(feature("Polygon", [ring.tolist()])))
    start = time.process_time()
    (line,) = read(text).lines
    assert time.process_time() - start < 2.0
    assert len(line.lonlat_deg) == 30_000


def test_the_same_file_gives_the_same_lines(read, straight):
    one, other = drawn(read(straight)), drawn(read(straight))
    assert all(np.array_equal(a.vertices, b.vertices) for a, b in zip(one, other, strict=True))

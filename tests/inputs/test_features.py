from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely

from fencegis.inputs.crs import WGS84, geographic, working_grid
from fencegis.inputs.features import LayerRead, on_grid, read_layer
from fencegis.inputs.layers import LAYERS

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import geopandas as gpd

GRID = working_grid(np.array([[148.15, -35.25]]), datum=WGS84, height_m=0.0)
GPX = '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{}</gpx>'


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., LayerRead]:
    def read_it(name: str, holds: Any, *, file: str = "", datum: str = "WGS84") -> LayerRead:
        path = tmp_path / (file or f"{name}.geojson")
        path.write_text(holds if isinstance(holds, str) else json.dumps(holds))
        return read_layer(path, name, assumed=WGS84, datum=geographic(datum))

    return read_it


def table(name: str, *reads: LayerRead) -> gpd.GeoDataFrame:
    assert not [str(problem) for read in reads for problem in read.problems]
    return on_grid(list(reads), name, GRID)


def told(read: LayerRead) -> list[str]:
    return [str(problem) for problem in read.problems]


def noted(read: LayerRead) -> list[str]:
    return [f"{note.severity}: {note.text}" for note in read.notes]


COLUMNS = {
    "pegs": ["name", "kind"],
    "gates": [
        *["name", "opening_m", "leaf_m", "leaves", "hinge", "swing_side"],
        *["setback_m", "wing_m", "gate_post_mm"],
    ],
    "overhead": [
        *["name", "kind", "voltage_kv", "height_m", "sag_m", "half_width_m", "height_error_m", "swing_m"],
        *["height_from", "insulated", "support"],
    ],
    "trees": ["name", "height_m", "limb_m", "spread_m", "dead", "keep", "root_m", "trunk_m"],
    "soils": ["name", "soil"],
    "walk": ["kind", "text"],
    "watercourses": ["name", "kind", "width_m", "flood_level_m", "perennial"],
    "services": ["name", "owner", "kind", "quality", "buffer_m", "depth_m", "exposed"],
    "keepout": ["name", "reason", "radius_m"],
    "tracks": ["name", "kind", "width_m"],
    "existing": ["name", "kind", "wires"],
}


@pytest.mark.parametrize("name", LAYERS)
def test_an_empty_layer_has_its_columns_and_no_row(read, layer, name):
    frame = table(name, read(name, layer()))
    assert list(frame.columns) == ["feature", *COLUMNS[name], "geometry"]
    assert len(frame) == 0
    assert frame.crs == GRID.wkt


def test_pegs(read, layer, feature, place):
    two = [feature("Point", place(10, 20), name="RM 4"), feature("MultiPoint", [place(0, 0)], kind="found")]
    done = read("pegs", layer(*two))
    frame = table("pegs", done)
    assert frame["kind"].tolist() == ["survey", "found"]
    assert frame["feature"].tolist() == ["feature 1 (RM 4)", "feature 2"]
    assert frame["name"].tolist() == ["RM 4", None]
    there = np.array([[50_010, 80_020], [50_000, 80_000]])
    assert shapely.get_coordinates(frame.geometry) == pytest.approx(there, abs=0.001)
    assert noted(done) == ["default: pegs.geojson, feature 1 (RM 4): kind is not given; taken as “survey”."]


def test_gates(read, layer, feature, place):
    gate = feature("Point", place(0, 0), opening_m=4, leaves=2, swing_side="Left", hinge=None)
    frame = table("gates", read("gates", layer(gate)))
    row = frame.iloc[0]
    assert (row["opening_m"], row["leaves"], row["swing_side"], row["hinge"]) == (4.0, 2.0, "left", None)
    assert np.isnan(row["leaf_m"])


def test_conductors_flat_high_and_in_parts(read, layer, feature, place):
    flat = [place(0, 0), place(90, 0)]
    done = read(
        "overhead",
        layer(
            feature("LineString", flat, kind="power", voltage_kv=11, height_m=7, insulated=True),
            feature("LineString", [place(0, 9, 300), place(90, 9, 301.5)], kind="power", sag_m=1),
            feature("MultiLineString", [flat, [place(0, 5), place(9, 5), place(9, 5)]], kind="phone"),
        ),
    )
    frame = table("overhead", done)
    assert frame["feature"].tolist() == ["feature 1", "feature 2", "feature 3", "feature 3"]
    assert frame.geometry.has_z.tolist() == [False, True, False, False]
    assert shapely.get_coordinates(frame.geometry[1], include_z=True)[:, 2].tolist() == [300, 301.5]
    assert shapely.length(frame.geometry[1]) == pytest.approx(90, abs=0.01)
    assert frame["insulated"].tolist() == [True, None, None, None]
    assert frame["support"].tolist() == [None] * 4
    assert np.isnan(frame["height_m"][1])
    assert noted(done) == ["repair: overhead.geojson, feature 3: repeated vertices are left out (1)."]


def test_poles_without_a_line_are_points_that_keep_their_heights(read, layer, feature, place):
    poles = layer(
        feature("Point", place(0, 0, 312.5), voltage_kv=11), feature("MultiPoint", [place(9, 0), place(18, 0)])
    )
    frame = table("overhead", read("overhead", poles))
    assert frame["feature"].tolist() == ["feature 1", "feature 2", "feature 2"]
    assert frame.geometry.geom_type.tolist() == ["Point"] * 3
    assert frame.geometry.has_z.tolist() == [True, False, False]
    assert frame.geometry[0].z == 312.5


def test_heights_of_nothing_are_no_heights(read, layer, feature, place):
    done = read("overhead", layer(feature("LineString", [place(0, 0, 0), place(90, 0, 0)])))
    assert not table("overhead", done).geometry.has_z.any()
    assert noted(done) == [
        "doubt: overhead.geojson, feature 1: every vertex has height 0, which is taken as no height given.",
        "default: overhead.geojson, feature 1: kind is not given; taken as “power”.",
    ]


def test_trees(read, layer, feature, place):
    crown = [place(0, 0), place(9, 0), place(9, 9), place(0, 0)]
    done = read(
        "trees",
        layer(
            feature("Point", place(0, 0), height_m=20, limb_m=3.5, spread_m=12, dead=True, keep=False, trunk_m=0.6),
            feature("MultiPolygon", [[crown], [[place(e + 50, n) for e, n in ((0, 0), (9, 0), (9, 9), (0, 0))]]]),
        ),
    )
    frame = table("trees", done)
    assert frame.geom_type.tolist() == ["Point", "Polygon", "Polygon"]
    assert frame["dead"].tolist() == [True, False, False]
    assert frame["keep"].tolist() == [False, None, None]  # nobody's word is not a no
    assert frame["trunk_m"].isna().tolist() == [False, True, True]
    assert frame.geometry[1].area == pytest.approx(40.5, abs=0.01)


def square(place, east, north, wide=20):
    return [place(east + e, north + n) for e, n in ((0, 0), (wide, 0), (wide, wide), (0, wide), (0, 0))]


def test_soils(read, layer, feature, place):
    done = read(
        "soils",
        layer(
            feature("Polygon", [square(place, 0, 0), square(place, 5, 5, 5)], soil=" Crystalline  Rock", name="Knob"),
            feature("MultiPolygon", [[square(place, 50, 0)], [square(place, 90, 0)]], soil="sand"),
        ),
    )
    frame = table("soils", done)
    assert frame["soil"].tolist() == ["crystalline rock", "sand", "sand"]
    assert frame["feature"].tolist() == ["feature 1 (Knob)", "feature 2", "feature 2"]
    assert frame.geometry.area.tolist() == pytest.approx([375.0, 400.0, 400.0], abs=0.05)
    assert noted(done) == []


def test_the_softer_of_two_soils_that_overlap_is_said(read, layer, feature, place):
    done = read(
        "soils",
        layer(
            feature("Polygon", [square(place, 0, 0)], soil="sand", name="Dune"),
            feature("Polygon", [square(place, 10, 0)], soil="rock"),
            feature("Polygon", [square(place, 0, 10)], soil="rock"),
            feature("Polygon", [square(place, 5, 5)], soil="sand"),  # like on like is no question
            feature("Polygon", [square(place, 29.99, 0)], soil="loam"),  # the edge drawn twice
        ),
    )
    (note,) = noted(done)
    assert note.startswith("doubt: soils.geojson, feature 2 over feature 1 (Dune) and 3 more: ")
    assert note.endswith("zones of rock and sand overlap; sand, the softer, is taken there.")


def test_watercourses_are_lines_or_beds(read, layer, feature, place):
    line = [place(0, 0, 12), place(90, 0, 11)]
    done = read(
        "watercourses",
        layer(
            feature("LineString", line, kind="Creek", width_m=4, flood_level_m=212.5, perennial=False, name="Sandy"),
            feature("Polygon", [square(place, 0, 0)], kind="dam"),
        ),
    )
    frame = table("watercourses", done)
    assert frame["kind"].tolist() == ["creek", "dam"]
    assert frame.geom_type.tolist() == ["LineString", "Polygon"]
    assert not frame.geometry.has_z.any()
    assert frame["flood_level_m"].tolist()[0] == 212.5
    assert frame["perennial"].tolist() == [False, None]
    assert noted(done) == []


@pytest.mark.parametrize(
    ("given", "level"),
    [("A", "A"), ("QL-A", "A"), ("ql a", "A"), ("qlb", "B"), ("QL.C", "C"), ("Quality Level D", "D"), ("d", "D")],
)
def test_quality_levels_of_both_standards(read, layer, feature, place, given, level):
    """AS 5488 writes QL-A, ASCE 38 Quality Level A, both for the same four levels (from memory)."""
    cable = feature("LineString", [place(0, 0), place(9, 0)], kind="telecom", quality=given, owner="x")
    assert table("services", read("services", layer(cable)))["quality"].tolist() == [level]


def test_services(read, layer, feature, place):
    done = read(
        "services",
        layer(
            feature("Point", place(0, 0), kind="Water", exposed=True, depth_m=0.4, quality="A", buffer_m=1),
            feature("LineString", [place(0, 0), place(9, 0)], name="cable"),
        ),
    )
    frame = table("services", done)
    assert frame["kind"].tolist() == ["water", "unknown"]
    assert frame["exposed"].tolist() == [True, False]
    assert frame["exposed"].dtype == bool
    assert frame["quality"].tolist() == ["A", None]
    kind, quality = noted(done)
    assert kind == "default: services.geojson, feature 2 (cable): kind is not given; taken as “unknown”."
    assert quality.startswith("doubt: services.geojson, feature 2 (cable): quality is not given: it counts as")


def test_keepouts_are_areas_or_have_a_radius(read, layer, feature, place):
    areas = layer(
        feature("Polygon", [square(place, 0, 0)], reason="nest"), feature("Point", place(0, 0), radius_m=5, name="bore")
    )
    frame = table("keepout", read("keepout", areas))
    assert frame["radius_m"].fillna(-1).tolist() == [-1, 5]
    assert frame["reason"].tolist() == ["nest", None]
    (fault,) = told(read("keepout", layer(feature("Point", place(0, 0), radius=5))))
    assert "it is no area, and radius_m does not say how far to keep from it. Fix: add radius_m" in fault


def test_tracks_and_old_fences(read, layer, feature, place):
    line = [place(0, 0), place(9, 0)]
    frame = table("tracks", read("tracks", layer(feature("LineString", line, kind="Farm track", width_m=3.5))))
    assert frame["kind"].tolist() == ["farm track"]
    each = [{"kind": "keep"}, {"what": "Tie in", "wires": 5}, {}]
    done = read("existing", layer(*(feature("LineString", line, **given) for given in each)))
    frame = table("existing", done)
    assert frame["kind"].tolist() == ["keep", "tie in", None]
    assert frame["wires"].fillna(-1).tolist() == [-1, 5, -1]
    assert noted(done) == [
        "doubt: existing.geojson, feature 3: kind does not say what becomes of the old fence: keep, pull or tie in."
    ]


def test_the_walk_from_two_files(read, layer, feature, place):
    soil = feature("Point", place(0, 0), kind="Soil", text="sand\nto 1 m")
    one = read("walk", layer(soil, feature("Point", place(9, 0), kind="bog")))
    waypoint = '<wpt lat="-35.25" lon="148.15"><ele>3</ele><name>W1</name><desc>soft</desc><type>wet</type></wpt>'
    named = '<wpt lat="-35.25" lon="148.15"><name>old strainer</name><type>Old post</type></wpt>'
    other = read("walk", GPX.format(waypoint + named), file="walk.gpx")
    frame = table("walk", one, other)
    assert frame["kind"].tolist() == ["soil", "bog", "wet", "old post"]
    assert frame["text"].tolist() == ["sand to 1 m", None, "soft", "old strainer"]
    assert frame["feature"].tolist() == ["feature 1", "feature 2", "waypoint 1 (W1)", "waypoint 2 (old strainer)"]
    assert shapely.get_coordinates(frame.geometry)[2].tolist() == pytest.approx([50_000, 80_000], abs=1e-6)
    assert "walk.geojson, feature 2: kind “bog” is none of soil, rock, wet" in noted(one)[0]


def test_a_gpx_without_waypoints_is_an_empty_walk(read):
    assert len(table("walk", read("walk", GPX.format("<trk/>"), file="walk.gpx"))) == 0


def test_waypoints_are_on_wgs84_whatever_the_site_is_on(read):
    done = read("walk", GPX.format('<wpt lat="-35.25" lon="148.15"/>'), file="walk.gpx", datum="GDA2020")
    assert done.operations[0].accuracy_m == 3.0
    assert "good to 3 m only" in noted(done)[0]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("<gpx", "it is not XML (unclosed token"),
        ("<kml/>", "it is XML but not GPX (its root is kml)."),
        ('<!DOCTYPE gpx [<!ENTITY a "b">]><gpx>&a;</gpx>', "it declares a document type or entities"),
        (GPX.format('<wpt lat="nan" lon="1"/>'), "waypoint 1: its lat is “nan”, not a number within 90°."),
        (GPX.format('<wpt lat="1_0" lon="1"/>'), "waypoint 1: its lat is “1_0”, not a number within 90°."),
        (GPX.format('<wpt lat="9" lon="181"><name>x</name></wpt>'), "waypoint 1 (x): its lon is “181”"),
        (GPX.format('<wpt lat="9"/>'), "waypoint 1: its lon is “”"),
    ],
)
def test_faults_of_waypoints(read, text, said):
    (fault,) = told(read("walk", text, file="walk.gpx"))
    assert fault.startswith("walk.gpx")
    assert said in fault


@pytest.mark.parametrize(
    ("name", "kind", "properties", "said"),
    [
        ("gates", "Point", {}, "opening_m is missing. Fix: add opening_m."),
        ("gates", "Point", {"opening_m": None}, "opening_m is missing."),
        ("gates", "Point", {"opening_m": 0}, "opening_m is 0; it must be more than 0."),
        ("gates", "Point", {"opening_m": 36}, "opening_m is 36; it must be at most 20."),
        ("gates", "Point", {"opening_m": "3.6"}, 'opening_m is "3.6", which is not a number.'),
        ("gates", "Point", {"opening_m": 3, "hinge": "left"}, 'hinge is "left", which is not one of "from" or "to".'),
        ("gates", "Point", {"opening_m": 3, "swing_side": "in"}, 'not one of "left" or "right".'),
        ("gates", "Point", {"opening_m": 3, "leaves": 3}, "leaves is 3; it must be at most 2."),
        ("gates", "LineString", {"opening_m": 3}, "its geometry is LineString. Fix: draw it as Point or MultiPoint."),
        ("pegs", "Point", {"kind": "nail"}, 'not one of "survey", "found", "agreed" or "line mark".'),
        ("overhead", "LineString", {"kind": "rope"}, 'kind is "rope", which is not one of "power" or "phone".'),
        ("overhead", "LineString", {"voltage_kv": 22000}, "voltage_kv is 22000; it must be at most 1200."),
        ("overhead", "LineString", {"voltage_kv": 0}, "voltage_kv is 0; it must be more than 0."),
        ("overhead", "LineString", {"height_m": 201}, "height_m is 201; it must be at most 200."),
        ("overhead", "LineString", {"height_from": "guess"}, 'not one of "owner", "surveyed" or "eye".'),
        ("overhead", "LineString", {"insulated": "no"}, 'insulated is "no", which is not true or false.'),
        ("overhead", "LineString", {"support": "tree"}, 'not one of "pole" or "tower".'),
        ("overhead", "Polygon", {}, "its geometry is Polygon."),
        ("trees", "Point", {"height_m": -1}, "height_m is -1; it must be at least 0."),
        ("trees", "Point", {"dead": 1}, "dead is 1, which is not true or false."),
        ("soils", "Polygon", {}, "soil is missing. Fix: add soil."),
        ("soils", "Polygon", {"soil": "snad"}, 'soil is "snad", which is none of crystalline rock, rock, gravel, loam'),
        ("soils", "Polygon", {"soil": "snad"}, 'Fix: write "sand", if that is meant.'),
        ("soils", "Polygon", {"soil": "sandy loam"}, 'Fix: write "'),
        ("soils", "Polygon", {"soil": 4}, "soil is 4, which is not text in quotes."),
        ("soils", "Point", {"soil": "sand"}, "its geometry is Point. Fix: draw it as Polygon or MultiPolygon."),
        ("walk", "Point", {"text": ["x"]}, "text is a list, which is not text in quotes."),
        ("trees", "Point", {"keep": "yes"}, 'keep is "yes", which is not true or false.'),
        ("trees", "Point", {"trunk_m": 45}, "trunk_m is 45; it must be at most 10."),
        ("watercourses", "LineString", {"kind": "brook"}, '"brook", which is not one of "creek", "drain", "river"'),
        ("watercourses", "LineString", {"width_m": 0}, "width_m is 0; it must be more than 0."),
        ("watercourses", "LineString", {"flood_level_m": 20000}, "flood_level_m is 20000; it must be at most 9000."),
        ("watercourses", "Point", {}, "its geometry is Point."),
        ("services", "LineString", {"quality": "E"}, 'quality is "E", which is not one of "A", "B", "C" or "D".'),
        ("services", "LineString", {"quality": 1}, "quality is 1, which is not one of"),
        ("services", "LineString", {"kind": "oil"}, 'kind is "oil", which is not one of "power", "gas", "water"'),
        ("services", "LineString", {"depth_m": -1}, "depth_m is -1; it must be at least 0."),
        ("services", "LineString", {"exposed": "yes"}, 'exposed is "yes", which is not true or false.'),
        ("keepout", "Point", {"radius_m": 0}, "radius_m is 0; it must be more than 0."),
        ("keepout", "LineString", {}, "it is no area, and radius_m does not say"),
        ("tracks", "Polygon", {}, "its geometry is Polygon. Fix: draw it as LineString or MultiLineString."),
        ("tracks", "LineString", {"kind": "path"}, 'not one of "gate access", "farm track" or "road".'),
        ("existing", "LineString", {"kind": "burn"}, 'kind is "burn", which is not one of "keep", "pull" or "tie in".'),
        ("existing", "LineString", {"what": "burn"}, 'what is "burn", which is not one of'),
        ("existing", "LineString", {"wires": 4.5}, "wires is 4.5, which is not a whole number."),
    ],
)
def test_faults_of_properties(read, layer, feature, place, name, kind, properties, said):
    coordinates = place(0, 0) if kind == "Point" else [place(0, 0), place(9, 0)]
    coordinates = [square(place, 0, 0)] if kind == "Polygon" else coordinates
    (fault,) = told(read(name, layer(feature(kind, coordinates, **properties))))
    assert fault.startswith(f"{name}.geojson, feature 1")
    assert said in fault


def test_faults_of_shapes(read, layer, feature, place):
    bow = [place(0, 0), place(9, 9), place(9, 0), place(0, 9), place(0, 0)]
    done = told(read("trees", layer(feature("Polygon", [bow]), feature("Polygon", [[place(0, 0), place(9, 0)]]))))
    assert "feature 1: its outline crosses itself." in done[0]
    assert "feature 2: its outline encloses nothing." in done[1]
    done = told(read("soils", layer(feature("Polygon", [bow], soil="loam"))))
    assert done == ["soils.geojson, feature 1: its outline crosses itself. Fix: draw it again."]
    some = [place(0, 0, 300), place(9, 0), place(20, 0, 300)]
    high = [place(0, 0, 30_000), place(9, 0, 1)]
    lines = [feature("LineString", line) for line in (some, high, [place(0, 0)], [place(0, 0), place(0, 0)])]
    done = told(read("overhead", layer(*lines)))
    assert "feature 1: vertex 2 has no height and others have one." in done[0]
    assert "feature 2: a vertex has height 30000 m." in done[1]
    assert "feature 3: it has fewer than two distinct vertices." in done[2]
    assert "feature 4: it has fewer than two distinct vertices." in done[3]


def test_the_same_checks_of_coordinates_as_the_boundary(read, layer, feature):
    done = told(read("pegs", layer(*(feature("Point", spot) for spot in ([None, 3], [6e5, 6e6], [-35, 148])))))
    assert "feature 1: its longitude is null." in done[0]
    assert "it looks like metres" in done[1]
    assert "the two look swapped" in done[2]


def test_each_layer_may_name_its_own_system(read, layer, feature):
    crs = {"type": "name", "properties": {"name": "EPSG:32755"}}
    done = read("pegs", layer(feature("Point", [604_621.6, 6_098_626.3], kind="survey"), crs=crs))
    assert shapely.get_coordinates(table("pegs", done).geometry) == pytest.approx(np.array([[50_000, 80_000]]), abs=0.1)
    assert "the older crs member is honoured: coordinates are read as WGS 84 / UTM zone 55S." in noted(done)[0]


@pytest.mark.parametrize("key", ["voltage", "Voltage_kV", "voltage_v", "volts", "voltage kv", "kv", "votlage_kv"])
def test_a_voltage_is_never_dropped_in_silence(read, layer, feature, place, key):
    line = [place(0, 0), place(9, 0)]
    done = read("overhead", layer(*(feature("LineString", line, kind="power", **{key: 11}) for _ in range(3))))
    assert noted(done) == [
        f"doubt: overhead.geojson, feature 1 and 2 more: “{key}” is not read; if voltage_kv is meant, rename it."
    ]


@pytest.mark.parametrize("key", ["height", "hieght_m", "HEIGHT_M", "height_ft", "heigth"])
def test_nor_is_a_height(read, layer, feature, place, key):
    (note,) = noted(read("trees", layer(feature("Point", place(0, 0), **{key: 9}))))
    assert f"“{key}” is not read; if height_m is meant" in note


@pytest.mark.parametrize(
    ("name", "key", "meant"),
    [
        ("services", "depth", "depth_m"),
        ("services", "ql", "quality"),
        ("services", "buffer", "buffer_m"),
        ("watercourses", "flood_m", "flood_level_m"),
        ("watercourses", "width", "width_m"),
        ("keepout", "radius", "radius_m"),
        ("trees", "trunk_mm", "trunk_m"),
    ],
)
def test_nor_what_a_hazard_rests_on(read, layer, feature, place, name, key, meant):
    shape = ("Point", place(0, 0)) if name in ("trees", "services") else ("LineString", [place(0, 0), place(9, 0)])
    done = read(name, layer(feature(*shape, **{key: 9})))
    assert any(f"“{key}” is not read; if {meant} is meant, rename it." in note for note in noted(done))


def test_what_is_read_for_kind(read, layer, feature, place):
    done = read("existing", layer(feature("LineString", [place(0, 0), place(9, 0)], what="pull")))
    assert noted(done) == []


def test_other_keys_are_the_owners_business(read, layer, feature, place):
    extra = {"id": 4, "osm_id": "5", "fid": 3, "owner": "x", "height_m": 9, "height": 9, "colour": None, "limb": None}
    assert noted(read("trees", layer(feature("Point", place(0, 0), **extra)))) == []

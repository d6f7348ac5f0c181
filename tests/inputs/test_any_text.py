"""Whatever stands in the files: a site, or faults that can be read; never another exception."""

from __future__ import annotations

import json
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import numpy as np
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from fencegis.errors import InputError
from fencegis.inputs.site_folder import read_site

if TYPE_CHECKING:
    from fencegis.errors import Problem
    from fencegis.records.site import DrawnLine

SCALARS = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
ANY_JSON = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=6), inner, max_size=4),
    max_leaves=12,
)
NUMBERS = (
    st.sampled_from([0, -0.0, 180, -180, 90, -90, 1e-9, 1e300, 10**400, 148.0001, float("nan"), float("inf"), 6e5])
    | st.floats(147.999, 148.001)
    | st.floats(-35.001, -34.999)
)
NEARBY = st.tuples(st.floats(148, 148.01), st.floats(-35, -34.99)).map(list)
POSITIONS = st.lists(NUMBERS, min_size=2, max_size=3) | NEARBY
LINES = st.lists(POSITIONS, max_size=6)
TYPES = st.sampled_from(
    ["LineString", "MultiLineString", "Polygon", "MultiPolygon", "Point", "MultiPoint", "GeometryCollection", "x"]
)
PROPERTIES = st.dictionaries(
    st.sampled_from(["name", "line_id", "kind", "label", "opening_m", "height_m", "voltage_kv", "voltage", "dead"]),
    SCALARS | st.sampled_from(["wire", "post and rail", "power", "A", "B.1", 3.6]),
    max_size=4,
)
NESTED_LINES = LINES | st.lists(LINES, max_size=3) | st.lists(st.lists(LINES, max_size=2), max_size=2)
GEOMETRIES = st.fixed_dictionaries({"type": TYPES, "coordinates": POSITIONS | NESTED_LINES})
SOUND_LINES = st.lists(NEARBY, min_size=2, max_size=7).map(lambda line: {"type": "LineString", "coordinates": line})
FEATURES = st.fixed_dictionaries(
    {"type": st.just("Feature"), "properties": PROPERTIES | st.none(), "geometry": GEOMETRIES | SOUND_LINES | ANY_JSON}
)
SYSTEMS = st.sampled_from(["EPSG:4326", "EPSG:7855", "EPSG:5773", "EPSG:4978", "OGC:CRS84", "EPSG:3031", "x"]).map(
    lambda name: {"type": "name", "properties": {"name": name}}
)
LAYERS = st.fixed_dictionaries(
    {"type": st.just("FeatureCollection"), "features": st.lists(FEATURES | SOUND_LINES | ANY_JSON, max_size=4)},
    optional={"crs": SYSTEMS | ANY_JSON},
)
SETTINGS = settings(
    max_examples=20,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
SOUND = {"type": "LineString", "coordinates": [[148, -35], [148.01, -35]]}


def survives(**files: Any) -> None:
    with TemporaryDirectory() as folder:
        for name, holds in files.items():
            text = holds if isinstance(holds, str) else json.dumps(holds)
            Path(folder, name.replace("_", ".")).write_bytes(text.encode("utf-8", "surrogatepass"))
        problems: tuple[Problem, ...] = ()
        drawn: tuple[DrawnLine, ...] = ()
        try:
            drawn = read_site(folder).drawn
        except InputError as error:
            problems = error.problems
    assert bool(problems) != bool(drawn)
    assert all(str(problem).isprintable() and problem.fault and problem.fix for problem in problems)
    assert all(len(line.vertices) >= 2 and np.isfinite(line.vertices).all() for line in drawn)
    assert len({line.line_id for line in drawn}) == len(drawn)


@SETTINGS
@given(ANY_JSON)
def test_any_json_as_boundary(holds):
    survives(boundary_geojson=holds)


@SETTINGS
@given(LAYERS)
@example({"type": "FeatureCollection", "features": [], "crs": None})
@example({"type": "Polygon", "coordinates": [[[180, 0], [180, 90], [-180, 0]], [[180, 0]]]})
@example({"type": "MultiPolygon", "coordinates": [[[[180, 0], [180, 1], [179, 1]]], [[[-180, 0], [-179, 0]]]]})
@example({"type": "MultiLineString", "coordinates": [[[180, 0], [-180, 0]], [[180, 0], [-180, 0]]]})
@example({"type": "LineString", "coordinates": [[0, 90], [180, 90]]})
@example({"type": "LineString", "coordinates": [[0, 89.999], [180, 89.999], [90, 89.999]]})
def test_anything_like_a_boundary(holds):
    survives(boundary_geojson=holds)


@SETTINGS
@given(st.sampled_from(["pegs", "gates", "overhead", "trees", "walk"]), LAYERS)
def test_anything_like_a_layer(name, holds):
    survives(boundary_geojson=SOUND, **{f"{name}_geojson": holds})


@SETTINGS
@given(
    st.text(max_size=60),
    st.sampled_from(["boundary_geojson", "site_toml", "walk_gpx", "trees_geojson", "rates_csv"]),
)
def test_any_text(text, name):
    survives(**{"boundary_geojson": SOUND, name: text})


@SETTINGS
@given(st.text(alphabet='gpxwt<>/="latlon 0123456789.-&;!\n', max_size=60))
def test_anything_like_waypoints(text):
    survives(boundary_geojson=SOUND, walk_gpx=f"<gpx>{text}</gpx>")


@SETTINGS
@given(st.dictionaries(st.sampled_from(["datum", "drawn_from", "kind"]), st.text(max_size=12), max_size=3))
def test_any_words_in_the_specification(words):
    lines = [f"{key} = {json.dumps(value)}" for key, value in words.items()]
    survives(boundary_geojson=SOUND, site_toml="[boundary]\n" + "\n".join(lines))


WHOLE = json.dumps(
    {
        "type": "FeatureCollection",
        "crs": {"type": "name", "properties": {"name": "EPSG:7844"}},
        "features": [
            {"type": "Feature", "properties": {"name": "a", "line_id": "x"}, "geometry": SOUND},
            {
                "type": "Feature",
                "properties": None,
                "geometry": {"type": "Polygon", "coordinates": [[[148, -35.01]] * 4]},
            },
            {
                "type": "Feature",
                "properties": {},
                "geometry": {**SOUND, "coordinates": [[148, -35.1], [148.01, -35.2]]},
            },
        ],
    }
)


@SETTINGS
@given(
    st.lists(
        st.tuples(
            st.integers(0, len(WHOLE)),
            st.integers(0, 12),
            st.text(max_size=3) | st.sampled_from(["[", "]", "{", "null", "NaN", "-", "e9", ",", '"', "180", "0"]),
        ),
        min_size=1,
        max_size=3,
    )
)
def test_a_sound_boundary_damaged_somewhere(damage):
    text = WHOLE
    for place, length, instead in damage:
        text = text[:place] + instead + text[place + length :]
    survives(boundary_geojson=text)


RATE_CELLS = ["wire", "post 1 x 2", "hour", "tax", "m", "h", "%", "0", "-1", "5", "1e9", "=A1", "material", ""]


@SETTINGS
@given(
    st.lists(
        st.lists(
            st.sampled_from(RATE_CELLS) | st.text(max_size=4),
            min_size=3,
            max_size=6,
        ),
        max_size=4,
    )
)
def test_anything_like_rates(cells):
    text = "\n".join(["item,unit,rate,kind,waste_pct,pack", *(",".join(row) for row in cells)])
    survives(boundary_geojson=SOUND, rates_csv=text)

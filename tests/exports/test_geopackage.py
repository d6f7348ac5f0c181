"""The GeoPackage: every layer, every column, the same bytes, in a grid that comes back as it went."""

from __future__ import annotations

import dataclasses
import hashlib
import sqlite3
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pyproj
import pytest

from fencegis.errors import OutputError
from fencegis.exports import geopackage
from fencegis.exports.plan_hash import plan_sha256
from fencegis.exports.rounding import rounded_frame
from fencegis.records.tables import LAYERS

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


@pytest.fixture(scope="module")
def written(small_plan: Plan, tmp_path_factory):
    path = tmp_path_factory.mktemp("gpkg") / "plan.gpkg"
    geopackage.write(small_plan, path)
    return path


def test_every_layer_is_there_in_order_with_its_shape(written) -> None:
    with sqlite3.connect(written) as database:
        found = database.execute("select table_name, data_type from gpkg_contents order by rowid").fetchall()
    kinds = {"station": "features", "span": "features", "table": "attributes"}
    assert found == [(name, kinds[layer.shape]) for name, layer in LAYERS.items()] + [("about", "attributes")]


@pytest.mark.parametrize("name", LAYERS)
def test_a_layer_comes_back_as_printed(small_plan: Plan, written, name) -> None:
    read = pyogrio.read_dataframe(written, layer=name)
    frame = rounded_frame(getattr(small_plan, name))
    assert list(read.columns) == list(frame.columns)
    for column in LAYERS[name].columns:
        if column.kind == "number":
            assert np.array_equal(read[column.name].astype("float64"), frame[column.name], equal_nan=True)
        else:
            assert read[column.name].isna().tolist() == frame[column.name].isna().tolist()
            assert read[column.name].dropna().tolist() == frame[column.name].dropna().tolist()
    if "geometry" in frame:
        assert read.crs == pyproj.CRS(small_plan.crs)
        assert read.geometry.geom_equals_exact(frame.geometry, 0.0).all()


@pytest.mark.parametrize("name", ["rails", "divide"])
def test_an_empty_layer_keeps_the_types_of_its_columns(written, name) -> None:
    with sqlite3.connect(written) as database:
        types = {row[1]: row[2] for row in database.execute(f"pragma table_info({name})")}
    asked = {"text": "TEXT", "number": "REAL", "whole": "INTEGER", "flag": "BOOLEAN"}
    assert {column.name: asked[column.kind] for column in LAYERS[name].columns}.items() <= types.items()


def test_the_grid_comes_back_equal_in_metres_and_scale(small_plan: Plan, written) -> None:
    read = pyproj.CRS(pyogrio.read_info(written, layer="rails")["crs"])
    given = pyproj.CRS(small_plan.crs)
    assert read.equals(given, ignore_axis_order=True)
    assert {axis.unit_name for axis in read.axis_info} == {"metre"}
    scale = {p.name: p.value for p in read.coordinate_operation.params}["Scale factor at natural origin"]
    assert scale == pytest.approx(small_plan.site.grid.scale, abs=1e-12)


def test_about_names_schema_version_plan_and_what_it_is_not(small_plan: Plan, written) -> None:
    rows = pyogrio.read_dataframe(written, layer="about").set_index("key")["value"]
    assert rows["schema"] == "1"
    assert rows["name"] == small_plan.site.name
    assert rows["plan_sha256"] == plan_sha256(small_plan)
    assert "Not a boundary" in rows["caution"]
    assert rows.str.startswith("rails: ").any()


def test_same_plan_same_bytes(small_plan: Plan, written, tmp_path) -> None:
    geopackage.write(small_plan, tmp_path / "again.gpkg")
    assert (
        hashlib.sha256((tmp_path / "again.gpkg").read_bytes()).digest() == hashlib.sha256(written.read_bytes()).digest()
    )


def test_gdals_clock_is_given_back(written, tmp_path) -> None:
    assert pyogrio.get_gdal_config_option("OGR_CURRENT_DATE") is None
    gpd.GeoDataFrame({"a": [1]}, geometry=gpd.points_from_xy([0], [0]), crs=4326).to_file(tmp_path / "b.gpkg")
    with sqlite3.connect(tmp_path / "b.gpkg") as database:
        assert not database.execute("select last_change from gpkg_contents").fetchone()[0].startswith("1970")


def test_missing_whole_numbers_are_null(small_plan: Plan, tmp_path) -> None:
    gates = small_plan.gates.assign(leaves=pd.array([pd.NA], dtype="Int64"))
    geopackage.write(dataclasses.replace(small_plan, gates=gates), tmp_path / "plan.gpkg")
    with sqlite3.connect(tmp_path / "plan.gpkg") as database:
        assert database.execute("select leaves from gates").fetchall() == [(None,)]


def test_a_folder_that_is_not_there_is_said_in_one_line(small_plan: Plan, tmp_path) -> None:
    with pytest.raises(OutputError, match=r"^plan\.gpkg: .+") as caught:
        geopackage.write(small_plan, tmp_path / "nowhere" / "plan.gpkg")
    assert "\n" not in str(caught.value)


def test_the_plan_is_left_as_it_was(small_plan: Plan, tmp_path) -> None:
    before = {name: frame.copy(deep=True) for name, frame in small_plan.layers()}
    geopackage.write(small_plan, tmp_path / "plan.gpkg")
    for name, frame in small_plan.layers():
        pd.testing.assert_frame_equal(pd.DataFrame(frame), pd.DataFrame(before[name]))

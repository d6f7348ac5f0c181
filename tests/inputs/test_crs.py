from __future__ import annotations

import numpy as np
import pyproj.network
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS, Geod

from fencegis.inputs.crs import (
    WGS84,
    UnknownSystemError,
    centre_of,
    datum_of,
    doubts,
    geographic,
    moved,
    named,
    working_grid,
)

GEOD = Geod(ellps="WGS84")


def mean_radius_m(lon: float, lat: float) -> float:
    """√(MN) from geodesics of a hundredth of a degree along the meridian and along the parallel, not from a formula."""
    step = 0.005
    along = GEOD.inv(lon, lat - step, lon, lat + step)[2] / np.radians(2 * step)
    across = GEOD.inv(lon - step, lat, lon + step, lat)[2] / np.radians(2 * step) / np.cos(np.radians(lat))
    return float(np.sqrt(along * across))


@settings(max_examples=40, derandomize=True, deadline=None)
@given(
    lon=st.floats(-180, 180),
    lat=st.floats(-70, 70),
    height_m=st.floats(0, 3000),
    bearings=st.tuples(st.floats(0, 360), st.floats(0, 360)),
    away_m=st.tuples(st.floats(0, 20_000), st.floats(0, 20_000)),
)
def test_grid_distance_is_ground_distance(lon, lat, height_m, bearings, away_m):
    """Within 6 parts per million of the geodesic raised to the mean height, up to 20 km from the centre."""
    grid = working_grid(np.array([[lon, lat]]), datum=WGS84, height_m=height_m)
    centre = [grid.centre_lon_deg] * 2, [grid.centre_lat_deg] * 2
    ends = np.column_stack(GEOD.fwd(*centre, bearings, away_m)[:2])
    apart_m = GEOD.inv(*ends[0], *ends[1])[2]
    if apart_m < 50:
        return
    raised_m = apart_m * (1 + height_m / mean_radius_m(*[float(part[0]) for part in centre]))
    points = moved(ends, source=grid.datum, target=grid.wkt).points
    assert np.hypot(*(points[1] - points[0])) == pytest.approx(raised_m, rel=6e-6)


def test_the_centre_is_the_mean_of_unit_vectors_rounded():
    assert centre_of(np.array([[10.0, 0.0], [20.0, 0.0]])) == (15.0, 0.0)
    lon, lat = centre_of(np.array([[179.9, 10.0], [-179.8, 10.0]]))
    assert lon == pytest.approx(-179.95)
    assert lat == pytest.approx(10.0)
    assert centre_of(np.array([[148.1234567, -35.7654321]])) == (148.123, -35.765)


def test_moving_a_vertex_a_little_does_not_move_the_grid():
    one = working_grid(np.array([[148.1502, -35.2502]]), datum=WGS84, height_m=634.0)
    other = working_grid(np.array([[148.1503, -35.2501]]), datum=WGS84, height_m=629.0)
    assert one.wkt == other.wkt
    assert one.height_m == 630.0


def test_the_false_origin_is_at_the_centre():
    grid = working_grid(np.array([[148.15, -35.25]]), datum=WGS84, height_m=0.0)
    assert moved(np.array([[148.15, -35.25]]), source=WGS84, target=grid.wkt).points == pytest.approx(
        np.array([[50_000.0, 80_000.0]]), abs=1e-6
    )


def test_the_grid_stands_on_the_datum_of_the_drawing():
    datum = geographic("GDA2020")
    grid = working_grid(np.array([[148.15, -35.25]]), datum=datum, height_m=100.0)
    assert CRS(grid.wkt).geodetic_crs == datum
    assert CRS(grid.datum) == datum
    assert CRS(grid.wkt).coordinate_operation.method_name == "Transverse Mercator"


def test_gda94_to_gda2020_is_one_step_of_a_centimetre():
    """GDA2020 Technical Manual: the seven-parameter step; PROJ gives it 0.01 m. The shift is some 1.8 m."""
    step = moved(np.array([[148.0, -35.0]]), source="EPSG:4283", target="EPSG:7844")
    assert step.operation.accuracy_m == 0.01
    assert "WGS 84" not in step.operation.operation
    assert doubts(step.operation, source="EPSG:4283", target="EPSG:7844") == ()
    metres = GEOD.inv(148.0, -35.0, *step.points[0])[2]
    assert 1.2 < metres < 1.9


def test_what_is_worth_knowing_of_a_step_is_a_note():
    for source, target, point, said in [
        ("EPSG:4326", "EPSG:7844", (148, -35), "good to 3 m only"),
        ("EPSG:4267", "EPSG:2193", (170, -40), "ballpark"),
        ("EPSG:4267", "EPSG:4269", (-100, 40), "PROJ went through WGS 84"),
    ]:
        step = moved(np.array([point], dtype=float), source=source, target=target)
        (note,) = doubts(step.operation, source=source, target=target)
        assert said in note.text
        assert note.severity == "doubt"
    assert "not installed here" in note.text
    assert step.operation.missing_grids


def test_nothing_to_do_is_no_doubt():
    for name in ("OGC:CRS84", "urn:ogc:def:crs:OGC:1.3:CRS84", "WGS84", "EPSG:4326"):
        assert named(name) == WGS84
    step = moved(np.array([[1.0, 2.0]]), source=WGS84, target="EPSG:4979")
    assert step.points.tolist() == [[1.0, 2.0]]
    assert doubts(step.operation, source=WGS84, target="EPSG:4979") == ()


def test_outside_its_domain_is_not_a_number():
    assert np.isnan(moved(np.array([[1e9, 2.0]]), source="EPSG:7855", target=WGS84).points).all()


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("", "not the name or code"),
        ("nowhere 94", "PROJ knows no coordinate system"),
        ("EPSG:6326", "PROJ knows no coordinate system"),
        ("+proj=longlat +ellps=GRS80", "not the name or code"),
        ("\ud800", "PROJ knows no coordinate system"),
        ("EPSG:7855", "is not a geographic system"),
        ("EPSG:5773", "is not a geographic system"),
        ("NTF (Paris)", "does not rest on longitude and latitude in degrees"),
        ("IAU_2015:30100", "is not a system of the Earth"),
    ],
)
def test_a_datum_that_is_none(name: str, said: str):
    with pytest.raises(UnknownSystemError, match=said.replace("(", r"\(")):
        geographic(name)


@pytest.mark.parametrize("name", ["WGS 84", "GDA94", "NAD83", "NZGD2000", "ETRS89", "EPSG:4283", "4283", "EPSG:4979"])
def test_a_datum_by_name_or_code(name: str):
    assert geographic(name).is_geographic
    assert len(geographic(name).axis_info) == 2


def test_the_datum_below_a_compound_system():
    assert datum_of(CRS("EPSG:7415")).name == "Amersfoort"


def test_nothing_is_fetched():
    assert not pyproj.network.is_network_enabled()

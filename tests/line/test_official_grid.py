"""Which official grid a site's points are given in."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from pyproj import CRS, Transformer

from fencegis.line.official_grid import by_area, official_grid, survey_grids, to_official, utm, why_grid
from fencegis.records.site import Grid, Site
from fencegis.records.spec import Spec
from fencegis.records.terrain import Patch, Terrain


def site(*, spec: dict | None = None, raster: str | None = None, lon: float = 144.4, lat: float = -38.0) -> Site:
    terrain = None
    if raster is not None:
        patch = Patch(
            "elevation.tif",
            CRS(raster).to_wkt(),
            (1.0, 0.0, 0.0, 0.0, -1.0, 0.0),
            (1, 1),
            np.zeros((1, 1, 1), "float32"),
            np.zeros((1, 1), "int32"),
        )
        terrain = Terrain((patch,), 1.0)
    grid = Grid("", CRS("WGS 84").to_wkt(), lon, lat, 0.0, 1.0)
    return Site("a", "a", Spec.model_validate(spec or {}), grid, (), terrain=terrain)


def test_the_named_grid_comes_first() -> None:
    assert official_grid(site(spec={"points": {"grid": "EPSG:7854"}}, raster="EPSG:7855")) == "EPSG:7854"


@pytest.mark.parametrize("raster", ["EPSG:7855", "EPSG:7855+5711", "EPSG:3794"])
def test_then_the_rasters_own(raster: str) -> None:
    assert official_grid(site(raster=raster)) == raster.split("+", maxsplit=1)[0]


@pytest.mark.parametrize("raster", [None, "EPSG:4326", "EPSG:3857", "EPSG:4979"])
def test_else_utm_on_the_boundarys_datum(raster: str | None) -> None:
    assert official_grid(site(raster=raster)) == "EPSG:32755"


@pytest.mark.parametrize(
    ("datum", "lon", "lat", "code"),
    [
        ("WGS 84", 179.9, -17.0, "EPSG:32760"),
        ("WGS 84", -180.0, -17.0, "EPSG:32701"),
        ("WGS 84", 180.0, -17.0, "EPSG:32701"),
        ("GDA2020", 144.4, -38.0, "EPSG:7855"),
        ("GDA94", 143.9, -38.0, "EPSG:28354"),
        ("ETRS89", 14.5, 46.0, "EPSG:25833"),
        ("ETRS89", 5.3, 60.4, "EPSG:25832"),
        ("NAD83(2011)", -100.0, 40.0, "EPSG:6343"),
    ],
)
def test_utm_zone(datum: str, lon: float, lat: float, code: str) -> None:
    assert utm(datum, lon, lat) == code


def test_utm_without_a_code_is_named_in_words() -> None:
    crs = CRS(utm("OSGB36", -3.0, 55.0))
    assert crs.name == "OSGB36 / UTM zone 30N"
    assert crs.to_authority("EPSG") is None


def test_points_come_as_east_and_north_also_from_west_and_south() -> None:
    to_zone = Transformer.from_crs("EPSG:4148", "EPSG:32734", always_xy=True)
    here, east, north = (np.array(to_zone.transform(*place)) for place in ((20, -33), (20.01, -33), (20, -32.99)))
    moved = to_official(np.array([here, east, north]), grid_wkt="EPSG:32734", official="EPSG:2048")
    assert moved[0, 0] > 0  # east of the central meridian, 19° east
    assert moved[1, 0] - moved[0, 0] == pytest.approx(934, abs=2)
    assert moved[2, 1] - moved[0, 1] == pytest.approx(1109, abs=2)


def test_points_that_cannot_be_transformed_are_nan() -> None:
    moved = to_official(np.array([[np.inf, 0.0], [5e5, 6e6]]), grid_wkt="EPSG:32755", official="EPSG:7855")
    assert np.isnan(moved[0]).all()
    assert np.isfinite(moved[1]).all()


@pytest.mark.parametrize(
    ("datum", "lon", "lat", "code"),
    [
        pytest.param("GDA2020", 148.6, -34.5, "EPSG:7855", id="Australia: the national map grid"),
        pytest.param("GDA94", 148.6, -34.5, "EPSG:28355", id="Australia on the older datum"),
        pytest.param("NAD83(2011)", -109.0, 46.0, "EPSG:6514", id="Montana: the state's own before UTM, in metres"),
        pytest.param("NZGD2000", 170.5, -45.2, "EPSG:2193", id="New Zealand: its own, not UTM at sea"),
        pytest.param("OSGB36", -1.5, 53.0, "EPSG:27700", id="Britain: the National Grid"),
        pytest.param("IRENET95", -8.0, 53.0, "EPSG:2157", id="Ireland: its own before UTM"),
        pytest.param("ETRS89", 10.0, 50.0, "EPSG:25832", id="Germany: UTM"),
        pytest.param("Hartebeesthoek94", 25.0, -30.0, "EPSG:2051", id="South Africa: the zone of its meridian"),
        pytest.param("WGS 84", 148.6, -34.5, None, id="no grid on WGS 84 is listed for survey"),
    ],
)
def test_the_grid_by_area_of_use_on_the_drawings_datum(datum: str, lon: float, lat: float, code: str | None) -> None:
    """The codes are the agencies' own grids as the EPSG database names them."""
    assert by_area(datum, lon, lat) == code


def test_a_drawing_on_a_national_datum_is_given_its_grid_and_told_why() -> None:
    here = site(lon=170.5, lat=-45.2)
    here = dataclasses.replace(here, grid=dataclasses.replace(here.grid, datum=CRS("NZGD2000").to_wkt()))
    assert official_grid(here) == "EPSG:2193"
    assert why_grid(here).startswith("by area of use")
    assert why_grid(site(spec={"points": {"grid": "EPSG:7854"}})) == "named in site.toml"
    assert why_grid(site(raster="EPSG:7855")) == "the elevation file's own"
    assert why_grid(site()).startswith("UTM on the drawing's datum")


def test_the_grids_for_survey_here_are_listed_on_every_datum() -> None:
    listed = dict(survey_grids(site(lon=148.6, lat=-34.5)))
    assert listed["EPSG:7855"] == "GDA2020 / MGA zone 55"
    assert listed["EPSG:28355"] == "GDA94 / MGA zone 55"
    assert not {"EPSG:3857", "EPSG:32755", "EPSG:7845"} & listed.keys()
    for code in listed:
        area = CRS(code).area_of_use
        assert area
        assert area.west <= 148.6 <= area.east
        assert area.south <= -34.5 <= area.north

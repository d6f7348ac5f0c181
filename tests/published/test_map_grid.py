"""Points, scale, convergence, azimuths and distances of the Australian survey manual's worked example."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from pyproj import Geod, Proj

from fencegis.inputs.crs import geographic, moved, working_grid
from fencegis.line.bearings import grid_bearing_deg, true_bearing_deg

if TYPE_CHECKING:
    from collections.abc import Callable

ZONES = {55: "EPSG:7855", 54: "EPSG:7854"}  # GDA2020 / MGA; the ellipsoid and so the figures are GDA94's too
GRS80 = Geod(ellps="GRS80")


def degrees(text: str) -> float:
    """Degrees, minutes and seconds as degrees."""
    whole, minutes, seconds = (float(part) for part in text.lstrip("-").split(" "))
    return (-1 if text.startswith("-") else 1) * (whole + minutes / 60 + seconds / 3600)


FLINDERS = degrees("144 25 29.52440"), degrees("-37 57 03.72030")
BUNINYONG = degrees("143 55 35.38390"), degrees("-37 39 10.15610")
BELLARINE = degrees("144 36 43.67715"), degrees("-38 09 05.22718")
TEST_POINT = degrees("144 58 16.44114"), degrees("-37 48 26.67598")


def projected(place: tuple[float, float], zone: int = 55) -> np.ndarray:
    return moved(np.array([place]), source="EPSG:7844", target=ZONES[zone]).points


def factors(place: tuple[float, float], zone: int = 55) -> tuple[float, float]:
    """Point scale factor, and convergence as the manual signs it: azimuth + convergence = grid bearing."""
    found = Proj(ZONES[zone]).get_factors(*place)
    return found.meridional_scale, -found.meridian_convergence


@pytest.mark.parametrize(
    ("place", "zone", "east", "north"),
    [
        pytest.param(FLINDERS, 55, "273741.2966", "5796489.7769", id="Flinders Peak"),
        pytest.param(BUNINYONG, 55, "228854.0513", "5828259.0384", id="Buninyong"),
        pytest.param(BUNINYONG, 54, "758173.7973", "5828674.3402", id="Buninyong in zone 54"),
        pytest.param(BELLARINE, 55, "290769.028", "5774686.632", id="Bellarine"),
        pytest.param(TEST_POINT, 55, "321405.5592", "5813614.1613", id="test point"),
    ],
)
@pytest.mark.published(source="icsm-mga", where="Table 5.1 (p. 56) and Table C-1 (p. 81); GDA94 manual p. 46: E, N")
def test_coordinates(compare: Callable, printed: type, place: tuple, zone: int, east: str, north: str) -> None:
    """To half a millimetre: the places are printed to 0.00001″, which is 0.3 mm of latitude."""
    compare(float(projected(place, zone)[0, 0]), printed(east, 0.0005))
    compare(float(projected(place, zone)[0, 1]), printed(north, 0.0005))


@pytest.mark.parametrize(
    ("place", "zone", "scale"),
    [
        pytest.param(FLINDERS, 55, "1.00023056", id="Flinders Peak"),
        pytest.param(BUNINYONG, 55, "1.00050567", id="Buninyong"),
        pytest.param(BUNINYONG, 54, "1.00042107", id="Buninyong in zone 54"),
        pytest.param(BELLARINE, 55, "1.00013919", id="Bellarine"),
        pytest.param(TEST_POINT, 55, "0.99999287", id="test point"),
    ],
)
@pytest.mark.published(source="icsm-mga", where="Table C-1 (p. 81): point scale factor")
def test_point_scale_factor(compare: Callable, place: tuple, zone: int, scale: str) -> None:
    compare(factors(place, zone)[0], scale)


@pytest.mark.parametrize(
    ("place", "zone", "convergence"),
    [
        pytest.param(FLINDERS, 55, "-1 35 03.65", id="Flinders Peak"),
        pytest.param(BUNINYONG, 55, "-1 52 43.22", id="Buninyong"),
        pytest.param(BUNINYONG, 54, "1 47 19.36", id="Buninyong in zone 54"),
        pytest.param(TEST_POINT, 55, "-1.2439811331", id="test point"),
    ],
)
@pytest.mark.published(source="icsm-mga", where="Table C-1 (p. 81): grid convergence")
def test_convergence(compare: Callable, printed: type, place: tuple, zone: int, convergence: str) -> None:
    # 0.00001″ of the printed longitude turns the convergence by 2e-9°, more than its last printed digit.
    tolerance = 2e-9 if place == TEST_POINT else None
    compare(factors(place, zone)[1], printed(convergence, tolerance))


@pytest.mark.published(source="icsm-mga", where="Table 5.1 (p. 56): azimuths")
def test_azimuths_are_our_true_bearings(compare: Callable) -> None:
    """In the map grid, and in the working grid of a site that has both places."""
    places = np.array([FLINDERS, BUNINYONG])
    site = working_grid(places, datum=geographic("GDA2020"), height_m=350.0).wkt
    for grid in (ZONES[55], site):
        there, here = moved(places, source="EPSG:7844", target=grid).points.reshape(2, 1, 2)
        compare(float(true_bearing_deg(there, here, grid_wkt=grid)[0]), "306 52 05.37")
        compare(float(true_bearing_deg(here, there, grid_wkt=grid)[0]), "127 10 25.07")


@pytest.mark.published(source="icsm-mga", where="Table 5.1 (p. 56): grid bearings of the geodesic")
def test_true_bearing_and_convergence_make_the_grid_bearing(compare: Callable) -> None:
    there, here = projected(FLINDERS), projected(BUNINYONG)
    for start, end, place, page in (
        (there, here, FLINDERS, "305 17 01.7259"),
        (here, there, BUNINYONG, "125 17 41.8518"),
    ):
        true = float(true_bearing_deg(start, end, grid_wkt=ZONES[55])[0])
        compare(true + factors(place)[1], page)


@pytest.mark.published(source="icsm-mga", where="Table 5.1 (p. 56): ellipsoidal and plane distance, line scale factor")
def test_distances(compare: Callable) -> None:
    ellipsoidal = GRS80.inv(*FLINDERS, *BUNINYONG)[2]
    plane = float(np.hypot(*(projected(BUNINYONG) - projected(FLINDERS))[0]))
    compare(ellipsoidal, "54972.271")
    compare(plane, "54992.279")
    compare(plane / ellipsoidal, "1.00036397")


@pytest.mark.published(source="icsm-mga", where="Table C-1 (p. 81): point scale factor, times 1000 m")
def test_a_kilometre_of_fence_measures_more_on_the_map_grid(compare: Callable, printed: type) -> None:
    """Square to and along the meridian: 1000.23 m on the map grid, so grid distance is not what a tape reads."""
    for azimuth in (0.0, 90.0):
        end = GRS80.fwd(*FLINDERS, azimuth, 1000.0)[:2]
        on_grid = float(np.hypot(*(projected(end) - projected(FLINDERS))[0]))
        compare(on_grid, printed("1000.23056", 0.005))  # the scale also changes along the kilometre, by 3 mm


@pytest.mark.published(source="ga-geodesy", where="test_geodesy.py: short line near −29.85")
def test_short_geodesic(compare: Callable) -> None:
    here, there = (140.71666667, -29.85), (140.76666667, -29.85)
    forward, back, metres = GRS80.inv(*here, *there)
    compare(metres, "4831.553")
    compare(forward % 360.0, "90 00 44.80")
    compare(back % 360.0, "269 59 15.20")
    ends = [projected(place, 54) for place in (here, there)]
    compare(float(true_bearing_deg(*ends, grid_wkt=ZONES[54])[0]), "90 00 44.80")


@pytest.mark.published(source="ga-geodesy", where="test_geodesy.py: plane join of two points of zone 55")
def test_plane_join_is_our_grid_bearing(compare: Callable) -> None:
    start, end = np.array([[696053.337, 6086610.13]]), np.array([[696770.781, 6086089.772]])
    compare(float(np.hypot(*(end - start)[0])), "886.2834")
    compare(float(grid_bearing_deg(start, end, grid_wkt=ZONES[55], official=ZONES[55])[0]), "125 57 11.378")

"""Heights between cells: against a plain twin, and exact on planes in the raster's own coordinates."""

from __future__ import annotations

import math

import numpy as np
import pytest
from pyproj import CRS, Transformer
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import TransverseMercatorConversion

from fencegis.line.ground import cell_positions, heights, transformer
from fencegis.records.terrain import Patch, Terrain

TILE = (7, 5)


def grid_at(lon: float, lat: float) -> str:
    tm = TransverseMercatorConversion(lat, lon, 50_000, 80_000, 1.00004)
    return ProjectedCRS(conversion=tm, geodetic_crs=CRS(4326), name="Site grid").to_wkt()


GRID = grid_at(149.0, -34.0)
UTM55, UTM56, LONLAT = (CRS(code).to_wkt() for code in (32755, 32756, 4326))
EAST, NORTH = (float(v) for v in Transformer.from_crs(GRID, UTM55, always_xy=True).transform(50_000, 80_000))
AFFINES = {
    "north up": (UTM55, (1.0, 0.0, EAST - 20, 0.0, -1.0, NORTH + 15)),
    "north down": (UTM55, (1.0, 0.0, EAST - 20, 0.0, 1.0, NORTH - 15)),
    "rotated": (UTM55, (0.8, 0.6, EAST - 20, 0.6, -0.8, NORTH + 15)),
    "sheared": (UTM55, (2.0, 0.7, EAST - 20, -0.3, -1.5, NORTH + 15)),
    "longitude and latitude": (LONLAT, (1e-5, 0.0, 149.0 - 2e-4, 0.0, -8e-6, -34.0 + 1e-4)),
}


def patch(values: np.ndarray, crs_wkt: str, affine: tuple, *, unread: tuple[tuple[int, int], ...] = ()) -> Patch:
    rows, columns = values.shape
    down, across = -(-rows // TILE[0]), -(-columns // TILE[1])
    whole = np.full((down * TILE[0], across * TILE[1]), np.nan, dtype=np.float32)
    whole[:rows, :columns] = values
    tiles = whole.reshape(down, TILE[0], across, TILE[1]).swapaxes(1, 2).reshape(-1, *TILE)
    tile_of = np.arange(down * across, dtype=np.int32).reshape(down, across)
    for place in unread:
        tile_of[place] = -1
    return Patch("a.tif", crs_wkt, affine, (rows, columns), tiles, tile_of)


def on_ground(affine: tuple, crs_wkt: str, column: np.ndarray, row: np.ndarray, grid: str = GRID) -> np.ndarray:
    """Return points of the working grid at fractional columns and rows."""
    a, b, c, d, e, f = affine
    x, y = a * column + b * row + c, d * column + e * row + f
    return np.column_stack(Transformer.from_crs(crs_wkt, grid, always_xy=True).transform(x, y))


def twin(values: np.ndarray, column: float, row: float) -> float:
    """Return the height by the rule in words, one point at a time."""
    rows, columns = values.shape
    if not (0 <= column <= columns and 0 <= row <= rows):
        return math.nan
    total = weight = 0.0
    for cell_row in range(rows):
        for cell_column in range(columns):
            share = max(0.0, 1 - abs(column - 0.5 - cell_column)) * max(0.0, 1 - abs(row - 0.5 - cell_row))
            if share > 1e-9 and not math.isnan(values[cell_row, cell_column]):
                total += share * values[cell_row, cell_column]
                weight += share
    return total / weight if weight else math.nan


@pytest.mark.parametrize("name", AFFINES)
def test_a_plane_in_the_raster_s_own_coordinates_is_exact_across_tiles(name: str) -> None:
    crs_wkt, affine = AFFINES[name]
    column, row = np.meshgrid(np.arange(40) + 0.5, np.arange(30) + 0.5)
    x, y = affine[0] * column + affine[1] * row, affine[3] * column + affine[4] * row
    unit = max(abs(affine[0]), abs(affine[4]))
    plane = 990.0 + 0.21 * x / unit - 0.13 * y / unit
    terrain = Terrain((patch(plane.astype(np.float32), crs_wkt, affine),), 1.0)
    rng = np.random.default_rng(1)
    at_column, at_row = rng.uniform(0.5, 39.5, 400), rng.uniform(0.5, 29.5, 400)
    x, y = affine[0] * at_column + affine[1] * at_row, affine[3] * at_column + affine[4] * at_row
    found = heights(terrain, GRID, on_ground(affine, crs_wkt, at_column, at_row))
    assert np.abs(found - (990.0 + 0.21 * x / unit - 0.13 * y / unit)).max() < 0.001


@pytest.mark.parametrize("name", AFFINES)
def test_agrees_with_the_plain_twin_at_random_points_with_voids(name: str) -> None:
    crs_wkt, affine = AFFINES[name]
    rng = np.random.default_rng(2)
    values = rng.uniform(100, 200, (17, 13)).astype(np.float32)
    values[rng.random(values.shape) < 0.35] = np.nan
    column, row = rng.uniform(-1, 14, 300), rng.uniform(-1, 18, 300)
    found = heights(Terrain((patch(values, crs_wkt, affine),), 1.0), GRID, on_ground(affine, crs_wkt, column, row))
    wanted = np.array([twin(values, *at) for at in zip(column, row, strict=True)])
    assert np.array_equal(np.isnan(found), np.isnan(wanted))
    assert 50 < np.isnan(wanted).sum() < 200
    assert np.nanmax(np.abs(found - wanted)) < 1e-3


def at(values: list[list[float]], column: float, row: float, **how: tuple) -> float:
    crs_wkt, affine = AFFINES["north up"]
    terrain = Terrain((patch(np.array(values), crs_wkt, affine, **how),), 1.0)
    return float(heights(terrain, GRID, on_ground(affine, crs_wkt, np.array([column]), np.array([row])))[0])


def test_half_a_cell_past_the_outermost_centres_is_inside_and_takes_the_nearest() -> None:
    values = [[10.0, 20.0], [30.0, 40.0]]
    assert at(values, 0.01, 0.01) == pytest.approx(10.0)
    assert at(values, 1.99, 1.0) == pytest.approx(30.0)
    assert math.isnan(at(values, -0.01, 1.0))
    assert math.isnan(at(values, 1.0, 2.01))


def test_a_void_corner_drops_out_and_the_others_weights_come_back_to_one() -> None:
    assert at([[10.0, math.nan], [30.0, 30.0]], 1.0, 1.0) == pytest.approx(70 / 3)
    assert at([[10.0, math.nan], [math.nan, math.nan]], 0.5, 0.5) == pytest.approx(10.0)
    assert math.isnan(at([[math.nan, 20.0], [30.0, 40.0]], 0.5, 0.5))
    assert math.isnan(at([[math.nan, math.nan], [math.nan, math.nan]], 1.0, 1.0))


def test_a_tile_that_was_not_read_gives_nothing_rather_than_a_guess() -> None:
    values = np.full((7, 10), 50.0).tolist()
    assert at(values, 5.2, 3.0) == pytest.approx(50.0)
    assert math.isnan(at(values, 5.2, 3.0, unread=((0, 1),)))
    assert math.isnan(at(values, 4.8, 3.0, unread=((0, 1),)))
    assert at(values, 4.5, 3.0, unread=((0, 1),)) == pytest.approx(50.0)


def test_rasters_in_two_systems_the_first_with_a_height_wins() -> None:
    grid = grid_at(150.0, -34.0)  # on the seam of two zones
    first_at, second_at = (
        Transformer.from_crs(grid, crs, always_xy=True).transform(50_000, 80_000) for crs in (UTM55, UTM56)
    )
    first = patch(np.full((20, 20), 1.0), UTM55, (1.0, 0.0, first_at[0] - 20, 0.0, -1.0, first_at[1] + 10))
    column, row = np.meshgrid(np.arange(40) + 0.5, np.arange(40) + 0.5)
    affine = (1.0, 0.0, second_at[0] - 20, 0.0, -1.0, second_at[1] + 20)
    second = patch(100 + 0.25 * column - 0.5 * row, UTM56, affine)
    rng = np.random.default_rng(3)
    across, down = rng.uniform(1, 39, 300), rng.uniform(1, 39, 300)
    points = on_ground(affine, UTM56, across, down, grid)
    plane = 100 + 0.25 * across - 0.5 * down
    inside = ~np.isnan(heights(Terrain((first,), 1.0), grid, points))
    assert 30 < inside.sum() < 150
    both = heights(Terrain((first, second), 1.0), grid, points)
    assert np.allclose(both[inside], 1.0)
    assert np.abs(both - plane)[~inside].max() < 0.001
    assert np.abs(heights(Terrain((second, first), 1.0), grid, points) - plane).max() < 0.001


def test_files_on_one_lattice_have_no_edge_between_them() -> None:
    crs_wkt, affine = AFFINES["rotated"]
    column, row = np.meshgrid(np.arange(24) + 0.5, np.arange(16) + 0.5)
    plane = 300 + 0.5 * column - 0.25 * row
    a, b, c, d, e, f = affine
    west = patch(plane[:, :11], crs_wkt, affine)
    east = patch(plane[:, 11:], crs_wkt, (a, b, c + 11 * a, d, e, f + 11 * d))
    rng = np.random.default_rng(4)
    across, down = rng.uniform(10.4, 11.6, 200), rng.uniform(1, 15, 200)
    points = on_ground(affine, crs_wkt, across, down)
    found = heights(Terrain((east, west), 1.0), GRID, points)
    assert np.abs(found - (300 + 0.5 * across - 0.25 * down)).max() < 0.001
    # Half a cell off the lattice it is another raster: nothing is mixed, and the first keeps its own edge.
    off = patch(plane[:, 11:] + 50, crs_wkt, (a, b, c + 11.5 * a, d, e, f + 11.5 * d))
    found = heights(Terrain((west, off), 1.0), GRID, points)
    assert found[across < 11].max() < 310
    assert np.isnan(found[(across > 11) & (across < 11.5)]).all()


@pytest.mark.parametrize("west", [179.9998, -180.0002], ids=["from 180 up", "from -180 down"])
def test_longitudes_are_taken_on_the_raster_s_side_of_the_180th_meridian(west: float) -> None:
    grid = grid_at(180.0, -17.0)
    affine = (1e-5, 0.0, west, 0.0, -1e-5, -17.0 + 1e-4)
    column, _ = np.meshgrid(np.arange(40) + 0.5, np.arange(20) + 0.5)
    terrain = Terrain((patch(10 + column, LONLAT, affine),), 1.0)
    lon = np.array([179.9999, 180.0, -179.9999])
    points = np.column_stack(Transformer.from_crs(LONLAT, grid, always_xy=True).transform(lon, np.full(3, -17.0)))
    assert heights(terrain, grid, points) == pytest.approx([20, 30, 40], abs=0.001)


def test_points_that_are_no_numbers_have_no_height() -> None:
    crs_wkt, affine = AFFINES["north up"]
    terrain = Terrain((patch(np.full((9, 9), 5.0), crs_wkt, affine),), 1.0)
    found = heights(terrain, GRID, [[math.nan, 1.0], [math.inf, 80_000.0], [1e12, 1e12], [49_985.0, 80_010.0]])
    assert np.isnan(found[:3]).all()
    assert found[3] == pytest.approx(5.0)
    assert heights(terrain, GRID, np.empty((0, 2))).shape == (0,)
    assert np.isnan(heights(Terrain((), 0.0), GRID, [[0.0, 0.0]])).all()


def test_cell_positions_count_from_the_first_cell_s_upper_left_corner() -> None:
    crs_wkt, affine = AFFINES["sheared"]
    points = on_ground(affine, crs_wkt, np.array([0.0, 3.25]), np.array([0.0, 7.5]))
    column, row = cell_positions(points, grid_wkt=GRID, crs_wkt=crs_wkt, affine=affine, shape=(9, 9))
    assert column == pytest.approx([0.0, 3.25], abs=1e-6)
    assert row == pytest.approx([0.0, 7.5], abs=1e-6)


def test_proj_is_asked_once_for_a_pair_of_systems() -> None:
    assert transformer(GRID, UTM55) is transformer(GRID, UTM55)

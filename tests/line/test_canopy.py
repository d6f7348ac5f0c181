"""Canopy about stations: the highest of each station's own part of the line, on a raster made by hand."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import CRS

from fencegis.line.canopy import canopy_about, canopy_at
from fencegis.line.chainage import Line
from fencegis.records.terrain import Canopy, Patch, Terrain

GRID = CRS("EPSG:32755").to_wkt()
LINE = Line("A", False, np.array([[600_000.5, 6_200_000.5], [600_060.5, 6_200_000.5]]))
STATIONS = np.arange(0.0, 61.0, 10.0)
NAN = float("nan")


def canopy(row: np.ndarray, *, cover_only: bool = False) -> Canopy:
    """Return canopy of 1 m cells along the line: `row` from its start on, the same across it."""
    cells = np.tile(np.asarray(row, dtype=np.float32), (8, 1))
    affine = (1.0, 0.0, 600_000.0, 0.0, -1.0, 6_200_004.0)
    patch = Patch("canopy.tif", GRID, affine, cells.shape, cells[None], np.zeros((1, 1), dtype=np.int32))
    return Canopy(Terrain((patch,), 1.0), cover_only)


def about(row: np.ndarray, *, cover_only: bool = False) -> list[float]:
    return canopy_about(canopy(row, cover_only=cover_only), GRID, LINE, STATIONS).tolist()


def cells(**high: float) -> np.ndarray:
    row = np.zeros(64)
    for place, height in high.items():
        row[int(place[1:])] = height
    return row


def test_one_tree_between_two_stations_is_not_lost() -> None:
    assert about(cells(m23=9.0)) == [0, 0, 9.0, 0, 0, 0, 0]
    assert about(cells(m27=9.0)) == [0, 0, 0, 9.0, 0, 0, 0]


def test_a_tree_half_way_stands_in_the_way_of_both() -> None:
    assert about(cells(m25=9.0)) == [0, 0, 9.0, 9.0, 0, 0, 0]


def test_cover_has_no_height() -> None:
    assert about(cells(m30=1.0), cover_only=True) == [0, 0, 0, np.inf, 0, 0, 0]


def test_unknown_is_unknown_only_where_nothing_is_known() -> None:
    row = cells(m22=7.0)
    row[12:20] = NAN
    assert about(row) == [0, 0, 7.0, 0, 0, 0, 0]
    row[5:36] = NAN
    found = about(row)
    assert found[0] == 0.0
    assert np.isnan(found[1:3]).all()
    assert not np.isnan(found[4:]).any()


def test_a_canopy_elsewhere_is_unknown() -> None:
    found = canopy_about(Canopy(Terrain((), 0.0)), GRID, LINE, STATIONS)
    assert np.isnan(found).all()
    assert found.shape == STATIONS.shape


@pytest.mark.parametrize("seed", range(5))
def test_every_cell_on_a_station_s_part_counts_in_full(seed: int) -> None:
    """The twin: the part of each station in steps of a millimetre, the cell of each looked up by its number."""
    dice = np.random.default_rng(seed)
    row = np.where(dice.random(64) < 0.3, dice.uniform(0.5, 20.0, 64), 0.0)
    stations = np.sort(np.round(dice.uniform(0.0, 60.0, 9)) + 0.25)  # no part ends within a quarter of a cell's edge
    found = canopy_about(canopy(row), GRID, LINE, stations)
    edges = np.concatenate([stations[:1], (stations[:-1] + stations[1:]) / 2, stations[-1:]])
    for begin, end, height in zip(edges[:-1], edges[1:], found, strict=True):
        part = np.linspace(begin, end, max(2, round((end - begin) * 1000)))
        assert height == pytest.approx(row[np.floor(part + 0.5).astype(int)].max())


def test_a_point_has_the_height_of_its_own_cell() -> None:
    one = canopy(cells(m10=9.0))
    beside = [[600_010.01, 6_200_000.5], [600_010.99, 6_200_000.5], [600_011.01, 6_200_000.5], [600_010.5, 6_199_000.0]]
    found = canopy_at(one, GRID, beside)
    assert found[:3].tolist() == [9.0, 9.0, 0.0]
    assert np.isnan(found[3])

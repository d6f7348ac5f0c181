"""Elevation rasters as they come: which cells are read, what they mean, and every way in which they can be at fault."""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from pyproj import CRS, Transformer
from rasterio.env import getenv
from rasterio.transform import Affine

from fencegis.inputs.crs import geographic, working_grid
from fencegis.inputs.gdal import open_raster
from fencegis.inputs.terrain import TerrainRead, read_terrain
from fencegis.line.ground import heights

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

GRID = working_grid(np.array([[149.0, -34.0]]), datum=geographic("WGS 84"), height_m=200.0).wkt
UTM = "EPSG:32755"
EAST, NORTH = (float(v) for v in Transformer.from_crs(GRID, UTM, always_xy=True).transform(50_000, 80_000))
VOID = -9999.0


def corner(crs: str = UTM, cell: float = 1.0, rows: int = 400, columns: int = 400) -> Affine:
    """Return the affine that puts the raster's middle at 50 000 east, 80 000 north of the working grid."""
    east, north = Transformer.from_crs(GRID, crs, always_xy=True).transform(50_000, 80_000)
    return Affine(cell, 0, east - columns * cell / 2, 0, -cell, north + rows * cell / 2)


def shifted(affine: Affine, columns: float) -> Affine:
    """Return the affine of a raster that lies so many columns to the right."""
    return Affine(affine.a, affine.b, affine.c + columns * affine.a, affine.d, affine.e, affine.f + columns * affine.d)


def cells_at(affine: Affine, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return fractional columns and rows."""
    across, down = np.linalg.solve([[affine.a, affine.b], [affine.d, affine.e]], np.array([x - affine.c, y - affine.f]))
    return across, down


def ground(rows: int = 400, columns: int = 400) -> np.ndarray:
    column, row = np.meshgrid(np.arange(columns) + 0.5, np.arange(rows) + 0.5)
    return (200 + 0.05 * column - 0.03 * row + 2 * np.sin(column / 9)).astype(np.float32)


def write(path: Path, values: np.ndarray, **how: object) -> Path:
    values = values if values.ndim == 3 else values[None]
    bands, rows, columns = values.shape
    profile = {
        "driver": "GTiff",
        "crs": UTM,
        "transform": corner(rows=rows, columns=columns),
        "dtype": values.dtype.name,
    }
    after = {key: how.pop(key) for key in ("units", "scales", "offsets") if key in how}
    mask = how.pop("mask", None)
    with (
        rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True),
        rasterio.open(path, "w", count=bands, height=rows, width=columns, **profile | how) as file,
    ):
        file.write(values)
        for key, value in after.items():
            setattr(file, key, value)
        if mask is not None:
            file.write_mask(mask)
    return path


def read(
    path: Path, *more: Path, line: object = ((49_950, 80_000), (50_060, 80_030)), radius: float = 10.0, **how: object
) -> TerrainRead:
    corridors = [(np.array(line, dtype=float), radius)]
    how = {"vertical_unit": None, "folder": path.parent, "grid_wkt": GRID} | how
    return read_terrain([path, *more], corridors, **how)


def faults(result: TerrainRead) -> str:
    assert result.terrain is None
    return "\n".join(map(str, result.problems))


def notes(result: TerrainRead) -> str:
    assert result.problems == ()
    return "\n".join(f"{note.severity}: {note.text}" for note in result.notes)


def at(result: TerrainRead, east: float = 50_000.0, north: float = 80_000.0) -> float:
    assert result.terrain, result.problems
    return float(heights(result.terrain, GRID, [[east, north]])[0])


# What is read


BLOCKS = {
    "tiles of 128": {"tiled": True, "blockxsize": 128, "blockysize": 128},
    "tiles of 16": {"tiled": True, "blockxsize": 16, "blockysize": 16},
    "one strip a row": {"blockysize": 1},
    "one strip": {"blockysize": 400},
    "tiles larger than the raster": {"tiled": True, "blockxsize": 512, "blockysize": 512},
    "packed": {"tiled": True, "blockxsize": 64, "blockysize": 64, "compress": "deflate", "predictor": 3},
}


@pytest.mark.parametrize("name", BLOCKS)
@pytest.mark.parametrize("radius", [0.0, 25.0])
def test_every_point_of_a_corridor_has_the_height_that_the_whole_raster_gives(
    tmp_path: Path, name: str, radius: float
) -> None:
    path = write(tmp_path / "elevation.tif", ground(), **BLOCKS[name])
    line = np.array([[49_830.0, 79_820.0], [50_020.0, 79_990.0], [49_900.0, 80_150.0]])
    result = read(path, line=line, radius=radius)
    assert result.terrain, result.problems
    everything = read(path, radius=1000.0)
    assert everything.terrain
    rng = np.random.default_rng(5)
    leg = rng.integers(0, 2, 2000)
    points = line[leg] + rng.random((2000, 1)) * (line[leg + 1] - line[leg])
    turn, far = rng.uniform(0, 2 * np.pi, 2000), radius * np.sqrt(rng.random(2000))
    points += np.column_stack([far * np.cos(turn), far * np.sin(turn)])
    wanted = heights(everything.terrain, GRID, points)
    assert not np.isnan(wanted).any()
    assert np.array_equal(heights(result.terrain, GRID, points), wanted)


@pytest.mark.parametrize("name", BLOCKS)
def test_a_cell_s_height_stands_at_its_centre(tmp_path: Path, name: str) -> None:
    values = ground()
    result = read(write(tmp_path / "elevation.tif", values, **BLOCKS[name]), radius=1000.0)
    assert result.terrain, result.problems
    row, column = np.mgrid[0:400:7, 0:400:7]
    x, y = corner().c + column.ravel() + 0.5, corner().f - row.ravel() - 0.5
    points = np.column_stack(Transformer.from_crs(UTM, GRID, always_xy=True).transform(x, y))
    assert heights(result.terrain, GRID, points) == pytest.approx(values[row, column].ravel(), abs=1e-4)


def test_only_the_tiles_that_the_line_touches_are_kept(tmp_path: Path) -> None:
    path = write(tmp_path / "elevation.tif", ground(1500, 1500), tiled=True, blockxsize=256, blockysize=256)
    short, long = read(path), read(path, line=[(49_400, 80_000), (50_600, 80_000)])
    assert short.terrain
    assert long.terrain
    kept_short, kept_long = (result.terrain.patches[0] for result in (short, long) if result.terrain)
    assert kept_short.tiles.shape[1:] == (64, 64)
    assert len(kept_short.tiles) <= 3 * 3
    assert len(kept_long.tiles) <= 20 * 2
    assert (kept_short.tile_of >= 0).sum() == len(kept_short.tiles)
    assert short.inputs["elevation.tif"]["cells_read"] == str(kept_short.tiles.size)
    assert short.inputs["elevation.tif"]["columns"] == "1500"
    assert short.inputs["elevation.tif"]["bytes"] == str(path.stat().st_size)
    assert math.isnan(at(short, 50_400, 80_300))


def test_the_fingerprint_is_of_the_cells_used_and_of_where_they_lie(tmp_path: Path) -> None:
    values, blocks = ground(), BLOCKS["tiles of 128"]
    first = read(write(tmp_path / "elevation.tif", values, **blocks)).inputs["elevation.tif"]["sha256"]
    values[10, 10] += 1.0  # far from the line
    assert read(write(tmp_path / "elevation.tif", values, **blocks)).inputs["elevation.tif"]["sha256"] == first
    moved = shifted(corner(), 0.5)
    assert (
        read(write(tmp_path / "elevation.tif", values, transform=moved, **blocks)).inputs["elevation.tif"]["sha256"]
        != first
    )
    values[200, 200] += 1.0
    assert read(write(tmp_path / "elevation.tif", values, **blocks)).inputs["elevation.tif"]["sha256"] != first


def test_a_plane_is_exact_to_a_millimetre_in_any_system(tmp_path: Path) -> None:
    for crs, cell in ((UTM, 1.0), ("EPSG:4326", 1e-5), ("EPSG:3857", 1.5), ("EPSG:32756", 2.0)):
        a, _, c, _, e, f = tuple(corner(crs, cell))[:6]
        affine = Affine(0.9 * a, 0.3 * a, c, -0.3 * e, 0.9 * e, f)
        column, row = np.meshgrid(np.arange(400) + 0.5, np.arange(400) + 0.5)
        path = write(
            tmp_path / "elevation.tif", (500 + column - 0.5 * row).astype(np.float32), crs=crs, transform=affine
        )
        result = read(path, line=[(49_980, 79_990), (50_030, 80_020)])
        points = np.array([[49_990.0, 79_996.0], [50_011.3, 80_008.2]])
        x, y = Transformer.from_crs(GRID, crs, always_xy=True).transform(*points.T)
        across, down = cells_at(affine, x, y)
        assert result.terrain, result.problems
        assert heights(result.terrain, GRID, points) == pytest.approx(500 + across - 0.5 * down, abs=0.001)


def test_cell_size_is_that_on_the_ground(tmp_path: Path) -> None:
    web = read(write(tmp_path / "web.tif", ground(), crs="EPSG:3857", transform=corner("EPSG:3857", 2.0)))
    assert web.terrain
    # On the sphere of Web Mercator a metre of ground at 34° is 1 / cos 34° of the map's; the ellipsoid adds its 0.4 %.
    assert web.terrain.cell_m == pytest.approx(2.0 * math.cos(math.radians(34)), rel=0.005)
    degrees = read(write(tmp_path / "deg.tif", ground(), crs="EPSG:4326", transform=corner("EPSG:4326", 1e-4)))
    assert degrees.terrain
    assert degrees.terrain.cell_m == pytest.approx(11.09, abs=0.01)  # 30.82 m a second of latitude ÷ 2.7778 at 34°
    assert (
        "seen: deg.tif: its cells are in degrees; on the ground they are about 9.24 m across and 11.1 m down."
        in notes(degrees)
    )
    both = read(tmp_path / "web.tif", tmp_path / "deg.tif")
    assert both.terrain
    assert both.terrain.cell_m == pytest.approx(11.09, abs=0.01)


def test_the_first_raster_with_a_height_wins_and_rasters_far_off_are_not_listed(tmp_path: Path) -> None:
    holed = np.full((400, 400), 1.0, dtype=np.float32)
    holed[:, 200:] = VOID
    a = write(tmp_path / "a.tif", holed, nodata=VOID)
    b = write(tmp_path / "b.tif", np.full((400, 400), 2.0, dtype=np.float32), transform=corner(UTM, 1.1))
    far = write(tmp_path / "c.tif", ground(), transform=shifted(corner(), 5000))
    result = read(a, b, far)
    assert (at(result, 49_960), at(result, 50_050)) == (1.0, 2.0)
    assert sorted(result.inputs) == ["a.tif", "b.tif"]
    assert notes(result) == "default: a.tif and 1 more: it does not state the unit of its heights; metres are taken."


def test_a_change_of_datum_is_recorded_after_use_and_doubted_when_it_is_rough(tmp_path: Path) -> None:
    same = read(write(tmp_path / "elevation.tif", ground()))
    assert same.terrain
    assert [(step.accuracy_m, step.missing_grids) for step in same.terrain.operations] == [(0.0, ())]
    shifted = read(write(tmp_path / "elevation.tif", ground(), crs="EPSG:7855", transform=corner("EPSG:7855")))
    assert shifted.terrain
    (step,) = shifted.terrain.operations
    assert step.accuracy_m == 3.0
    assert "GDA2020" in step.operation
    assert "doubt: Change of datum" in notes(shifted)


def test_no_source_and_no_corridor_are_no_terrain(tmp_path: Path) -> None:
    assert read_terrain([], [], grid_wkt=GRID, vertical_unit=None, folder=tmp_path) == TerrainRead(None)
    path = write(tmp_path / "elevation.tif", ground())
    assert read_terrain([path], [], grid_wkt=GRID, vertical_unit=None, folder=tmp_path) == TerrainRead(None)


def test_a_corridor_across_real_ground(outside_data: Callable[[str], Path]) -> None:
    path = outside_data("lidar_1m_farmland.tif")
    with rasterio.open(path) as raster:
        cells, affine, wkt = raster.read(1), raster.transform, raster.crs.to_wkt(version="WKT2_2019")
    ends = affine.c + affine.a * np.array([100, 900]), affine.f + affine.e * np.array([150, 850])
    lonlat = np.column_stack(Transformer.from_crs(wkt, 4326, always_xy=True).transform(*ends))
    grid = working_grid(lonlat, datum=geographic("WGS 84"), height_m=290.0)
    line = np.column_stack(Transformer.from_crs(4326, grid.wkt, always_xy=True).transform(*lonlat.T))
    result = read(path, line=line, grid_wkt=grid.wkt, radius=33.0)
    assert result.terrain, result.problems
    assert result.terrain.cell_m == pytest.approx(1.0, abs=0.001)
    points = line[0] + np.linspace(0, 1, 500)[:, None] * (line[1] - line[0])
    found = heights(result.terrain, grid.wkt, points)
    assert found.min() > 254.9  # the tile's own range as its page gives it: 254.97 to 325.05 m
    assert found.max() < 325.1
    column, row = cells_at(affine, *Transformer.from_crs(grid.wkt, wkt, always_xy=True).transform(*points.T))
    nearest = cells[row.astype(int), column.astype(int)]
    assert np.median(np.abs(found - nearest)) < 0.1
    assert int(result.inputs[path.name]["cells_read"]) < 0.4 * cells.size


# What the numbers mean


@dataclass
class Voids:
    values: np.ndarray
    note: str
    how: dict = field(default_factory=dict)


def holed(void: float, dtype: str = "float32") -> np.ndarray:
    values = ground().astype(dtype)
    values[195:205, :] = void
    return values


VOIDS = {
    "tagged": Voids(holed(-9999), "", {"nodata": -9999}),
    "tagged with a decimal": Voids(holed(np.float32(-9999.9)), "", {"nodata": -9999.9}),
    "tagged with a height": Voids(holed(0), "", {"nodata": 0}),
    "tagged with the least float": Voids(
        holed(np.finfo(np.float32).min), "", {"nodata": float(np.finfo(np.float32).min)}
    ),
    "not a number": Voids(holed(np.nan), ""),
    "infinite": Voids(holed(np.inf), "hold inf,"),
    "minus infinite": Voids(holed(-np.inf), "hold -inf,"),
    "untagged -9999": Voids(holed(-9999), "hold -9999,"),
    "untagged -9999 beside another tag": Voids(holed(-9999), "hold -9999,", {"nodata": -32768}),
    "untagged -3.4e38": Voids(holed(-3.4e38), "hold -3.3999"),
    "untagged -32768 of whole numbers": Voids(holed(-32768, "int16"), "hold -32768,"),
    "tagged of whole numbers": Voids(holed(65535, "uint16"), "", {"nodata": 65535}),
    "untagged 1e300 of doubles": Voids(holed(1e300, "float64"), "hold 1e+300,"),
    "untagged -9999 brought near by a scale": Voids(
        holed(-9999, "int32"), "hold -9999,", {"scales": (0.01,), "offsets": (50.0,)}
    ),
    "mask": Voids(ground(), "", {"mask": holed(0) > 0}),
    "alpha": Voids(
        np.stack([ground().astype("uint16"), np.where(holed(0) > 0, 65535, 0).astype("uint16")]),
        "",
        {"alpha": "YES"},
    ),
}


@pytest.mark.parametrize("name", VOIDS)
def test_void_cells_have_no_height_and_untagged_ones_are_told(tmp_path: Path, name: str) -> None:
    case = VOIDS[name]
    path = write(tmp_path / "elevation.tif", case.values, **case.how)
    result = read(path, line=[(50_000, 79_900), (50_000, 80_100)], vertical_unit="m")
    assert math.isnan(at(result))
    scale, offset = case.how.get("scales", (1,))[0], case.how.get("offsets", (0,))[0]
    assert at(result, 50_000, 80_050) == pytest.approx(ground()[150, 200] * scale + offset, abs=1.1 * scale)
    said = notes(result)
    assert said.count("cells hold") == bool(case.note)
    if case.note:
        assert said.startswith("repair: elevation.tif: ")
        assert case.note in said
        assert said.endswith("which is no height, and no tag says so: taken as void.")


def test_the_note_counts_the_void_cells_that_were_read(tmp_path: Path) -> None:
    values = ground()
    values[200, 190:200] = VOID
    values[0, 0] = VOID  # far from the line
    path = write(tmp_path / "elevation.tif", values, **BLOCKS["tiles of 128"])
    assert "repair: elevation.tif: 10 cells hold -9999, which" in notes(read(path))


def test_scale_and_offset_are_honoured(tmp_path: Path) -> None:
    stored = np.round((ground() - 100) * 100).astype(np.int32)
    path = write(tmp_path / "elevation.tif", stored, scales=(0.01,), offsets=(100.0,), nodata=-9999)
    plain = read(write(tmp_path / "plain.tif", ground()))
    assert at(read(path)) == pytest.approx(at(plain), abs=0.006)


SURVEY_FOOT_M = 1200 / 3937
COMPOUND_FT = "EPSG:6588+6360"  # a Texas grid and NAVD88, both in US survey feet


@pytest.mark.parametrize(
    ("how", "key", "unit_m", "note"),
    [
        ({}, None, 1.0, "default: elevation.tif: it does not state the unit of its heights; metres are taken."),
        ({}, "m", 1.0, ""),
        ({"units": ("metre",)}, None, 1.0, ""),
        ({"units": ("m",)}, "m", 1.0, ""),
        ({"crs": "EPSG:32755+5773"}, None, 1.0, ""),
        (
            {},
            "ft",
            0.3048,
            "repair: elevation.tif: its heights are in feet, as site.toml says, and were turned into metres",
        ),
        (
            {"units": ("ft",)},
            None,
            0.3048,
            "repair: elevation.tif: its heights are in units of 0.3048 m and were turned",
        ),
        ({"units": ("US survey foot",)}, None, SURVEY_FOOT_M, "units of 0.3048006096 m"),
        ({"units": ("US survey foot",)}, "ft", SURVEY_FOOT_M, "units of 0.3048006096 m"),
        ({"units": ("cm",)}, None, 0.01, "units of 0.01 m"),
        ({"crs": "EPSG:32755+6360"}, None, SURVEY_FOOT_M, "units of 0.3048006096 m"),
        ({"units": ("fathoms or so",)}, "m", 1.0, ""),
    ],
)
def test_heights_become_metres(tmp_path: Path, how: dict, key: str | None, unit_m: float, note: str) -> None:
    values = ground() / (np.float32(unit_m) if unit_m >= 0.3 else np.float32(1.0))
    result = read(write(tmp_path / "elevation.tif", values, **how), vertical_unit=key)
    plain = read(write(tmp_path / "plain.tif", values), vertical_unit="m")
    assert at(result) == pytest.approx(at(plain) * unit_m, abs=1e-4)
    said = notes(result)
    assert note in said
    assert bool(note) == bool(said)


def test_a_map_grid_in_feet_makes_heights_of_no_unit_doubtful(tmp_path: Path) -> None:
    grid = working_grid(np.array([[-98.5, 29.4]]), datum=geographic("WGS 84"), height_m=200.0).wkt
    east, north = Transformer.from_crs(grid, "EPSG:6588", always_xy=True).transform(50_000, 80_000)
    path = write(
        tmp_path / "elevation.tif", ground(), crs="EPSG:6588", transform=Affine(3, 0, east - 600, 0, -3, north + 600)
    )
    result = read(path, grid_wkt=grid)
    assert "metres are taken, though its map grid is in US survey foot: look whether the heights are in feet." in notes(
        result
    )


def test_the_first_of_several_bands_is_the_height(tmp_path: Path) -> None:
    path = write(tmp_path / "elevation.tif", np.stack([ground(), 0 * ground(), 0 * ground()]))
    result = read(path, vertical_unit="m")
    assert at(result) > 200
    assert notes(result) == "doubt: elevation.tif: it has 3 bands; the first is taken for the heights."


# Faults


def no_raster(path: Path) -> None:
    path.write_text("ncols 4\nnrows 4\n")


def missing_codec(path: Path) -> None:
    write(path, ground(), compress="deflate")
    data = bytearray(path.read_bytes())
    start = struct.unpack_from("<I", data, 4)[0]
    for entry in range(struct.unpack_from("<H", data, start)[0]):
        if struct.unpack_from("<H", data, start + 2 + 12 * entry)[0] == 259:  # the tag of the compression
            struct.pack_into("<H", data, start + 2 + 12 * entry + 8, 34712)  # JPEG 2000 inside TIFF
    path.write_bytes(data)


def cut_short(path: Path) -> None:
    write(path, ground(), compress="deflate")
    path.write_bytes(path.read_bytes()[:-200_000])


def void_everywhere(path: Path) -> None:
    write(path, np.full((400, 400), VOID, dtype=np.float32), nodata=VOID)


ENGINEERING = 'LOCAL_CS["paddock",UNIT["metre",1]]'
FAULTS: dict[str, tuple[Callable[[Path], object], str]] = {
    "missing": (lambda path: path, "elevation.tif: there is no such file. Fix:"),
    "empty": (lambda path: path.write_bytes(b""), "the file is empty. Fix: export it as GeoTIFF"),
    "no raster": (no_raster, "it is not a raster of a kind that is read here. Fix: export it as GeoTIFF"),
    "missing codec": (missing_codec, "compressed by a method that is not installed here (JP2000). Fix: save it again"),
    "cut short": (cut_short, "elevation.tif: it cannot be read ("),
    "no system": (
        lambda path: write(path, ground(), crs=None),
        "it does not say which coordinate system it is in. Fix:",
    ),
    "engineering system": (
        lambda path: write(path, ground(), crs=ENGINEERING),
        "its system, paddock, is neither a map grid",
    ),
    "no position": (
        lambda path: write(path, ground(), transform=Affine.identity()),
        "it does not say where its cells lie.",
    ),
    "complex": (
        lambda path: write(path, ground().astype("complex64")),
        "cells are of the type complex64, which is no height.",
    ),
    "picture": (
        lambda path: write(path, np.ones((3, 9, 9), dtype=np.uint8), photometric="RGB"),
        "it is a picture: its cells are colours, not heights. Fix: give the raster of heights",
    ),
    "elsewhere": (
        lambda path: write(path, ground(), transform=shifted(corner(), 20_000)),
        "it has no cell under the line: it covers longitude 149.2142 to 149.2186 and latitude -33.9981 to -33.99",
    ),
    "void": (void_everywhere, "every cell under the line is void. Fix: give heights of this place, or none at all:"),
    "unknown unit": (
        lambda path: write(path, ground(), units=("cubits",)),
        "its unit of height, “cubits”, is not known",
    ),
    "two units": (
        lambda path: write(path, ground(), crs="EPSG:32755+6360", units=("m",)),
        "it states two units of height",
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_names_the_file_what_is_wrong_and_what_mends_it(tmp_path: Path, name: str) -> None:
    make, message = FAULTS[name]
    path = tmp_path / "elevation.tif"
    make(path)
    said = faults(read(path))
    assert message in said
    assert said.startswith("elevation.tif: ")
    assert str(tmp_path) not in said
    assert said.count(" Fix: ") == 1


@pytest.mark.parametrize(("unit", "key"), [("m", "ft"), ("ft", "m"), ("US survey foot", "m")])
def test_a_unit_that_the_site_file_contradicts_is_a_fault(tmp_path: Path, unit: str, key: str) -> None:
    path = write(tmp_path / "elevation.tif", ground(), units=(unit,))
    assert f"[elevation] vertical_unit says {key}, but it states a unit of height of" in faults(
        read(path, vertical_unit=key)
    )


def test_a_tile_that_fails_is_named_and_no_other(tmp_path: Path) -> None:
    folder = tmp_path / "elevation"
    folder.mkdir()
    good = write(folder / "a.tif", ground())
    no_raster(folder / "b.tif")
    far = write(folder / "c.tif", ground(), crs=None)
    result = read(good, folder / "b.tif", far, folder=tmp_path)
    assert [problem.file for problem in result.problems] == ["elevation/b.tif", "elevation/c.tif"]


def test_files_beside_the_raster_and_a_large_cache_are_not_used(tmp_path: Path) -> None:
    path = write(tmp_path / "elevation.tif", ground(), crs=None, transform=Affine.identity())
    (tmp_path / "elevation.tfw").write_text("1\n0\n0\n-1\n600000.5\n6200000.5\n")
    said = faults(read(path))
    assert "it does not say where its cells lie." in said
    assert "files beside it, such as .tfw or .aux.xml, are not read" in said
    with open_raster(path, name="elevation.tif", folder=tmp_path):
        assert getenv()["GDAL_CACHEMAX"] == 32_000_000


def test_a_link_out_of_the_site_folder_is_a_fault(tmp_path: Path) -> None:
    site = tmp_path / "site"
    site.mkdir()
    real = write(tmp_path / "shared.tif", ground())
    (site / "elevation.tif").symlink_to(real)
    assert "it is a link that leaves the site folder." in faults(read(site / "elevation.tif"))
    assert read(real, folder=site).terrain  # typed by the user with --elevation


# Mosaics


BAND = '<VRTRasterBand dataType="Float32" band="1"{kind}>{inside}</VRTRasterBand>'
NAME = '<SourceFilename relativeToVRT="{relative}">{name}</SourceFilename>'
SOURCE = f"<SimpleSource>{NAME}<SourceBand>1</SourceBand></SimpleSource>"


def mosaic(path: Path, name: str, *, relative: int = 1, kind: str = "", before: str = "") -> Path:
    place = ", ".join(f"{value!r}" for value in corner().to_gdal())
    band = BAND.format(kind=kind, inside=SOURCE.format(relative=relative, name=name))
    head = f'<VRTDataset rasterXSize="400" rasterYSize="400"><SRS>{UTM}</SRS><GeoTransform>{place}</GeoTransform>'
    path.write_text(f"{before}{head}{band}</VRTDataset>")
    return path


def test_a_mosaic_of_the_folder_s_own_tiles_is_read_as_the_tiles_are(tmp_path: Path) -> None:
    (tmp_path / "tiles").mkdir()
    tile = write(tmp_path / "tiles" / "a.tif", ground())
    result = read(mosaic(tmp_path / "elevation.vrt", "tiles/a.tif"))
    assert at(result, 49_980, 80_010) == at(read(tile), 49_980, 80_010)
    assert list(result.inputs) == ["elevation.vrt"]
    mosaic(tmp_path / "tiles" / "inner.vrt", "a.tif")
    assert at(read(mosaic(tmp_path / "elevation.vrt", "tiles/inner.vrt"))) == at(result)


OUTSIDE = "which is outside the site folder. Fix: copy its tiles into the folder elevation/ of the site"


def test_a_mosaic_in_the_folder_names_only_files_of_the_folder(tmp_path: Path) -> None:
    site = tmp_path / "site"
    site.mkdir()
    shared = write(tmp_path / "shared.tif", ground())
    write(site / "a.tif", ground())
    path = site / "elevation.vrt"
    assert f"it names ../shared.tif, {OUTSIDE}" in faults(read(mosaic(path, "../shared.tif")))
    assert OUTSIDE in faults(read(mosaic(path, str(shared), relative=0)))
    (site / "link.tif").symlink_to(shared)
    assert f"it names link.tif, {OUTSIDE}" in faults(read(mosaic(path, "link.tif")))
    mosaic(site / "inner.vrt", "../shared.tif")
    assert f"it names ../shared.tif, {OUTSIDE}" in faults(read(mosaic(path, "inner.vrt")))
    disguised = mosaic(site / "elevation.tif", "../shared.tif")
    assert f"it names ../shared.tif, {OUTSIDE}" in faults(read(disguised))
    outside = mosaic(tmp_path / "everywhere.vrt", "shared.tif")
    assert read(outside, folder=site).terrain  # typed by the user with --elevation


@pytest.mark.parametrize("name", ["/vsicurl/http://192.0.2.1/a.tif", "http://192.0.2.1/a.tif", "gone.tif", ""])
@pytest.mark.parametrize("inside", [True, False])
def test_a_mosaic_opens_nothing_that_is_not_a_file_of_this_machine(tmp_path: Path, name: str, inside: bool) -> None:
    path = mosaic(tmp_path / "elevation.vrt", name, relative=0)
    said = faults(read(path, folder=tmp_path if inside else tmp_path / "site"))
    assert OUTSIDE in said or "which is not there. Fix: make the mosaic again" in said


def test_a_mosaic_that_is_more_than_one_is_refused(tmp_path: Path) -> None:
    write(tmp_path / "a.tif", ground())
    path = tmp_path / "elevation.vrt"
    said = faults(read(mosaic(path, "a.tif", kind=' subClass="VRTDerivedRasterBand"')))
    assert "elevation.vrt is more than a mosaic: it computes or warps. Fix: make it with gdalbuildvrt" in said
    said = faults(read(mosaic(path, "a.tif", before='<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/hostname">]>')))
    assert "elevation.vrt holds XML declarations that no mosaic needs." in said
    path.write_text("<VRTDataset rasterXSize=")
    assert "elevation.vrt is not whole (" in faults(read(path))
    no_raster(tmp_path / "b.tif")
    assert "it names b.tif, which is no raster of a kind read here." in faults(read(mosaic(path, "b.tif")))


def test_systems_with_heights_keep_only_their_map_part(tmp_path: Path) -> None:
    for crs in ("EPSG:32755+5773", "EPSG:4979"):
        transform = corner("EPSG:4326", 1e-5) if crs == "EPSG:4979" else corner()
        result = read(write(tmp_path / "elevation.tif", ground(), crs=crs, transform=transform))
        assert result.terrain, result.problems
        kept = CRS(result.terrain.patches[0].crs_wkt)
        assert not kept.is_compound
        assert len(kept.axis_info) == 2

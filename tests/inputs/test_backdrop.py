"""The pictures under the map: where their pixels lie, what they show, and what is left clear."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from pyproj import Transformer
from rasterio.enums import Resampling
from rasterio.transform import Affine

from fencegis.inputs.backdrop import IMAGERY_PIXELS, SHADE_PIXELS, backdrop_of, hillshade, imagery_problems
from fencegis.inputs.crs import geographic, working_grid

if TYPE_CHECKING:
    from pathlib import Path

    from fencegis.records.backdrop import Backdrop, Picture

GRID = working_grid(np.array([[149.0, -34.0]]), datum=geographic("WGS 84"), height_m=200.0).wkt
UTM = "EPSG:32755"
EXTENT = (49_900.0, 79_950.0, 50_100.0, 80_050.0)  # 200 m by 100 m
FLAT = round(255 * math.sin(math.radians(45)))


def corner(cell: float, rows: int, columns: int, crs: str = UTM) -> Affine:
    """Return the affine that puts the raster's middle at 50 000 east, 80 000 north of the working grid."""
    east, north = Transformer.from_crs(GRID, crs, always_xy=True).transform(50_000, 80_000)
    return Affine(cell, 0, east - columns * cell / 2, 0, -cell, north + rows * cell / 2)


def write(path: Path, values: np.ndarray, *, cell: float = 1.0, palette: dict | None = None, **how: object) -> Path:
    values = values if values.ndim == 3 else values[None]
    bands, rows, columns = values.shape
    profile = {"driver": "GTiff", "crs": UTM, "transform": corner(cell, rows, columns), "dtype": values.dtype.name}
    with rasterio.open(path, "w", count=bands, height=rows, width=columns, **profile | how) as file:
        file.write(values)
        if palette:
            file.write_colormap(1, palette)
    return path


def made(*elevation: Path, imagery: Path | None = None, extent: tuple = EXTENT, **how: object) -> Backdrop:
    how = {"line_en": np.array([extent[:2], extent[2:]]), **how}
    return backdrop_of(elevation_sources=elevation, imagery=imagery, grid_wkt=GRID, extent_en=extent, **how)


def pixel(picture: Picture | None, east: float, north: float) -> list[int]:
    """Return the pixel at a place of the working grid, found by the picture's own bounds."""
    assert picture
    south, west, top, right = picture.bounds
    to_web = Transformer.from_crs(4326, 3857, always_xy=True)
    (x_0, x_1), (y_0, y_1) = to_web.transform([west, right], [south, top])
    x, y = Transformer.from_crs(GRID, 3857, always_xy=True).transform(east, north)
    rows, columns = picture.rgba.shape[:2]
    return picture.rgba[int((y_1 - y) / (y_1 - y_0) * rows), int((x - x_0) / (x_1 - x_0) * columns)].tolist()


# The shade


def test_flat_ground_is_mid_grey_and_void_is_clear() -> None:
    ground = np.full((5, 6), 300.0)
    ground[2, 3] = np.nan
    shade = hillshade(ground, cell_east_m=1.0, cell_north_m=1.0)
    assert shade.shape == (5, 6, 4)
    assert shade.dtype == np.uint8
    assert shade[0, 0].tolist() == [FLAT, FLAT, FLAT, 255]
    assert shade[2, 3].tolist() == [0, 0, 0, 0]
    assert (shade[..., 3] == 0).sum() == 1


def test_light_comes_from_the_north_west() -> None:
    column, row = np.meshgrid(np.arange(9.0), np.arange(9.0))
    grades = {
        "north-west": column + row,
        "south-east": -column - row,
        "north-east": row - column,
        "south-west": column - row,
    }
    seen = {
        faces: int(hillshade(0.1 * rise, cell_east_m=1.0, cell_north_m=1.0)[4, 4, 0]) for faces, rise in grades.items()
    }
    assert seen["north-west"] > FLAT > seen["south-east"]
    # Across the light only the steepness tells: the light's 45° over √(1 + 2 × 0.2²), ground twice as steep as it is.
    assert seen["north-east"] == seen["south-west"] == round(255 * math.sin(math.radians(45)) / math.sqrt(1.08))


def test_a_tall_picture_is_shaded_without_seams() -> None:
    row, column = np.meshgrid(np.arange(300.0), np.arange(8.0), indexing="ij")
    shade = hillshade(0.2 * row + 0.1 * column, cell_east_m=1.0, cell_north_m=1.0)
    assert len(np.unique(shade[1:-1, 1:-1, 0])) == 1


def test_the_hillshade_lies_where_the_ground_does(tmp_path: Path) -> None:
    ground = np.full((300, 300), 200.0, dtype=np.float32)
    row, column = np.meshgrid(np.arange(300), np.arange(300), indexing="ij")
    mound = np.hypot(column + 0.5 - 190, row + 0.5 - 140)  # its top 40 m east and 10 m north of the middle
    ground += np.maximum(0, 12 - mound).astype(np.float32)
    shade = made(write(tmp_path / "a.tif", ground)).hillshade
    # The working grid and the raster's grid point north within 1.2° of each other here: 0.8 m over 40 m.
    assert pixel(shade, 50_000, 80_000)[0] == pytest.approx(FLAT, abs=1)
    assert pixel(shade, 50_040 - 4, 80_010 + 4)[0] > FLAT + 20
    assert pixel(shade, 50_040 + 4, 80_010 - 4)[0] < FLAT - 60
    assert pixel(shade, 50_040 - 12, 80_010 + 12)[0] == pytest.approx(FLAT, abs=1)
    assert pixel(shade, 50_040 + 12, 80_010 - 12)[0] == pytest.approx(FLAT, abs=1)


def test_of_a_large_raster_without_overviews_only_what_lies_about_the_line_is_shaded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    row, column = np.meshgrid(np.arange(300), np.arange(300), indexing="ij")
    path = write(tmp_path / "a.tif", (200 + 3 * np.sin(row / 20) * np.cos(column / 30)).astype(np.float32))
    line = np.column_stack([np.linspace(49_920, 50_080, 40), np.full(40, 80_000.0)])
    whole = made(path, line_en=line).hillshade
    monkeypatch.setattr("fencegis.inputs.backdrop.MOST_CELLS", 1000)
    monkeypatch.setattr("fencegis.inputs.backdrop.BESIDE_CELLS", 20)
    about = made(path, line_en=line).hillshade
    for east in (49_930, 50_000, 50_070):
        assert pixel(about, east, 80_000) == pixel(whole, east, 80_000)
        assert pixel(whole, east, 80_045)[3] == 255
        assert pixel(about, east, 80_045)[3] == 0
    assert made(path, line_en=np.array([[0.0, 0.0]])).hillshade is None


def test_grades_are_of_the_ground_not_of_the_stretched_map(tmp_path: Path) -> None:
    row, column = np.meshgrid(np.arange(400), np.arange(400), indexing="ij")
    plane = (200 + 0.1 * column + 0.1 * row).astype(np.float32)
    shade = made(write(tmp_path / "a.tif", plane)).hillshade
    wanted = hillshade(plane, cell_east_m=1.0, cell_north_m=1.0)[200, 200, 0]
    assert pixel(shade, 50_010, 80_010)[0] == pytest.approx(int(wanted), abs=1)
    feet = write(tmp_path / "ft.tif", (plane / 0.3048).astype(np.float32))
    assert pixel(made(feet, vertical_unit="ft").hillshade, 50_010, 80_010)[0] == pytest.approx(int(wanted), abs=1)


def test_the_site_is_shown_with_15_percent_of_its_longer_side_around_it(tmp_path: Path) -> None:
    shade = made(
        write(tmp_path / "a.tif", np.full((600, 600), 200.0, dtype=np.float32)), extent=(49_900, 79_990, 50_100, 80_010)
    ).hillshade
    assert shade
    south, west, north, east = shade.bounds
    to_grid = Transformer.from_crs(4326, GRID, always_xy=True)
    left, bottom = to_grid.transform(west, south)
    right, top = to_grid.transform(east, north)
    assert (left, right) == pytest.approx((49_870, 50_130), abs=1.5)
    assert (bottom, top) == pytest.approx((79_960, 80_040), abs=1.5)


def test_bounds_are_the_picture_s_edges(tmp_path: Path) -> None:
    shade = made(write(tmp_path / "a.tif", np.full((300, 300), 200.0, dtype=np.float32))).hillshade
    assert shade
    south, west, north, east = shade.bounds
    (x_0, x_1), (y_0, y_1) = Transformer.from_crs(4326, 3857, always_xy=True).transform([west, east], [south, north])
    rows, columns = shade.rgba.shape[:2]
    assert (x_1 - x_0) / columns == pytest.approx((y_1 - y_0) / rows, rel=1e-9)  # square pixels


def test_voids_and_untagged_numbers_are_clear_and_darken_nothing(tmp_path: Path) -> None:
    ground = np.full((300, 300), 200.0, dtype=np.float32)
    ground[:, 150:170] = -9999
    shade = made(write(tmp_path / "a.tif", ground)).hillshade
    assert pixel(shade, 50_010, 80_000)[3] == 0
    assert pixel(shade, 49_980, 80_000) == [FLAT, FLAT, FLAT, 255]
    assert pixel(shade, 50_040, 80_000) == [FLAT, FLAT, FLAT, 255]
    assert shade
    assert set(np.unique(shade.rgba[..., 0][shade.rgba[..., 3] == 255])) == {FLAT}


def test_a_large_raster_is_thinned_and_several_are_laid_together(tmp_path: Path) -> None:
    ground = np.full((3100, 1550), 200.0, dtype=np.float32)
    ground[::7, ::5] = -9999
    place = corner(1.0, 3100, 3100)
    west = write(tmp_path / "a.tif", ground, transform=place, compress="deflate")
    east = write(tmp_path / "b.tif", ground, transform=Affine(1, 0, place.c + 1550, 0, -1, place.f), compress="deflate")
    shade = made(west, east, extent=(48_500, 78_500, 51_500, 81_500)).hillshade
    assert shade
    assert 0.9 * SHADE_PIXELS < max(shade.rgba.shape[:2]) <= SHADE_PIXELS
    for at in (49_000, 49_990, 50_010, 51_000):
        assert pixel(shade, at, 80_000) == [FLAT, FLAT, FLAT, 255]


def test_there_is_no_picture_of_what_is_not_there(tmp_path: Path) -> None:
    assert made().hillshade is None
    assert made().imagery is None
    (tmp_path / "bad.tif").write_text("no raster")
    far = write(tmp_path / "far.tif", np.full((30, 30), 9.0, dtype=np.float32), transform=corner(1.0, 30, 40_000))
    void = write(tmp_path / "void.tif", np.full((300, 300), np.nan, dtype=np.float32))
    nothing = made(tmp_path / "bad.tif", far, void, imagery=tmp_path / "bad.tif")
    assert (nothing.hillshade, nothing.imagery) == (None, None)
    assert made(imagery=far).imagery is None


# The orthophoto


def painted(dtype: str = "uint8", bands: int = 3, full: int = 255) -> np.ndarray:
    """Return grey, with a red square 10 m by 10 m whose middle is 40 m east and 10 m north of the raster's middle."""
    picture = np.full((bands, 300, 300), full // 4, dtype=dtype)
    picture[0, 135:145, 185:195] = full
    return picture


RED, GREY = [255, 63, 63, 255], [63, 63, 63, 255]


def test_colours_lie_where_they_were_painted(tmp_path: Path) -> None:
    image = made(imagery=write(tmp_path / "imagery.tif", painted(), photometric="RGB")).imagery
    assert image
    assert image.rgba.dtype == np.uint8
    for east, north in ((50_040, 80_010), (50_037, 80_007), (50_043, 80_013)):
        assert pixel(image, east, north) == RED
    for east, north in ((50_032, 80_010), (50_048, 80_010), (50_040, 80_002), (50_040, 80_018)):
        assert pixel(image, east, north) == GREY


def test_what_the_imagery_does_not_cover_is_clear(tmp_path: Path) -> None:
    west = corner(1.0, 300, 300)
    image = made(
        imagery=write(tmp_path / "i.tif", painted(), transform=Affine(1, 0, west.c + 100, 0, -1, west.f))
    ).imagery
    assert pixel(image, 49_930, 80_000)[3] == 0
    assert pixel(image, 49_970, 80_000)[3] == 255


def test_alpha_and_void_colours_are_clear_but_a_single_black_colour_is_not(tmp_path: Path) -> None:
    alpha = np.full((1, 300, 300), 255, dtype=np.uint8)
    alpha[:, :, :150] = 0
    image = made(
        imagery=write(tmp_path / "a.tif", np.vstack([painted(), alpha]), photometric="RGB", alpha="YES")
    ).imagery
    assert pixel(image, 49_960, 80_000)[3] == 0
    assert pixel(image, 50_040, 80_010) == RED
    colours = painted()
    colours[:, :, :150] = 0
    colours[1:, 135:145, 185:195] = 0
    image = made(imagery=write(tmp_path / "v.tif", colours, nodata=0)).imagery
    assert pixel(image, 49_960, 80_000)[3] == 0
    assert pixel(image, 50_040, 80_010) == pytest.approx([255, 0, 0, 255], abs=1)  # GDAL keeps 0 for void


def test_one_band_is_grey_and_a_palette_is_looked_up(tmp_path: Path) -> None:
    grey = made(imagery=write(tmp_path / "g.tif", painted(bands=1))).imagery
    assert pixel(grey, 50_040, 80_010) == [255, 255, 255, 255]
    assert pixel(grey, 50_000, 80_000) == GREY
    numbers = np.where(painted(bands=1) == 255, 7, 3).astype(np.uint8)
    table = {3: (63, 63, 63, 255), 7: (255, 63, 63, 255)}
    image = made(imagery=write(tmp_path / "p.tif", numbers, photometric="palette", palette=table)).imagery
    assert pixel(image, 50_040, 80_010) == RED
    assert pixel(image, 50_000, 80_000) == GREY


def test_more_than_8_bits_are_stretched_between_percentiles_of_what_is_shown(tmp_path: Path) -> None:
    row = np.linspace(1000, 3000, 300)
    colours = np.broadcast_to(row, (3, 300, 300)).astype(np.uint16).copy()
    colours[:, 0, 0] = 65535
    colours[:, :40, :] = 0
    image = made(imagery=write(tmp_path / "i.tif", colours, nodata=0)).imagery
    # 260 m of the ramp's 300 m are shown: 1133 to 2867, of which the outer 2 % each side are black and white.
    low, high = 1133 + 0.02 * 1734, 2867 - 0.02 * 1734
    for east in (49_900, 50_000, 50_100):
        share = (2000 + (east - 50_000) / 300 * 2000 - low) / (high - low)
        assert pixel(image, east, 80_000)[0] == pytest.approx(255 * share, abs=4)


def test_a_large_orthophoto_is_read_at_the_size_that_is_shown(tmp_path: Path) -> None:
    colours = np.repeat(np.repeat(painted(), 9, axis=1), 9, axis=2)
    path = write(tmp_path / "i.tif", colours, cell=1 / 9, tiled=True, compress="deflate", photometric="RGB")
    with rasterio.open(path, "r+") as file:
        file.build_overviews([2, 4], Resampling.nearest)
    image = made(imagery=path).imagery
    assert image
    assert 0.9 * IMAGERY_PIXELS < max(image.rgba.shape[:2]) <= IMAGERY_PIXELS
    assert pixel(image, 50_040, 80_010) == RED


def test_imagery_faults_are_told_by_the_header(tmp_path: Path) -> None:
    good = write(tmp_path / "imagery.tif", painted())
    assert imagery_problems(good) == []
    assert "gone.tif: there is no such file. Fix:" in str(imagery_problems(tmp_path / "gone.tif")[0])
    placeless = write(tmp_path / "a.tif", painted(), crs=None)
    assert "a.tif: it does not say which coordinate system it is in. Fix: write" in str(imagery_problems(placeless)[0])
    strange = write(tmp_path / "b.tif", painted().astype("complex64"))
    assert "its pixels are no colours. Fix: export it as RGB" in str(imagery_problems(strange)[0])
    (tmp_path / "c.tif").write_text("GIF89a")
    assert "it is not a raster of a kind that is read here." in str(imagery_problems(tmp_path / "c.tif")[0])
    outside = tmp_path / "site"
    outside.mkdir()
    (outside / "imagery.tif").symlink_to(good)
    assert "it is a link that leaves the site folder." in str(imagery_problems(outside / "imagery.tif")[0])
    packed = write(tmp_path / "d.tif", painted(), compress="deflate")
    packed.write_bytes(packed.read_bytes()[:300])
    assert "d.tif: it cannot be read (" in str(imagery_problems(packed)[0])


def test_a_site_across_the_180th_meridian_has_one_picture(tmp_path: Path) -> None:
    grid = working_grid(np.array([[180.0, -17.0]]), datum=geographic("WGS 84"), height_m=10.0).wkt
    x, y = Transformer.from_crs(grid, "EPSG:32701", always_xy=True).transform(50_000, 80_000)
    path = write(tmp_path / "a.tif", painted(), crs="EPSG:32701", transform=Affine(1, 0, x - 150, 0, -1, y + 150))
    backdrop = backdrop_of(
        elevation_sources=[], imagery=path, grid_wkt=grid, extent_en=EXTENT, line_en=np.zeros((0, 2))
    )
    assert backdrop.imagery
    _, west, _, east = backdrop.imagery.bounds
    assert west < 180 < east < 180.01
    assert (backdrop.imagery.rgba[..., 3] == 255).mean() > 0.99

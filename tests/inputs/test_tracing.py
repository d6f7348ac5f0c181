"""The picture of a tracing page lies where the file says, in any system; the layers' table is the reader's own."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from pyproj import Transformer
from rasterio.enums import ColorInterp

from fencegis.errors import InputError
from fencegis.inputs.drawn_layers import BOUNDARY_GEOMETRIES, drawn_layers
from fencegis.inputs.layers import LAYERS
from fencegis.inputs.properties import GateProperties, OverheadProperties
from fencegis.inputs.tracing import read_tracing
from fencegis.inputs.tracing_picture import tracing_picture
from fencegis.records.tracing import TILE_PIXELS

if TYPE_CHECKING:
    from pathlib import Path

    from fencegis.records.tracing import TracingPicture

WORLD_M = 2 * np.pi * 6_378_137.0


def raster(
    path: Path, cells: Any, *, epsg: int = 7855, origin: tuple[float, float] = (434_300.0, 6_139_980.0),
    cell: float = 0.25, turned_deg: float = 0.0, **more: Any,
) -> Path:  # fmt: skip
    cells = np.asarray(cells)
    along, across = cell * np.cos(np.radians(turned_deg)), cell * np.sin(np.radians(turned_deg))
    affine = rasterio.Affine(along, across, origin[0], across, -along, origin[1])
    bands, height, width = cells.shape
    with rasterio.open(
        path, "w", driver="GTiff", width=width, height=height, count=bands, dtype=cells.dtype, crs=f"EPSG:{epsg}",
        transform=affine, **more,
    ) as file:  # fmt: skip
        file.write(cells)
        if bands == 4:
            file.colorinterp = [ColorInterp.red, ColorInterp.green, ColorInterp.blue, ColorInterp.alpha]
    return path


def on_ground(file: Any, column: float, row: float) -> tuple[float, float]:
    """Return where a cell's corner lies in the file's system."""
    a, b, c, d, e, f = tuple(file.transform)[:6]
    return a * column + b * row + c, d * column + e * row + f


def dotted(height: int, width: int, row: int, column: int, side: int = 9) -> Any:
    """Return a grey picture with one red square."""
    cells = np.full((3, height, width), 120, dtype=np.uint8)
    cells[:, row : row + side, column : column + side] = np.array([230, 20, 20], np.uint8)[:, None, None]
    return cells


def middle_of_red(rgba: Any) -> tuple[float, float]:
    """Return row and column of the middle of what is red, in pixels."""
    red = (rgba[..., 0] > 170) & (rgba[..., 1] < 70) & (rgba[..., 3] > 0)
    assert red.any()
    rows, columns = np.nonzero(red)
    return rows.mean() + 0.5, columns.mean() + 0.5


def place_of(picture: TracingPicture, row: float, column: float, shape: tuple[int, int]) -> tuple[float, float]:
    """Return longitude and latitude of a pixel of a picture that lies in one piece."""
    south, west, north, east = picture.bounds
    top, bottom = np.arcsinh(np.tan(np.radians([north, south])))
    lat = np.degrees(np.arctan(np.sinh(top + (bottom - top) * row / shape[0])))
    return west + (east - west) * column / shape[1], float(lat)


@pytest.mark.parametrize(
    ("epsg", "origin", "cell", "turned_deg"),
    [
        (7855, (434_300.0, 6_139_980.0), 0.25, 0.0),
        (7855, (434_300.0, 6_139_980.0), 0.25, 25.0),
        (4326, (146.28, -34.88), 2.5e-6, 0.0),
        (2256, (600_000.0, 500_000.0), 1.0, 0.0),  # US survey feet in Montana
        (3857, (16_284_000.0, -4_146_000.0), 0.3, 0.0),
    ],
)
def test_a_picture_lies_where_its_file_says(
    tmp_path: Path, epsg: int, origin: tuple[float, float], cell: float, turned_deg: float
) -> None:
    path = raster(
        tmp_path / "p.tif", dotted(300, 400, 90, 250), epsg=epsg, origin=origin, cell=cell, turned_deg=turned_deg
    )
    picture = tracing_picture(path)
    assert picture.whole is not None
    row, column = middle_of_red(picture.whole.rgba)
    lon, lat = place_of(picture, row, column, picture.whole.rgba.shape[:2])
    with rasterio.open(path) as file:
        east, north = on_ground(file, 254.5, 94.5)
    to_degrees = Transformer.from_crs(epsg, 4326, always_xy=True)
    true_lon, true_lat = to_degrees.transform(east, north)
    metre = 1 / 111_320.0
    assert lat == pytest.approx(true_lat, abs=picture.pixel_m * metre)
    assert lon == pytest.approx(true_lon, abs=picture.pixel_m * metre / np.cos(np.radians(true_lat)))


def test_the_size_of_a_pixel_is_that_on_the_ground(tmp_path: Path) -> None:
    cells = dotted(60, 60, 5, 5)
    assert tracing_picture(raster(tmp_path / "m.tif", cells)).pixel_m == pytest.approx(0.25, rel=3e-3)
    feet = raster(tmp_path / "f.tif", cells, epsg=2256, origin=(600_000.0, 500_000.0), cell=1.0)
    assert tracing_picture(feet).pixel_m == pytest.approx(0.3048, rel=3e-3)


def test_a_large_picture_is_cut_as_web_maps_are(tmp_path: Path) -> None:
    path = raster(tmp_path / "large.tif", dotted(2300, 2600, 1500, 2000, side=40), tiled=True)
    picture = tracing_picture(path)
    assert picture.whole is None
    tiles = list(picture.tiles(picture.deepest))
    assert len({(tile.zoom, tile.column, tile.row) for tile in tiles}) == len(tiles)
    assert {tile.zoom for tile in tiles} == set(range(picture.widest, picture.deepest + 1))
    pixel = WORLD_M / 2**picture.deepest / TILE_PIXELS
    assert 0.5 < pixel / (picture.pixel_m / np.cos(np.radians(picture.bounds[0]))) < 1.24
    with rasterio.open(path) as file:
        east, north = on_ground(file, 2020.0, 1520.0)
    meant = np.array(Transformer.from_crs(7855, 3857, always_xy=True).transform(east, north))
    for zoom in (picture.deepest, picture.deepest - 1, picture.deepest - 3):
        side = WORLD_M / 2**zoom
        at = []
        for tile in tiles:
            if tile.zoom != zoom:
                continue
            red = (tile.rgba[..., 0] > 170) & (tile.rgba[..., 1] < 80) & (tile.rgba[..., 3] > 0)
            rows, columns = np.nonzero(red)
            at += list(
                zip(tile.column + (columns + 0.5) / TILE_PIXELS, tile.row + (rows + 0.5) / TILE_PIXELS, strict=True)
            )
        found = np.mean(at, axis=0) * side * [1, -1] + [-WORLD_M / 2, WORLD_M / 2]
        assert np.abs(found - meant).max() < 1.0 * side / TILE_PIXELS


def test_a_coarser_zoom_can_be_asked_for(tmp_path: Path) -> None:
    picture = tracing_picture(raster(tmp_path / "large.tif", dotted(600, 2600, 300, 2000, side=40), tiled=True))
    fine, coarse = list(picture.tiles(picture.deepest)), list(picture.tiles(picture.deepest - 1))
    assert max(tile.zoom for tile in coarse) == picture.deepest - 1
    assert len(coarse) < len(fine) / 2


def test_what_is_void_is_seen_through_and_makes_no_tile(tmp_path: Path) -> None:
    cells = np.full((4, 2100, 2100), 200, dtype=np.uint8)
    cells[3] = 0
    cells[3, :200, :200] = 255
    picture = tracing_picture(raster(tmp_path / "corner.tif", cells, tiled=True))
    deepest = [tile for tile in picture.tiles(picture.deepest) if tile.zoom == picture.deepest]
    assert 1 <= len(deepest) <= 4
    top = next(tile for tile in picture.tiles(picture.deepest) if tile.zoom == picture.widest)
    seen = top.rgba[top.rgba[..., 3] > 0]
    assert (seen[:, :3] > 190).all()  # what is void has not darkened what is not


def test_sixteen_bits_are_stretched_alike_over_all_tiles(tmp_path: Path) -> None:
    ramp = np.linspace(200, 3000, 2400).astype(np.uint16)
    cells = np.broadcast_to(ramp, (3, 300, 2400)).copy()
    picture = tracing_picture(raster(tmp_path / "deep.tif", cells, tiled=True))
    tiles = [tile for tile in picture.tiles(picture.deepest) if tile.zoom == picture.deepest]
    levels = [
        float(tile.rgba[..., 0][tile.rgba[..., 3] > 0].mean()) for tile in sorted(tiles, key=lambda one: one.column)
    ]
    assert levels[0] < 60 < 190 < levels[-1]


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda path: path.write_text("no picture"), "is not a raster of a kind that is read here"),
        (lambda _: None, "there is no such file"),
        (
            lambda path: raster(path, np.zeros((3, 9, 9), np.uint8), epsg=4326, origin=(10.0, 89.9), cell=0.001),
            "beyond 85° of latitude",
        ),
        (
            lambda path: raster(path, np.zeros((3, 9, 9), np.uint8), origin=(5e9, 5e9)),
            "lies outside its coordinate system",
        ),
    ],
)
def test_faults_of_the_imagery(tmp_path: Path, make: Any, told: str) -> None:
    make(tmp_path / "p.tif")
    with pytest.raises(InputError, match=told):
        read_tracing(tmp_path / "p.tif")


def test_all_faults_are_told_together(tmp_path: Path) -> None:
    (tmp_path / "p.tif").write_text("x")
    (tmp_path / "e.tif").write_text("x")
    (tmp_path / "b.geojson").write_text("{")
    with pytest.raises(InputError) as caught:
        read_tracing(tmp_path / "p.tif", elevation=tmp_path / "e.tif", boundary=tmp_path / "b.geojson")
    assert {problem.file for problem in caught.value.problems} == {"p.tif", "e.tif", "b.geojson"}


def test_elevation_of_another_place_is_a_fault(tmp_path: Path) -> None:
    picture = raster(tmp_path / "p.tif", dotted(60, 60, 5, 5))
    ground = raster(
        tmp_path / "e.tif", np.full((1, 60, 60), 141.0, np.float32), origin=(500_000.0, 6_000_000.0), cell=1.0
    )
    with pytest.raises(InputError, match="no height anywhere under the imagery"):
        read_tracing(picture, elevation=ground)


def test_relief_lies_under_all_of_a_picture(tmp_path: Path) -> None:
    picture = raster(tmp_path / "p.tif", dotted(400, 400, 5, 5))
    heights = np.add.outer(np.zeros(140), np.linspace(0, 30, 140)).astype(np.float32)[None]
    ground = raster(tmp_path / "e.tif", heights, origin=(434_280.0, 6_140_000.0), cell=1.0)
    tracing = read_tracing(picture, elevation=ground)
    assert tracing.hillshade is not None
    inner, outer = tracing.picture.bounds, tracing.hillshade.bounds
    assert outer[0] < inner[0]
    assert outer[1] < inner[1]
    assert outer[2] > inner[2]
    assert outer[3] > inner[3]
    high, wide = tracing.hillshade.rgba.shape[:2]
    assert (tracing.hillshade.rgba[high // 4 : -high // 4, wide // 4 : -wide // 4, 3] == 255).all()


def test_a_boundary_comes_in_any_system(tmp_path: Path) -> None:
    picture = raster(tmp_path / "p.tif", dotted(60, 60, 5, 5))
    ring = [[434_300.0, 6_139_900.0], [434_400.0, 6_139_900.0], [434_400.0, 6_139_960.0], [434_300.0, 6_139_900.0]]
    feature = {"type": "Feature", "properties": {"name": "Yard", "odd": float("nan")},
               "geometry": {"type": "Polygon", "coordinates": [ring]}}  # fmt: skip
    crs = {"type": "name", "properties": {"name": "EPSG:7855"}}
    (tmp_path / "b.geojson").write_text(json.dumps({"type": "FeatureCollection", "crs": crs, "features": [feature]}))
    (got,) = read_tracing(picture, boundary=tmp_path / "b.geojson").boundary
    assert got["properties"] == {"name": "Yard", "odd": None}
    true = Transformer.from_crs(7855, 4326, always_xy=True).transform(*zip(*ring, strict=True))
    assert got["geometry"]["type"] == "Polygon"
    assert np.allclose(got["geometry"]["coordinates"][0], np.column_stack(true), atol=2e-9, rtol=0)


def test_the_names_are_those_of_the_file_or_its_site(tmp_path: Path) -> None:
    folder = tmp_path / "creek end"
    folder.mkdir()
    assert read_tracing(raster(folder / "flight 3.tif", dotted(60, 60, 5, 5))).name == "flight 3"
    assert read_tracing(raster(folder / "imagery.tif", dotted(60, 60, 5, 5))).name == "creek end"


# ---- the table of layers ------------------------------------------------------------------------------------------


def test_every_layer_of_a_site_can_be_drawn() -> None:
    layers = {layer.name: layer for layer in drawn_layers()}
    assert list(layers) == ["boundary", *LAYERS]
    for name, layer in LAYERS.items():
        assert layers[name].geometries == layer.geometries
        assert [field.name for field in layers[name].fields] == list(layer.model.model_fields)
        assert layers[name].file == f"{name}.geojson"
    assert layers["boundary"].geometries == BOUNDARY_GEOMETRIES
    assert layers["keepout"].needed_off_areas == ("radius_m",)
    assert layers["trees"].needed_off_areas == ()


def test_the_limits_are_the_readers_own() -> None:
    layers = {layer.name: {field.name: field for field in layer.fields} for layer in drawn_layers()}
    opening = layers["gates"]["opening_m"]
    assert (opening.needed, opening.above, opening.most, opening.least) == (True, 0.0, 20.0, None)
    for value, sound in ((20.0, True), (20.1, False), (0.0, False)):
        assert (opening.above < value <= opening.most) == sound  # type: ignore[operator]
        try:
            GateProperties.model_validate({"opening_m": value})
        except ValueError:
            assert not sound
        else:
            assert sound
    assert layers["gates"]["leaves"].holds == "whole"
    assert layers["trees"]["dead"].holds == "flag"
    assert layers["boundary"]["line_id"].longest == 40
    for word in layers["overhead"]["height_from"].words:
        assert OverheadProperties.model_validate({"height_from": word}).height_from == word
    assert layers["soils"]["soil"].needed
    assert "sand" in layers["soils"]["soil"].words
    assert (layers["walk"]["kind"].holds, "rock" in layers["walk"]["kind"].words) == ("text", True)
    assert all(re.fullmatch(r"[a-z_]+", field) for fields in layers.values() for field in fields)

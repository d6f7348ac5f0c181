"""The orthophoto of a tracing page: whole where it is small, else cut into the squares of web maps, finest first."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import rasterio
from rasterio.windows import Window

from fencegis.errors import InputError
from fencegis.inputs.crs import WGS84, moved
from fencegis.inputs.findings import Findings, words
from fencegis.inputs.gdal import flat_crs, open_raster
from fencegis.inputs.picture_colours import colours_in
from fencegis.inputs.picture_frame import EARTH_RADIUS_M, Frame
from fencegis.records.backdrop import Picture
from fencegis.records.tracing import TILE_PIXELS, Tile, TracingPicture

if TYPE_CHECKING:
    from collections.abc import Generator, Iterator
    from pathlib import Path

    import numpy.typing as npt
    from rasterio.io import DatasetReader

    from fencegis.inputs.picture_colours import Colours, Stretch

    Floats = npt.NDArray[np.float64]
    Bytes = npt.NDArray[np.uint8]

WHOLE_PIXELS = 2048  # on the longer side: up to that a picture is laid down in one piece
DEEPEST_ZOOM = 23  # 19 mm a pixel at the equator
BLUNTER = 0.3  # of a zoom: pixels may become a fifth larger rather than four times as many
WORLD_M = 2 * math.pi * EARTH_RADIUS_M
_FURTHEST_NORTH_DEG = 85.0
_EDGE_POINTS = 21


def tracing_picture(path: Path) -> TracingPicture:
    """Return the orthophoto as a page can carry it. Raises InputError when it cannot be shown."""
    with open_raster(path, name=path.name, folder=None) as raster:
        lonlat, accuracy_m = _edge(raster)
        mercator = _mercator(lonlat)
        if mercator is None:
            found = Findings(path.name)
            fault = "it lies outside its coordinate system, or beyond 85° of latitude, where web maps end."
            found.fault("", fault, fix="give it the system that it was made in (gdal_edit.py -a_srs EPSG:…).")
            raise InputError(found.problems)
        (west, south), (east, north) = mercator.min(axis=0).tolist(), mercator.max(axis=0).tolist()
        pixel = math.sqrt(_area(mercator) / (raster.width * raster.height))
        columns, rows = (max(1, math.ceil(side / pixel - 1e-6)) for side in (east - west, north - south))
        frame = Frame(rasterio.Affine(pixel, 0.0, west, 0.0, -pixel, north), rows, columns)
        small = max(rows, columns) <= WHOLE_PIXELS
        deepest = min(DEEPEST_ZOOM, max(0, math.ceil(math.log2(WORLD_M / TILE_PIXELS / pixel) - BLUNTER)))
        widest = max(0, min(deepest, math.floor(math.log2(WORLD_M / max(east - west, north - south)))))
        crs = flat_crs(raster)
        return TracingPicture(
            file=path.name,
            system=words(crs.name) if crs else "",
            bounds=frame.bounds,
            pixel_m=pixel / math.cosh((south + north) / 2 / EARTH_RADIUS_M),
            whole=_whole(raster, frame) if small else None,
            deepest=deepest,
            widest=widest,
            tiles=partial(_tiles, path, (west, south, east, north), widest=widest),
            accuracy_m=accuracy_m,
        )


def _edge(raster: DatasetReader) -> tuple[Floats, float | None]:
    """Return (n, 2) longitudes and latitudes around the raster in order, and what PROJ says of the step's accuracy."""
    share = np.linspace(0.0, 1.0, _EDGE_POINTS)[:-1]
    zero, one = np.zeros_like(share), np.ones_like(share)
    column = np.concatenate([share, one, 1.0 - share, zero]) * raster.width
    row = np.concatenate([zero, share, one, 1.0 - share]) * raster.height
    a, b, c, d, e, f = tuple(raster.transform)[:6]
    east, north = a * column + b * row + c, d * column + e * row + f
    step = moved(np.column_stack([east, north]), source=flat_crs(raster) or WGS84, target=WGS84)
    return step.points, step.operation.accuracy_m


def _mercator(lonlat: Floats) -> Floats | None:
    """Return the points in Web Mercator, past the 180th meridian going on; None where they have no place there."""
    if not np.isfinite(lonlat).all() or (np.abs(lonlat[:, 1]) > _FURTHEST_NORTH_DEG).any():
        return None
    lon, lat = np.radians(lonlat).T
    if np.ptp(lon) > math.pi:
        lon = np.where(lon < 0.0, lon + 2 * math.pi, lon)
    return EARTH_RADIUS_M * np.column_stack([lon, np.arcsinh(np.tan(lat))])


def _area(ring: Floats) -> float:
    x, y = (ring - ring.mean(axis=0)).T
    return abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))) / 2.0


def _whole(raster: DatasetReader, frame: Frame) -> Picture:
    with colours_in(raster, frame) as colours:
        return Picture("imagery", colours.read(), frame.bounds)


class _Square:
    """A grid of tiles over part of the world at the deepest zoom, and the raster seen in it."""

    def __init__(self, edges: tuple[float, float, float, float], deepest: int, widest: int) -> None:
        west, south, east, north = edges
        self.deepest, self.widest = deepest, widest
        side = WORLD_M / 2**deepest
        half = WORLD_M / 2
        self.columns = math.floor((west + half) / side), math.ceil((east + half) / side)
        self.rows = math.floor((half - north) / side), math.ceil((half - south) / side)
        pixel = side / TILE_PIXELS
        affine = rasterio.Affine(pixel, 0.0, self.columns[0] * side - half, 0.0, -pixel, half - self.rows[0] * side)
        counts = [(last - first) * TILE_PIXELS for first, last in (self.rows, self.columns)]
        self.frame = Frame(affine, *counts)

    def roots(self) -> Iterator[tuple[int, int]]:
        """Yield column and row of the tiles of the widest zoom."""
        wide = 2 ** (self.deepest - self.widest)
        for column in range(self.columns[0] // wide, -(-self.columns[1] // wide)):
            for row in range(self.rows[0] // wide, -(-self.rows[1] // wide)):
                yield column, row

    def walk(
        self, colours: Colours, stretch: Stretch | None, zoom: int, column: int, row: int
    ) -> Generator[Tile, None, Bytes | None]:
        """Yield the tiles of a square, its four quarters first; return what it shows, None when nothing."""
        wide = 2 ** (self.deepest - zoom)
        if not (
            self.columns[0] < (column + 1) * wide
            and column * wide < self.columns[1]
            and self.rows[0] < (row + 1) * wide
            and row * wide < self.rows[1]
        ):
            return None
        if zoom == self.deepest:
            left, top = (column - self.columns[0]) * TILE_PIXELS, (row - self.rows[0]) * TILE_PIXELS
            rgba = colours.read(Window(left, top, TILE_PIXELS, TILE_PIXELS), stretch=stretch)
        else:
            quarters: list[Bytes | None] = []
            for down, across in ((0, 0), (0, 1), (1, 0), (1, 1)):
                quarter = yield from self.walk(colours, stretch, zoom + 1, 2 * column + across, 2 * row + down)
                quarters += [quarter]
            rgba = _halved(quarters)
        if not rgba[..., 3].any():
            return None
        yield Tile(zoom, column % 2**zoom, row, rgba)
        return rgba


def _tiles(path: Path, edges: tuple[float, float, float, float], deepest: int, *, widest: int) -> Iterator[Tile]:
    """Yield every tile of the picture that shows anything, from `deepest` to `widest`, each after its quarters."""
    square = _Square(edges, deepest, widest)
    with open_raster(path, name=path.name, folder=None) as raster, colours_in(raster, square.frame) as colours:
        stretch = colours.stretch()
        for column, row in square.roots():
            yield from square.walk(colours, stretch, widest, column, row)


def _halved(quarters: list[Bytes | None]) -> Bytes:
    """Return four tiles (north-west, north-east, south-west, south-east) as one of half the resolution."""
    empty = np.zeros((TILE_PIXELS, TILE_PIXELS, 4), dtype=np.uint8)
    parts = [empty if quarter is None else quarter for quarter in quarters]
    large = np.vstack([np.hstack(parts[:2]), np.hstack(parts[2:])])
    blocks = large.reshape(TILE_PIXELS, 2, TILE_PIXELS, 2, 4).astype(np.uint32)
    alpha = blocks[..., 3:].sum(axis=(1, 3))
    # what is see-through has no say in the colour of its neighbours
    colour = (blocks[..., :3] * blocks[..., 3:]).sum(axis=(1, 3)) // np.maximum(alpha, 1)
    return np.dstack([colour, alpha // 4]).astype(np.uint8)

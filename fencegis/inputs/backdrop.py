"""Pictures to lay under the map: the hillshade of the ground and the orthophoto, both small and in Web Mercator."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import rasterio
from rasterio.enums import Resampling
from rasterio.io import DatasetReader
from rasterio.warp import reproject
from rasterio.windows import Window

from fencegis.errors import InputError
from fencegis.inputs.cell_values import heights_of, meaning_of
from fencegis.inputs.findings import Findings
from fencegis.inputs.gdal import SETTINGS, by_two, open_raster, place_faults
from fencegis.inputs.picture_colours import colours_in
from fencegis.inputs.picture_frame import WEB_MERCATOR, SiteView, frame_about
from fencegis.line.ground import cell_positions
from fencegis.line.slope import horn_gradient
from fencegis.records.backdrop import Backdrop, Picture

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    import numpy.typing as npt
    from affine import Affine

    from fencegis.errors import Problem
    from fencegis.inputs.cell_values import VerticalUnit
    from fencegis.inputs.picture_frame import Extent, View

    Heights = npt.NDArray[np.float32]
    Places = npt.NDArray[np.float64]
    Bytes = npt.NDArray[np.uint8]
    Cells = npt.NDArray[Any]

IMAGERY_PIXELS = 2048  # on the longer side, at most
SHADE_PIXELS = 1200
READ_PIXELS = 3 * SHADE_PIXELS // 2  # of heights, from which those are made
MOST_CELLS = 16_000_000  # that are decoded for a hillshade alone: a quarter of a second
BESIDE_CELLS = 512  # side of the squares read about the lines of a larger raster
NEARLY = (-0.25, 0.25)  # of a square: what lies this near to a line is shown with it
COLUMN_CELLS = 4096  # read at a time across a large raster: 8 MB of a row of blocks of 512
SUN_BEARING_DEG, SUN_ALTITUDE_DEG = 315.0, 45.0
EXAGGERATION = 2.0
BAND_ROWS = 128  # shaded at a time, so that a picture takes little more memory than it has pixels


class _Part(NamedTuple):
    """Heights of one raster about the site, and how large a cell of them is on the ground."""

    heights: Heights
    transform: Affine
    crs_wkt: str
    cell_m: float


def backdrop_of(
    *,
    elevation_sources: Sequence[Path],
    imagery: Path | None,
    grid_wkt: str,
    extent_en: Extent,
    line_en: Places,
    vertical_unit: VerticalUnit = None,
) -> Backdrop:
    """Return the hillshade and the orthophoto about the site, each None where there is none to show.

    `extent_en` is least easting and northing, greatest easting and northing of the working grid; 15 % of its longer
    side is shown around it. `line_en` is (n, 2) places along the lines: of a large raster without overviews only what
    lies about them is read. Both are read at the size that is shown, at most 1200 and 2048 pixels, so a large raster
    costs time but no memory. What cannot be read is left out: `read_terrain` and `imagery_problems` have told of it.
    """
    site = SiteView.about(extent_en, grid_wkt)
    return Backdrop(
        hillshade=_shade(elevation_sources, site, line_en, vertical_unit=vertical_unit),
        imagery=None if imagery is None else _orthophoto(imagery, site),
    )


def imagery_problems(path: Path, *, folder: Path | None = None) -> list[Problem]:
    """Return what is wrong with an orthophoto, by its header and its first pixel.

    `folder` is the site's, which nothing may lead out of; the picture's own when it is not given.
    """
    try:
        with open_raster(path, name=path.name, folder=folder or path.parent) as raster:
            found = Findings(path.name, faults=place_faults(raster, name=path.name))
            if np.dtype(raster.dtypes[0]).kind not in "iuf":
                found.fault("", "its pixels are no colours.", fix="export it as RGB with 8 bits a colour.")
            raster.read(1, window=Window(0, 0, 1, 1))
            return list(found.problems)
    except InputError as error:
        return list(error.problems)


def hillshade(heights: npt.ArrayLike, *, cell_east_m: float, cell_north_m: float) -> Bytes:
    """Return (row, column, 4) grey RGBA of heights whose rows run from north to south; clear where they are NaN.

    Light from the north-west (315°), 45° above the horizon, on ground twice as steep as it is; the grey is the cosine
    between the light and the upright of the ground (Horn's gradient), so flat ground is at 71 % of white.
    """
    ground = np.asarray(heights)
    bands = []
    for first in range(0, len(ground), BAND_ROWS):  # with a row of each neighbour, which the gradient looks at
        above = 1 if first else 0
        band = _lit(ground[first - above : first + BAND_ROWS + 1], cell_east_m, cell_north_m)
        bands.append(band[above : above + BAND_ROWS])
    grey = np.vstack(bands)
    return np.dstack([grey, grey, grey, np.where(np.isnan(ground), 0, 255).astype(np.uint8)])


def _lit(ground: npt.NDArray[Any], cell_east_m: float, cell_north_m: float) -> Bytes:
    east, north = horn_gradient(ground * EXAGGERATION, cell_east_m=cell_east_m, cell_north_m=cell_north_m)
    bearing, altitude = np.radians([SUN_BEARING_DEG, SUN_ALTITUDE_DEG])
    towards = np.sin(bearing) * np.cos(altitude), np.cos(bearing) * np.cos(altitude), np.sin(altitude)
    light = (towards[2] - towards[0] * east - towards[1] * north) / np.sqrt(1 + east**2 + north**2)
    return np.where(np.isnan(light), 0, np.round(255 * np.clip(light, 0, 1))).astype(np.uint8)


def _shade(sources: Sequence[Path], site: SiteView, line_en: Places, *, vertical_unit: VerticalUnit) -> Picture | None:
    parts = [part for path in sources if (part := _ground_part(path, site, line_en, vertical_unit=vertical_unit))]
    if not parts:
        return None
    frame = frame_about(site, min(part.cell_m for part in parts), most=SHADE_PIXELS)
    ground = np.full((frame.rows, frame.columns), np.nan, dtype=np.float32)
    for part in parts:  # where rasters overlap the first with a height wins
        warped = np.full_like(ground, np.nan)
        with rasterio.Env(**SETTINGS):
            reproject(
                part.heights,
                warped,
                src_transform=part.transform,
                src_crs=part.crs_wkt,
                src_nodata=np.nan,
                dst_transform=frame.transform,
                dst_crs=WEB_MERCATOR,
                dst_nodata=np.nan,
                resampling=Resampling.bilinear,
            )
        ground = np.where(np.isnan(ground), warped, ground)
    if np.isnan(ground).all():
        return None
    cell_m = frame.transform.a / site.stretch
    return Picture("hillshade", hillshade(ground, cell_east_m=cell_m, cell_north_m=cell_m), frame.bounds)


def _ground_part(path: Path, site: SiteView, line_en: Places, *, vertical_unit: VerticalUnit) -> _Part | None:
    """Return the heights of one raster about the site, thinned to what can be shown."""
    try:
        with open_raster(path, name=path.name, folder=None) as raster:
            found = Findings(path.name, faults=place_faults(raster, name=path.name))
            meaning = meaning_of(raster, found, [], vertical_unit=vertical_unit)
            view = None if found.faults else site.in_raster(raster)
            if view is None:
                return None
            step = math.ceil(view.cells_across / READ_PIXELS)
            thinning = _Thinning(raster.transform, view, step)
            pieces = thinning.whole(raster) if _quick(raster, view.window) else thinning.about(site, line_en, raster)
            if not pieces:
                return None
            # The nearest cell, not a mean: a number that means void must not be mixed into heights.
            stored, read = thinning.read(raster, pieces, DatasetReader.read)
            mask = thinning.read(raster, pieces, DatasetReader.read_masks)[0] if meaning.masked else None
            heights, _ = heights_of(stored, mask, meaning)
            heights[~read] = np.nan
            return _Part(heights, thinning.transform, view.crs_wkt, view.cell_m * step)
    except InputError:
        return None


def _quick(raster: DatasetReader, window: Window) -> bool:
    """Return whether all of the window can be decoded in a moment, or need not be."""
    return bool(raster.overviews(1)) or window.height * window.width <= MOST_CELLS


class _Piece(NamedTuple):
    """Rows and columns of the thinned cells that are read at once."""

    row: int
    column: int
    rows: int
    columns: int


class _Thinning:
    """One cell for every `step` by `step` of a raster's window, nothing of what is left over at its end."""

    def __init__(self, affine: Affine, view: View, step: int) -> None:
        self.view, self.step = view, step
        self.rows, self.columns = view.window.height // step, view.window.width // step
        self.transform = _thinned(affine, view.window, step)

    def whole(self, raster: DatasetReader) -> list[_Piece]:
        """Return columns of blocks that the cache holds: GDAL goes row by row, and would decode blocks for each."""
        wide = max(COLUMN_CELLS, raster.block_shapes[0][1]) // self.step
        starts = range(0, self.columns if self.rows else 0, wide)
        return [_Piece(0, first, self.rows, min(wide, self.columns - first)) for first in starts]

    def about(self, site: SiteView, line_en: Places, raster: DatasetReader) -> list[_Piece]:
        """Return squares of about a block that the lines run through or near."""
        side = max(1, BESIDE_CELLS // self.step)
        positions = cell_positions(
            line_en,
            grid_wkt=site.grid_wkt,
            crs_wkt=self.view.crs_wkt,
            affine=tuple(raster.transform),
            shape=raster.shape,
        )
        column = (positions[0] - self.view.window.col_off) / self.step / side
        row = (positions[1] - self.view.window.row_off) / self.step / side
        near = [(row + up, column + across) for up in NEARLY for across in NEARLY]
        squares = np.unique(np.floor(np.hstack([np.stack(way) for way in near])).astype(int), axis=1).T
        pieces = []
        for down, across in (squares * side).tolist():
            rows, columns = min(side, self.rows - down), min(side, self.columns - across)
            if down >= 0 and across >= 0 and rows > 0 and columns > 0:
                pieces.append(_Piece(down, across, rows, columns))
        return pieces

    def read(
        self, raster: DatasetReader, pieces: Sequence[_Piece], read: Callable[..., Cells]
    ) -> tuple[Cells, npt.NDArray[np.bool_]]:
        """Return the thinned cells, (row, column), and which of them were read; the others are 0."""
        top, left, step = self.view.window.row_off, self.view.window.col_off, self.step

        def piece_of(source: DatasetReader, piece: _Piece) -> Cells:
            row, column, rows, columns = piece
            part = Window(left + column * step, top + row * step, columns * step, rows * step)
            return read(source, 1, window=part, out_shape=(rows, columns))

        cells = by_two(raster, piece_of, pieces)
        whole = np.zeros((self.rows, self.columns), dtype=cells[0].dtype)
        seen = np.zeros(whole.shape, dtype=bool)
        for (row, column, rows, columns), part in zip(pieces, cells, strict=True):
            whole[row : row + rows, column : column + columns] = part
            seen[row : row + rows, column : column + columns] = True
        return whole, seen


def _thinned(transform: Affine, window: Window, step: int) -> Affine:
    """Return the affine of the cells of the window when there is one for every `step` by `step`."""
    a, b, c, d, e, f = tuple(transform)[:6]
    left, top = window.col_off, window.row_off
    thinned: Affine = rasterio.Affine(
        a * step, b * step, c + a * left + b * top, d * step, e * step, f + d * left + e * top
    )
    return thinned


def _orthophoto(path: Path, site: SiteView) -> Picture | None:
    try:
        with open_raster(path, name=path.name, folder=None) as raster:
            view = None if place_faults(raster, name=path.name) else site.in_raster(raster)
            if view is None:
                return None
            frame = frame_about(site, view.cell_m, most=IMAGERY_PIXELS)
            with colours_in(raster, frame) as colours:
                rgba = colours.read()
    except InputError:
        return None
    return Picture("imagery", rgba, frame.bounds) if rgba[..., 3].any() else None

"""The colours of an orthophoto in any part of Web Mercator: bands found, void see-through, eight bits a colour."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from rasterio.enums import ColorInterp, Resampling
from rasterio.vrt import WarpedVRT

from fencegis.inputs.picture_frame import WEB_MERCATOR

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy.typing as npt
    from rasterio.io import DatasetReader
    from rasterio.windows import Window

    from fencegis.inputs.picture_frame import Frame

    Bytes = npt.NDArray[np.uint8]

STRETCH_PERCENTILES = (2, 98)  # of pictures with more than 8 bits a colour
_GLANCE_PIXELS = 512  # of the longer side, from which the stretch of a picture read in parts is taken


class Stretch(NamedTuple):
    """The values that become black and full colour."""

    low: float
    high: float


class Colours:
    """An open raster seen in a frame; read as (row, column, 4) RGBA, whole or by window."""

    def __init__(self, raster: DatasetReader, warped: WarpedVRT) -> None:
        """Look up which bands are colours."""
        self._warped = warped
        self._bands = _colour_bands(raster)
        self._table = _palette(raster)

    def read(self, window: Window | None = None, *, stretch: Stretch | None = None) -> Bytes:
        """Return the colours; more than 8 bits are stretched as told, else by what this part itself shows."""
        bands = self._warped.read(self._bands, window=window)
        alpha = self._warped.dataset_mask(window=window)
        if self._table is not None:
            rgba: Bytes = self._table[bands[0].astype(np.uint8)]
            rgba[..., 3] = np.minimum(rgba[..., 3], alpha)
            return rgba
        if bands.dtype != np.uint8:
            bands = _to_bytes(bands, stretch or _stretch(bands, alpha > 0))
        return np.dstack([*np.broadcast_to(bands, (3, *bands.shape[1:])), alpha])

    def stretch(self) -> Stretch | None:
        """Return the stretch of all of it, from a small view; None where the file has 8 bits a colour already."""
        if self._table is not None or self._warped.dtypes[0] == "uint8":
            return None
        scale = max(1.0, max(self._warped.shape) / _GLANCE_PIXELS)
        small = tuple(max(1, round(side / scale)) for side in self._warped.shape)
        bands = self._warped.read(self._bands, out_shape=(len(self._bands), *small))
        return _stretch(bands, self._warped.dataset_mask(out_shape=small) > 0)


@contextmanager
def colours_in(raster: DatasetReader, frame: Frame) -> Iterator[Colours]:
    """Open the raster's colours in the frame, warped as they are read."""
    palette = raster.colorinterp[0] == ColorInterp.palette
    has_void = raster.nodata is not None or ColorInterp.alpha in raster.colorinterp
    with WarpedVRT(
        raster,
        crs=WEB_MERCATOR,
        transform=frame.transform,
        height=frame.rows,
        width=frame.columns,
        resampling=Resampling.nearest if palette else Resampling.bilinear,
        add_alpha=not has_void,
        UNIFIED_SRC_NODATA="YES",  # a pixel is void when all its colours are, not when one of them is black
    ) as warped:
        yield Colours(raster, warped)


def _palette(raster: DatasetReader) -> Bytes | None:
    if raster.colorinterp[0] != ColorInterp.palette:
        return None
    table = np.zeros((256, 4), dtype=np.uint8)
    for number, colour in raster.colormap(1).items():
        table[number % 256] = colour
    return table


def _colour_bands(raster: DatasetReader) -> list[int]:
    """Return the bands that are red, green and blue, by their names where all have one; one band when it is grey."""
    named = {meant: band for band, meant in enumerate(raster.colorinterp, start=1)}
    colours = (ColorInterp.red, ColorInterp.green, ColorInterp.blue)
    if all(colour in named for colour in colours):
        return [named[colour] for colour in colours]
    bands = [band for band, meant in enumerate(raster.colorinterp, start=1) if meant != ColorInterp.alpha]
    return bands[:3] if len(bands) >= len(colours) else bands[:1]


def _stretch(bands: npt.NDArray[np.generic], shown: npt.NDArray[np.bool_]) -> Stretch:
    """Return two percentiles of what is shown, of all bands alike."""
    known = bands.astype(float)[:, shown]
    low, high = np.nanpercentile(known, STRETCH_PERCENTILES) if known.size else (0.0, 1.0)
    return Stretch(float(low), float(high))


def _to_bytes(bands: npt.NDArray[np.generic], stretch: Stretch) -> Bytes:
    low, high = stretch
    share = np.nan_to_num((bands.astype(float) - low) / max(high - low, 1e-12), nan=0.0, posinf=1.0, neginf=0.0)
    stretched: Bytes = np.round(255 * np.clip(share, 0, 1)).astype(np.uint8)
    return stretched

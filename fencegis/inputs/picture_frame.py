"""How a site fills a picture: what of a raster lies about it, and where the picture's pixels lie in Web Mercator."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import rasterio
from pyproj import Transformer
from rasterio.windows import Window

from fencegis.inputs.gdal import flat_crs
from fencegis.line.ground import cell_positions

if TYPE_CHECKING:
    import numpy.typing as npt
    from affine import Affine
    from rasterio.io import DatasetReader

    Floats = npt.NDArray[np.float64]
    Extent = tuple[float, float, float, float]

WEB_MERCATOR = "EPSG:3857"
EARTH_RADIUS_M = 6_378_137.0  # of the sphere that Web Mercator is drawn on
MARGIN = 0.15  # of the site's longer side, shown around it
LEAST_MARGIN_M = 30.0


class View(NamedTuple):
    """What of a raster lies about the site: its cells, and how many of them would span the whole site."""

    window: Window
    cells_across: float
    cell_m: float
    crs_wkt: str


class Frame(NamedTuple):
    """A picture to be filled: the Web Mercator coordinates of its pixels, and its size."""

    transform: Affine
    rows: int
    columns: int

    @property
    def bounds(self) -> Extent:
        """South, west, north and east in WGS 84 degrees; past the 180th meridian east goes on."""
        pixel, left, top = self.transform.a, self.transform.c, self.transform.f
        right, bottom = left + pixel * self.columns, top - pixel * self.rows
        south, north = np.degrees(np.arctan(np.sinh(np.array([bottom, top]) / EARTH_RADIUS_M)))
        west, east = np.degrees(np.array([left, right]) / EARTH_RADIUS_M)
        return float(south), float(west), float(north), float(east)


@dataclass(frozen=True, eq=False)
class SiteView:
    """The site with its margin: (n, 2) points all over it in the working grid, its longer side, and where it lies."""

    grid_wkt: str
    points: Floats
    side_m: float
    edges: Extent  # west, south, east, north in Web Mercator

    @classmethod
    def about(cls, extent: Extent, grid_wkt: str) -> SiteView:
        """Return the view of an extent of the working grid (west, south, east, north) and the margin around it."""
        low, high = np.array(extent[:2]), np.array(extent[2:])
        margin = max(MARGIN * float((high - low).max()), LEAST_MARGIN_M)
        low, high = low - margin, high + margin
        across, up = np.meshgrid(np.linspace(0, 1, 21), np.linspace(0, 1, 21))
        points = low + np.column_stack([across.ravel(), up.ravel()]) * (high - low)
        x, y = Transformer.from_crs(grid_wkt, WEB_MERCATOR, always_xy=True).transform(*points.T)
        world = 2 * np.pi * EARTH_RADIUS_M
        if np.ptp(x) > world / 2:  # the 180th meridian runs through it
            x = np.where(x < 0, x + world, x)
        edges = float(x.min()), float(y.min()), float(x.max()), float(y.max())
        return cls(grid_wkt, points, float((high - low).max()), edges)

    @property
    def stretch(self) -> float:
        """Web Mercator metres in a metre of ground, at the middle of the site."""
        return math.cosh((self.edges[1] + self.edges[3]) / 2 / EARTH_RADIUS_M)

    def in_raster(self, raster: DatasetReader) -> View | None:
        """Return what of a raster lies about the site, None when nothing does."""
        crs = flat_crs(raster)
        crs_wkt = crs.to_wkt() if crs else ""
        positions = cell_positions(
            self.points, grid_wkt=self.grid_wkt, crs_wkt=crs_wkt, affine=tuple(raster.transform), shape=raster.shape
        )
        if not np.isfinite(positions).all():
            return None
        (left, right), (top, bottom) = ((part.min(), part.max()) for part in positions)
        across = max(right - left, bottom - top)
        ends = []
        for low, high, cells in ((left, right, raster.width), (top, bottom, raster.height)):
            ends.append((max(math.floor(low) - 2, 0), min(math.ceil(high) + 2, cells)))
        (first, last), (upper, lower) = ends
        if last <= first or lower <= upper:
            return None
        return View(Window(first, upper, last - first, lower - upper), across, self.side_m / across, crs_wkt)


def frame_about(site: SiteView, cell_m: float, *, most: int) -> Frame:
    """Return the frame about the site, of pixels of `cell_m` on the ground, larger where they would be too many."""
    west, south, east, north = site.edges
    pixel = max(cell_m * site.stretch, max(east - west, north - south) / most)
    columns, rows = (max(1, math.ceil(side / pixel - 1e-9)) for side in (east - west, north - south))
    return Frame(rasterio.Affine(pixel, 0.0, west, 0.0, -pixel, north), rows, columns)

"""The picture under a map, turned into the map's own grid and paled so that black lines stand out on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PIL import Image
from pyproj import Transformer

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.exports.sheets.sketch import View
    from fencegis.records.backdrop import Backdrop, Picture

    Bytes = npt.NDArray[np.uint8]

WEB_MERCATOR = "EPSG:3857"
INK = 0.55  # how much of the picture's darkness is left: the rest is for lines and words
PIXELS_A_MM = 7.0  # some 180 an inch


def chosen(backdrop: Backdrop | None) -> Picture | None:
    """Return the aerial picture, else the shaded relief, else nothing."""
    return None if backdrop is None else backdrop.imagery or backdrop.hillshade


def underlay(picture: Picture, crs: str, view: View, box_mm: tuple[float, float]) -> Bytes:
    """Return what of the picture lies in a box of the view (its centre is the box's), (row, column, 4), paled.

    The picture lies along Web Mercator, the box along `crs`: its four corners are turned exactly and what lies between
    is taken as straight, which over 20 km is off by less than a line's width. White where the picture does not reach.
    """
    columns, rows = (max(2, round(side * PIXELS_A_MM)) for side in box_mm)
    image = Image.fromarray(picture.rgba)
    across = _pixels(picture, crs, _corners(view, box_mm))
    step = max(1.0, float(np.abs(across[2] - across[0]).max()) / max(columns, rows))
    if step > 1.0:  # thinned first: a pixel in between stands for all that it covers
        image = image.resize(
            (max(1, round(image.width / step)), max(1, round(image.height / step))), Image.Resampling.BOX
        )
        across = across * [image.width / picture.rgba.shape[1], image.height / picture.rgba.shape[0]]
    turned = image.transform(
        (columns, rows), Image.Transform.QUAD, data=across.ravel().tolist(), resample=Image.Resampling.BILINEAR
    )
    paper = Image.new("RGB", turned.size, "white")
    paper.paste(turned.convert("RGB"), mask=turned.getchannel("A").point([round(level * INK) for level in range(256)]))
    paper.putalpha(255)
    return np.asarray(paper)


def grey(rgba: Bytes) -> Bytes:
    """Return the brightness of a picture (row, column), as it is printed in black and white."""
    return np.asarray(Image.fromarray(rgba[..., :3]).convert("L"))


def _corners(view: View, box_mm: tuple[float, float]) -> npt.NDArray[np.float64]:
    """Return the box's corners in the working grid: upper left, lower left, lower right, upper right."""
    wide, tall = (side * view.scale / 2000.0 for side in box_mm)
    east, north = view.middle
    ways = ((-wide, tall), (-wide, -tall), (wide, -tall), (wide, tall))
    return np.array([(east + right, north + up) for right, up in ways])


def _pixels(picture: Picture, crs: str, points: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Return columns and rows (n, 2) of the picture for points of the grid."""
    south, west, north, east = picture.bounds
    to_mercator = Transformer.from_crs(crs, WEB_MERCATOR, always_xy=True)
    placed = np.column_stack(to_mercator.transform(points[:, 0], points[:, 1]))
    degrees = Transformer.from_crs("EPSG:4326", WEB_MERCATOR, always_xy=True)
    left, foot = degrees.transform(west, south)
    right, top = degrees.transform(east, north)
    rows, columns = picture.rgba.shape[:2]
    return np.column_stack(
        [(placed[:, 0] - left) / (right - left) * columns, (top - placed[:, 1]) / (top - foot) * rows]
    )

"""The hand that draws on imagery, the noise of a raster, and the files of a site folder.

All chance is integers of `random.Random(seed)`, whose stream Python keeps from version to version.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import rasterio
from PIL import Image
from pyproj import Transformer

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path
    from random import Random

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Place:
    """Where a site lies: metres here are east and north of `origin` in the projected `epsg`, drawn on `datum_epsg`."""

    epsg: int
    datum_epsg: int
    origin: tuple[float, float]


@dataclass(frozen=True)
class Truth:
    """What the drawings stand for, in metres of `epsg`: the corners of each line, and what crosses or stands by it."""

    epsg: int
    lines: dict[str, Floats]
    closed: dict[str, bool]
    points: dict[str, Floats]


def normal(chance: Random, count: int) -> Floats:
    """Return `count` numbers of mean 0 and deviation 1, near enough normal: sums of twelve even ones."""
    return np.array([sum(chance.randrange(1 << 16) for _ in range(12)) / (1 << 16) - 6.0 for _ in range(count)])


def cell_noise(chance: Random, shape: tuple[int, int]) -> Floats:
    """Return a raster of independent noise, mean 0 and deviation 1: sums of eight bytes."""
    rows, columns = shape
    numbers = np.frombuffer(chance.randbytes(8 * rows * columns), np.uint8).reshape(rows, columns, 8)
    return (numbers.sum(axis=2, dtype=np.int64) - 1020.0) / np.sqrt(8 * (256**2 - 1) / 12)


def patches(chance: Random, shape: tuple[int, int], size: float) -> Floats:
    """Return a raster of soft patches about `size` cells wide, from −1 to 1."""
    rows, columns = (int(side / size) + 4 for side in shape)
    coarse = Image.frombytes("L", (columns, rows), chance.randbytes(rows * columns))
    wide = coarse.resize((int(columns * size), int(rows * size)), Image.Resampling.BICUBIC)
    return np.asarray(wide, float)[: shape[0], : shape[1]] / 127.5 - 1.0


def walked(start: tuple[float, float], legs: Sequence[tuple[float, float]]) -> Floats:
    """Return the corners reached from `start` by legs of (bearing in degrees, length in metres)."""
    bearing, length = np.radians([leg[0] for leg in legs]), np.array([leg[1] for leg in legs])
    steps = np.column_stack([np.sin(bearing), np.cos(bearing)]) * length[:, None]
    return np.vstack([start, np.asarray(start) + np.cumsum(steps, axis=0)])


def clicked(corners: Floats, every_m: Sequence[float], *, sigma_m: float, chance: Random) -> Floats:
    """Return the corners as a hand draws them.

    Each leg has its own distance between clicks (a leg shorter than that has none between its corners); the clicks
    are a fifth uneven, and each is off by `sigma_m` in east and in north.
    """
    drawn = [corners[:1]]
    for start, end, every in zip(corners[:-1], corners[1:], every_m, strict=True):
        between = int(np.hypot(*(end - start)) // every)
        uneven = np.array([chance.randrange(-200, 201) / 1000.0 for _ in range(between)])
        share = (np.arange(1, between + 1) + uneven) / (between + 1)
        drawn += [start + share[:, None] * (end - start), end[None]]
    points = np.vstack(drawn)
    return points + sigma_m * normal(chance, points.size).reshape(points.shape)


def along(corners: Floats, chainage_m: float, *, right_m: float = 0.0) -> Floats:
    """Return the point at a chainage along the corners, and so far to the right of it."""
    steps = np.diff(corners, axis=0)
    ends = np.concatenate([[0.0], np.cumsum(np.hypot(*steps.T))])
    leg = int(np.clip(np.searchsorted(ends, chainage_m, side="right") - 1, 0, len(steps) - 1))
    unit = steps[leg] / np.hypot(*steps[leg])
    return corners[leg] + unit * (chainage_m - ends[leg]) + np.array([unit[1], -unit[0]]) * right_m


@cache
def _to_degrees(place: Place) -> Transformer:
    return Transformer.from_crs(f"EPSG:{place.epsg}", f"EPSG:{place.datum_epsg}", always_xy=True)


def degrees(place: Place, points: npt.ArrayLike) -> list[list[float]]:
    """Return longitude and latitude to seven decimals, and the third column as it is, to the centimetre."""
    metres = np.atleast_2d(np.asarray(points, float))
    lon, lat = _to_degrees(place).transform(metres[:, 0] + place.origin[0], metres[:, 1] + place.origin[1])
    heights = [[round(height, 2)] for height in metres[:, 2]] if metres.shape[1] > 2 else [[]] * len(metres)
    return [[round(x, 7), round(y, 7), *z] for x, y, z in zip(lon, lat, heights, strict=True)]


def feature(place: Place, shape: str, points: npt.ArrayLike, **properties: Any) -> dict[str, Any]:
    """Return a GeoJSON feature; a Polygon's ring is closed here."""
    coordinates: Any = degrees(place, points)
    if shape == "Point":
        coordinates = coordinates[0]
    if shape == "Polygon":
        coordinates = [[*coordinates, coordinates[0]]]
    return {"type": "Feature", "properties": properties, "geometry": {"type": shape, "coordinates": coordinates}}


def write_features(path: Path, features: Sequence[dict[str, Any]]) -> None:
    """Write a FeatureCollection, one feature a line."""
    lines = ",\n".join(json.dumps(one, ensure_ascii=False) for one in features)
    path.write_text(f'{{"type": "FeatureCollection", "features": [\n{lines}\n]}}\n', encoding="utf-8", newline="\n")


def write_raster(path: Path, place: Place, cells: npt.NDArray[Any], *, cell_m: float) -> None:
    """Write bands of cells as a tiled GeoTIFF whose lower left corner is the place's origin."""
    bands = cells if cells.ndim == 3 else cells[None]
    top = place.origin[1] + bands.shape[1] * cell_m
    profile = {
        "driver": "GTiff", "dtype": bands.dtype.name, "count": len(bands), "crs": f"EPSG:{place.epsg}",
        "height": bands.shape[1], "width": bands.shape[2], "tiled": True, "blockxsize": 256, "blockysize": 256,
        "transform": rasterio.Affine(cell_m, 0.0, place.origin[0], 0.0, -cell_m, top),
        "compress": "deflate", "zlevel": 9, "predictor": 3 if bands.dtype.kind == "f" else 2,
    }  # fmt: skip
    if len(bands) == 3:
        profile["photometric"] = "RGB"
    with rasterio.open(path, "w", **profile) as raster:
        raster.write(bands)


def cell_centres(shape: tuple[int, int], cell_m: float) -> tuple[Floats, Floats]:
    """Return east (1, columns) and north (rows, 1) of the cells' centres; the first row is the northernmost."""
    rows, columns = shape
    east = (np.arange(columns) + 0.5) * cell_m
    north = (rows - np.arange(rows) - 0.5) * cell_m
    return east[None], north[:, None]

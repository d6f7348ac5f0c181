"""The fixed case of the speed and memory table, and its larger and smaller sisters. Invented ground, seeded.

    python make_case.py FOLDER

writes below FOLDER, what is there already stays: `loop-30km` (a loop of 30 km on 10 000 × 10 000 cells of 1 m, drawn
every 10 m, a post each 2.4 m), `folded-1km` … `folded-300km` (one line folded to fit, the same on the same raster) and
`loop-30km-wide` (the loop on a raster of ten times the cells).
"""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path

import numpy as np
import numpy.typing as npt
import rasterio
from pyproj import Transformer
from rasterio.transform import from_origin
from rasterio.windows import Window

CRS = "EPSG:32755"
WEST, NORTH = 600_000.0, 6_100_000.0  # an invented place; only the zone is real
CELLS, BLOCK = 10_000, 512
DRAWN_EVERY_M, HAND_M = 10.0, 1.0
GEOTIFF = {
    "driver": "GTiff", "dtype": "float32", "count": 1, "crs": CRS, "nodata": -9999.0, "tiled": True,
    "blockxsize": BLOCK, "blockysize": BLOCK, "compress": "deflate", "predictor": 3, "num_threads": "all_cpus",
}  # fmt: skip
SITE = """name = "Benchmark"
date = 2026-03-01
[boundary]
drawn_from = "imagery"
datum = "WGS84"
[fence]
kind = "wire"
post_spacing_m = 2.4
[machine]
working_height_m = 5.2
reach_m = 2.0
travel_height_m = 5.2
"""

Floats = npt.NDArray[np.float64]


def case(folder: Path, name: str) -> Path:
    """Return the site folder of a case by its name, made when it is not there."""
    site = folder / name
    if (site / "boundary.geojson").exists():
        return site
    site.mkdir(parents=True, exist_ok=True)
    wide = name.endswith("-wide")
    kilometres = float(name.removesuffix("-wide").partition("-")[2].removesuffix("km"))
    closed = name.startswith("loop")
    corners = loop(1000.0 * kilometres) if closed else folded(1000.0 * kilometres)
    raster = folder / ("ground-wide.tif" if wide else "ground.tif")
    if not raster.exists():
        write_raster(raster, columns=CELLS * (10 if wide else 1), near=corners if wide else None)
    (site / "elevation.tif").hardlink_to(raster)
    (site / "site.toml").write_text(SITE, encoding="utf-8")
    write_layers(site, corners, closed=closed)
    return site


def loop(length_m: float, *, sides: int = 24) -> Floats:
    """Return the corners of a loop of that length in the middle of the ground, no two sides alike."""
    chance = np.random.default_rng(1)
    angle = 2 * math.pi * (np.arange(sides) + chance.uniform(-0.3, 0.3, sides)) / sides
    radius = chance.uniform(0.8, 1.0, sides)
    corners = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    return (WEST + CELLS / 2, NORTH - CELLS / 2) + corners * length_m / walked(corners, closed=True)


def folded(length_m: float, *, leg_m: float = 1500.0, step_m: float = 300.0, legs: int = 31) -> Floats:
    """Return the corners of an open line folded up and down the ground, as many corners a kilometre at any length."""
    corners = []
    for column in range(6):
        left = WEST + 300.0 + column * (leg_m + 100.0)
        for leg in range(legs):  # an odd number: the last ends at the right, beside the next column
            down = leg if column % 2 == 0 else legs - 1 - leg
            north = NORTH - 500.0 - down * step_m
            ends = [(left, north), (left + leg_m, north + 40.0)]
            corners += ends if leg % 2 == 0 else ends[::-1]
    return stretch(np.array(corners), length_m)


def walked(corners: Floats, *, closed: bool = False) -> float:
    path = np.vstack([corners, corners[:1]]) if closed else corners
    return float(np.hypot(*np.diff(path, axis=0).T).sum())


def stretch(corners: Floats, length_m: float) -> Floats:
    """Return the first `length_m` of a line."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    end = [np.interp(length_m, along, corners[:, axis]) for axis in (0, 1)]
    return np.vstack([corners[along < length_m - 1.0], end])


def drawn(corners: Floats, *, closed: bool, hand_m: float = HAND_M) -> Floats:
    """Return the line as a hand draws it: a point each 10 m, none of them right."""
    path = np.vstack([corners, corners[:1]]) if closed else corners
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    at = np.arange(0.0, along[-1] - DRAWN_EVERY_M / 2, DRAWN_EVERY_M)
    if not closed:
        at = np.append(at, along[-1])
    wobble = np.random.default_rng(2).normal(0.0, hand_m, (len(at), 2))
    return np.column_stack([np.interp(at, along, path[:, axis]) for axis in (0, 1)]) + wobble


def ground(column: int, row: int, width: int, height: int) -> npt.NDArray[np.float32]:
    """Return heights of a window: hills and swales of 4 km to 60 m, and a decimetre of noise."""
    east = np.arange(column, column + width, dtype=float)[None, :]
    south = np.arange(row, row + height, dtype=float)[:, None]
    level = np.full((height, width), 300.0)
    chance = np.random.default_rng(3)
    for wave_m, swing_m in ((4000, 60.0), (1700, 25.0), (640, 8.0), (210, 1.5), (60, 0.3)):
        turn, lag = chance.uniform(0.3, 1.2), chance.uniform(0.0, 6.0)
        level += (
            swing_m
            * np.sin(2 * math.pi * east * math.cos(turn) / wave_m + lag)
            * np.cos(2 * math.pi * south * math.sin(turn) / wave_m)
        )
    noise = np.random.default_rng((row, column)).normal(0.0, 0.1, level.shape)
    return (level + noise).astype("float32")


def write_raster(path: Path, *, columns: int, near: Floats | None = None) -> None:
    """Write the ground; with `near` only the blocks within a block of that line's box edge, the others left sparse."""
    part = path.with_suffix(".part.tif")
    shape = {"width": columns, "height": CELLS, "transform": from_origin(WEST, NORTH, 1.0, 1.0)}
    with rasterio.open(part, "w", **GEOTIFF, **shape, sparse_ok="true", bigtiff="if_safer") as raster:
        wanted = None if near is None else blocks_near(near)
        for row in range(0, CELLS, BLOCK):
            for column in range(0, columns, BLOCK):
                if wanted is not None and (row // BLOCK, column // BLOCK) not in wanted:
                    continue
                width, height = min(BLOCK, columns - column), min(BLOCK, CELLS - row)
                raster.write(ground(column, row, width, height), 1, window=Window(column, row, width, height))
    part.rename(path)


def blocks_near(corners: Floats) -> set[tuple[int, int]]:
    """Return (row, column) of the blocks that a closed line touches, and of those beside them."""
    points = drawn(corners, closed=True, hand_m=0.0)
    row = ((NORTH - points[:, 1]) // BLOCK).astype(int)
    column = ((points[:, 0] - WEST) // BLOCK).astype(int)
    beside = [(down, across) for down in (-1, 0, 1) for across in (-1, 0, 1)]
    return {(r + down, c + across) for r, c in zip(row, column, strict=True) for down, across in beside}


def write_layers(site: Path, corners: Floats, *, closed: bool) -> None:
    """Write the drawing, three power lines across it, and a gate on every tenth side."""
    points = drawn(corners, closed=closed)
    geometry = {
        "type": "Polygon" if closed else "LineString",
        "coordinates": [lonlat(np.vstack([points, points[:1]]))] if closed else lonlat(points),
    }
    write_geojson(site / "boundary.geojson", [(geometry, {"name": "Benchmark"})])
    middle, reach = corners.mean(axis=0), np.ptp(corners, axis=0).max()
    across = [middle + reach * np.array(way) for way in ((-0.5, -0.2), (0.5, 0.25))]
    wires = [
        ({"type": "LineString", "coordinates": lonlat(np.array(across) + np.array([0.0, shift * reach]))},
         {"kind": "power", "voltage_kv": voltage, "height_m": 7.0})
        for shift, voltage in ((-0.15, 11), (0.0, 22), (0.15, 0.4))
    ]  # fmt: skip
    write_geojson(site / "overhead.geojson", wires)
    sides = range(0, len(corners) - 1, 10)
    gates = [
        ({"type": "Point", "coordinates": lonlat(corners[side : side + 2].mean(axis=0)[None])[0]}, {"opening_m": 4.2})
        for side in sides
    ]
    write_geojson(site / "gates.geojson", gates)


def lonlat(points: Floats) -> list[list[float]]:
    lon, lat = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True).transform(points[:, 0], points[:, 1])
    return np.column_stack([lon, lat]).round(7).tolist()


def write_geojson(path: Path, features: list[tuple[dict, dict]]) -> None:
    whole = [{"type": "Feature", "geometry": shape, "properties": about} for shape, about in features]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": whole}), encoding="utf-8")


if __name__ == "__main__":
    for wanted in ("loop-30km", "loop-30km-wide", *(f"folded-{length}km" for length in (1, 3, 10, 30, 100, 300))):
        sys.stdout.write(f"{case(Path(sys.argv[1]), wanted)}\n")

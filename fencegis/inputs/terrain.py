"""Elevation rasters → Terrain: only the tiles that the work touches, in metres, void where there is no height."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from fencegis.errors import InputError, Problem
from fencegis.inputs.cell_values import ELEVATION_UNIT, Remark, meaning_of
from fencegis.inputs.crs import doubts, moved
from fencegis.inputs.findings import Findings
from fencegis.inputs.gdal import flat_crs, open_raster, place_faults
from fencegis.inputs.raster_tiles import places_along, read_tiles, tiling_of, touched_tiles
from fencegis.line.ground import heights, transformer
from fencegis.records.notes import Note
from fencegis.records.terrain import Patch, Terrain

if TYPE_CHECKING:
    from collections import Counter
    from collections.abc import Sequence
    from pathlib import Path

    from rasterio.io import DatasetReader

    from fencegis.inputs.cell_values import Meaning, VerticalUnit
    from fencegis.inputs.raster_tiles import Corridors, Places, Touched
    from fencegis.records.terrain import Operation

    Affine = tuple[float, float, float, float, float, float]

WGS84 = "EPSG:4326"
SHOWN = 3  # numbers that are no height, named in one note


@dataclass(frozen=True)
class TerrainRead:
    """What reading the elevation gave; `terrain` is None when there is none to read, or when it has faults."""

    terrain: Terrain | None
    problems: tuple[Problem, ...] = ()
    notes: tuple[Note, ...] = ()
    inputs: dict[str, dict[str, str]] = field(default_factory=dict)  # raster → sha256 of the cells used, size


@dataclass
class Source:
    """One raster: its faults and remarks, and what was read of it, nothing when no corridor touches it."""

    found: Findings
    remarks: list[Remark] = field(default_factory=list)
    covers: tuple[float, float, float, float] | None = None  # west, south, east, north, in degrees
    patch: Patch | None = None
    cell_m: tuple[float, float] = (0.0, 0.0)  # across and down a row, on the ground
    entry: dict[str, str] = field(default_factory=dict)


def read_terrain(
    sources: Sequence[Path], corridors: Corridors, *, grid_wkt: str, vertical_unit: VerticalUnit, folder: Path
) -> TerrainRead:
    """Return the heights along the corridors, from the tiles of each raster that they touch and from no others.

    A corridor is an (n, 2) polyline of the working grid and a radius in metres: every point within it has the cells
    that bilinear interpolation asks for. Where rasters overlap, the first with a height wins. `vertical_unit` is the
    site file's word, None when it says nothing. A raster that cannot be read is a fault, also where no corridor comes
    near it; so is elevation without one height under the corridors' lines.
    """
    places = places_along(corridors)
    if not sources or not len(places.points):
        return TerrainRead(None)
    reads = [
        read_source(path, places, grid_wkt=grid_wkt, vertical_unit=vertical_unit, folder=folder) for path in sources
    ]
    problems = [problem for read in reads for problem in read.found.problems]
    patches = tuple(read.patch for read in reads if read.patch)
    operations, doubtful = steps_between(patches, places, grid_wkt)
    terrain = Terrain(patches, max(max(read.cell_m) for read in reads), tuple(operations))
    if not problems and np.isnan(heights(terrain, grid_wkt, places.points)).all():
        problems.append(_nothing_under(reads, places, grid_wkt))
    return TerrainRead(
        terrain=None if problems else terrain,
        problems=tuple(problems),
        notes=(*notes_of(reads), *doubtful),
        inputs={read.found.file: read.entry for read in reads if read.patch},
    )


def read_source(
    path: Path,
    places: Places,
    *,
    grid_wkt: str,
    vertical_unit: VerticalUnit,
    folder: Path,
    unit_key: str = ELEVATION_UNIT,
) -> Source:
    """Return what one raster holds near the places, its faults and remarks; `unit_key` is where the unit is said."""
    name = path.relative_to(folder).as_posix() if path.is_relative_to(folder) else path.name
    source = Source(Findings(name))
    try:
        with open_raster(path, name=name, folder=folder) as raster:
            source.found.faults += place_faults(raster, name=name)
            meaning = meaning_of(raster, source.found, source.remarks, vertical_unit=vertical_unit, unit_key=unit_key)
            if not source.found.faults:
                _read_near(raster, source, places, meaning, grid_wkt)
    except InputError as error:
        source.found.faults += error.problems
    if source.patch:
        source.entry["bytes"] = str(path.stat().st_size)
    else:
        source.remarks.clear()
    return source


def _read_near(raster: DatasetReader, source: Source, places: Places, meaning: Meaning, grid_wkt: str) -> None:
    """Read what the places touch into `source`."""
    crs = flat_crs(raster)
    crs_wkt = crs.to_wkt() if crs else ""
    tiling, affine = tiling_of(raster), tuple(raster.transform)[:6]
    touched = touched_tiles(places, tiling, grid_wkt=grid_wkt, crs_wkt=crs_wkt, affine=affine, shape=raster.shape)
    if touched is None:
        source.covers = transformer(crs_wkt, WGS84).transform_bounds(*raster.bounds)
        return
    read = read_tiles(raster, meaning, touched, tiling)
    affine = _from_cell(affine, touched)
    source.patch = Patch(source.found.file, crs_wkt, affine, touched.shape, read.tiles, read.tile_of)
    source.cell_m = _cell_on_ground(source.patch, grid_wkt)
    source.entry = {
        "sha256": _fingerprint(source.patch, touched),
        "cells_read": str(read.tiles.size),
        "columns": str(raster.width),
        "rows": str(raster.height),
    }
    _remark_on_cells(source, read.odd, degrees=bool(crs and crs.is_geographic))


def _from_cell(affine: Affine, touched: Touched) -> Affine:
    """Return the affine that counts from the first cell of the window."""
    a, b, c, d, e, f = affine
    row, column = touched.first
    return a, b, c + a * column + b * row, d, e, f + d * column + e * row


def _cell_on_ground(patch: Patch, grid_wkt: str) -> tuple[float, float]:
    """Return a cell's size across and down, on the ground in metres, at the middle of what was read."""
    tile_row, tile_column = np.argwhere(patch.tile_of == len(patch.tiles) // 2)[0]
    row, column = tile_row * patch.tiles.shape[1], tile_column * patch.tiles.shape[2]
    a, b, c, d, e, f = patch.affine
    columns, rows = np.array([column, column + 1, column]), np.array([row, row, row + 1])
    x, y = a * columns + b * rows + c, d * columns + e * rows + f
    east, north = transformer(grid_wkt, patch.crs_wkt).transform(x, y, direction="INVERSE")
    across, down = np.hypot(east[1:] - east[0], north[1:] - north[0])
    return float(across), float(down)


def _fingerprint(patch: Patch, touched: Touched) -> str:
    """Return the SHA-256 of the heights used and of where they lie."""
    digest = hashlib.sha256(repr((patch.crs_wkt, patch.affine, patch.shape)).encode())
    digest.update(np.packbits(touched.flags).data)
    digest.update(patch.tiles.data)
    return digest.hexdigest()


def _remark_on_cells(source: Source, odd: Counter[float], *, degrees: bool) -> None:
    if odd:
        shown = ", ".join([f"{number:.10g}" for number, _ in odd.most_common(SHOWN)] + ["…"] * (len(odd) > SHOWN))
        text = f"{odd.total()} cells hold {shown}, which is no height, and no tag says so: taken as void."
        source.remarks.append(Remark("repair", text))
    if degrees:
        across, down = source.cell_m
        text = f"its cells are in degrees; on the ground they are about {across:.3g} m across and {down:.3g} m down."
        source.remarks.append(Remark("seen", text))


def steps_between(patches: Sequence[Patch], places: Places, grid_wkt: str) -> tuple[list[Operation], list[Note]]:
    """Return what PROJ does between the working grid and each system that heights were read in, and the doubts."""
    operations: list[Operation] = []
    notes: list[Note] = []
    for crs_wkt in dict.fromkeys(patch.crs_wkt for patch in patches):
        operation = moved(places.points[:1], source=grid_wkt, target=crs_wkt).operation
        operations.append(operation)
        notes += doubts(operation, source=grid_wkt, target=crs_wkt)
    return operations, notes


def notes_of(reads: Sequence[Source]) -> list[Note]:
    """Return the remarks, one that several rasters share only once."""
    names: dict[Remark, list[str]] = {}
    for read in reads:
        for remark in read.remarks:
            names.setdefault(remark, []).append(read.found.file)
    return [
        Note(remark.severity, f"{files[0]}{f' and {len(files) - 1} more' if len(files) > 1 else ''}: {remark.text}")
        for remark, files in names.items()
    ]


def _nothing_under(reads: Sequence[Source], places: Places, grid_wkt: str) -> Problem:
    """Return the fault of elevation that has no height under any line, with what helps to see why."""
    file = reads[0].found.file if len(reads) == 1 else "elevation"
    fix = "give heights of this place, or none at all: the plan is then flat, and its grades are not checked."
    boxes = [read.covers for read in reads if read.covers]
    if len(boxes) < len(reads):
        return Problem(file, "", "every cell under the line is void.", fix)
    lon, lat = (float(np.mean(part)) for part in transformer(grid_wkt, WGS84).transform(*places.points.T))
    west, south = np.min(boxes, axis=0)[:2]
    east, north = np.max(boxes, axis=0)[2:]
    fault = (
        f"it has no cell under the line: it covers longitude {west:.4f} to {east:.4f} and latitude {south:.4f} to "
        f"{north:.4f}, the line is about {lon:.4f}, {lat:.4f}."
    )
    return Problem(file, "", fault, fix)

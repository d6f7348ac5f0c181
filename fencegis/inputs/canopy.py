"""`canopy.tif` → how high the leaves reach above the ground near the line, or only where there are any."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from fencegis.inputs.raster_tiles import places_along
from fencegis.inputs.terrain import notes_of, read_source, steps_between
from fencegis.line.ground import heights
from fencegis.records.terrain import Canopy, Terrain

if TYPE_CHECKING:
    from pathlib import Path

    import numpy.typing as npt

    from fencegis.errors import Problem
    from fencegis.inputs.cell_values import VerticalUnit
    from fencegis.inputs.raster_tiles import Corridors
    from fencegis.inputs.terrain import Source
    from fencegis.records.notes import Note
    from fencegis.records.terrain import Operation

    Cells = npt.NDArray[np.float32]

UNIT_KEY = "[canopy] unit"
HIGHEST_M = 120.0  # no tree is known to be taller; the tallest stand at about 116 m (from memory)
DOUBTED_M = 60.0  # few stands reach it (common practice): 60 may be feet, or percent of cover
NOISE_M = 0.5  # ground taken from a surface leaves bare cells about this far below 0 (common practice)


@dataclass(frozen=True)
class CanopyRead:
    """What reading the canopy gave; `canopy` is None when it has faults."""

    canopy: Canopy | None
    problems: tuple[Problem, ...] = ()
    notes: tuple[Note, ...] = ()
    inputs: dict[str, dict[str, str]] = field(default_factory=dict)  # raster → sha256 of the cells used, size

    @property
    def operations(self) -> tuple[Operation, ...]:
        """What PROJ does between the working grid and the raster's system."""
        return self.canopy.heights.operations if self.canopy else ()


def read_canopy(path: Path, corridors: Corridors, *, grid_wkt: str, unit: VerticalUnit, folder: Path) -> CanopyRead:
    """Return the canopy along the corridors, from the tiles that they touch and from no others.

    Heights above 120 m are a fault, for they are in another unit; numbers well below 0 are void; with nothing but 0
    and 1 near the line it is cover, whose height nobody knows. A raster without a cell there tells nothing: a note.
    """
    places = places_along(corridors)
    source = read_source(path, places, grid_wkt=grid_wkt, vertical_unit=unit, folder=folder, unit_key=UNIT_KEY)
    if source.patch is None:
        if not source.found.faults:
            source.found.note("doubt", "", "it has no cell near the line, so canopy is not checked.")
        return _with_faults(source)
    tiles, cover_only = _canopy_cells(source.patch.tiles, source, unit_said=unit is not None)
    if source.found.faults:
        return _with_faults(source)
    operations, doubtful = steps_between([source.patch], places, grid_wkt)
    patch = replace(source.patch, tiles=tiles)
    terrain = Terrain((patch,), max(source.cell_m), tuple(operations))
    if np.isnan(heights(terrain, grid_wkt, places.points)).all():
        source.found.note("doubt", "", "every cell under the line is void, so canopy is not checked.")
    notes = (*notes_of([source]), *source.found.notes, *doubtful)
    return CanopyRead(Canopy(terrain, cover_only), (), notes, {path.name: source.entry})


def _with_faults(source: Source) -> CanopyRead:
    nothing = None if source.found.faults else Canopy(Terrain((), max(source.cell_m)))
    return CanopyRead(nothing, source.found.problems, tuple(source.found.notes))


def _canopy_cells(tiles: Cells, source: Source, *, unit_said: bool) -> tuple[Cells, bool]:
    """Return the cells with what cannot be canopy taken out, and whether they are cover only; all else is said."""
    with np.errstate(invalid="ignore"):
        below, little = tiles < -NOISE_M, (tiles < 0.0) & (tiles >= -NOISE_M)
    tiles = np.where(below, np.nan, np.where(little, 0.0, tiles)).astype(np.float32)
    known = tiles[~np.isnan(tiles)]
    _say_negatives(int(below.sum()), int(little.sum()), source)
    highest = float(known.max(initial=0.0))
    if highest > HIGHEST_M:
        fault = f"it has canopy {highest:.0f} m high near the line: is it in feet or centimetres, or a void number?"
        fix = f'say {UNIT_KEY} = "ft" or "cm" in site.toml, or tag the void number in the file.'
        source.found.fault("", fault, fix=fix)
    cover_only = not unit_said and highest == 1.0 and bool(np.isin(known, (0.0, 1.0)).all())
    if cover_only:
        text = (
            "it holds nothing but 0 and 1 near the line: taken as cover, of a height that nobody knows."
            f' If these are metres, say {UNIT_KEY} = "m" in site.toml.'
        )
        source.found.note("doubt", "", text)
    elif DOUBTED_M < highest <= HIGHEST_M:
        text = f"it has canopy {highest:.0f} m high near the line: see that it is metres, not feet or percent of cover."
        source.found.note("doubt", "", text)
    return tiles, cover_only


def _say_negatives(below: int, little: int, source: Source) -> None:
    if below:
        source.found.note("repair", "", f"{below} cells lie more than {NOISE_M:g} m below the ground: taken as void.")
    if little:
        text = f"{little} cells lie up to {NOISE_M:g} m below the ground, as noise does: taken as no canopy."
        source.found.note("repair", "", text)

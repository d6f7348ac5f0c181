"""Which files of a site folder are read, which are not read yet, and which names nobody will look for."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.errors import InputError, Problem
from fencegis.inputs.findings import Findings, words
from fencegis.inputs.text_file import is_within
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

BOUNDARIES = ("boundary.geojson", "boundary.gpkg", "boundary.csv")  # the first that is there is read
LAYER_FILES = {
    "pegs": ("pegs.geojson",),
    "gates": ("gates.geojson",),
    "overhead": ("overhead.geojson",),
    "trees": ("trees.geojson",),
    "soils": ("soils.geojson",),
    "walk": ("walk.geojson", "walk.gpx"),
    "watercourses": ("watercourses.geojson",),
    "services": ("services.geojson",),
    "keepout": ("keepout.geojson",),
    "tracks": ("tracks.geojson",),
    "existing": ("existing.geojson",),
}
ELEVATIONS = ("elevation.tif", "elevation.vrt", "elevation")
IMAGERY = "imagery.tif"
CANOPY = "canopy.tif"
TITLE = "title.csv"
POSTS = "posts.csv"
RATES = "rates.csv"
_OF_LAYERS = tuple(name for names in LAYER_FILES.values() for name in names)
_READ = (*BOUNDARIES, "site.toml", *_OF_LAYERS, *ELEVATIONS, IMAGERY, CANOPY, TITLE, POSTS, RATES)
_NOT_BUILT_ON = {  # what is not done though the file is read
    "existing.geojson": "the old fence is not planned for",
}
_MAP_SUFFIXES = (".geojson", ".json", ".gpkg", ".shp", ".kml", ".kmz", ".gpx", ".toml", ".csv", ".dxf")
_RASTER_SUFFIXES = (".tif", ".tiff", ".vrt", ".jp2", ".png")


@dataclass(frozen=True)
class FolderFiles:
    """The folder's files by use, with what is wrong with the choice of them."""

    folder: Path
    boundary: Path | None
    layers: dict[str, tuple[Path, ...]]  # only layers with a file
    elevation: tuple[Path, ...]
    imagery: Path | None
    canopy: Path | None
    title: Path | None
    posts: Path | None
    rates: Path | None
    unread: tuple[str, ...]
    problems: tuple[Problem, ...]
    notes: tuple[Note, ...]


def look_through(folder: Path, *, elevation: Path | None) -> FolderFiles:
    """Return what there is to read in a site folder; `elevation` is a raster that the user named instead of its own.

    Raises InputError when there is no such folder.
    """
    try:
        names = sorted(path.name for path in folder.iterdir())
    except OSError as error:
        fault = f"it is no folder to read ({error.strerror})."
        raise InputError([Problem(words(folder, most=200), "", fault, "name a site folder.")]) from None
    layers = {name: tuple(folder / file for file in files if file in names) for name, files in LAYER_FILES.items()}
    sources, problems = _elevation(folder, names, elevation)
    problems += _boundary_faults(names)
    for picture in (IMAGERY, CANOPY):
        if picture in names:
            problems += _link_faults(folder, picture)
    lines = [name for name in BOUNDARIES if name in names]
    return FolderFiles(
        folder=folder,
        boundary=folder / lines[0] if lines else None,
        layers={name: paths for name, paths in layers.items() if paths},
        elevation=sources,
        imagery=folder / IMAGERY if IMAGERY in names else None,
        canopy=folder / CANOPY if CANOPY in names else None,
        title=folder / TITLE if TITLE in names else None,
        posts=folder / POSTS if POSTS in names else None,
        rates=folder / RATES if RATES in names else None,
        unread=tuple(name for name in names if name in lines[1:]),
        problems=tuple(problems),
        notes=(*_unheeded(names), *_strangers(names)),
    )


def _unheeded(names: list[str]) -> Iterator[Note]:
    """Yield what the site's files would tell that this version does not look at."""
    for name in names:
        if name in BOUNDARIES and (better := next(other for other in BOUNDARIES if other in names)) != name:
            yield Note("doubt", f"{name} is not read: the line is taken from {better} alone.")
        elif name in _NOT_BUILT_ON:
            yield Note("doubt", f"{name} is read, but by this version {_NOT_BUILT_ON[name]}.")


def _boundary_faults(names: list[str]) -> list[Problem]:
    if set(names) & set(BOUNDARIES):
        return []
    fix = "draw the line and save it under that name in the site folder."
    return [Problem("boundary.geojson", "", "there is no such file.", fix)]


def _elevation(folder: Path, names: list[str], given: Path | None) -> tuple[tuple[Path, ...], list[Problem]]:
    """Return the rasters to read, in order: the one given, else the folder's own."""
    if given is not None:
        return (_tiles(given) if given.is_dir() else (given,)), []
    own = [name for name in ELEVATIONS if name in names]
    if len(own) > 1:
        fix = "keep one of them."
        return (), [Problem(own[0], "", f"there is {' and '.join(own[1:])} as well, and only one can count.", fix)]
    if not own:
        return (), []
    problems = _link_faults(folder, own[0])
    if problems or own[0] != "elevation":
        return (folder / own[0],), problems
    tiles = _tiles(folder / "elevation")
    if not tiles:
        fix = f"put tiles ({', '.join(_RASTER_SUFFIXES)}) into it, or take it away."
        problems = [Problem("elevation", "", "the folder holds no raster.", fix)]
    return tiles, problems


def _tiles(folder: Path) -> tuple[Path, ...]:
    if not folder.is_dir():
        return ()
    return tuple(sorted(path for path in folder.iterdir() if path.suffix.lower() in _RASTER_SUFFIXES))


def _link_faults(folder: Path, name: str) -> list[Problem]:
    found = Findings(name)
    try:
        if not is_within(folder, folder / name):
            found.fault("", "it is a link that leaves the site folder.", fix="put a copy of the file itself there.")
    except (OSError, RuntimeError) as error:  # RuntimeError: links in a circle, before Python 3.13
        found.fault("", f"it cannot be followed ({words(error)}).", fix="put the file itself there.")
    return found.faults


def _strangers(names: list[str]) -> list[Note]:
    """Note map files under a name that is not read: an overhead line must not be lost for a spelling."""
    notes = []
    for name in names:
        if name in _READ or name.startswith(".") or not name.lower().endswith((*_MAP_SUFFIXES, *_RASTER_SUFFIXES)):
            continue
        stems = {_stem(n): n for n in reversed(_READ) if n not in names}  # of files of one stem the first is named
        close = difflib.get_close_matches(_stem(name.lower()), stems, n=1, cutoff=0.75)
        meant = f"; if {stems[close[0]]} is meant, rename it" if close else ""
        notes.append(Note("doubt", f"{words(name)} is not read: no file of that name belongs to a site{meant}."))
    return notes


def _stem(name: str) -> str:
    return name.partition(".")[0]

"""A site folder → Site: first every text file, then, when those are sound, what needs rasters or several files."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fencegis.errors import InputError, Problem
from fencegis.inputs.between_files import off_the_line, overlapping_gates
from fencegis.inputs.boundary import BoundaryRead, drawn_lines, read_boundary
from fencegis.inputs.corridors import corridors_of
from fencegis.inputs.crs import WGS84, UnknownSystemError, doubts, geographic, moved, named, working_grid
from fencegis.inputs.features import LayerRead, on_grid, read_layer
from fencegis.inputs.folder_files import FolderFiles, look_through
from fencegis.inputs.posts_file import PostsRead, read_posts
from fencegis.inputs.rates_file import RatesRead, read_rates
from fencegis.inputs.spec_file import SpecRead, read_spec
from fencegis.inputs.title_file import TitleRead, read_title
from fencegis.line.chainage import Line, points_at
from fencegis.records.notes import Note
from fencegis.records.site import Grid, Site

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    import geopandas as gpd
    import numpy.typing as npt
    from pyproj import CRS

    from fencegis.inputs.canopy import CanopyRead
    from fencegis.inputs.terrain import TerrainRead
    from fencegis.inputs.text_file import TextFile
    from fencegis.records.backdrop import Backdrop
    from fencegis.records.site import DrawnLine
    from fencegis.records.spec import Spec
    from fencegis.records.terrain import Operation

    Floats = npt.NDArray[np.float64]

_HEIGHT_STEPS = 100  # heights along a line, at least, of which the mean is taken
_HEIGHT_STEP_M = 10.0


@dataclass(frozen=True, eq=False)
class _Texts:
    """All text files of a site as read."""

    spec: SpecRead
    datum: CRS
    boundary: BoundaryRead
    layers: dict[str, list[LayerRead]]
    title: TitleRead | None
    posts: PostsRead | None
    rates: RatesRead | None
    problems: tuple[Problem, ...]
    notes: tuple[Note, ...]


def read_site(folder: Path | str, *, elevation: Path | str | None = None) -> Site:
    """Return the site in `folder`, or raise InputError with all that is wrong with it.

    `elevation` is a raster, or a folder of them, to use instead of the site's own; it may lie anywhere.
    """
    files = look_through(Path(folder), elevation=None if elevation is None else Path(elevation))
    texts = _read_texts(files)
    problems = (*files.problems, *texts.problems)
    if problems or texts.spec.spec is None:
        raise InputError(problems, more_unchecked=_not_looked_at(files))
    return _site(files, texts, texts.spec.spec)


def _read_texts(files: FolderFiles) -> _Texts:
    spec = read_spec(files.folder / "site.toml")
    named_datum, problems = _named_datum(spec.spec)
    boundary = BoundaryRead((), None, (), ())
    if files.boundary is not None:
        boundary = read_boundary(files.boundary, spec=spec.spec, datum=named_datum)
    datum = named_datum or boundary.datum or WGS84
    layers = {
        name: [read_layer(path, name, assumed=named_datum or WGS84, datum=datum) for path in paths]
        for name, paths in files.layers.items()
    }
    problems = [*problems, *spec.problems, *boundary.problems]
    notes = [*_datum_notes(spec.spec, boundary), *spec.notes, *boundary.notes]
    for read in (read for reads in layers.values() for read in reads):
        problems += read.problems
        notes += read.notes
    title = None if files.title is None else read_title(files.title, lines=[line.line_id for line in boundary.lines])
    if title is not None:
        problems += title.problems
        notes += title.notes
    posts = None if files.posts is None else read_posts(files.posts)
    if posts is not None:
        problems += posts.problems
        notes += posts.notes
    rates = None if files.rates is None else read_rates(files.rates)
    if rates is not None:
        problems += rates.problems
        notes += rates.notes
    return _Texts(spec, datum, boundary, layers, title, posts, rates, tuple(problems), tuple(notes))


def _named_datum(spec: Spec | None) -> tuple[CRS | None, list[Problem]]:
    """Return the datum that `[boundary] datum` names, None when it names none, with faults of `[points] grid`."""
    problems: list[Problem] = []
    if spec is None:
        return None, problems
    if spec.points.grid is not None:
        problems += _grid_faults(spec.points.grid)
    name = spec.boundary.datum
    if name is None:
        return None, problems
    if _is_unknown(name):
        return WGS84, problems
    try:
        return geographic(name), problems
    except UnknownSystemError as error:
        fix = 'write the datum\'s name or code, as "GDA2020", "NAD83" or "EPSG:4283", or "unknown".'
        problems.append(Problem("site.toml", "[boundary] datum", f"{error}.", fix))
        return None, problems


def _is_unknown(datum: str) -> bool:
    return datum.strip().lower() == "unknown"


def _datum_notes(spec: Spec | None, boundary: BoundaryRead) -> list[Note]:
    name = spec.boundary.datum if spec else None
    if name is not None and _is_unknown(name):
        text = "The datum is said to be unknown: it is taken as WGS 84, with 2 m more doubt in every position."
        return [Note("doubt", text)]
    if name is None and not boundary.stated:
        text = "Nobody named the datum ([boundary] datum): longitude and latitude are taken as WGS 84."
        return [Note("default", text)]
    return []


def _grid_faults(name: str) -> list[Problem]:
    fix = 'give an official grid in metres or feet by its code, as "EPSG:7855".'
    try:
        crs = named(name)
    except UnknownSystemError as error:
        return [Problem("site.toml", "[points] grid", f"{error}.", fix)]
    if crs.is_projected:
        return []
    return [Problem("site.toml", "[points] grid", f"{crs.name} is not a projected grid.", fix)]


def _not_looked_at(files: FolderFiles) -> str:
    """Say what a fault in the text files kept from being checked."""
    rest = ["elevation"] * bool(files.elevation) + ["imagery"] * (files.imagery is not None)
    rest += ["canopy"] * (files.canopy is not None)
    marks = [name for name in ("pegs", "gates") if name in files.layers]
    rest += [f"whether {' and '.join(marks)} lie on the line"] if marks else []
    return f"Not looked at until these are mended: {', '.join(rest)}." if rest else ""


def _site(files: FolderFiles, texts: _Texts, spec: Spec) -> Site:
    """Do the second stage: ground, grid, and what several files show together."""
    lonlat = np.vstack([line.lonlat_deg for line in texts.boundary.lines])
    sigma_m = spec.boundary.vertex_sigma_m
    first_grid = working_grid(lonlat, datum=texts.datum, height_m=0.0)
    ground = _ground(files, texts, spec, first_grid)
    canopy = _canopy(files, texts, spec, first_grid)
    height_m, height_problems = _mean_height_m(texts.boundary, ground, first_grid)
    grid = working_grid(lonlat, datum=texts.datum, height_m=height_m)
    drawn = drawn_lines(texts.boundary.lines, grid, sigma_m=sigma_m)
    tables = {name: on_grid(reads, name, grid) for name, reads in texts.layers.items()}
    problems = [problem for read in (ground, canopy) if read for problem in read.problems]
    problems += [*height_problems, *_imagery_faults(files)]
    problems += _together(tables, drawn)
    if problems:
        raise InputError(problems)
    to_wgs84 = moved(np.array([[50_000.0, 80_000.0]]), source=grid.wkt, target=WGS84).operation
    notes = (*files.notes, *texts.notes, *doubts(to_wgs84, source=grid.wkt, target=WGS84))
    notes += ground.notes if ground else (Note("default", NO_GROUND),)
    notes += canopy.notes if canopy else ()
    folder_name = files.folder.resolve().name
    return Site(
        folder_name=folder_name,
        name=spec.name or folder_name,
        spec=spec,
        grid=grid,
        drawn=drawn,
        terrain=ground.terrain if ground else None,
        canopy=canopy.canopy if canopy else None,
        **tables,
        title=texts.title.legs if texts.title else None,
        timber=texts.posts.timber if texts.posts else None,
        rates=texts.rates.rates if texts.rates else None,
        notes=notes,
        inputs={**_text_inputs(texts), **(ground.inputs if ground else {}), **(canopy.inputs if canopy else {})},
        operations=tuple(dict.fromkeys([*_operations(texts), to_wgs84, *(canopy.operations if canopy else ())])),
        unread=files.unread,
        backdrop=_backdrop(files, spec, grid, drawn),
    )


NO_GROUND = "There is no elevation: the ground is taken as flat, and grades are not checked."


def _ground(files: FolderFiles, texts: _Texts, spec: Spec, grid: Grid) -> TerrainRead | None:
    """Read the heights near the lines and under the conductors; None when the site has no elevation."""
    if not files.elevation:
        return None
    from fencegis.inputs.terrain import read_terrain

    corridors = corridors_of(texts.boundary.lines, texts.layers, spec=spec, grid=grid)
    unit = spec.elevation.vertical_unit
    return read_terrain(files.elevation, corridors, grid_wkt=grid.wkt, vertical_unit=unit, folder=files.folder)


def _canopy(files: FolderFiles, texts: _Texts, spec: Spec, grid: Grid) -> CanopyRead | None:
    """Read the canopy in the same corridors as the ground; None when the site has none."""
    if files.canopy is None:
        return None
    from fencegis.inputs.canopy import read_canopy

    corridors = corridors_of(texts.boundary.lines, texts.layers, spec=spec, grid=grid)
    return read_canopy(files.canopy, corridors, grid_wkt=grid.wkt, unit=spec.canopy.unit, folder=files.folder)


def _mean_height_m(boundary: BoundaryRead, ground: TerrainRead | None, grid: Grid) -> tuple[float, list[Problem]]:
    """Return the mean ground height under the lines, 0 without elevation, and a fault when there is none under them."""
    if ground is None or ground.terrain is None:
        return 0.0, []
    from fencegis.line.ground import heights

    under = np.vstack(list(_along(drawn_lines(boundary.lines, grid, sigma_m=0.0))))
    ground_m = heights(ground.terrain, grid.wkt, under)
    if np.isnan(ground_m).all():
        fix = "give elevation of this place, or take it away to plan without ground."
        return 0.0, [Problem("elevation", "", "it has no height anywhere under the line.", fix)]
    return float(np.nanmean(ground_m)), []


def _along(drawn: tuple[DrawnLine, ...]) -> Iterator[Floats]:
    for drawn_line in drawn:
        line = Line(drawn_line.line_id, drawn_line.closed, drawn_line.vertices)
        steps = max(_HEIGHT_STEPS, int(np.ceil(line.length_m / _HEIGHT_STEP_M)))
        yield points_at(line, np.linspace(0.0, line.length_m, steps + 1))


def _together(tables: dict[str, gpd.GeoDataFrame], drawn: tuple[DrawnLine, ...]) -> list[Problem]:
    problems = []
    for name in ("pegs", "gates"):
        if name in tables and len(tables[name]):
            problems += off_the_line(tables[name], drawn, file=f"{name}.geojson")
    if "gates" in tables and len(tables["gates"]):
        problems += overlapping_gates(tables["gates"], drawn, file="gates.geojson")
    return problems


def _text_inputs(texts: _Texts) -> dict[str, dict[str, str]]:
    sources: dict[str, TextFile | None] = {texts.boundary.file: texts.boundary.source, "site.toml": texts.spec.source}
    if texts.title is not None:
        sources["title.csv"] = texts.title.source
    if texts.posts is not None:
        sources["posts.csv"] = texts.posts.source
    if texts.rates is not None:
        sources["rates.csv"] = texts.rates.source
    for reads in texts.layers.values():
        sources |= {read.file: read.source for read in reads}
    return {
        name: {"sha256": source.sha256, "bytes": str(source.size_bytes)}
        for name, source in sources.items()
        if source is not None
    }


def _operations(texts: _Texts) -> Iterator[Operation]:
    yield from texts.boundary.operations
    for reads in texts.layers.values():
        for read in reads:
            yield from read.operations


def _imagery_faults(files: FolderFiles) -> list[Problem]:
    if files.imagery is None:
        return []
    from fencegis.inputs.backdrop import imagery_problems

    return imagery_problems(files.imagery, folder=files.folder)


def _backdrop(
    files: FolderFiles, spec: Spec, grid: Grid, drawn: tuple[DrawnLine, ...]
) -> Callable[[], Backdrop] | None:
    """Return how to make the pictures under the map, made only when a map is drawn; None when there is nothing."""
    if not files.elevation and files.imagery is None:
        return None
    vertices = np.vstack([line.vertices for line in drawn])
    along = np.vstack(list(_along(drawn)))
    extent = (*vertices.min(axis=0).tolist(), *vertices.max(axis=0).tolist())
    make = partial(
        _pictures,
        elevation_sources=files.elevation,
        imagery=files.imagery,
        grid_wkt=grid.wkt,
        extent_en=extent,
        line_en=along,
        vertical_unit=spec.elevation.vertical_unit,
    )
    return cache(make)  # the map and the client's pages draw on the same pictures


def _pictures(**how: Any) -> Backdrop:
    from fencegis.inputs.backdrop import backdrop_of  # loads rasterio

    return backdrop_of(**how)

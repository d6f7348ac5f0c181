"""`boundary.geojson`, `.gpkg` or `.csv` → the drawn lines: one for each part or ring, cleaned, named and checked."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from fencegis.inputs.antimeridian import joined, unwrapped
from fencegis.inputs.boundary_geopackage import read_geopackage
from fencegis.inputs.boundary_points import read_points
from fencegis.inputs.crs import WGS84, centre_of, moved, working_grid
from fencegis.inputs.findings import Findings
from fencegis.inputs.geojson import read_features
from fencegis.inputs.properties import BoundaryProperties, note_near_misses, properties_of
from fencegis.inputs.spec_file import NO_RAIL, RAIL_FIX
from fencegis.inputs.text_file import TextFile, read_text
from fencegis.inputs.vertices import SAME_M, cleaned, self_crossing
from fencegis.records.site import DrawnLine
from fencegis.records.spec import Spec

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import numpy.typing as npt
    from pyproj import CRS

    from fencegis.errors import Problem
    from fencegis.inputs.geojson import Collection, Feature
    from fencegis.inputs.positions import Part
    from fencegis.records.notes import Note
    from fencegis.records.site import Grid
    from fencegis.records.spec import FenceKind, RunLabel
    from fencegis.records.terrain import Operation

    Floats = npt.NDArray[np.float64]

_GEOMETRIES = ("LineString", "MultiLineString", "Polygon", "MultiPolygon")
_LEAST_LENGTH_M = 0.1  # a stretch of fence shorter than this is none
_FURTHEST_M = 500_000.0  # from the middle of the site: beyond, a coordinate is surely wrong
_TRUE_TO_SIX_PPM_M = 20_000.0
_EARTH_RADIUS_M = 6_371_000.0


@dataclass(frozen=True, eq=False)
class BoundaryLine:
    """A line as drawn, still in longitude and latitude (n, 2); a loop's first vertex is not repeated at its end."""

    line_id: str
    name: str
    feature: str
    kind: FenceKind
    label: RunLabel | None
    closed: bool
    lonlat_deg: Floats


class BoundaryRead(NamedTuple):
    """What the file gave; without problems there is at least one line and a datum, `stated` when the file names it."""

    lines: tuple[BoundaryLine, ...]
    datum: CRS | None
    problems: tuple[Problem, ...]
    notes: tuple[Note, ...]
    operations: tuple[Operation, ...] = ()
    source: TextFile | None = None
    stated: bool = False
    file: str = "boundary.geojson"


@dataclass(frozen=True, eq=False)
class _Piece:
    """A part of a feature on its way to be a line."""

    feature: Feature
    where: str
    given: BoundaryProperties
    part: Part


def read_boundary(path: Path, *, spec: Spec | None, datum: CRS | None) -> BoundaryRead:
    """Return the drawn lines of the file, with all that is wrong in it.

    `datum` None means that nobody named it: the file's own `crs` member decides, else it is WGS 84. `spec` None means
    that it is at fault itself: what depends on it is not checked.
    """
    found = Findings(path.name)
    source = read_text(path, found)
    layer = None if source is None else _features(path, source, found, datum=datum)
    if path.suffix == ".csv" and spec and spec.boundary.vertex_sigma_m and spec.boundary.position_error_m is None:
        text = f"each point is taken as good to {spec.boundary.vertex_sigma_m:g} m, for [boundary] drawn_from says"
        found.note("doubt", "", f'{text} {spec.boundary.drawn_from}; say "survey" if the points were surveyed.')
    if source is None or layer is None or not layer.features:
        return BoundaryRead((), None, found.problems, tuple(found.notes), (), source, file=path.name)
    note_near_misses(layer.features, BoundaryProperties, found)
    pieces = _pieces(layer.features, found)
    lines = _lines(pieces, spec, layer.datum, found) if pieces and _is_one_place(pieces, found) else ()
    notes = tuple(found.notes)
    return BoundaryRead(
        lines, layer.datum, found.problems, notes, layer.operations, source, layer.stated, file=path.name
    )


def _features(path: Path, source: TextFile, found: Findings, *, datum: CRS | None) -> Collection | None:
    if path.suffix == ".csv":
        return read_points(source, found, target=datum, wanted=_GEOMETRIES)
    if path.suffix == ".gpkg":
        return read_geopackage(path, found, target=datum, wanted=_GEOMETRIES)
    return read_features(source, found, assumed=datum or WGS84, target=datum, wanted=_GEOMETRIES, empty_allowed=False)


def drawn_lines(lines: tuple[BoundaryLine, ...], grid: Grid, *, sigma_m: float) -> tuple[DrawnLine, ...]:
    """Return the lines in the working grid; `sigma_m` is one standard deviation of a vertex, east and north each."""
    all_points = moved(np.vstack([line.lonlat_deg for line in lines]), source=grid.datum, target=grid.wkt).points
    ends = np.cumsum([len(line.lonlat_deg) for line in lines])[:-1]
    return tuple(
        DrawnLine(line.line_id, line.name, line.feature, line.kind, line.label, line.closed, points, sigma_m)
        for line, points in zip(lines, np.split(all_points, ends), strict=True)
    )


def _pieces(features: tuple[Feature, ...], found: Findings) -> list[_Piece]:
    pieces = []
    high = [f.label for f in features if any(np.isfinite(part.heights_m).any() for part in f.parts)]
    found.note_each("repair", high, "heights of the vertices are left out; the ground is taken from the elevation.")
    for feature in features:
        given = properties_of(feature, BoundaryProperties, found)
        if given is None:
            continue
        parts = joined(feature.parts)
        if len(parts) < len(feature.parts):
            found.note("repair", feature.label, "its parts that meet at the 180° meridian are joined.")
        for number, part in enumerate(parts, 1):
            where = f"{feature.label}, part {number}" if len(parts) > 1 else feature.label
            pieces.append(_Piece(feature, where, given, part))
    return pieces


def _is_one_place(pieces: list[_Piece], found: Findings) -> bool:
    """Check that all vertices lie near one another, before a grid is put on them."""
    lonlat = [piece.part.lonlat_deg for piece in pieces]
    centre = np.array([centre_of(np.vstack(lonlat))])
    reach_m = [float(_away_m(points, centre).max()) for points in lonlat]
    worst = int(np.argmax(reach_m))
    if reach_m[worst] > _FURTHEST_M:
        fault = f"it reaches {reach_m[worst] / 1000:.0f} km from the middle of the site."
        fix = "correct or delete the stray vertex, or see that longitude comes before latitude everywhere."
        found.fault(pieces[worst].where, fault, fix=fix)
        return False
    if reach_m[worst] > _TRUE_TO_SIX_PPM_M:
        text = f"it reaches {reach_m[worst] / 1000:.0f} km from the middle; beyond 20 km lengths err by over 6 mm a km."
        found.note("doubt", pieces[worst].where, text)
    return True


def _away_m(lonlat_deg: Floats, centre_deg: Floats) -> Floats:
    """Great-circle distance on a sphere: good enough to tell one farm from two countries."""
    lon, lat = np.radians(lonlat_deg).T
    lon0, lat0 = np.radians(centre_deg).T
    half = np.sin((lat - lat0) / 2) ** 2 + np.cos(lat) * np.cos(lat0) * np.sin((lon - lon0) / 2) ** 2
    return np.asarray(2.0 * _EARTH_RADIUS_M * np.arcsin(np.sqrt(np.clip(half, 0.0, 1.0))))


def _lines(pieces: list[_Piece], spec: Spec | None, datum: CRS, found: Findings) -> tuple[BoundaryLine, ...]:
    lonlat = np.vstack([piece.part.lonlat_deg for piece in pieces])
    grid = working_grid(lonlat, datum=datum, height_m=0.0)
    metres = moved(lonlat, source=datum, target=grid.wkt).points
    ends = np.cumsum([len(piece.part.lonlat_deg) for piece in pieces])[:-1]
    fence, touch_m = (spec or Spec()).fence, (spec or Spec()).boundary.touch_m
    lines = []
    for piece, line_id, points in zip(pieces, _line_ids(pieces, found), np.split(metres, ends), strict=True):
        kind = piece.given.kind or fence.kind
        if spec and kind == "post and rail" and fence.kind != kind and fence.rail_m is None:
            found.fault(piece.where, NO_RAIL, fix="in site.toml: " + RAIL_FIX)
        shape = _shape(piece, points, touch_m, line_id, found)
        if shape is not None:
            keep, closed = shape
            name = piece.given.name or ""
            vertices = unwrapped(piece.part.lonlat_deg, grid.centre_lon_deg)[keep]
            lines.append(BoundaryLine(line_id, name, piece.where, kind, piece.given.label, closed, vertices))
    return tuple(lines)


def _shape(
    piece: _Piece, points: Floats, touch_m: float, line_id: str, found: Findings
) -> tuple[npt.NDArray[np.intp], bool] | None:
    """Return the places of the vertices to keep and whether they make a loop; None when they make no line."""
    gap_m = float(np.hypot(*(points[-1] - points[0])))
    closed = piece.part.role == "ring" or _is_loop(points, gap_m, touch_m)
    clean = cleaned(points[:-1] if closed else points, closed=closed)
    keep = clean.keep
    path = points[keep]
    if nothing := _no_line(path, closed=closed):
        found.fault(piece.where, nothing, fix="draw the line again, or delete it.")
        return None
    if crossing := self_crossing(path, closed=closed):
        one, other, where = crossing
        lon, lat = _lonlat_near(piece.part.lonlat_deg, points, where)
        legs = f"legs from vertex {keep[one] + 1} and from vertex {keep[other] + 1}, near {lon:.7f}, {lat:.7f}"
        found.fault(piece.where, f"the line crosses itself ({legs}).", fix="move a vertex, or draw two lines.")
        return None
    if closed and gap_m > SAME_M:
        text = f"its ends are {gap_m:.2f} m apart, within {touch_m:.2f} m, so it is taken as a loop."
        found.note("repair", piece.where, text, line_id=line_id)
    if len(clean.repeats):
        text = f"repeated vertices are left out ({_listed(clean.repeats)})."
        found.note("repair", piece.where, text, line_id=line_id)
    if len(clean.spikes):
        text = f"a spike of zero width is cut off ({_listed(clean.spikes)}); if a spur is meant, draw it as a line."
        found.note("repair", piece.where, text, line_id=line_id)
    return keep, closed


def _is_loop(points: Floats, gap_m: float, touch_m: float) -> bool:
    """Say whether the ends touch; a line hardly longer than what counts as touching is no loop."""
    if len(points) < 4:
        return False
    if gap_m < SAME_M:
        return True
    return gap_m <= touch_m and float(np.hypot(*(points - points[0]).T).max()) > 2.0 * touch_m


def _no_line(path: Floats, *, closed: bool) -> str:
    """Say why the cleaned path is no line, empty when it is one."""
    if closed:
        return "it encloses nothing." if len(path) < 3 else ""
    if len(path) < 2:
        return "it has fewer than two distinct vertices."
    length_m = float(np.hypot(*np.diff(path, axis=0).T).sum())
    return f"it is {length_m:.3f} m long, too short for a fence." if length_m < _LEAST_LENGTH_M else ""


def _lonlat_near(lonlat_deg: Floats, points: Floats, where: Floats) -> tuple[float, float]:
    """Longitude and latitude of a place on the path, by proportion along the nearest leg."""
    path = shapely.linestrings(points)
    along = float(shapely.line_locate_point(path, shapely.points(where)))
    chainage = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    return float(np.interp(along, chainage, lonlat_deg[:, 0])), float(np.interp(along, chainage, lonlat_deg[:, 1]))


def _listed(places: npt.NDArray[np.intp]) -> str:
    first = ", ".join(str(place + 1) for place in places[:5])
    return f"vertex {first}" + (" …" if len(places) > 5 else "")


def _line_ids(pieces: list[_Piece], found: Findings) -> list[str]:
    """Return each piece's own line_id, else the next free letter in file order."""
    own = [piece.given.line_id for piece in pieces]
    taken: dict[str, _Piece] = {}
    for piece, line_id in zip(pieces, own, strict=True):
        if not line_id:
            continue
        cut = re.fullmatch(r"(.+)\.\d+", line_id)
        if line_id in taken:
            fault = f"line_id “{line_id}” is that of {taken[line_id].where} too."
            found.fault(piece.where, fault, fix="give each line its own, or leave line_id out of a feature with parts.")
        elif cut and cut.group(1) in own:
            fault = f"line_id “{line_id}” is how a piece cut from line “{cut.group(1)}” is called."
            found.fault(piece.where, fault, fix="give it a line_id without the point and number.")
        taken.setdefault(line_id, piece)
    free = (letters for letters in _letters() if letters not in taken)
    return [line_id or next(free) for line_id in own]


def _letters() -> Iterator[str]:
    """Yield A, B, … Z, AA, AB, …."""
    number = 0
    while True:
        number += 1
        text, rest = "", number
        while rest:
            rest, letter = divmod(rest - 1, 26)
            text = chr(ord("A") + letter) + text
        yield text

"""`boundary.csv` → the drawn lines as a surveyor hands them over: a point a row, P, E, N, in a grid of an EPSG code."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

import numpy as np

from fencegis.inputs.cell_rows import by_column, is_formula, named_rows
from fencegis.inputs.crs import WGS84, UnknownSystemError, datum_of, moved, named
from fencegis.inputs.findings import words
from fencegis.inputs.geojson import Collection, features_of

if TYPE_CHECKING:
    import numpy.typing as npt
    from pyproj import CRS

    from fencegis.inputs.findings import Findings
    from fencegis.inputs.text_file import TextFile

    Floats = npt.NDArray[np.float64]
    Rows = list[tuple[int, dict[str, str]]]

COLUMNS = ("p", "e", "n")
MAY = ("z", "line_id", "name", "kind", "label", "epsg", "note")
MOST_POINTS = 100_000
MARGIN_DEG = 3.0  # a grid is used a little beyond its own area
SAY_SYSTEM = "let the first line be “# EPSG:7855”, with the code of the survey's own grid, or add a column epsg."
_ALSO = {
    "point": "p", "id": "p", "easting": "e", "east": "e", "x": "e", "northing": "n", "north": "n", "y": "n",
    "height": "z", "elevation": "z", "line": "line_id", "code": "epsg", "description": "note", "d": "note",
}  # fmt: skip
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)", re.ASCII)
_CODE = re.compile(r"(?:epsg)?\s*[:=]?\s*(\d{4,6})", re.IGNORECASE | re.ASCII)


def read_points(source: TextFile, found: Findings, *, target: CRS | None, wanted: tuple[str, ...]) -> Collection | None:
    """Return a feature for each `line_id`, its points in the file's order, on the geographic CRS `target`.

    None, with faults, when the rows or their system cannot be used; `target` None keeps the grid's own datum. A line
    whose last point is its first again is a loop. Row 1 is the heading, below the lines that begin with #.
    """
    comments, text = _parted(source.text)
    table = named_rows(text, found, each="point", needed=COLUMNS, may=MAY, also=_ALSO)
    if table is None:
        return None
    cells, names, decimal_comma = table
    rows = list(by_column(cells, names, found, each="point", most=MOST_POINTS))
    crs = _system(comments, rows, found)
    positions = [_position(given, number, found, decimal_comma=decimal_comma) for number, given in rows]
    if crs is None or found.faults or not rows:
        return None
    points = np.array([position[:2] for position in positions if position], dtype=float)
    if not _lie_in_their_grid(points, crs, found):
        return None
    members = _members(rows, [position for position in positions if position])
    return features_of(members, found, own=crs, assumed=crs, target=target, wanted=wanted)


def _parted(text: str) -> tuple[list[str], str]:
    """Return the lines that begin with #, before any other, and the rest."""
    lines = text.lstrip("\n").split("\n")
    first = next((place for place, line in enumerate(lines) if not line.lstrip().startswith("#")), len(lines))
    return lines[:first], "\n".join(lines[first:])


def _system(comments: list[str], rows: Rows, found: Findings) -> CRS | None:
    """Return the system of the points, None and a fault when the file names none, or two."""
    codes: dict[str, str] = {}
    for line in comments:
        if "epsg" in line.lower() and (code := _CODE.search(line)):
            codes.setdefault(code[1], "its first lines")
    for number, given in rows:
        if text := given.get("epsg", ""):
            code = _CODE.fullmatch(text)
            if code is None:
                found.fault(f"row {number}", f"epsg “{words(text)}” is no EPSG code.", fix="write its number, as 7855.")
                return None
            codes.setdefault(code[1], f"row {number}")
    if len(codes) != 1:
        said = " and ".join(f"EPSG:{code} in {place}" for code, place in codes.items())
        fault = f"it names {len(codes)} systems: {said}." if codes else "it does not name the system of its points."
        found.fault("", fault, fix="give each survey its own site." if codes else SAY_SYSTEM)
        return None
    try:
        crs = named(f"EPSG:{next(iter(codes))}").to_2d()
        datum_of(crs)
    except UnknownSystemError as error:
        found.fault("", f"{error}.", fix=SAY_SYSTEM)
        return None
    return crs


def _position(given: dict[str, str], row: int, found: Findings, *, decimal_comma: bool) -> list[float] | None:
    """Return easting and northing, and the height where there is one; None and a fault when one is no number."""
    place, numbers = f"row {row}", []
    for column in ("e", "n", "z"):
        text = given.get(column, "")
        if column == "z" and not text:
            continue
        text = text.replace(",", ".") if decimal_comma else text
        if not _NUMBER.fullmatch(text) or not math.isfinite(float(text)):
            if not is_formula(text, place, column, found):
                fault = f"{column} “{words(text)}” is not a number." if text else f"{column} is empty."
                found.fault(place, fault, fix="write digits and a decimal point alone.")
            return None
        numbers.append(float(text))
    return numbers


def _lie_in_their_grid(points: Floats, crs: CRS, found: Findings) -> bool:
    """Say whether the points lie about where their system is used; a fault when they would the other way round."""
    if _in_area(points, crs):
        return True
    if _in_area(points[:, ::-1], crs):
        found.fault("", f"in {crs.name} the columns e and n look swapped.", fix="name them the other way round.")
        return False
    text = f"its points lie far from where {crs.name} is used: see that the EPSG code is that of the survey."
    found.note("doubt", "", text)
    return True


def _in_area(points: Floats, crs: CRS) -> bool:
    area = crs.area_of_use
    if area is None or area.west > area.east:
        return True
    lon, lat = moved(points, source=crs, target=WGS84).points.T
    inside = (lon > area.west - MARGIN_DEG) & (lon < area.east + MARGIN_DEG)
    return bool((inside & (lat > area.south - MARGIN_DEG) & (lat < area.north + MARGIN_DEG)).all())


def _members(rows: Rows, positions: list[list[float]]) -> list[dict[str, Any]]:
    """Return a GeoJSON feature for each line, with the first that its rows say of each property."""
    lines: dict[str, dict[str, Any]] = {}
    for (_, given), position in zip(rows, positions, strict=True):
        line = lines.setdefault(
            given.get("line_id", ""),
            {"type": "Feature", "properties": {}, "geometry": {"type": "LineString", "coordinates": []}},
        )
        line["geometry"]["coordinates"].append(position)
        for name in ("line_id", "name", "kind", "label"):
            if given.get(name) and name not in line["properties"]:
                line["properties"][name] = given[name]
    return list(lines.values())

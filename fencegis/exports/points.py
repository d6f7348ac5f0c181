"""The rover's file: key points in an official grid, and a page of text that says what the numbers are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from pyproj import CRS, Transformer

from fencegis.exports.cautions import cautions
from fencegis.exports.csv_tables import csv_text
from fencegis.exports.file_text import code
from fencegis.exports.hand.budget import budget, budget_lines
from fencegis.exports.hand.check_marks import check_marks
from fencegis.exports.hand.ground_factor import factor_lines, longest_run, site_factor
from fencegis.exports.key_points import key_points
from fencegis.exports.plan_hash import LONG, plan_sha256
from fencegis.exports.positions import WGS84, accuracy_words, doubt_m, doubt_words, operation
from fencegis.exports.rounding import lon_lat, printed
from fencegis.line.official_grid import official_grid, survey_grids, to_official, why_grid

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.exports.hand.check_marks import CheckMark
    from fencegis.exports.key_points import Place
    from fencegis.records.plan import Plan
    from fencegis.records.terrain import Operation

    Floats = npt.NDArray[np.float64]

HEADING = "not a boundary; for finding, not for marking"
ORDERS = {"points_pnezd.csv": ("P", "N", "E", "Z", "D"), "points_penzd.csv": ("P", "E", "N", "Z", "D")}
NUMBERS = """\
1. Ask the rover for the latitude and longitude of both, and hold them against these (WGS 84). If they differ by more
   than a few metres, the grid, the datum or the order of N and E is set wrongly: stop and mend that first."""
ON_PEGS = """\
2. Stand the pole on both pegs and hold what it shows against N and E. Both off alike is the drawing's common shift; one
   off, or off in another direction, is a wrong mark or a wrong setting: stop."""
ON_NOTHING = """\
2. No two pegs are given, so nothing of this plan is known to stand: try the pole on two marks whose coordinates you
   have from elsewhere."""
COLUMNS = {"P": "point", "N": "northing", "E": "easting", "Z": "height", "D": "code"}


@dataclass(frozen=True)
class RoverFile:
    """The files' bytes, the text beside them and the datum change behind them.

    `points` has northings before eastings, `eastings_first` the other order.
    """

    points: bytes
    eastings_first: bytes
    text: bytes
    operation: Operation


def rover_file(plan: Plan) -> RoverFile:
    """Return `points_pnezd.csv`, the same as `points_penzd.csv`, and `points_pnezd.txt` for both.

    Point, northing, easting, height, code in the official grid of the site, all in that grid's unit, three decimals,
    the height empty where the ground is unknown; a header line spells the order. Two check marks stand first. A point
    that PROJ cannot put into the grid has empty coordinates.
    """
    grid = official_grid(plan.site)
    places = key_points(plan)
    marks = check_marks(plan, places)
    points: list[CheckMark | Place] = [*marks, *places]
    drawn = np.array([(point.easting_m, point.northing_m) for point in points]).reshape(-1, 2)
    positions = to_official(drawn, grid_wkt=plan.crs, official=grid)
    heights = np.array([point.ground_m for point in points]) / _unit_m(grid)
    columns = {
        "P": [point.name for point in points],
        "N": _cells(positions[:, 1]),
        "E": _cells(positions[:, 0]),
        "Z": _cells(heights),
        "D": [*(_mark_code(plan, mark) for mark in marks), *(_code(plan, place) for place in places)],
    }
    pnezd, penzd = (
        csv_text([order, *zip(*(columns[name] for name in order), strict=True)]).encode() for order in ORDERS.values()
    )
    used = operation(plan, grid, name=_name(grid))
    text = _text(plan, grid=grid, marks=list(zip(marks, positions, strict=False)), used=used)
    return RoverFile(pnezd, penzd, text.encode(), used)


def _code(plan: Plan, place: Place) -> str:
    return f"{code(place.short)} CH {place.chainage_m:.1f} {_doubt(plan, place.line_id)}"


def _mark_code(plan: Plan, mark: CheckMark) -> str:
    return f"CHECK {code(mark.words)} {'AS GIVEN' if mark.line_id is None else _doubt(plan, mark.line_id)}"


def _doubt(plan: Plan, line_id: str) -> str:
    sigma_m = doubt_m(plan.site, line_id)
    return f"DRAWN +-{sigma_m:.1f}M" if sigma_m > 0.0 else "DRAWN DOUBT NOT STATED"


def _cells(values: Floats) -> list[str]:
    import pandas as pd

    return printed(pd.Series(values, dtype="float64"), "m")


def _text(plan: Plan, *, grid: str, marks: list[tuple[CheckMark, Floats]], used: Operation) -> str:
    height_m = plan.site.grid.height_m
    lines = [
        HEADING,
        "",
        *(_order(name, order) for name, order in ORDERS.items()),
        "Both hold the same points under a header line. Load one of them, by the order that the rover asks for.",
        *_grid_lines(plan, grid),
        *factor_lines(site_factor(plan, grid=grid), longest_run(plan, grid=grid), height_m=height_m),
        f"From the drawing's datum by: {used.operation}",
        f"Accuracy of that: {accuracy_words(used)}",
        *(f"Grid file that PROJ would have liked and does not have: {name}" for name in used.missing_grids),
        f"Position: {doubt_words(doubt_m(plan.site))}. This is besides the accuracy above.",
        *(f"Budget: {line}" for line in budget_lines(budget(plan, receiver="rover", used=used), used)),
        "Three decimals are the file's, not the drawing's.",
        "",
        *_check_lines(marks, grid),
        "",
        "Cautions, each with where it holds and why; in full on the sheets and the map:",
        *(f"{caution.about}: {caution.where}" for caution in cautions(plan)),
        "",
        f"Plan {plan_sha256(plan)[:LONG]}",
    ]
    return "\n".join(_plain_spaces(line) for line in lines) + "\n"


def _order(name: str, order: tuple[str, ...]) -> str:
    return f"File: {name}. Columns: {', '.join(f'{letter} {COLUMNS[letter]}' for letter in order)}."


def _grid_lines(plan: Plan, grid: str) -> list[str]:
    crs = CRS(grid)
    authority = crs.to_authority()
    lines = [
        f"Grid: {crs.name}, {':'.join(authority) if authority else 'no EPSG code'}",
        f"Grid chosen: {why_grid(plan.site)}",
        f"Datum: {crs.geodetic_crs.name if crs.geodetic_crs else 'unknown'}",
        f"Unit of N, E and Z: {crs.axis_info[0].unit_name}",
        "Height datum: as the elevation file's; not checked. An empty Z is an unknown height, not 0.",
    ]
    if plan.site.spec.points.grid is None:
        others = "; ".join(f"{name} ({code_})" for code_, name in survey_grids(plan.site) if code_ != grid)
        if others:
            lines.insert(2, f"Others that the EPSG database lists for survey here: {others}. Name yours in site.toml.")
    return lines


def _plain_spaces(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def _check_lines(marks: list[tuple[CheckMark, Floats]], grid: str) -> list[str]:
    """Return what to try before anything else, and the two marks with what the rover has to show there."""
    if not marks:
        return ["No two points are far enough apart for check marks: try the rover on two marks that you know."]
    to_degrees = Transformer.from_crs(grid, WGS84, always_xy=True)
    apart_m = float(np.hypot(*(marks[1][1] - marks[0][1]))) * _unit_m(grid)
    found = [f"Check marks, {apart_m:.1f} m apart in the grid. Before anything else:", NUMBERS, _ground_check(marks)]
    for mark, (east, north) in marks:
        ((lon_deg, lat_deg),) = lon_lat([to_degrees.transform(east, north)])
        found.append(
            f"{mark.name} ({mark.words}): N {north:.3f}  E {east:.3f}  latitude {lat_deg:.7f}  longitude {lon_deg:.7f}"
        )
    return found


def _ground_check(marks: list[tuple[CheckMark, Floats]]) -> str:
    return ON_PEGS if all(mark.line_id is None for mark, _ in marks) else ON_NOTHING


def _unit_m(grid: str) -> float:
    return float(CRS(grid).axis_info[0].unit_conversion_factor)


def _name(grid: str) -> str:
    return str(CRS(grid).name)

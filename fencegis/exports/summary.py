"""The plan in figures, what it rests on, what was not looked at: for scripts, and for whoever asks later."""

from __future__ import annotations

import json
import platform
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

import fencegis
from fencegis.exports.cautions import cautions
from fencegis.exports.geopackage import CAUTION, SCHEMA
from fencegis.exports.key_points import lines_of, rows
from fencegis.exports.plan_hash import plan_sha256
from fencegis.exports.positions import doubt_95_m, doubt_m
from fencegis.exports.rounding import rounded_number
from fencegis.line.official_grid import official_grid
from fencegis.quantities.takeoff import drawn_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import pandas as pd

    from fencegis.records.plan import Plan
    from fencegis.records.site import Site
    from fencegis.records.terrain import Operation

NAME = "summary.json"
MADE_BY = "fencegis"
LIBRARIES = (
    "folium", "geopandas", "matplotlib", "numpy", "pandas", "pyogrio", "pyproj", "rasterio", "reportlab", "scipy",
    "shapely", "xlsxwriter",
)  # fmt: skip
COUNTED = ("runs", "corners", "breaks", "strainers", "posts", "gates", "hazards")


def summary(plan: Plan, *, files: Sequence[str], operations: Iterable[Operation] = ()) -> bytes:
    """Return `summary.json`: sorted keys, numbers as printed, UTF-8; the same plan gives the same bytes.

    `files` are the names of all that was written, itself included; `operations` are datum changes used for them beside
    the site's own. `checks` say what was found in words: no row of them is leave to go ahead.
    """
    content = {
        "schema": SCHEMA,
        "made_by": MADE_BY,
        "caution": CAUTION,
        "name": plan.site.name,
        "folder": plan.site.folder_name,
        "plan_sha256": plan_sha256(plan),
        "figures": _figures(plan),
        "lines": [_line(plan, line_id) for line_id in lines_of(plan)],
        "position": _position(plan),
        "grid": _grid(plan),
        "how_sure": _how_sure(plan),
        "drivers": _drivers(plan),
        "hazards": _hazards(plan),
        "checks": _checks(plan),
        "cautions": _cautions(plan),
        "notes": _notes(plan),
        "inputs": plan.site.inputs,
        "unread": sorted(plan.site.unread),
        "not_computed": list(plan.not_computed),
        "datum_operations": [_operation(used) for used in _each_once([*_of_site(plan.site), *operations])],
        "versions": versions(),
        "files": sorted(files),
    }
    text = json.dumps(content, ensure_ascii=False, allow_nan=False, indent=1, sort_keys=True)
    return text.encode("utf-8", "replace") + b"\n"


def versions() -> dict[str, str]:
    """Return the versions that the bytes depend on."""
    import pyogrio
    import pyproj

    return {
        "fencegis": fencegis.__version__,
        "python": platform.python_version(),
        "PROJ": pyproj.proj_version_str,
        "GDAL (of the vector files)": pyogrio.__gdal_version_string__,
        **{name: version(name) for name in LIBRARIES},
    }


def _figures(plan: Plan) -> dict[str, object]:
    return {
        "length_m": rounded_number(plan.runs["length_m"].sum(), "length_m"),
        "ground_length_m": rounded_number(plan.runs["ground_length_m"].sum(), "ground_length_m"),
        **{
            name: len(frame) for name, frame in plan.layers() if name in {"runs", "corners", "posts", "gates", "breaks"}
        },
        "posts_by_kind": _counts(plan.posts["kind"]),
        "strainers_by_reason": _counts(plan.strainers["reason"]),
        "hazards_by_kind": _counts(plan.hazards["kind"]),
    }


def _line(plan: Plan, line_id: str) -> dict[str, object]:
    runs = plan.runs[plan.runs["line_id"] == line_id]
    drawn = drawn_line(plan.site, line_id)
    return {
        "line_id": line_id,
        "name": drawn.name if drawn else "",
        "kind": drawn.kind if drawn else plan.site.spec.fence.kind,
        "length_m": rounded_number(runs["length_m"].sum(), "length_m"),
        "ground_length_m": rounded_number(runs["ground_length_m"].sum(), "ground_length_m"),
        "runs": len(runs),
    }


def _position(plan: Plan) -> dict[str, object]:
    sigma_m = doubt_m(plan.site)
    return {
        "drawn_from": plan.site.spec.boundary.drawn_from,
        "sigma_m": rounded_number(sigma_m, "sigma_m"),
        "sigma_is": "one standard deviation in east and in north, each; 0 when nobody stated one",
        "95_of_100_within_m": rounded_number(doubt_95_m(sigma_m), "within_m"),
    }


def _grid(plan: Plan) -> dict[str, object]:
    grid = plan.site.grid
    return {
        "wkt": plan.crs,
        "centre_lon_deg": rounded_number(grid.centre_lon_deg, "centre_lon_deg"),
        "centre_lat_deg": rounded_number(grid.centre_lat_deg, "centre_lat_deg"),
        "height_m": rounded_number(grid.height_m, "height_m"),
        "scale": round(grid.scale, 9),
        "points_grid": official_grid(plan.site),
    }


def _how_sure(plan: Plan) -> list[dict[str, object]]:
    """Return each figure with what 10, 50 and 90 of 100 draws stay within, in its unit, and what matters most."""
    names = ("what", "unit", "planned", "p10", "p50", "p90", "main_cause", "share_pct", "basis")
    return [_cells(row, names) for row in rows(plan.how_sure)]


def _drivers(plan: Plan) -> list[dict[str, object]]:
    """Return what changes add to the total, in whole cents (none when not priced), and to the crew's hours."""
    return [
        {**_cells(row, ("what", "change", "hours_h", "basis")), "amount_cents": None if cents != cents else int(cents)}
        for row, cents in zip(rows(plan.drivers), plan.drivers["amount_cents"].astype("float64"), strict=True)
    ]


def _hazards(plan: Plan) -> list[dict[str, object]]:
    names = ("hazard_id", "line_id", "from_m", "to_m", "kind", "clearance_m", "required_m", "basis", "advice")
    return [_cells(row, names) for row in rows(plan.hazards)]


def _checks(plan: Plan) -> list[dict[str, object]]:
    """Return what was looked at, in the words that a person reads; the column `status` stays in the GeoPackage."""
    return [_cells(row, ("line_id", "from_m", "to_m", "kind", "basis")) for row in rows(plan.checks)]


def _cautions(plan: Plan) -> list[dict[str, object]]:
    """Return every caution with each place where it holds and why."""
    return [
        {
            "about": caution.about,
            "applies": [{"status": place.status, "where": place.where} for place in caution.applies],
            "text": caution.text,
        }
        for caution in cautions(plan)
    ]


def _notes(plan: Plan) -> list[dict[str, object]]:
    return [_cells(row, ("line_id", "chainage_m", "severity", "text")) for row in rows(plan.notes)]


def _cells(row: Any, names: Iterable[str]) -> dict[str, object]:
    cells: dict[str, object] = {}
    for name in names:
        value = getattr(row, name)
        if isinstance(value, str):
            cells[name] = value
        else:
            cells[name] = None if value is None or value != value else rounded_number(value, name)
    return cells


def _counts(values: pd.Series[str]) -> dict[str, int]:
    return {str(kind): int(count) for kind, count in values.value_counts().sort_index().items()}


def _of_site(site: Site) -> tuple[Operation, ...]:
    return site.operations + (site.terrain.operations if site.terrain else ())


def _operation(used: Operation) -> dict[str, object]:
    return {
        "between": used.between,
        "operation": used.operation,
        "accuracy_m": None if used.accuracy_m is None else rounded_number(used.accuracy_m, "accuracy_m"),
        "missing_grids": sorted(used.missing_grids),
    }


def _each_once(operations: Iterable[Operation]) -> list[Operation]:
    """Return each operation once, under the name that it was first used by."""
    first: dict[tuple[str, float | None], Operation] = {}
    for used in operations:
        first.setdefault((used.operation, used.accuracy_m), used)
    return list(first.values())

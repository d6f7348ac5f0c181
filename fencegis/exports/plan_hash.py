"""One number for a plan: it tells whether a sheet, a file or a mark brought back from the field is of this one."""

from __future__ import annotations

import csv
import hashlib
import io
from contextlib import contextmanager
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import shapely

from fencegis.exports.rounding import printed

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

    from fencegis.records.plan import Plan

SHORT = 6  # digits that a waypoint carries
LONG = 12  # digits that a sheet carries
_reckoned: WeakKeyDictionary[Plan, str] = WeakKeyDictionary()


def plan_sha256(plan: Plan) -> str:
    """Return the SHA-256 (hexadecimal) of the plan's tables as canonical CSV.

    The grid's middle, height and scale first, then each layer in the contract's order: its name, its columns, its rows
    in the plan's order, numbers as printed, geometry as well-known text to the millimetre. No clock, no file's bytes.
    """
    if plan in _reckoned:
        return _reckoned[plan]
    digest = hashlib.sha256()
    grid = plan.site.grid
    place = (grid.centre_lon_deg, grid.centre_lat_deg, grid.height_m, grid.scale)
    digest.update(("grid," + ",".join(f"{number:.9f}" for number in place) + "\n").encode())
    for name, frame in plan.layers():
        digest.update(_canonical_csv(name, frame).encode("utf-8", "surrogatepass"))
    return digest.hexdigest()


@contextmanager
def reckoned_once(plan: Plan) -> Iterator[str]:
    """Within this, every writer gets the hash reckoned at its start: nobody may edit the plan's tables meanwhile."""
    digits = plan_sha256(plan)
    _reckoned[plan] = digits
    try:
        yield digits
    finally:
        del _reckoned[plan]


def _canonical_csv(layer: str, frame: pd.DataFrame) -> str:
    names = [name for name in frame.columns if name != "geometry"]
    columns = [printed(frame[name], name) for name in names]
    if "geometry" in frame.columns:
        names.append("geometry")
        columns.append(list(shapely.to_wkt(frame["geometry"].to_numpy(), rounding_precision=3, trim=True)))
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow([layer])
    rows.writerow(names)
    rows.writerows(zip(*columns, strict=True))
    return text.getvalue()

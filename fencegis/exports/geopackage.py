"""Everything in one file for any GIS: each layer of the plan a table of the same name."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pyogrio
import shapely
from pyogrio import raw

import fencegis
from fencegis.errors import OutputError
from fencegis.exports.plan_hash import plan_sha256
from fencegis.exports.rounding import rounded_frame
from fencegis.records.tables import LAYERS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from fencegis.records.plan import Plan

SCHEMA = 1  # raised when a column changes its meaning or goes
CAUTION = (
    "A desk drawing. It replaces no site inspection, survey, service location or safe work method. "
    "Not a boundary; for finding, not for marking."
)
# pyogrio has a GDAL of its own, with options of its own. It would write the time of the last change into the file, and
# wait for the disk after each of fifteen tables: the file is new and takes its place only when it is whole.
WHILE_WRITING = {"OGR_CURRENT_DATE": "1970-01-01T00:00:00.000Z", "OGR_SQLITE_SYNCHRONOUS": "OFF"}
SHAPES = {"station": "Point", "span": "LineString"}


def write(plan: Plan, path: Path) -> None:
    """Write the plan's layers in the contract's order, empty ones too, and the table `about`.

    Numbers are rounded as printed and geometry to the millimetre, in the working grid. Same plan, same bytes. Raises
    OutputError when the disk or the folder does not let it.
    """
    with _no_clock_no_waiting(), _as_output_error(path):
        for name, frame in plan.layers():
            _add(rounded_frame(frame), path, layer=name, crs=plan.crs)
        _add(about(plan), path, layer="about", crs=plan.crs)


def about(plan: Plan) -> pd.DataFrame:
    """Return what the file is, as rows of key and value."""
    rows = {
        "schema": str(SCHEMA),
        "name": plan.site.name,
        "fencegis": fencegis.__version__,
        "plan_sha256": plan_sha256(plan),
        "caution": CAUTION,
        **{f"not computed {number:02d}": text for number, text in enumerate(plan.not_computed, start=1)},
    }
    return pd.DataFrame({"key": list(rows), "value": list(rows.values())}, dtype="str")


def _add(frame: pd.DataFrame, path: Path, *, layer: str, crs: str) -> None:
    """Append one table.

    pyogrio is given arrays, not data frames: for those it asks PROJ for a code of the grid, and that search takes
    longer than all the rest.
    """
    names = [name for name in frame.columns if name != "geometry"]
    columns = [_column(frame[name]) for name in names]
    description = LAYERS[layer].about if layer in LAYERS else "what this file is"
    options: dict[str, Any] = {"layer_options": {"DESCRIPTION": description}}
    geometry = None
    if "geometry" in frame.columns:
        geometry = shapely.to_wkb(frame["geometry"].to_numpy(), flavor="iso")
        options |= {"geometry_type": SHAPES[LAYERS[layer].shape], "crs": crs}
    raw.write(
        str(path),
        geometry,
        [values for values, _ in columns],
        np.array(names, dtype=object),
        field_mask=[missing for _, missing in columns],
        layer=layer,
        driver="GPKG",
        **options,
    )


def _column(values: pd.Series[Any]) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any] | None]:
    """Return a column as GDAL takes it, and which of its cells are empty; a NaN is empty of itself."""
    if values.dtype in ("float64", "bool"):
        return values.to_numpy(), None
    missing = values.isna().to_numpy()
    if values.dtype == "Int64":
        return values.fillna(0).to_numpy("int64"), missing
    texts = np.array(values, dtype=object)  # a copy: the plan keeps its own
    texts[missing] = None
    return texts, missing


@contextmanager
def _no_clock_no_waiting() -> Iterator[None]:
    pyogrio.set_gdal_config_options(WHILE_WRITING)
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(dict.fromkeys(WHILE_WRITING))


@contextmanager
def _as_output_error(path: Path) -> Iterator[None]:
    try:
        yield
    except RuntimeError as error:  # all that GDAL reports of a file it cannot make, fill or close
        raise OutputError(f"{path.name}: {' '.join(str(error).split())}") from error

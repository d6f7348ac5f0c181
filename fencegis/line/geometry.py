"""Geometry from chainage: a Point for a station, a LineString for a span, never edited by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import shapely

from fencegis.line.chainage import cut, points_at
from fencegis.records.tables import LAYERS

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd

    from fencegis.line.chainage import Line


def with_geometry(layer: str, frame: pd.DataFrame, *, lines: Iterable[Line], crs: str) -> gpd.GeoDataFrame:
    """Return the layer with its geometry in the working grid `crs` (WKT)."""
    shapes = np.empty(len(frame), dtype=object)
    of = _stations if LAYERS[layer].shape == "station" else _spans
    for line in lines:
        rows = np.flatnonzero(frame["line_id"] == line.line_id)
        if len(rows):
            shapes[rows] = of(line, frame.iloc[rows])
    return gpd.GeoDataFrame(frame, geometry=shapes, crs=crs)


def _stations(line: Line, frame: pd.DataFrame) -> np.ndarray:
    return np.asarray(shapely.points(points_at(line, frame["chainage_m"].to_numpy())))


def _spans(line: Line, frame: pd.DataFrame) -> np.ndarray:
    begin, end = frame["from_m"].to_numpy(), frame["to_m"].to_numpy()
    straight = np.searchsorted(line.chainage_m, begin + 1e-9, side="right") == np.searchsorted(
        line.chainage_m, end - 1e-9, side="left"
    )
    shapes = np.asarray(shapely.linestrings(np.stack([points_at(line, begin), points_at(line, end)], axis=1)))
    for row in np.flatnonzero(~straight):  # with corners in between
        shapes[row] = shapely.linestrings(cut(line, float(begin[row]), float(end[row])))
    return shapes

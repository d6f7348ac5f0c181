"""The planned lines as paths that can be asked by chainage: places on them, beside them, and pieces of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.ops import substring

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.records.plan import Plan

    Floats = npt.NDArray[np.float64]

ASIDE_M = 0.02  # before and after a station, for the direction there; at a corner the mean of both runs'


class Courses:
    """Every line's path; an arc is drawn by chords, so chainage and length along the path are matched run by run."""

    def __init__(self, plan: Plan) -> None:
        """Join each line's runs."""
        self._lines: dict[str, tuple[shapely.LineString, Floats, Floats]] = {}
        for line_id, runs in plan.runs.groupby("line_id", sort=False):
            points = shapely.get_coordinates(runs.geometry.to_numpy())
            ends_m = np.concatenate([runs["from_m"].to_numpy()[:1], runs["to_m"].to_numpy()])
            lengths = np.concatenate([[0.0], np.cumsum(shapely.length(runs.geometry.to_numpy()))])
            self._lines[str(line_id)] = shapely.remove_repeated_points(shapely.LineString(points)), ends_m, lengths

    def points(self, line_id: str, chainage_m: npt.ArrayLike) -> Floats:
        """Return eastings and northings (n, 2) of stations of one line."""
        path, ends_m, lengths = self._lines[line_id]
        along = np.interp(np.asarray(chainage_m, dtype=float), ends_m, lengths)
        return np.asarray(shapely.get_coordinates(shapely.line_interpolate_point(path, along)), dtype=float)

    def beside(self, line_id: str, chainage_m: npt.ArrayLike, offset_m: npt.ArrayLike) -> Floats:
        """Return places (n, 2) square off stations of one line; offsets to the right are positive."""
        at = np.asarray(chainage_m, dtype=float)
        on = self.points(line_id, at)
        way = self.points(line_id, at + ASIDE_M) - self.points(line_id, at - ASIDE_M)
        way /= np.hypot(*way.T)[:, None]
        right = np.column_stack([way[:, 1], -way[:, 0]])
        return np.asarray(on + right * np.asarray(offset_m, dtype=float)[:, None], dtype=float)

    def piece(self, line_id: str, from_m: float, to_m: float) -> shapely.LineString:
        """Return the line from one station to another."""
        path, ends_m, lengths = self._lines[line_id]
        begin, end = np.interp([from_m, to_m], ends_m, lengths)
        return shapely.LineString(shapely.get_coordinates(substring(path, float(begin), float(end))))

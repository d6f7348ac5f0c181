"""Metres along a planned line: where a chainage is, what lies nearest, what is between two chainages.

A point is easting and northing in the working grid; offsets are right positive walking with rising chainage.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Line:
    """A planned line. `corners` is (n, 2), ends included; a loop's first corner is not repeated at its end."""

    line_id: str
    closed: bool
    corners: Floats

    @cached_property
    def path(self) -> Floats:
        """The corners, a loop's first repeated at its end."""
        return np.vstack([self.corners, self.corners[:1]]) if self.closed else self.corners

    @cached_property
    def chainage_m(self) -> Floats:
        """Chainage of each point of `path`, 0 first."""
        steps = np.diff(self.path, axis=0)
        return np.concatenate([[0.0], np.cumsum(np.hypot(steps[:, 0], steps[:, 1]))])

    @property
    def length_m(self) -> float:
        """Horizontal length."""
        return float(self.chainage_m[-1])


def points_at(line: Line, chainage_m: npt.ArrayLike) -> Floats:
    """Return (n, 2) points at the chainages, which are clamped to the line."""
    chainage = np.atleast_1d(np.asarray(chainage_m, dtype=float))
    return np.column_stack([np.interp(chainage, line.chainage_m, line.path[:, axis]) for axis in (0, 1)])


def directions_at(line: Line, chainage_m: npt.ArrayLike) -> Floats:
    """Return (n, 2) unit vectors of walking; at a corner that of the run which begins there."""
    chainage = np.atleast_1d(np.asarray(chainage_m, dtype=float))
    run = np.clip(np.searchsorted(line.chainage_m, chainage + 1e-9, side="right") - 1, 0, len(line.path) - 2)
    steps = np.diff(line.path, axis=0)[run]
    length = np.hypot(steps[:, 0], steps[:, 1])[:, None]
    return np.divide(steps, length, out=np.zeros_like(steps), where=length > 0)


def cut(line: Line, from_m: float, to_m: float) -> Floats:
    """Return the (n, 2) points of the stretch, corners in between included."""
    between = (line.chainage_m > from_m + 1e-9) & (line.chainage_m < to_m - 1e-9)
    return np.vstack([points_at(line, from_m), line.path[between], points_at(line, to_m)])


def nearest(line: Line, points: Floats) -> tuple[Floats, Floats]:
    """Return for each of (n, 2) points the chainage of the nearest place on the line and the offset from it.

    The offset's size is the distance; it is positive when the point is right of the run.
    """
    start, step = line.path[:-1], np.diff(line.path, axis=0)
    squared = np.maximum((step**2).sum(axis=1), 1e-18)
    chainage = np.empty(len(points))
    offset = np.empty(len(points))
    for row, point in enumerate(np.asarray(points, dtype=float)):
        away = point - start
        share = np.clip((away * step).sum(axis=1) / squared, 0.0, 1.0)
        gap = away - share[:, None] * step
        best = int(np.argmin((gap**2).sum(axis=1)))
        chainage[row] = line.chainage_m[best] + share[best] * np.sqrt(squared[best])
        east, north = away[best]
        right = step[best, 1] * east - step[best, 0] * north
        offset[row] = np.copysign(np.hypot(*gap[best]), right) if right else np.hypot(*gap[best])
    return chainage, offset


def nearest_line(lines: Sequence[Line], points: Floats) -> tuple[npt.NDArray[np.int_], Floats, Floats]:
    """Return for each of (n, 2) points which line is nearest (its place in `lines`), the chainage and the offset."""
    found = [nearest(line, points) for line in lines]
    chainage, offset = (np.stack(values) for values in zip(*found, strict=True))
    line = np.abs(offset).argmin(axis=0)
    rows = np.arange(len(points))
    return line, chainage[line, rows], offset[line, rows]

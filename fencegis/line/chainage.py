"""Metres along a planned line: where a chainage is, what lies nearest, what is between two chainages.

A point is easting and northing in the working grid; offsets are right positive walking with rising chainage.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line import arc

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]


CHORD_OFF_M = 0.001  # an arc's chords stand off it by no more


@dataclass(frozen=True, eq=False)
class Line:
    """A planned line: runs from corner to corner, straight or arcs.

    `corners` is (n, 2), ends and tangent points included; a loop's first is not repeated at its end. `rise_m` is for
    each run how far an arc stands off its chord, positive where it turns right, 0 for a straight; None for no arcs.
    """

    line_id: str
    closed: bool
    corners: Floats
    rise_m: Floats | None = None

    @cached_property
    def ends(self) -> tuple[Floats, Floats]:
        """Where each run begins and ends, (r, 2) each."""
        last = np.roll(self.corners, -1, axis=0)
        return (self.corners, last) if self.closed else (self.corners[:-1], last[:-1])

    @cached_property
    def rises_m(self) -> Floats:
        """The rise of each run, 0 for a straight."""
        return np.zeros(len(self.ends[0])) if self.rise_m is None else self.rise_m

    @cached_property
    def run_length_m(self) -> Floats:
        """Length of each run, of an arc along it."""
        begin, end = self.ends
        length, bent = np.asarray(np.hypot(*(end - begin).T)), self.rises_m != 0.0
        length[bent] = arc.length_m(begin[bent], end[bent], self.rises_m[bent])
        return length

    @cached_property
    def run_m(self) -> Floats:
        """Chainage where each run begins, and the line's length."""
        return np.concatenate([[0.0], np.cumsum(self.run_length_m)])

    @cached_property
    def run_turn_rad(self) -> Floats:
        """By how much the line turns along each run, right positive; 0 of a straight."""
        begin, end = self.ends
        return arc.turn_rad(begin, end, self.rises_m)

    @cached_property
    def _fine(self) -> tuple[Floats, Floats]:
        """Points of the line, its corners and those of its arcs' chords, and their chainages."""
        begin, end = self.ends
        points, chainage = [self.corners[:1]], [np.zeros(1)]
        for run, rise in enumerate(self.rises_m):
            share = _shares(abs(self.run_turn_rad[run]), self.run_length_m[run])
            if rise:
                points.append(arc.points_on(begin[run], end[run], float(rise), share[:-1]))
            points.append(end[run][None])
            chainage.append(self.run_m[run] + share * self.run_length_m[run])
        return np.vstack(points), np.concatenate(chainage)

    @cached_property
    def path(self) -> Floats:
        """The points the line is drawn through, arcs as chords within a millimetre, a loop's first at both ends."""
        if self.rises_m.any():
            return self._fine[0]
        return np.vstack([self.corners, self.corners[:1]]) if self.closed else self.corners

    @cached_property
    def chainage_m(self) -> Floats:
        """Chainage of each point of `path`, 0 first; along an arc it is the arc's."""
        return self._fine[1] if self.rises_m.any() else self.run_m

    @property
    def length_m(self) -> float:
        """Horizontal length."""
        return float(self.run_m[-1])


def _shares(turn_rad: float, length_m: float) -> Floats:
    """Return the shares of a run's length at which its chords end: just 1 for a straight."""
    if turn_rad == 0.0:
        return np.ones(1)
    # a chord that turns by t stands off its arc by radius · t² ÷ 8
    chords = int(np.ceil(turn_rad / np.sqrt(8.0 * CHORD_OFF_M * turn_rad / length_m)))
    return np.arange(1, chords + 1) / chords


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


def rights_at(line: Line, chainage_m: npt.ArrayLike) -> Floats:
    """Return (n, 2) unit vectors to the right of walking, square to the line."""
    ahead = directions_at(line, chainage_m)
    return np.column_stack([ahead[:, 1], -ahead[:, 0]])


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

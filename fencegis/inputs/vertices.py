"""Vertices of a drawn line in metres: repeats, spikes of zero width, and where a line crosses itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Indices = npt.NDArray[np.intp]

SAME_M = 0.001  # two vertices closer are one vertex; a spike narrower has no width


@dataclass(frozen=True, eq=False)
class Cleaned:
    """Places of the vertices to keep, and those of the ones left out as repeats and as tips of spikes."""

    keep: Indices
    repeats: Indices
    spikes: Indices


def cleaned(points: Floats, *, closed: bool) -> Cleaned:
    """Return which of (n, 2) points make a line without repeats and zero-width spikes.

    A loop comes without its first point repeated at the end.
    """
    keep = np.arange(len(points))
    repeats: list[Indices] = []
    spikes: list[Indices] = []
    while len(keep) > 1:
        again = _repeats(points[keep], closed=closed)
        repeats.append(keep[again])
        keep = keep[~again]
        tips = _spikes(points[keep], closed=closed)
        if not tips.any():
            break
        spikes.append(keep[tips])
        keep = keep[~tips]
    nothing = [np.empty(0, dtype=np.intp)]
    return Cleaned(keep, np.sort(np.concatenate(nothing + repeats)), np.sort(np.concatenate(nothing + spikes)))


def _repeats(points: Floats, *, closed: bool) -> npt.NDArray[np.bool_]:
    """Flag the points that stand where the last kept one does."""
    again = np.zeros(len(points), dtype=bool)
    if (np.hypot(*np.diff(points, axis=0).T) < SAME_M).any():
        last = points[0]
        for place in range(1, len(points)):
            again[place] = np.hypot(*(points[place] - last)) < SAME_M
            last = last if again[place] else points[place]
    if closed and len(points) > 1:
        kept = np.flatnonzero(~again)
        if len(kept) > 1 and np.hypot(*(points[kept[-1]] - points[0])) < SAME_M:
            again[kept[-1]] = True
    return again


def _spikes(points: Floats, *, closed: bool) -> npt.NDArray[np.bool_]:
    """Flag the tips where the line turns back along itself."""
    tips = np.zeros(len(points), dtype=bool)
    if len(points) < 3:
        return tips
    back, on = np.roll(points, 1, axis=0) - points, np.roll(points, -1, axis=0) - points
    longer = np.maximum(np.hypot(*back.T), np.hypot(*on.T))
    width = np.abs(back[:, 0] * on[:, 1] - back[:, 1] * on[:, 0]) / longer
    tips[:] = (width < SAME_M) & ((back * on).sum(axis=1) > 0.0)
    if not closed:
        tips[[0, -1]] = False
    return tips


def self_crossing(points: Floats, *, closed: bool) -> tuple[int, int, Floats] | None:
    """Return the first two legs that meet where they should not, and a point where they do; None for a plain line.

    A leg is numbered by the place of its first point. A loop comes without its first point repeated at the end.
    """
    path = np.vstack([points, points[:1]]) if closed else points
    if shapely.is_simple(shapely.linestrings(path)):
        return None
    legs = np.asarray(shapely.linestrings(np.stack([path[:-1], path[1:]], axis=1)))
    one, other = shapely.STRtree(legs).query(legs, predicate="intersects")
    pairs = np.column_stack([one, other])[one < other]
    beside = (pairs[:, 1] - pairs[:, 0] == 1) | (closed & (pairs[:, 0] == 0) & (pairs[:, 1] == len(legs) - 1))
    shared = np.asarray(shapely.intersection(legs[pairs[:, 0]], legs[pairs[:, 1]]))
    wrong = ~beside | (shapely.length(shared) > 0.0)
    if not wrong.any():
        return None
    first = min(np.flatnonzero(wrong), key=lambda place: tuple(pairs[place]))
    where = shapely.get_coordinates(shared[first])[0]
    return int(pairs[first, 0]), int(pairs[first, 1]), where

"""Vertices of a drawn line in metres: repeats, spikes of zero width, and where a line crosses itself."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Indices = npt.NDArray[np.intp]

_NOTHING = np.empty(0, dtype=np.intp)
SAME_M = 0.001  # two vertices closer are one vertex; a spike narrower has no width


@dataclass(frozen=True, eq=False)
class Cleaned:
    """Places of the vertices to keep, and those of the ones left out as repeats and as tips of spikes."""

    keep: Indices
    repeats: Indices
    spikes: Indices


def cleaned(points: Floats, *, closed: bool) -> Cleaned:
    """Return which of (n, 2) points make a line without repeats and zero-width spikes.

    A loop comes without its first point repeated at the end. What a spike's tip leaves behind is looked at again, so a
    line that runs out and back over many vertices goes whole, in one pass.
    """
    if not _has_work(points, closed=closed):
        return Cleaned(np.arange(len(points)), _NOTHING, _NOTHING)
    spots = points.tolist()
    keep: deque[int] = deque()
    repeats: list[int] = []
    spikes: list[int] = []
    for place, spot in enumerate(spots):
        while not (again := bool(keep) and math.dist(spots[keep[-1]], spot) < SAME_M):
            if len(keep) < 2 or not _is_tip(spots[keep[-2]], spots[keep[-1]], spot):
                break
            spikes.append(keep.pop())
        (repeats if again else keep).append(place)
    if closed:
        _clean_seam(spots, keep, repeats, spikes)
    return Cleaned(*(np.array(sorted(places), dtype=np.intp) for places in (keep, repeats, spikes)))


def _has_work(points: Floats, *, closed: bool) -> bool:
    """Say whether there is any repeat or spike, for all points at once: most lines have none."""
    path = np.vstack([points, points[:2]]) if closed else points
    steps = np.diff(path, axis=0)
    if (np.hypot(steps[:, 0], steps[:, 1]) < SAME_M).any():
        return True
    back, on = -steps[:-1], steps[1:]
    longer = np.maximum(np.hypot(back[:, 0], back[:, 1]), np.hypot(on[:, 0], on[:, 1]))
    width = np.abs(back[:, 0] * on[:, 1] - back[:, 1] * on[:, 0]) / longer
    return bool(((width < SAME_M) & ((back * on).sum(axis=1) > 0.0)).any())


def _clean_seam(spots: list[list[float]], keep: deque[int], repeats: list[int], spikes: list[int]) -> None:
    """Clean a loop where its end meets its start."""
    while len(keep) > 1:
        if math.dist(spots[keep[-1]], spots[keep[0]]) < SAME_M:
            repeats.append(keep.pop())
        elif len(keep) > 2 and _is_tip(spots[keep[-2]], spots[keep[-1]], spots[keep[0]]):
            spikes.append(keep.pop())
        elif len(keep) > 2 and _is_tip(spots[keep[-1]], spots[keep[0]], spots[keep[1]]):
            spikes.append(keep.popleft())
        else:
            return


def _is_tip(before: list[float], tip: list[float], after: list[float]) -> bool:
    """Say whether the line turns back along itself at `tip`."""
    back = before[0] - tip[0], before[1] - tip[1]
    on = after[0] - tip[0], after[1] - tip[1]
    longer = max(math.hypot(*back), math.hypot(*on))
    width = abs(back[0] * on[1] - back[1] * on[0])
    return back[0] * on[0] + back[1] * on[1] > 0.0 and width < SAME_M * longer


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

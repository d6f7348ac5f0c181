"""Which stretches of a line run within a distance, in plan, of something drawn; and how stretches join."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.line.chainage import cut, nearest

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import numpy.typing as npt

    from fencegis.hazards.found import Floats, Stretch
    from fencegis.line.chainage import Line

LEAST_M = 0.1  # a span is at least this long
_JOIN_M = 0.5  # a gap shorter than this is not worth walking out of
_ARC = 32  # segments in a quarter of a rounded end: within 0.03 % of its radius


@dataclass(frozen=True, eq=False)
class Legs:
    """A line as its straight legs, ready to be asked what passes near."""

    line: Line

    @cached_property
    def legs(self) -> npt.NDArray[np.object_]:
        """One LineString for each leg of the path."""
        return np.asarray(shapely.linestrings(np.stack([self.line.path[:-1], self.line.path[1:]], axis=1)))

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(self.legs)

    def passing(self, shapes: Sequence[shapely.Geometry], *, within_m: Floats) -> list[int]:
        """Return which of the shapes come within their distance, one for each, of the line; rising."""
        if not len(shapes):
            return []
        shape, _ = self._tree.query(np.asarray(shapes, dtype=object), predicate="dwithin", distance=within_m)
        return [int(one) for one in np.unique(shape)]

    def within(self, shape: shapely.Geometry, *, distance_m: float) -> list[Stretch]:
        """Return the stretches of the line that lie within the distance of the shape, in plan."""
        legs = np.sort(self._tree.query(shape, predicate="dwithin", distance=distance_m))
        if not len(legs):
            return []
        area = shapely.buffer(shape, distance_m, quad_segs=_ARC)
        parts, leg = shapely.get_parts(shapely.intersection(self.legs[legs], area), return_index=True)
        ends = np.array([shapely.get_coordinates(part)[[0, -1]] for part in parts]).reshape(-1, 2, 2)
        away = ends - self.line.path[legs[leg]][:, None, :]
        chainage = self.line.chainage_m[legs[leg]][:, None] + np.hypot(away[..., 0], away[..., 1])
        return joined(zip(chainage.min(axis=1), chainage.max(axis=1), strict=True), length_m=self.line.length_m)


def least_apart(line: Line, stretch: Stretch, shape: shapely.Geometry) -> tuple[float, float]:
    """Return the least plan distance over a stretch, and the chainage where it is."""
    piece = shapely.linestrings(cut(line, *stretch))
    here = shapely.get_coordinates(shapely.shortest_line(piece, shape))[:1]
    return float(shapely.distance(piece, shape)), float(np.clip(nearest(line, here)[0][0], *stretch))


def joined(stretches: Iterable[Stretch], *, length_m: float) -> list[Stretch]:
    """Return the stretches in order, those that overlap or all but touch as one, each long enough to be a span.

    Stretches only grow; they stay on the line, from 0 to its length.
    """
    ends = np.array(sorted(stretches), dtype=float).reshape(-1, 2)
    if not len(ends):
        return []
    furthest = np.maximum.accumulate(ends[:, 1])
    new = np.flatnonzero(ends[1:, 0] > furthest[:-1] + _JOIN_M)
    starts, stops = ends[np.concatenate([[0], new + 1]), 0], furthest[np.concatenate([new, [len(ends) - 1]])]
    return [_long_enough(float(start), float(stop), length_m) for start, stop in zip(starts, stops, strict=True)]


def _long_enough(start: float, end: float, length_m: float) -> Stretch:
    start, end = max(start, 0.0), min(end, length_m)
    if start < LEAST_M:  # what is left over at an end would be no span
        start = 0.0
    if end > length_m - LEAST_M:
        end = length_m
    lacking = LEAST_M - (end - start)
    if lacking > 0.0:
        start = max(0.0, start - lacking)
        end = min(length_m, start + LEAST_M)
    return start, end

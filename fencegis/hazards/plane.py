"""The lie of the ground where the machine stands: planes fitted to heights beside the line, and how sure they are.

Slopes are rise over run: `ahead` is positive when the ground rises the way the line is walked, `right` when it rises to
the right of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.chainage import directions_at, points_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.hazards.found import Floats, Ground
    from fencegis.line.chainage import Line

    Whole = npt.NDArray[np.intp]

_SAME_M = 1e-6


@dataclass(frozen=True, eq=False)
class Planes:
    """(n,) slopes of least-squares planes and the standard deviation of the heights from them; NaN where unknown."""

    ahead: Floats
    right: Floats
    misfit_m: Floats


@dataclass(frozen=True, eq=False)
class Lie:
    """The planes on each side at places along a line: `planes` by side, (n,) each.

    `run` (n,) is the run that a place is taken on: a corner is a place of both its runs, with the direction of each.
    """

    chainage_m: Floats
    run: Whole
    planes: tuple[Planes, ...]


def square_m(window_m: float, spacing_m: float) -> Floats:
    """Return (k,) distances from the middle of the window to its rows of heights, edge to edge."""
    half = round(window_m / spacing_m / 2.0)
    return np.asarray(np.arange(-half, half + 1) * spacing_m, dtype=float)


def fitted(heights_m: Floats, *, at_m: Floats) -> Planes:
    """Return the planes through (n, k, k) heights: rows `at_m` ahead of the middle, columns `at_m` to its right.

    A square with a height missing has no plane.
    """
    spread = len(at_m) * (at_m @ at_m)
    middle = heights_m.mean(axis=(1, 2), keepdims=True)
    off = heights_m - middle  # first, so that a plane far above the sea comes out exact
    ahead = np.einsum("nij,i->n", off, at_m) / spread
    right = np.einsum("nij,j->n", off, at_m) / spread
    rest = off - ahead[:, None, None] * at_m[:, None] - right[:, None, None] * at_m
    free = at_m.size**2 - 3
    return Planes(ahead, right, np.sqrt((rest**2).sum(axis=(1, 2)) / free))


def slope_error(at_m: Floats, *, alike_m: float) -> float:
    """Return one standard error of a plane's slope, either way, for heights with a standard error of one metre.

    Errors a distance d apart are alike by exp(−d ÷ `alike_m`); with 0 each height errs on its own.
    """
    ahead, right = (part.ravel() for part in np.meshgrid(at_m, at_m, indexing="ij"))
    share = ahead / (ahead @ ahead)
    if alike_m == 0.0:
        return float(np.sqrt(share @ share))
    apart = np.hypot(ahead[:, None] - ahead, right[:, None] - right)
    return float(np.sqrt(share @ np.exp(-apart / alike_m) @ share))


def lie_beside(line: Line, *, ground: Ground, at_m: Floats, beside_m: Sequence[float]) -> Lie:
    """Return the planes about places every row's spacing along the line and at each corner, so far right of it.

    Heights are looked up once: on a straight run neighbouring squares share their rows, and both sides what they can.
    """
    rows = _rows(line, at_m)
    offsets, column = np.unique(np.round(np.add.outer(np.asarray(beside_m, dtype=float), at_m), 6), return_inverse=True)
    right = np.column_stack([rows.ahead[:, 1], -rows.ahead[:, 0]])
    points = rows.point[:, None, :] + offsets[:, None] * right[:, None, :]
    height = ground(points.reshape(-1, 2)).reshape(len(rows.point), len(offsets))
    column = column.reshape(len(beside_m), len(at_m))
    planes = tuple(fitted(height[rows.of[:, :, None], side], at_m=at_m) for side in column)
    return Lie(rows.chainage_m, rows.run, planes)


@dataclass(frozen=True, eq=False)
class _Rows:
    """Rows across the line: where each crosses it and which way is ahead, (m, 2); which (n, k) of them a place has."""

    point: Floats
    ahead: Floats
    of: Whole
    chainage_m: Floats
    run: Whole


def _rows(line: Line, at_m: Floats) -> _Rows:
    points, ahead, of, chainage, runs, taken = [], [], [], [], [], 0
    for run, length_m in enumerate(line.run_length_m):
        own = _on_arc if line.rises_m[run] else _on_straight
        place_m, row_point, row_ahead, row_of = own(line, run, at_m)
        points.append(row_point)
        ahead.append(row_ahead)
        of.append(row_of + taken)
        chainage.append(line.run_m[run] + np.minimum(place_m, length_m))
        runs.append(np.full(len(place_m), run))
        taken += len(row_point)
    return _Rows(*(np.concatenate(part) for part in (points, ahead, of, chainage, runs)))


def _on_straight(line: Line, run: int, at_m: Floats) -> tuple[Floats, Floats, Floats, Whole]:
    """Return places from the run's start, the crossing and the direction of its rows, and the rows of each place."""
    begin, end = (ends[run] for ends in line.ends)
    length_m, spacing_m, half = float(line.run_length_m[run]), at_m[1] - at_m[0], len(at_m) // 2
    steps = int((length_m + _SAME_M) // spacing_m)
    place_m, row_m = np.arange(steps + 1) * spacing_m, np.arange(-half, steps + half + 1) * spacing_m
    of = np.arange(steps + 1)[:, None] + np.arange(len(at_m))
    if length_m - place_m[-1] > _SAME_M:  # the run's end, with rows of its own
        of = np.vstack([of, len(row_m) + np.arange(len(at_m))])
        place_m, row_m = np.append(place_m, length_m), np.append(row_m, length_m + at_m)
    ahead = (end - begin) / length_m
    return place_m, begin + row_m[:, None] * ahead, np.broadcast_to(ahead, (len(row_m), 2)), of


def _on_arc(line: Line, run: int, at_m: Floats) -> tuple[Floats, Floats, Floats, Whole]:
    """Return as for a straight; each place has rows of its own, along its tangent."""
    length_m = float(line.run_length_m[run])
    place_m = np.linspace(0.0, length_m, int(np.ceil(length_m / (at_m[1] - at_m[0]))) + 1)
    chainage = line.run_m[run] + place_m
    ahead = directions_at(line, np.minimum(chainage, line.run_m[run + 1] - 1e-3))
    points = points_at(line, chainage)[:, None, :] + at_m[:, None] * ahead[:, None, :]
    of = np.arange(len(place_m) * len(at_m)).reshape(-1, len(at_m))
    return place_m, points.reshape(-1, 2), np.repeat(ahead, len(at_m), axis=0), of

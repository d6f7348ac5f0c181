"""How far from the planned line noise alone puts a drawn vertex, and which stretches no one straight can explain.

A straight explains a stretch when some line keeps every vertex of it within the limit: when the narrowest strip over
the vertices is no wider than twice the limit. With the vertices the edges between them are inside that strip, and every
metre of a straight between two of its vertices is as near to the drawing. Only the tip of a bend that falls between two
vertices of a traced line stands off the drawing, for there the drawing has a gap.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Whole = npt.NDArray[np.int_]

ONE_LINE_IN = 100  # is so drawn that noise alone puts one of its vertices beyond the limit


def limit_in_sigmas(count: int) -> float:
    """Return how many standard deviations off noise puts the furthest of `count` vertices, in all but 1 % of lines."""
    from scipy.special import ndtri

    return float(-ndtri(1.0 / ONE_LINE_IN / (2.0 * max(count, 1))))


def widest_m(points: Floats) -> float:
    """Return half the width of the narrowest strip that holds the points (n, 2).

    One side of it lies along a side of their convex hull (e.g. Preparata and Shamos, Computational Geometry; from
    memory).
    """
    import shapely

    hull = shapely.convex_hull(shapely.multipoints(points))
    if shapely.area(hull) == 0.0:
        return 0.0
    outline = shapely.get_coordinates(hull)
    side = np.diff(outline, axis=0)
    right = np.column_stack([side[:, 1], -side[:, 0]]) / np.hypot(*side.T)[:, None]
    away = np.einsum("skn,sn->sk", outline[None, :-1] - outline[:-1, None], right)
    return float(np.abs(away).max(axis=1).min()) / 2.0


def unexplained(points: Floats, limit_m: float) -> tuple[int, int] | None:
    """Return the ends of a shortest stretch of `points` (n, 2) that no straight explains, None where one explains all.

    A stretch that holds an unexplained one is unexplained too, so both ends are found by halving.
    """
    if _furthest_m(points) <= limit_m or widest_m(points) <= limit_m:
        return None
    last = _halved(2, len(points) - 1, lambda end: widest_m(points[: end + 1]) > limit_m)
    first = last - _halved(2, last, lambda back: widest_m(points[last - back : last + 1]) > limit_m)
    return first, last


def _furthest_m(points: Floats) -> float:
    """Return how far the furthest point is from their line by least squares: no less than the narrowest strip asks."""
    away = points - points.mean(axis=0)
    return float(np.abs(away @ np.linalg.svd(away, full_matrices=False)[2][-1]).max())


def _halved(low: int, high: int, holds: Callable[[int], bool]) -> int:
    """Return the least whole number of `low` to `high` for which a thing holds that holds for `high` and goes on."""
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle + 1, high)
    return low

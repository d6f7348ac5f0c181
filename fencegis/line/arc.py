"""A circular arc between two points, told by its rise: how far its middle stands off the chord.

The rise is positive where the line turns right, the arc then lying left of its chord; a radius too is right positive.
All take one arc, or a row of arcs at once. A rise must not be 0: that is a straight.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

STRAIGHT = 1e-12  # curvature in units of the points' spread: on one line
A_HAIR_M = 1e-4  # what an end or a rise is moved by, to see what that does


def turn_rad(begin: Floats, end: Floats, rise_m: npt.ArrayLike) -> Floats:
    """Return by how much the line turns along the arc, right positive: four times the angle of rise over half chord."""
    half = np.hypot(*(end - begin).T) / 2.0
    return np.asarray(4.0 * np.arctan2(rise_m, half))


def radius_m(begin: Floats, end: Floats, rise_m: npt.ArrayLike) -> Floats:
    """Return the radius, right positive."""
    rise, half = np.asarray(rise_m, dtype=float), np.hypot(*(end - begin).T) / 2.0
    return np.asarray((half**2 + rise**2) / (2.0 * rise))


def length_m(begin: Floats, end: Floats, rise_m: npt.ArrayLike) -> Floats:
    """Return the length along the arc."""
    return np.asarray(radius_m(begin, end, rise_m) * turn_rad(begin, end, rise_m))


def centre(begin: Floats, end: Floats, rise_m: npt.ArrayLike) -> Floats:
    """Return the centre, (n, 2) or (2,)."""
    off = radius_m(begin, end, rise_m) - np.asarray(rise_m)
    return np.asarray((begin + end) / 2.0 + off[..., None] * _right(begin, end))


def offset_m(points: Floats, begin: Floats, end: Floats, rise_m: npt.ArrayLike) -> Floats:
    """Return how far each point (n, 2) lies off the arc's circle, right positive. The arc is one, or one a point."""
    radius = radius_m(begin, end, rise_m)
    gone = np.hypot(*np.moveaxis(points - centre(begin, end, rise_m), -1, 0))
    return np.asarray(radius - np.copysign(gone, radius))


def distance_m(points: Floats, begin: Floats, end: Floats, rise_m: Floats) -> Floats:
    """Return how far each point (n, 2) is from its run, between the run's ends; a rise of 0 is a straight."""
    step = end - begin
    share = ((points - begin) * step).sum(axis=1) / np.maximum((step**2).sum(axis=1), 1e-18)
    away = np.hypot(*(points - begin - np.clip(share, 0.0, 1.0)[:, None] * step).T)
    bent = rise_m != 0.0
    if bent.any():
        points, begin, end, rise = points[bent], begin[bent], end[bent], rise_m[bent]
        middle, turn = centre(begin, end, rise), turn_rad(begin, end, rise)
        first, here = (np.arctan2(*(place - middle).T) for place in (begin, points))
        beyond = np.copysign(1.0, turn) * (here - first) % (2.0 * np.pi) > np.abs(turn)
        nearest = np.minimum(np.hypot(*(points - begin).T), np.hypot(*(points - end).T))
        away[bent] = np.where(beyond, nearest, np.abs(offset_m(points, begin, end, rise)))
    return np.asarray(away)


def points_on(begin: Floats, end: Floats, rise_m: float, share: Floats) -> Floats:
    """Return the points (n, 2) that are these shares of the way along one arc."""
    middle = centre(begin, end, rise_m)
    angle = -share * float(turn_rad(begin, end, rise_m))  # a right turn goes clockwise about its centre
    away = begin - middle
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.asarray(middle + np.column_stack([cosine * away[0] - sine * away[1], sine * away[0] + cosine * away[1]]))


def rise_of(begin: Floats, end: Floats, radius_m: float, turn_rad: float) -> float:
    """Return the rise of the arc of a radius between two points, `turn_rad` telling which way and whether past half."""
    half = float(np.hypot(*(end - begin))) / 2.0
    size = abs(radius_m)
    foot = np.sqrt(max(size**2 - half**2, 0.0))
    rise = size + foot if abs(turn_rad) > np.pi else size - foot
    return float(np.copysign(rise, turn_rad))


def sigma_of(
    told: Callable[[Floats, Floats, Floats], Floats], begin: Floats, end: Floats, rise_m: Floats, covariance: Floats
) -> Floats:
    """Return one standard error of what `told` says of each of n arcs: a radius, a length.

    `covariance` (n, 5, 5) is that of the begin, the end and the rise; errors pass on in proportion to the slopes, which
    are taken by central differences.
    """
    value = np.column_stack([begin, end, rise_m])
    slope = np.empty_like(value)
    for column in range(value.shape[1]):
        hair = np.zeros(value.shape[1])
        hair[column] = A_HAIR_M
        more, less = (told(each[:, 0:2], each[:, 2:4], each[:, 4]) for each in (value + hair, value - hair))
        slope[:, column] = (more - less) / (2.0 * A_HAIR_M)
    return np.asarray(np.sqrt(np.einsum("ni,nij,nj->n", slope, covariance, slope)))


def fitted_circle(points: Floats) -> tuple[Floats, float]:
    """Return the centre and the radius of the circle through points (n, 2), n at least 3, by Taubin's algebraic fit.

    (G. Taubin, IEEE Trans. Pattern Analysis and Machine Intelligence 13, 1991, 1115–1138; solved by singular values as
    in N. Chernov, Circular and Linear Regression, 2010; both from memory.) Points on one line give a radius of inf.
    """
    middle = points.mean(axis=0)
    away = points - middle
    square = (away**2).sum(axis=1)
    scale = 2.0 * np.sqrt(square.mean())
    first, *rest = np.linalg.svd(np.column_stack([(square - square.mean()) / scale, away]), full_matrices=False)[2][-1]
    first /= scale
    if abs(first) < STRAIGHT:
        return middle, float("inf")
    across = np.array(rest)
    radius = np.sqrt(across @ across + 4.0 * first**2 * square.mean()) / abs(2.0 * first)
    return middle - across / (2.0 * first), float(radius)


def turned_rad(points: Floats) -> float:
    """Return by how much a path (n, 2) of small turns goes round from its first step to its last, right positive."""
    step = np.diff(points, axis=0)
    bearing = np.unwrap(np.arctan2(step[:, 0], step[:, 1]))
    return float(bearing[-1] - bearing[0])


def _right(begin: Floats, end: Floats) -> Floats:
    step = end - begin
    length = np.maximum(np.hypot(*step.T), 1e-12)
    return np.asarray(np.stack([step[..., 1], -step[..., 0]], axis=-1) / np.asarray(length)[..., None])

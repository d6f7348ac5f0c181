"""Straight runs and corners from a drawn line, pegs held."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.corner_fit import CornerFit, fit_corners
from fencegis.line.drawn_chain import loop_chain, open_chain

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.line.straights import Straight

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]

PEG_SIGMA_M = 0.001  # a peg is met to a millimetre inside a run, exactly at a corner
PEG_FIRMNESS = 30.0  # while runs are being found a peg is this much firmer than a drawn vertex
MERGED_M = 0.020  # surveyed vertices this near to straight are one run
FINEST_SIGMA_M = 1e-4


@dataclass(frozen=True, eq=False)
class FittedLine:
    """A drawn line as straight runs. Row k of `left_m`/`right_m` is the run that begins at corner k."""

    line_id: str
    closed: bool
    corners: Floats  # (k, 2), ends of an open line included
    covariance: Floats  # (k, 2, 2) in square metres
    sigma_m: Floats  # (k,) one standard error in the worst direction
    held: Flags  # (k,) a peg stands there
    left_m: Floats  # furthest drawn vertex left of each run
    right_m: Floats


def fitted_line(
    line_id: str, vertices: Floats, *, closed: bool, sigma_m: float, pegs: Floats, survey: bool = False
) -> FittedLine:
    """Return the fewest straight runs that explain the drawing, with corners by least squares.

    `vertices` (n, 2) as drawn, a loop's first not repeated; `sigma_m` of a vertex, in east and in north, each; `pegs`
    (p, 2) points of this line that must not move. A survey's vertices are kept, those within 20 mm of straight merged.
    """
    points, is_peg = _with_pegs(vertices, pegs, closed=closed, near_m=max(3.0 * sigma_m, MERGED_M))
    if survey or sigma_m == 0.0:
        return _surveyed(line_id, points, is_peg, closed=closed)
    sigma = np.where(is_peg, max(PEG_SIGMA_M, sigma_m / PEG_FIRMNESS), sigma_m)
    chain = (loop_chain if closed else open_chain)(points, sigma, is_peg)
    exact = np.where(is_peg, PEG_SIGMA_M, max(sigma_m, FINEST_SIGMA_M))
    walked = points[chain.order]
    fit = fit_corners(walked, sigma_m=exact[chain.order], chain=chain.straights, closed=closed, traced=chain.traced)
    shift = _first_corner(chain.order, chain.straights) if closed else 0
    return _from_fit(line_id, walked, is_peg[chain.order], chain.straights, fit, closed=closed, shift=shift)


def _first_corner(order: npt.NDArray[np.int_], chain: list[Straight]) -> int:
    """Return which corner of the chain comes first at or after the first drawn vertex of a loop."""
    count = len(set(order.tolist()))
    places = []
    for run, straight in enumerate(chain):
        begin, before = order[straight.first], order[chain[run - 1].last]
        places.append(float(begin) if begin == before else (float(before) + 0.5) % count)
    return int(np.argmin(places))


def _from_fit(
    line_id: str, points: Floats, is_peg: Flags, chain: list[Straight], fit: CornerFit, *, closed: bool, shift: int
) -> FittedLine:
    corners, held = fit.corners.copy(), np.zeros(len(fit.corners), dtype=bool)
    for peg in points[is_peg]:
        gap = np.hypot(*(corners - peg).T)
        if gap.min() < 5.0 * PEG_SIGMA_M:
            corners[int(gap.argmin())], held[int(gap.argmin())] = peg, True
    left, right = np.zeros(len(chain)), np.zeros(len(chain))
    for run, straight in enumerate(chain):
        off = _offsets(points[straight.first : straight.last + 1], corners[run], corners[(run + 1) % len(corners)])
        left[run], right[run] = max(0.0, -off.min()), max(0.0, off.max())
    corners, covariance, sigma, left, right = (
        np.roll(part, -shift, axis=0) for part in (corners, fit.covariance, fit.sigma_m, left, right)
    )
    return FittedLine(line_id, closed, corners, covariance, sigma, np.roll(held, -shift), left, right)


def _offsets(points: Floats, begin: Floats, end: Floats) -> Floats:
    ahead = (end - begin) / max(float(np.hypot(*(end - begin))), 1e-9)
    away = points - begin
    return np.asarray(away[:, 0] * ahead[1] - away[:, 1] * ahead[0])


def _surveyed(line_id: str, points: Floats, is_peg: Flags, *, closed: bool) -> FittedLine:
    import shapely

    ring = np.vstack([points, points[:1]]) if closed else points
    kept = shapely.get_coordinates(shapely.simplify(shapely.linestrings(ring), MERGED_M, preserve_topology=False))
    corners = kept[:-1] if closed else kept
    held = np.array([(points[is_peg] == corner).all(axis=1).any() for corner in corners], dtype=bool)
    runs = len(corners) - (0 if closed else 1)
    off = [_offsets(points, corners[run], corners[(run + 1) % len(corners)]) for run in range(runs)]
    near = [
        each[(np.abs(each) <= MERGED_M) & _beside(points, corners[run], corners[(run + 1) % len(corners)])]
        for run, each in enumerate(off)
    ]
    left = np.array([max(0.0, -each.min(initial=0.0)) for each in near])
    right = np.array([max(0.0, each.max(initial=0.0)) for each in near])
    zero = np.zeros(len(corners))
    return FittedLine(line_id, closed, corners, np.zeros((len(corners), 2, 2)), zero, held, left, right)


def _beside(points: Floats, begin: Floats, end: Floats) -> Flags:
    step = end - begin
    share = (points - begin) @ step / max(float(step @ step), 1e-18)
    return np.asarray((share >= -1e-9) & (share <= 1.0 + 1e-9))


def _with_pegs(points: Floats, pegs: Floats, *, closed: bool, near_m: float) -> tuple[Floats, Flags]:
    """Return the vertices with each peg in the place of the vertex it is meant by, else let in where it is nearest."""
    points, is_peg = points.copy(), np.zeros(len(points), dtype=bool)
    for peg in pegs:
        gap = np.where(is_peg, np.inf, np.hypot(*(points - peg).T))
        place = int(gap.argmin())
        if gap[place] > near_m:
            place = _edge_of(points, peg, closed=closed) + 1
            points, is_peg = np.insert(points, place, peg, axis=0), np.insert(is_peg, place, False)
        points[place], is_peg[place] = peg, True
    return points, is_peg


def _edge_of(points: Floats, peg: Floats, *, closed: bool) -> int:
    begin = points if closed else points[:-1]
    step = (np.roll(points, -1, axis=0) if closed else points[1:]) - begin
    share = np.clip(((peg - begin) * step).sum(axis=1) / np.maximum((step**2).sum(axis=1), 1e-18), 0.0, 1.0)
    return int(np.hypot(*(begin + share[:, None] * step - peg).T).argmin())

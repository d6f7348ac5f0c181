"""Runs, straight or arcs, and corners from a drawn line, pegs held."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line import arc
from fencegis.line.corner_fit import fit_corners
from fencegis.line.curves import Curved, straight_only, with_arcs
from fencegis.line.drawn_chain import loop_chain, open_chain
from fencegis.line.noise_limit import limit_in_sigmas

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]

PEG_SIGMA_M = 0.001  # a peg is met to a millimetre inside a run, exactly at a corner
PEG_FIRMNESS = 30.0  # while runs are being found a peg is this much firmer than a drawn vertex
MERGED_M = 0.020  # surveyed vertices this near to straight are one run
FINEST_SIGMA_M = 1e-4
TRIES = 4  # with more and more bends on vertices


@dataclass(frozen=True, eq=False)
class FittedLine:
    """A drawn line as runs. Row k of what is told of runs is the run that begins at corner k.

    A joint of two runs is a corner unless it is `tangent`: there an arc and its neighbour go on in one direction.
    """

    line_id: str
    closed: bool
    corners: Floats  # (k, 2), ends of an open line and tangent points included
    covariance: Floats  # (k, 2, 2) in square metres
    sigma_m: Floats  # (k,) one standard error in the worst direction
    held: Flags  # (k,) a peg stands there
    tangent: Flags  # (k,)
    left_m: Floats  # (r,) furthest drawn vertex left of each run
    right_m: Floats
    rise_m: Floats  # (r,) of an arc over its chord, positive where it turns right; 0 of a straight
    arc_covariance: Floats  # (r, 5, 5) of an arc's begin, end and rise; 0 of a straight
    furthest: float  # how far off its run the furthest vertex is, in standard deviations


def fitted_line(
    line_id: str, vertices: Floats, *, closed: bool, sigma_m: float, pegs: Floats, survey: bool = False
) -> FittedLine:
    """Return the fewest runs that explain the drawing, with corners and arcs by least squares.

    `vertices` (n, 2) as drawn, a loop's first not repeated; `sigma_m` of a vertex, in east and in north, each; `pegs`
    (p, 2) points of this line that must not move. A survey's vertices are kept, those within 20 mm of straight merged.
    """
    points, is_peg = _with_pegs(vertices, pegs, closed=closed, near_m=max(3.0 * sigma_m, MERGED_M))
    if survey or sigma_m == 0.0:
        return _surveyed(line_id, points, is_peg, closed=closed)
    sigma = np.where(is_peg, max(PEG_SIGMA_M, sigma_m / PEG_FIRMNESS), sigma_m)
    exact = np.where(is_peg, PEG_SIGMA_M, max(sigma_m, FINEST_SIGMA_M))
    limit = limit_in_sigmas(len(points))
    clicked = is_peg | np.roll(is_peg, 1)  # beside a peg the line bends on the peg
    for _ in range(TRIES):
        chain = (loop_chain if closed else open_chain)(points, sigma, clicked=clicked)
        shape = straight_only(chain.straights, closed=closed)
        walked, sigmas = points[chain.order], exact[chain.order]
        fit = fit_corners(walked, sigma_m=sigmas, shape=shape, closed=closed, traced=chain.traced, limit=limit)
        if not fit.strained.any():
            break
        after = [chain.straights[corner].first for corner in np.flatnonzero(fit.strained)]
        clicked[chain.order[after]] = True  # two runs that do not meet between these vertices: one bends on a vertex
    curved = with_arcs(points, sigma_m=exact, chain=chain, fit=fit, closed=closed, limit=limit)
    whole = curved or Curved(chain.order, shape, fit, score=np.nan)
    return _from_fit(line_id, points, is_peg, whole, closed=closed)


def _from_fit(line_id: str, points: Floats, is_peg: Flags, whole: Curved, *, closed: bool) -> FittedLine:
    fit, walked = whole.fit, points[whole.order]
    corners, held = fit.corners.copy(), np.zeros(len(fit.corners), dtype=bool)
    for peg in points[is_peg]:
        gap = np.hypot(*(corners - peg).T)
        if gap.min() < 5.0 * PEG_SIGMA_M:
            corners[int(gap.argmin())], held[int(gap.argmin())] = peg, True
    left, right = np.zeros(len(whole.shape.runs)), np.zeros(len(whole.shape.runs))
    for run, straight in enumerate(whole.shape.runs):
        begin, end = corners[run], corners[(run + 1) % len(corners)]
        on = walked[straight.first : straight.last + 1]
        bent = whole.shape.curved[run]
        off = arc.offset_m(on, begin, end, fit.rise_m[run]) if bent else _offsets(on, begin, end)
        left[run], right[run] = max(0.0, -off.min()), max(0.0, off.max())
    shift = _first_corner(whole, len(points)) if closed else 0
    return FittedLine(
        line_id,
        closed,
        corners=np.roll(corners, -shift, axis=0),
        covariance=np.roll(fit.covariance, -shift, axis=0),
        sigma_m=np.roll(fit.sigma_m, -shift),
        held=np.roll(held, -shift),
        tangent=np.roll(whole.shape.tangent, -shift),
        left_m=np.roll(left, -shift),
        right_m=np.roll(right, -shift),
        rise_m=np.roll(fit.rise_m, -shift),
        arc_covariance=np.roll(fit.arc_covariance, -shift, axis=0),
        furthest=fit.furthest,
    )


def _first_corner(whole: Curved, count: int) -> int:
    """Return which corner comes first at or after the first drawn vertex of a loop; of one without, which joint."""
    places = []
    for run, straight in enumerate(whole.shape.runs):
        begin, before = whole.order[straight.first], whole.order[whole.shape.runs[run - 1].last]
        places.append(float(begin) if begin == before else (float(before) + 0.5) % count)
    smooth = whole.shape.tangent if not whole.shape.tangent.all() else np.zeros(len(places), dtype=bool)
    return int(np.argmin(np.where(smooth, np.inf, places)))


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
    no_corner = np.zeros(len(corners), dtype=bool)
    exact = np.zeros((len(corners), 2, 2)), np.zeros(len(corners))
    no_arc = np.zeros(runs), np.zeros((runs, 5, 5))
    return FittedLine(line_id, closed, corners, *exact, held, no_corner, left, right, *no_arc, furthest=0.0)


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

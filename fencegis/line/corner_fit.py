"""All corners of a line together, by least squares, with their standard errors; arcs along with them.

Model. Unknown are the corners (easting, northing) and the rise of each arc. A drawn vertex inside a run is off it by
the noise square to the run; the first and last vertex of an open line, and a vertex on which a corner stands, are off
their corner by the noise in both directions; where an arc goes on smoothly, the turn is none. The sum of squares in
units of the noise is made least by Gauss–Newton; the covariance is the inverse of the normal matrix (e.g. Ghilani,
Adjustment Computations, the parametric model; from memory).

No vertex may lie further off its run than the limit, and no corner by more than that out of the gap in the drawing that
it was found in. Where one would, the least sum of squares under the limits is that without them in which those vertices
and gaps pull harder, each so much that its limit is just met (the conditions of Karush, Kuhn and Tucker, the harder
pull being the multiplier).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.corner_sigma import blocks_of_inverse, corner_covariance
from fencegis.line.corner_ties import SMOOTH_RAD, Ties

if TYPE_CHECKING:
    import numpy.typing as npt
    from scipy import sparse

    from fencegis.line.corner_ties import Shape

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]

STEPS = 15  # Gauss–Newton meets a tenth of a millimetre in three or four
DAMPED_STEPS = 40  # for each degree of smoothness, where there are arcs
FEW_UNKNOWNS = 60
FIRST_DAMPING, EASED, STIFFENED = 1e-2, 5.0, 4.0
NO_BETTER = 1e-3  # of the score, in squares of the noise
SETTLED_M = 1e-4
ROUNDS = 30  # of pulling harder
NEAR_ENOUGH = 0.005  # of a limit


@dataclass(frozen=True, eq=False)
class CornerFit:
    """`corners` is (k, 2); `covariance` (k, 2, 2) in square metres; a loop has as many runs as corners.

    `rise_m` (r,) of the runs, 0 of a straight, right positive; `arc_covariance` (r, 5, 5) of an arc's ends and rise, 0
    of a straight; `misfit` (r,) the sum of squares, in units of the noise, of the vertices inside each run;
    `furthest` is how far off the furthest vertex is, in standard deviations; `strained` (k,) are the corners in gaps
    that a limit which could not be met hangs on.
    """

    corners: Floats
    covariance: Floats
    rise_m: Floats
    arc_covariance: Floats
    misfit: Floats
    furthest: float
    strained: Flags

    @property
    def sigma_m(self) -> Floats:
        """One standard error of each corner's position in its worst direction."""
        return np.asarray(np.sqrt(np.maximum(np.linalg.eigvalsh(self.covariance)[:, -1], 0.0)))


def fit_corners(
    vertices: Floats,
    *,
    sigma_m: Floats,
    shape: Shape,
    closed: bool,
    traced: Flags,
    limit: float = np.inf,
    start: tuple[Floats, Floats] | None = None,
) -> CornerFit:
    """Return the corners and arcs of a line of this shape through the drawn vertices.

    `vertices` is (n, 2) in walking order, of a loop as the shape counts them (a first vertex that stands at both
    ends is there twice); `sigma_m` is (n,), in east and in north, each; `traced` (n,) is where the drawing was traced,
    so that a corner found on a vertex may stand anywhere near it; `limit` in standard deviations;
    `start` are corners and rises to begin with.
    Raises UnsettledError where arcs and their neighbours do not meet.
    """
    ties = Ties(vertices, sigma_m, shape, closed=closed, traced=traced)
    corners, rise = _settled(ties, *(start or ties.start()))
    for _ in range(ROUNDS):
        over = np.abs(ties.offsets_m(corners, rise)) / (limit * sigma_m[ties.run_vertex])
        gone = ties.out_of_gap(corners, limit)
        if _just_met(over, ties.firmness) and _just_met(gone, ties.hold):
            break
        ties.firmness = np.maximum(ties.firmness * over**2, 1.0)
        first = (ties.hold == 1.0) & (gone > 1.0)  # a gap's own hold is so loose that it would take long to grow
        ties.hold = np.maximum(np.where(first, ties.as_firm_as_a_vertex, ties.hold * gone**2), 1.0)
        corners, rise = _settled(ties, corners, rise)
    strained = _strained(ties, corners, rise, sigma_m, limit)
    ties.firmness[:] = ties.hold[:] = 1.0  # a pull that the limit gave is no knowledge
    jacobian, _ = ties.linearised(corners, rise)
    covariance, of_arcs = _covariances(ties, jacobian, closed=closed)
    off = ties.offsets_m(corners, rise) / sigma_m[ties.run_vertex]
    furthest = float((ties.away_m(corners, rise) / sigma_m[ties.run_vertex]).max(initial=0.0))
    misfit = np.asarray(np.bincount(ties.run, weights=off**2, minlength=len(rise)), dtype=float)
    return CornerFit(corners, covariance, rise, of_arcs, misfit, furthest, strained)


def _just_met(share: Floats, pull: Floats) -> bool:
    """Return whether every limit is met, and no pull is harder than that asks for. `share` is in limits."""
    return bool((share <= 1.0 + NEAR_ENOUGH).all() and (share[pull > 1.0] >= 1.0 - NEAR_ENOUGH).all())


def _strained(ties: Ties, corners: Floats, rise: Floats, sigma_m: Floats, limit: float) -> Flags:
    """Return the corners in gaps that are out of them, or at an end of a run with a vertex beyond the limit."""
    over = ties.away_m(corners, rise) > (1.0 + NEAR_ENOUGH) * limit * sigma_m[ties.run_vertex]
    strained = np.zeros(ties.count, dtype=bool)
    strained[ties.run[over]] = strained[(ties.run[over] + 1) % ties.count] = True
    gap = np.zeros(ties.count, dtype=bool)
    gap[ties.gap_corner] = True
    strained &= gap
    strained[ties.gap_corner] |= ties.out_of_gap(corners, limit) > 1.0 + NEAR_ENOUGH
    return strained


class UnsettledError(ArithmeticError):
    """The adjustment of a line with arcs came to no rest: its pieces do not meet."""


def _settled(ties: Ties, corners: Floats, rise: Floats) -> tuple[Floats, Floats]:
    """Return the corners and rises of least score from these first guesses."""
    if len(ties.arcs):
        for ties.smooth_rad in SMOOTH_RAD:
            corners, rise, settled = _damped(ties, corners, rise)
        if not settled:
            raise UnsettledError
        return corners, rise
    for _ in range(STEPS):
        jacobian, off = ties.linearised(corners, rise)
        step = _solved(jacobian.T @ jacobian, jacobian.T @ off)
        corners = corners + step.reshape(-1, 2)
        if np.abs(step).max() < SETTLED_M:
            break  # else a bend too faint to place along the line: a tenth of a millimetre more or less
    return corners, rise


def _damped(ties: Ties, corners: Floats, rise: Floats) -> tuple[Floats, Floats, bool]:
    """Return the same for a line with arcs by the method of Levenberg and Marquardt, and whether it came to rest.

    Where an arc goes on smoothly, moving the joint along the line changes nothing to first order: undamped steps there
    swing to and fro.
    """
    few = ties.size <= FEW_UNKNOWNS
    linearised = ties.linearised_whole if few else ties.linearised
    damping = FIRST_DAMPING
    jacobian, off = linearised(corners, rise)
    for _ in range(DAMPED_STEPS):
        normal, right = jacobian.T @ jacobian, jacobian.T @ off
        if few:
            step = _solved_whole(normal + damping * np.diag(np.diag(normal)), right)
        else:
            step = _solved(normal + damping * _sparse_diagonal(normal.diagonal()), right)
        there = corners + step[: 2 * ties.count].reshape(-1, 2)
        risen = rise.copy()
        risen[ties.arcs] += step[2 * ties.count :]
        further = linearised(there, risen)
        saved = float(off @ off - further[1] @ further[1])
        damping = damping / EASED if saved >= 0.0 else damping * STIFFENED
        if saved >= 0.0:
            corners, rise, (jacobian, off) = there, risen, further
            if saved < NO_BETTER and damping <= FIRST_DAMPING:
                return corners, rise, True
    return corners, rise, False


def _sparse_diagonal(values: Floats) -> sparse.csc_array:
    """Return the square matrix with these on its diagonal."""
    from scipy import sparse

    return sparse.csc_array(sparse.diags_array(values))


def _solved_whole(normal: Floats, right: Floats) -> Floats:
    try:
        step = np.linalg.solve(normal, right)
    except np.linalg.LinAlgError as error:
        raise UnsettledError from error
    if not np.isfinite(step).all():
        raise UnsettledError
    return np.asarray(step)


def _solved(normal: sparse.csr_array, right: Floats) -> Floats:
    from scipy.sparse.linalg import splu

    try:
        step = splu(normal.tocsc()).solve(right)
    except RuntimeError as error:  # singular
        raise UnsettledError from error
    if not np.isfinite(step).all():
        raise UnsettledError
    return np.asarray(step)


def _covariances(ties: Ties, jacobian: sparse.csr_array, *, closed: bool) -> tuple[Floats, Floats]:
    """Return the covariance of each corner, and of the ends and rise of each arc."""
    of_arcs = np.zeros((len(ties.chain), 5, 5))
    if not len(ties.arcs):
        return corner_covariance(jacobian, closed=closed), of_arcs
    of_arcs[ties.arcs] = blocks_of_inverse(jacobian, ties.arc_unknowns(ties.arcs))
    corner = 2 * np.arange(ties.count)
    return blocks_of_inverse(jacobian, np.column_stack([corner, corner + 1])), of_arcs

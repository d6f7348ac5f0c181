"""All corners of a line together, by least squares, with their standard errors.

Model. Unknown are the corners (easting, northing). A drawn vertex inside a run is off it by the noise square to the
run; the first and last vertex of an open line, and a vertex on which a corner stands, are off their corner by the noise
in both directions. The sum of squares in units of the noise is made least by Gauss–Newton; the covariance of the
corners is the inverse of the normal matrix (e.g. Ghilani, Adjustment Computations, the parametric model; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt
    from scipy import sparse

    from fencegis.line.straights import Straight

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]
    Whole = npt.NDArray[np.int_]

STEPS = 12  # Gauss–Newton meets a tenth of a millimetre in three or four
SETTLED_M = 1e-4
SHARP = -0.5  # cosine of the turn
BETWEEN = 20.0  # a corner between two vertices is held there by so many gaps: only where a bend is too faint to say


@dataclass(frozen=True, eq=False)
class CornerFit:
    """`corners` is (k, 2); `covariance` (k, 2, 2) in square metres; a loop has as many runs as corners."""

    corners: Floats
    covariance: Floats

    @property
    def sigma_m(self) -> Floats:
        """One standard error of each corner's position in its worst direction."""
        return np.asarray(np.sqrt(np.maximum(np.linalg.eigvalsh(self.covariance)[:, -1], 0.0)))


def fit_corners(vertices: Floats, *, sigma_m: Floats, chain: list[Straight], closed: bool, traced: Flags) -> CornerFit:
    """Return the corners of the chain of straights through the drawn vertices.

    `vertices` is (n, 2) in walking order, of a loop as the chain counts them (a first vertex that stands at both
    ends is there twice); `sigma_m` is (n,), in east and in north, each; `traced` (n,) is where the drawing was traced,
    so that a corner found on a vertex may stand anywhere near it.
    """
    ties = _Ties(vertices, sigma_m, chain, closed, traced)
    corners = ties.start()
    for _ in range(STEPS):
        jacobian, off = ties.linearised(corners)
        step = _solved(jacobian, off).reshape(-1, 2)
        corners = corners + step
        if np.abs(step).max() < SETTLED_M:
            break
    jacobian, _ = ties.linearised(corners)
    return CornerFit(corners, _covariance(jacobian, closed=closed))


class _Ties:
    """Which vertex pulls on which corner, and how."""

    def __init__(self, vertices: Floats, sigma_m: Floats, chain: list[Straight], closed: bool, traced: Flags) -> None:
        self.vertices, self.sigma, self.traced = vertices, sigma_m, traced
        self.count = len(chain) + (0 if closed else 1)
        self.closed = closed
        self.chain = chain
        on_corner, inside = self._sorted_out()
        self.corner_vertex, self.corner = on_corner
        self.run_vertex, self.run = inside
        self.gap_corner, self.gap_at, self.gap_sigma = self._gaps()

    def start(self) -> Floats:
        """Return first guesses: the vertex a corner stands on, or the middle of the gap it stands in."""
        corners = np.empty((self.count, 2))
        corners[self.gap_corner] = self.gap_at
        corners[self.corner] = self.vertices[self.corner_vertex]
        return corners

    def linearised(self, corners: Floats) -> tuple[sparse.csr_array, Floats]:
        """Return the Jacobian and what is still off, both in units of the noise, at these corners."""
        from scipy import sparse

        begin, end = corners[self.run], corners[(self.run + 1) % self.count]
        step = end - begin
        length = np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-9)
        ahead = step / length[:, None]
        right = np.column_stack([ahead[:, 1], -ahead[:, 0]])
        away = self.vertices[self.run_vertex] - begin
        share = (away * ahead).sum(axis=1) / length
        scale = 1.0 / self.sigma[self.run_vertex]
        point_scale = np.concatenate([1.0 / self.sigma[self.corner_vertex], 1.0 / self.gap_sigma])
        point = np.concatenate([self.corner, self.gap_corner])
        goal = np.vstack([self.vertices[self.corner_vertex], self.gap_at])

        runs, points = len(self.run), len(point)
        rows = np.arange(runs)
        blocks = (
            [(rows, 2 * self.run + axis, (1.0 - share) * right[:, axis] * scale) for axis in (0, 1)]
            + [(rows, 2 * ((self.run + 1) % self.count) + axis, share * right[:, axis] * scale) for axis in (0, 1)]
            + [(runs + 2 * np.arange(points) + axis, 2 * point + axis, point_scale) for axis in (0, 1)]
        )
        row, column, value = (np.concatenate(part) for part in zip(*blocks, strict=True))
        jacobian = sparse.csr_array((value, (row, column)), shape=(runs + 2 * points, 2 * self.count))
        off = np.concatenate(
            [(away * right).sum(axis=1) * scale, ((goal - corners[point]) * point_scale[:, None]).ravel()]
        )
        return jacobian, off

    def _sorted_out(self) -> tuple[tuple[Whole, Whole], tuple[Whole, Whole]]:
        """Return (vertex, corner) pairs of vertices on corners, and (vertex, run) pairs of those inside runs.

        A vertex on which a corner was found is on it when it was clicked there, else inside the earlier run.
        """
        on_corner = [] if self.closed else [(self.chain[0].first, 0), (self.chain[-1].last, self.count - 1)]
        begin = [straight.first for straight in self.chain]
        end = [straight.last + 1 for straight in self.chain]
        if not self.closed:
            begin[0] += 1
            end[-1] -= 1
        for corner in range(0 if self.closed else 1, len(self.chain)):
            vertex = self.chain[corner].first
            if not np.array_equal(self.vertices[self.chain[corner - 1].last], self.vertices[vertex]):
                continue
            begin[corner] += 1
            if not self.traced[vertex]:
                end[corner - 1] -= 1
                on_corner.append((vertex, corner))
        inside = [(vertex, run) for run in range(len(self.chain)) for vertex in range(begin[run], end[run])]
        pairs, within = (np.array(found, dtype=int).reshape(-1, 2) for found in (on_corner, inside))
        return (pairs[:, 0], pairs[:, 1]), (within[:, 0], within[:, 1])

    def _gaps(self) -> tuple[Whole, Floats, Floats]:
        """Return the corners that stand between two vertices, the middle of the gap, and how loosely it holds them."""
        corners = np.setdiff1d(np.arange(self.count), self.corner)
        before = np.array([self.chain[corner - 1].last for corner in corners], dtype=int)
        after = np.array([self.chain[corner].first for corner in corners], dtype=int)
        step = self.vertices[after] - self.vertices[before]
        slack = np.where(self._turns_sharply(corners), 1.0, BETWEEN)
        loose = slack * (np.hypot(step[:, 0], step[:, 1]) + self.sigma[before] + self.sigma[after])
        return corners, (self.vertices[after] + self.vertices[before]) / 2.0, loose

    def _turns_sharply(self, corners: Whole) -> Flags:
        """Return where the line turns back by more than 120°: its tip is as far as it was drawn."""
        ahead = np.array([self.vertices[run.last] - self.vertices[run.first] for run in self.chain])
        ahead /= np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
        return np.asarray((ahead[corners - 1] * ahead[corners % len(ahead)]).sum(axis=1) < SHARP)


def _solved(jacobian: sparse.csr_array, off: Floats) -> Floats:
    from scipy.sparse.linalg import splu

    return np.asarray(splu((jacobian.T @ jacobian).tocsc()).solve(jacobian.T @ off))


def _covariance(jacobian: sparse.csr_array, *, closed: bool) -> Floats:
    """Return each corner's own 2 × 2 block of the inverse normal matrix.

    A corner is tied to its two neighbours only. So in an open line the block follows from what the corners before it
    and those after it tell of it, each side summed up corner by corner; of a loop the last corner is set apart first.
    """
    from scipy.sparse.linalg import splu

    normal = (jacobian.T @ jacobian).tocsc()
    if not closed:
        return _tied_in_a_row(normal)
    row, apart = normal[:-2, :-2], normal[:-2, -2:].toarray()
    pull = splu(row).solve(apart)
    last = np.linalg.inv(normal[-2:, -2:].toarray() - apart.T @ pull)
    pulls = pull.reshape(-1, 2, 2)
    return np.concatenate([_tied_in_a_row(row) + pulls @ last @ pulls.transpose(0, 2, 1), last[None]])


def _tied_in_a_row(normal: sparse.csc_array) -> Floats:
    main, one, two, three = (normal.diagonal(offset) for offset in range(4))
    own = np.array([[main[0::2], one[0::2]], [one[0::2], main[1::2]]]).transpose(2, 0, 1)
    tie = np.array([[two[0::2], three[0::2]], [one[1::2], two[1::2]]]).transpose(2, 0, 1)
    before, after = own.copy(), own.copy()
    for corner in range(1, len(own)):
        before[corner] -= tie[corner - 1].T @ np.linalg.solve(before[corner - 1], tie[corner - 1])
    for corner in range(len(own) - 2, -1, -1):
        after[corner] -= tie[corner] @ np.linalg.solve(after[corner + 1], tie[corner].T)
    return np.asarray(np.linalg.inv(before + after - own))

"""Which drawn vertex pulls on which corner or arc, and how: the equations of the adjustment of one line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line import arc

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy.typing as npt
    from scipy import sparse

    from fencegis.line.straights import Straight

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]
    Whole = npt.NDArray[np.int_]
    Entries = tuple[Whole, Whole, Floats]  # row, column and value of a sparse matrix

SHARP = -0.5  # cosine of the turn: sharper than 120°, the tip is as far as it was drawn
BETWEEN = 20.0  # a corner between two vertices is held there by so many gaps: only where a bend is too faint to say
A_HAIR_M = 1e-4  # what a corner or a rise is moved by, to see what that does to an arc
SMOOTH_RAD = (0.03, 2e-3, 1e-4)  # a joint is made tangent by and by, in the end to a centimetre in 100 m


@dataclass(frozen=True, eq=False)
class Shape:
    """What a line is made of: its runs over the vertices, which of them are arcs, which joints have no corner.

    `curved` is one a run; `tangent` one a corner. Row k of the runs begins at corner k.
    """

    runs: Sequence[Straight]
    curved: Flags
    tangent: Flags

    @property
    def any_curved(self) -> bool:
        """Whether there is any arc."""
        return bool(self.curved.any())


class Ties:
    """The equations of one line. Unknown are the corners, easting and northing by turns, then the rises of the arcs."""

    def __init__(self, vertices: Floats, sigma_m: Floats, shape: Shape, *, closed: bool, traced: Flags) -> None:
        """Sort out which vertex is on which corner or inside which run."""
        self.vertices, self.sigma, self.traced = vertices, sigma_m, traced
        self.shape, self.chain, self.closed = shape, shape.runs, closed
        self.count = len(shape.runs) + (0 if closed else 1)
        self.arcs = np.flatnonzero(shape.curved)
        on_corner, inside = self._sorted_out()
        self.corner_vertex, self.corner = on_corner
        self.run_vertex, self.run = inside
        self.gap_corner, self.gap_at, self.gap_sigma = self._gaps()
        self.smooth_rad = SMOOTH_RAD[-1]
        self.firmness = np.ones(len(self.run))  # by how much more each vertex inside a run pulls than its noise says
        self.hold = np.ones(len(self.gap_corner))  # and each gap on the corner in it

    @property
    def size(self) -> int:
        """How many unknowns there are."""
        return 2 * self.count + len(self.arcs)

    def start(self) -> tuple[Floats, Floats]:
        """Return first guesses: corners on the vertex they stand on or in the middle of their gap, and rises."""
        corners = np.empty((self.count, 2))
        corners[self.gap_corner] = self.gap_at
        corners[self.corner] = self.vertices[self.corner_vertex]
        rise = np.zeros(len(self.chain))
        for run in self.arcs.tolist():
            on = self.vertices[self.chain[run].first : self.chain[run].last + 1]
            turn = arc.turned_rad(on)
            radius = np.copysign(arc.fitted_circle(on)[1], turn)
            rise[run] = arc.rise_of(corners[run], corners[(run + 1) % self.count], radius, turn)
        return corners, rise

    def ends(self, corners: Floats) -> tuple[Floats, Floats]:
        """Return where each run begins and ends."""
        run = np.arange(len(self.chain))
        return corners[run], corners[(run + 1) % self.count]

    def offsets_m(self, corners: Floats, rise: Floats) -> Floats:
        """Return how far each vertex inside a run lies off it, right positive."""
        begin, end = (part[self.run] for part in self.ends(corners))
        step = end - begin
        away = self.vertices[self.run_vertex] - begin
        across = (away[:, 0] * step[:, 1] - away[:, 1] * step[:, 0]) / np.maximum(np.hypot(*step.T), 1e-9)
        bent = self.shape.curved[self.run]
        if bent.any():
            on = self.vertices[self.run_vertex[bent]]
            across[bent] = arc.offset_m(on, begin[bent], end[bent], rise[self.run[bent]])
        return np.asarray(across)

    def away_m(self, corners: Floats, rise: Floats) -> Floats:
        """Return how far each vertex inside a run is from the planned line: its own run, or the one before or after."""
        begin, end = self.ends(corners)
        on, last = self.vertices[self.run_vertex], len(begin) - 1
        away = np.full(len(on), np.inf)
        for beside in (-1, 0, 1):
            run = (self.run + beside) % (last + 1) if self.closed else np.clip(self.run + beside, 0, last)
            np.minimum(away, arc.distance_m(on, begin[run], end[run], rise[run]), out=away)
        return away

    @property
    def as_firm_as_a_vertex(self) -> Floats:
        """By how much more each gap would hold its corner if a vertex stood on it."""
        return np.asarray((self.gap_sigma / self.gap_noise_m) ** 2)

    def out_of_gap(self, corners: Floats, limit: float) -> Floats:
        """Return how far each corner in a gap is from the middle of it, in what the gap and the limit allow.

        Seen from the corner of two runs that turn by t the gap is 180° − t wide: so the corner stands no further from
        the middle than half the gap, or that times tan(t ÷ 2) where it turns by more than 90°. And where the bend is
        faint the vertices beside it may belong to either run: a step s along the one is only s · sin t off the other.
        A tangent point is where the direction begins to change, which the gap does not bound.
        """
        gone = np.hypot(*(corners[self.gap_corner] - self.gap_at).T)
        cosine = self._turn_cosine(self.gap_corner)
        reach = np.sqrt(np.maximum((1.0 - cosine) / np.maximum(1.0 + cosine, 1e-9), 1.0))
        sine = np.sqrt(np.maximum(1.0 - cosine**2, 1e-18))
        allowed = self.gap_m / 2.0 * reach + limit * self.gap_noise_m / sine
        return np.where(self.shape.tangent[self.gap_corner], 0.0, gone / allowed)

    def linearised(self, corners: Floats, rise: Floats) -> tuple[sparse.csr_array, Floats]:
        """Return the Jacobian and what is still off, both in units of the noise, at these corners and rises."""
        from scipy import sparse

        (row, column, value), off = self._rows(corners, rise)
        return sparse.csr_array((value, (row, column)), shape=(len(off), self.size)), off

    def linearised_whole(self, corners: Floats, rise: Floats) -> tuple[Floats, Floats]:
        """Return the same with every nought of the Jacobian: for a few unknowns that is quicker."""
        (row, column, value), off = self._rows(corners, rise)
        jacobian = np.zeros((len(off), self.size))
        np.add.at(jacobian, (row, column), value)
        return jacobian, off

    def _rows(self, corners: Floats, rise: Floats) -> tuple[Entries, Floats]:
        parts = [self._straight_rows(corners), self._point_rows(corners)]
        if self.shape.any_curved:
            parts += [self._arc_rows(corners, rise), self._tangent_rows(corners, rise)]
        entries: list[Entries] = []
        height = 0
        for (row, column, value), off in parts:
            entries.append((row + height, column, value))
            height += len(off)
        return _joined(entries), np.concatenate([off for _, off in parts])

    def _straight_rows(self, corners: Floats) -> tuple[Entries, Floats]:
        """Tie vertices inside straight runs: off square to the run."""
        inside = np.flatnonzero(~self.shape.curved[self.run])
        run, vertex = self.run[inside], self.run_vertex[inside]
        begin, end = (part[run] for part in self.ends(corners))
        step = end - begin
        length = np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-9)
        ahead = step / length[:, None]
        right = np.column_stack([ahead[:, 1], -ahead[:, 0]])
        away = self.vertices[vertex] - begin
        share = (away * ahead).sum(axis=1) / length
        scale = np.sqrt(self.firmness[inside]) / self.sigma[vertex]
        rows = np.arange(len(inside))
        blocks = [(rows, 2 * run + axis, (1.0 - share) * right[:, axis] * scale) for axis in (0, 1)]
        blocks += [(rows, 2 * ((run + 1) % self.count) + axis, share * right[:, axis] * scale) for axis in (0, 1)]
        return _joined(blocks), (away * right).sum(axis=1) * scale

    def _point_rows(self, corners: Floats) -> tuple[Entries, Floats]:
        """Tie vertices on corners, off in both directions, and hold corners in gaps there, loosely."""
        scale = np.concatenate([1.0 / self.sigma[self.corner_vertex], np.sqrt(self.hold) / self.gap_sigma])
        point = np.concatenate([self.corner, self.gap_corner])
        goal = np.vstack([self.vertices[self.corner_vertex], self.gap_at])
        blocks = [(2 * np.arange(len(point)) + axis, 2 * point + axis, scale) for axis in (0, 1)]
        return _joined(blocks), np.asarray(((goal - corners[point]) * scale[:, None]).ravel())

    def _arc_rows(self, corners: Floats, rise: Floats) -> tuple[Entries, Floats]:
        """Tie vertices inside arcs: off square to the arc."""
        inside = np.flatnonzero(self.shape.curved[self.run])
        run, on = self.run[inside], self.vertices[self.run_vertex[inside]]
        scale = np.sqrt(self.firmness[inside]) / self.sigma[self.run_vertex[inside]]

        def off(value: Floats) -> Floats:
            return arc.offset_m(on, value[:, 0:2], value[:, 2:4], value[:, 4])

        begin, end = (part[run] for part in self.ends(corners))
        value = np.column_stack([begin, end, rise[run]])
        return self._by_hairs(off, value, self.arc_unknowns(run), -scale), off(value) * scale

    def _tangent_rows(self, corners: Floats, rise: Floats) -> tuple[Entries, Floats]:
        """Tie joints without a corner: there the line goes on in the direction it came."""
        joint = np.flatnonzero(self.shape.tangent)
        before, after = (joint - 1) % len(self.chain), joint % len(self.chain)

        def turn(value: Floats) -> Floats:
            came = _heading_rad(value[:, 0:2], value[:, 2:4], value[:, 6], at_end=True)
            goes = _heading_rad(value[:, 2:4], value[:, 4:6], value[:, 7], at_end=False)
            return np.asarray((goes - came + np.pi) % (2.0 * np.pi) - np.pi)

        middle = corners[joint % self.count]
        value = np.column_stack([corners[before], middle, corners[(after + 1) % self.count], rise[before], rise[after]])
        three = (before, joint % self.count, (after + 1) % self.count)
        corner = [2 * place + axis for place in three for axis in (0, 1)]
        unknown = np.column_stack([*corner, self._rise_unknown(before), self._rise_unknown(after)])
        scale = np.full(len(joint), 1.0 / self.smooth_rad)
        return self._by_hairs(turn, value, unknown, scale), -turn(value) * scale

    def arc_unknowns(self, run: Whole) -> Whole:
        """Return which unknowns an arc hangs on, (n, 5): both its ends and its rise."""
        end = (run + 1) % self.count
        return np.column_stack([2 * run, 2 * run + 1, 2 * end, 2 * end + 1, self._rise_unknown(run)])

    def _rise_unknown(self, run: Whole) -> Whole:
        """Return which unknown a run's rise is, −1 for a straight run."""
        place = np.searchsorted(self.arcs, run)
        found = np.zeros(len(run), dtype=bool)
        found[place < len(self.arcs)] = self.arcs[place[place < len(self.arcs)]] == run[place < len(self.arcs)]
        return np.where(found, 2 * self.count + place, -1)

    @staticmethod
    def _by_hairs(told: Callable[[Floats], Floats], value: Floats, unknown: Whole, scale: Floats) -> Entries:
        """Return the entries of the Jacobian by central differences, each of the columns of `value` moved in turn."""
        entries = []
        for column in range(value.shape[1]):
            hair = np.zeros(value.shape[1])
            hair[column] = A_HAIR_M
            rows = np.flatnonzero(unknown[:, column] >= 0)
            slope = (told(value + hair) - told(value - hair)) / (2.0 * A_HAIR_M)
            entries.append((rows, unknown[rows, column], slope[rows] * scale[rows]))
        return _joined(entries)

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
        self.gap_m = np.hypot(*(self.vertices[after] - self.vertices[before]).T)
        self.gap_noise_m = np.maximum(self.sigma[before], self.sigma[after])
        slack = np.where(self._turn_cosine(corners) < SHARP, 1.0, BETWEEN)
        loose = slack * (self.gap_m + self.sigma[before] + self.sigma[after])
        return corners, (self.vertices[after] + self.vertices[before]) / 2.0, loose

    def _turn_cosine(self, corners: Whole) -> Floats:
        """Return the cosine of the turn at each corner, from the vertices of its two runs."""
        ahead = np.array([self.vertices[run.last] - self.vertices[run.first] for run in self.chain])
        ahead /= np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
        return np.asarray((ahead[corners - 1] * ahead[corners % len(ahead)]).sum(axis=1))


def _joined(blocks: Sequence[Entries]) -> Entries:
    row, column, value = (np.concatenate(part) for part in zip(*blocks, strict=True))
    return row, column, value


def _heading_rad(begin: Floats, end: Floats, rise: Floats, *, at_end: bool) -> Floats:
    """Return the bearing of each run, straight or arc, where it begins or ends."""
    step = end - begin
    half = arc.turn_rad(begin, end, rise) / 2.0
    return np.asarray(np.arctan2(step[:, 0], step[:, 1]) + (half if at_end else -half))

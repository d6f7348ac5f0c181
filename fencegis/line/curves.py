"""Where a drawn line is an arc: a road's frontage, a yard, a rounded corner.

An arc is taken by the criterion that finds the runs: the sum of squares in units of the noise, plus a charge for each
bend. An arc saves the bends inside it; its radius costs as much as a bend; and a joint where arc and neighbour go on in
one direction, which is then no corner, saves half of one. So an arc between two straights, smooth at both joints,
costs what two corners cost, and has to explain the drawing better than they do.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.arc_strings import (
    RADIUS_COSTS,
    SMOOTH_SAVES,
    Drawn,
    Pieces,
    String,
    between_arcs,
    moved_joint,
    pieces_of,
    pieces_with,
    shared_by_arcs,
    strings_of_runs,
)
from fencegis.line.corner_fit import UnsettledError, fit_corners
from fencegis.line.corner_ties import Shape
from fencegis.line.straights import Straight

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.line.corner_fit import CornerFit
    from fencegis.line.drawn_chain import Chain

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]
    Whole = npt.NDArray[np.int_]

PLAINLY_RAD = float(np.radians(20.0))
MOVES = (-3, -1, 1, 3)  # vertices
FAR_OFF = 3.0  # bends: no moving of joints makes up for more
AS_GOOD = 2.0  # squares of the noise: an arc by itself is fitted as near as that
TOGETHER = 4  # arcs of one line are looked at together
BESIDE = 2  # runs on either side, where there are more


@dataclass(frozen=True, eq=False)
class Curved:
    """A line with arcs: its vertices in the order they are walked, its shape over them, its fit, and its score."""

    order: Whole
    shape: Shape
    fit: CornerFit
    score: float


def straight_only(runs: Sequence[Straight], *, closed: bool) -> Shape:
    """Return the shape of a chain without arcs."""
    corners = len(runs) + (0 if closed else 1)
    return Shape(runs, np.zeros(len(runs), dtype=bool), np.zeros(corners, dtype=bool))


def with_arcs(
    points: Floats, *, sigma_m: Floats, chain: Chain, fit: CornerFit, closed: bool, limit: float
) -> Curved | None:
    """Return the line with arcs in the place of strings of runs, None where no arc is the better explanation.

    `points` (n, 2) and `sigma_m` (n,) are as drawn; `chain` and `fit` are the straights and their corners; `limit` is
    how many standard deviations a vertex may be off.
    """
    drawn = Drawn(points, float(np.median(sigma_m)), limit)
    trial = _Trial(points, sigma_m, closed, max(limit, fit.furthest), drawn)
    runs = [chain.order[run.first : run.last + 1] for run in chain.straights]
    least = trial.score(fit, straight_only(chain.straights, closed=closed))
    if closed and drawn.is_circle(runs):
        half = len(points) // 2
        return trial.better_than(least, Pieces([np.arange(half), np.arange(half, len(points))], [True, True]))
    corners, turn = fit.corners, _turns_rad(fit.corners, closed=closed)
    if closed:  # begun with the longest run, no string goes over the seam
        begin = int(np.argmax([np.hypot(*(points[run[-1]] - points[run[0]])) for run in runs]))
        runs, turn = runs[begin:] + runs[:begin], np.roll(turn, -begin)
        corners = np.roll(corners, -begin, axis=0)
    strings = strings_of_runs(drawn, runs, np.append(turn, turn[0]) if closed else np.pad(turn, 1))
    if len(strings) <= TOGETHER:
        return _best(trial, runs, strings, least)
    return _by_groups(trial, runs, strings, least, corners=corners)


def _best(trial: _Trial, runs: Sequence[Whole], strings: Sequence[String], least: float) -> Curved | None:
    """Return the best line met with, arcs let in one by one, the likeliest first."""
    best: Curved | None = None
    taken: list[String] = []
    for string in sorted(strings, key=lambda string: -string.gain):
        found = trial.better_than(least, pieces_with(trial.drawn, runs, [*taken, string], closed=trial.closed))
        if found is not None:
            best, least = found, found.score
            taken.append(string)
    return best if best is None else _joined_arcs(trial, best)


def _by_groups(
    trial: _Trial, runs: Sequence[Whole], strings: Sequence[String], least: float, *, corners: Floats
) -> Curved | None:
    """Return the best line met with where it has many arcs: each few looked at with the runs beside them alone.

    What is further off than two runs feels nothing of an arc. At the end all are fitted together.
    """
    alone = _Trial(trial.points, trial.sigma_m, False, trial.limit, trial.drawn)
    pieces: list[_Piece] = []
    done = 0
    for group, after in pairwise([*_groups(strings), []]):
        first = max(done, group[0].begin - BESIDE)
        last = min(after[0].begin if after else len(runs), group[-1].end + BESIDE)
        pieces += [_Piece(runs[run], corners[run]) for run in range(done, first)]
        pieces += _window(alone, runs[first:last], group, shift=first, corners=corners[first:last])
        done = last
    pieces += [_Piece(runs[run], corners[run]) for run in range(done, len(runs))]
    order, straights = _in_a_row([piece.members for piece in pieces])
    smooth = [piece.smooth for piece in pieces] + ([] if trial.closed else [False])
    shape = Shape(straights, np.array([piece.rise_m != 0.0 for piece in pieces]), np.array(smooth))
    begin = np.array([piece.begin for piece in pieces] + ([] if trial.closed else [corners[-1]]))
    best = trial.fitted(order, shape, start=(begin, np.array([piece.rise_m for piece in pieces])))
    return best if best is not None and best.score < least and best.fit.furthest <= trial.limit else None


@dataclass(frozen=True, eq=False)
class _Piece:
    """A straight or an arc as found with few others: where it begins, and whether smoothly."""

    members: Whole
    begin: Floats
    rise_m: float = 0.0
    smooth: bool = False


def _window(
    alone: _Trial, runs: Sequence[Whole], group: Sequence[String], *, shift: int, corners: Floats
) -> list[_Piece]:
    """Return the pieces of these runs alone, with those arcs of the group that pay."""
    own = alone.plain(*_in_a_row(runs))
    inside = [String(string.begin - shift, string.end - shift, string.gain) for string in group]
    found = None if own is None else _best(alone, runs, inside, own.score)
    if found is None:
        return [_Piece(run, corner) for run, corner in zip(runs, corners, strict=True)]
    begin = np.vstack([corners[:1], found.fit.corners[1:-1]])
    members = pieces_of(found.order, found.shape.runs, found.shape.curved.tolist()).members
    told = zip(members, begin, found.fit.rise_m.tolist(), found.shape.tangent.tolist(), strict=False)
    return [_Piece(*each) for each in told]


def _groups(strings: Sequence[String]) -> list[list[String]]:
    """Return the strings by few, those together that have few runs between them."""
    groups: list[list[String]] = []
    for string in strings:
        if groups and string.begin - groups[-1][-1].end < BESIDE and len(groups[-1]) < TOGETHER:
            groups[-1].append(string)
        else:
            groups.append([string])
    return groups


def _joined_arcs(trial: _Trial, best: Curved) -> Curved:
    """Return the line without the straights between two arcs that explain no more than a joint of the two would."""
    while True:
        pieces = pieces_of(best.order, best.shape.runs, best.shape.curved.tolist())
        for place in between_arcs(pieces, closed=trial.closed):
            found = trial.better_than(best.score, shared_by_arcs(trial.drawn, pieces, place))
            if found is not None:
                best = found
                break
        else:
            return best


@dataclass(frozen=True, eq=False)
class _Trial:
    """All pieces of a line fitted together, and their score."""

    points: Floats
    sigma_m: Floats
    closed: bool
    limit: float
    drawn: Drawn

    def score(self, fit: CornerFit, shape: Shape) -> float:
        """Return the misfit with all charges."""
        return float(fit.misfit.sum()) + self._costs(len(fit.corners), shape.curved, shape.tangent)

    def plain(self, order: Whole, runs: list[Straight]) -> Curved | None:
        """Return the fit of straights alone."""
        return self.fitted(order, straight_only(runs, closed=self.closed))

    def better_than(self, least: float, pieces: Pieces) -> Curved | None:
        """Return the pieces fitted together, None unless that scores less and keeps the limit as the straights do.

        Every joint of an arc that is not plainly a corner is smooth at first. Where that strains the fit the joint is
        moved by some vertices, and then tried as a corner; a plain corner is tried as smooth.
        """
        best = self._smooth(pieces, least + self.drawn.charge)
        if best is None or best.score > least + FAR_OFF * self.drawn.charge:
            return None
        for joint in self._strained(pieces, best):
            for by in MOVES:
                moved = moved_joint(pieces, joint, by)
                found = None if moved is None else self._smooth(moved, best.score)
                if moved is not None and found is not None and found.score < best.score:
                    best, pieces = found, moved
        plain = self._beside_arcs(best.shape.curved) & ~best.shape.tangent
        for joint in [*self._strained(pieces, best), *np.flatnonzero(plain).tolist()]:
            freed = best.shape.tangent.copy()
            freed[joint] = not freed[joint]
            found = self.fitted(best.order, Shape(best.shape.runs, best.shape.curved, freed))
            if found is not None and found.score < best.score:
                best = found
        return best if best.score < least and best.fit.furthest <= self.limit else None

    def _smooth(self, pieces: Pieces, bar: float) -> Curved | None:
        """Return the fit, each joint of an arc smooth that is no plain corner; None if it cannot score less."""
        if not all(self.drawn.follows(part) for part, bent in zip(pieces.members, pieces.curved, strict=True) if bent):
            return None
        order, runs = _in_a_row(pieces.members)
        curved = np.array(pieces.curved, dtype=bool)
        smooth = self._beside_arcs(curved)
        apart = float(self._alone(pieces).sum()) + self._costs(len(smooth), curved, smooth)
        if apart - AS_GOOD > bar:
            return None
        return self.fitted(order, Shape(runs, curved, smooth & ~self._plain_corners(pieces)))

    def _alone(self, pieces: Pieces) -> Floats:
        """Return the misfit of each piece by itself, 0 of an arc that leaves a vertex out."""
        parts = zip(pieces.members, pieces.curved, strict=True)
        misfit = np.array([self.drawn.arc(part)[0] if bent else self.drawn.straight(part) for part, bent in parts])
        return np.where(np.isfinite(misfit), misfit, 0.0)

    def _costs(self, corners: int, curved: Flags, smooth: Flags) -> float:
        bends = corners - (0 if self.closed else 2)
        return float(self.drawn.charge * (bends + RADIUS_COSTS * curved.sum() - SMOOTH_SAVES * smooth.sum()))

    def fitted(self, order: Whole, shape: Shape, *, start: tuple[Floats, Floats] | None = None) -> Curved | None:
        """Return the shape's fit and score, None where its pieces do not meet."""
        every = np.ones(len(order), dtype=bool)
        points, sigma = self.points[order], self.sigma_m[order]
        try:
            fit = fit_corners(points, sigma_m=sigma, shape=shape, closed=self.closed, traced=every, start=start)
        except UnsettledError:
            return None
        return Curved(order, shape, fit, self.score(fit, shape))

    def _beside_arcs(self, curved: Flags) -> Flags:
        """Return which corners are a joint of an arc; an open line's ends are not."""
        if self.closed:
            return curved | np.roll(curved, 1)
        return np.concatenate([[False], curved[:-1] | curved[1:], [False]])

    def _plain_corners(self, pieces: Pieces) -> Flags:
        """Return at which corners the pieces on either side, each by itself, go in directions far apart."""
        parts = zip(pieces.members, pieces.curved, strict=True)
        begins, ends = np.array([self.drawn.headings_rad(part, curved=bent) for part, bent in parts]).T
        turn = (begins - np.roll(ends, 1) + np.pi) % (2.0 * np.pi) - np.pi
        return np.asarray(np.abs(turn if self.closed else np.append(turn, 0.0)) > PLAINLY_RAD)

    def _strained(self, pieces: Pieces, line: Curved) -> list[int]:
        """Return the smooth joints whose two pieces, each by itself, would fit better by more than a corner costs."""
        worse = line.fit.misfit - self._alone(pieces)
        count, smooth = len(worse), line.shape.tangent
        strain = [worse[joint % count] + worse[joint - 1] for joint in range(len(smooth))]
        return [joint for joint in np.flatnonzero(smooth).tolist() if strain[joint] > SMOOTH_SAVES * self.drawn.charge]


def _turns_rad(corners: Floats, *, closed: bool) -> Floats:
    """Return the turn at each corner, right positive, an open line's ends left out; a loop's first is at its start."""
    step = np.diff(np.vstack([corners[-1:], corners, corners[:1]]) if closed else corners, axis=0)
    bearing = np.arctan2(step[:, 0], step[:, 1])
    return np.asarray((np.diff(bearing) + np.pi) % (2.0 * np.pi) - np.pi)


def _in_a_row(members: Sequence[Whole]) -> tuple[Whole, list[Straight]]:
    """Return the vertices in walking order, one that two pieces share once, and the pieces over them."""
    order: list[int] = []
    runs: list[Straight] = []
    for part in members:
        shared = bool(order) and order[-1] == part[0]
        first = len(order) - 1 if shared else len(order)
        order += part[1:].tolist() if shared else part.tolist()
        runs.append(Straight(first, len(order) - 1))
    return np.array(order), runs

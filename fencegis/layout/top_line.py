"""The top line of a post and rail fence: how high the top rail stands at each post.

Model. Unknown is the height at each post; rails are straight from post to post and the bottom rail runs parallel, a
fixed drop below. Limits, over the whole bay and not only at posts: the gap under the bottom rail is not under the least
and not over the greatest; no post is taller than its stick allows. A rail that runs through a post is straight but for
what it may be pulled on edge, so there the grade may change only by what that pull gives. Two objectives:

* *flowing*: least sum of squared changes of grade, a convex quadratic programme;
* *straight*: least sum of absolute changes of grade, a linear one: few, larger changes.

*ground* follows the ground at posts and optimises nothing.

Where another line's top line stands at a post already, this one is held there, by an equation, and both bounds are
those of the line as it is held. Lines are planned one after the other and not all at once: the line that runs on over
the post is the one that the eye follows, so it is as good as it can be by itself, and each line's bound says so of it
alone; a line that ends there comes to it, with every rail cut at the post, so that seldom costs it anything
(`TopLine.held_breach_m` says what). *ground* needs no holding: both lines follow the one ground.

Where the limits cannot all be kept, the rails stay straight and the limits give: first the least total breach is found
(for each bay the greatest want of gap and the greatest excess, for each post what it is too tall; all in metres, added
up), then the objective at that breach. Where the objective leaves the line free to rise or tilt as a whole, it is put
as near as can be to the height wanted. Both programmes are solved to the end, and the bound of each is reported
(`layout.programme`). Limits are held, and the least total breach is met, to a few thousandths of a millimetre.

A pulled rail is a curve: it leaves the two straights between its posts by up to 0.19 of the pull (a beam on two
supports loaded in the middle), 2 mm at 10 mm; the gap is measured to the straights.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from scipy import sparse

from fencegis.layout.programme import Programme, solve
from fencegis.layout.rail_limits import limit_rows

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.layout.bay_ground import BayGround
    from fencegis.layout.programme import Answer
    from fencegis.layout.rail_limits import LimitRows, Limits

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]

TopLineKind = Literal["ground", "flowing", "straight"]

HELD_M = 1e-6
SEEN_PCT = 0.01  # a change of grade under this is none: an eighth of a millimetre in a bay
SPARSER = 3  # rounds of weighing small bends dearer, so that few posts carry them


@dataclass(frozen=True, eq=False)
class TopLine:
    """The top line of one line of fence.

    `level_m` (n,) is its height at each post in the ground's own datum; `change_pct` (n,) the grade after less the
    grade before, in percent, crest negative, NaN at the ends of an open line. `cost` is the objective's value (the sum
    of squares or of absolute values of `change_pct`) and `bound` what no line within the limits can be under; both NaN
    for *ground*. `low_m` and `high_m` (b,) are the greatest want of gap and the greatest excess in each bay, `tall_m`
    (n,) by how much each post is too tall, 0 where the limit is kept; `least_breach_m` is what no line's total can be
    under, `held_breach_m` by how much that is more because posts are held; NaN for *ground*.
    """

    kind: TopLineKind
    level_m: Floats
    change_pct: Floats
    cost: float
    bound: float
    low_m: Floats
    high_m: Floats
    tall_m: Floats
    least_breach_m: float
    held_breach_m: float

    @property
    def breach_m(self) -> float:
        """Total breach: the sum over bays and posts."""
        return float(self.low_m.sum() + self.high_m.sum() + self.tall_m.sum())

    @property
    def squares_pct2(self) -> float:
        """Sum of the squared changes of grade, percent squared: what *flowing* makes least."""
        return float(np.nansum(self.change_pct**2))

    @property
    def turned_pct(self) -> float:
        """Sum of the absolute changes of grade, percent: what *straight* makes least."""
        return float(np.nansum(np.abs(self.change_pct)))

    @property
    def bends(self) -> int:
        """How many posts change the grade."""
        return int((np.abs(np.nan_to_num(self.change_pct)) > SEEN_PCT).sum())


def top_line(bays: BayGround, *, limits: Limits, kind: TopLineKind) -> TopLine:
    """Return the top line over these bays.

    Unknown ground sets no limit: the line flows on across it. A bay that opens has no rails and no limits either, but
    the eye runs on, so the changes of grade at its posts count.
    Raises ValueError when no ground is known at any post, ArithmeticError when the solver gives up.
    """
    rows = limit_rows(bays, limits)
    if kind == "ground":
        return _measured(bays, rows, kind, np.zeros(len(bays.post_m)), (np.nan, np.nan, np.nan))
    breach = solve(_least_breach(rows, bent=True))
    below, most = _at_breach(rows, breach, bent=True)
    size = len(bays.post_m)
    programme = (_flowing if kind == "flowing" else _straight)(bays, rows, below, most)
    answer = solve(programme)
    rise = _settled(bays, rows, answer.unknown[:size])
    # a bound a hair under nought says no more than nought does: neither breach nor objective can be negative
    bounds = max(breach.bound, 0.0), max(answer.bound, 0.0), _held_breach_m(rows, breach)
    return _measured(bays, rows, kind, rise, bounds)


def posts_to_cut(bays: BayGround, *, limits: Limits) -> Flags:
    """Return the posts (n,) of `limits.through` where every row has to be cut for the other limits to be kept.

    With every rail cut everywhere the breach is as little as it can be; at that breach the bends over the pull are made
    few by linear programmes: least sum of what bends exceed the pull by, then again with each weighed by the inverse of
    its last value, so that small ones go. Few, not proven fewest.
    """
    rows = limit_rows(bays, limits)
    size, stiff = len(bays.post_m), len(rows.stiff)
    cut = np.zeros(size, dtype=bool)
    if not stiff:
        return cut
    kept, most = _at_breach(rows, solve(_least_breach(rows, bent=False)), bent=False)
    over = sparse.vstack([sparse.eye_array(stiff)] * 2)
    below = sparse.block_array([[kept, None], [_wide(rows.bend, kept.shape[1]), -over]], format="csr")
    most = np.concatenate([most, rows.bend_most])
    weight = np.ones(stiff)
    for _ in range(SPARSER):
        cost = np.concatenate([np.zeros(kept.shape[1]), weight])
        excess = solve(_linear(rows, cost, size, below, most)).unknown[-stiff:]
        weight = 1.0 / (excess + SEEN_PCT)
    cut[bays.bent[rows.stiff[excess > SEEN_PCT]]] = True
    return cut


def bends_over_pull(bays: BayGround, line: TopLine, *, pull_m: float) -> Flags:
    """Return the posts (n,) where a rail running through would miss its mark by more than `pull_m`."""
    over = np.zeros(len(bays.post_m), dtype=bool)
    over[bays.bent] = np.abs(line.change_pct[bays.bent]) > bays.bend_for(pull_m + HELD_M)
    return over


def _least_breach(rows: LimitRows, *, bent: bool) -> Programme:
    """Return the programme of rise and breach whose total breach is least; with `bent`, through rails stay straight."""
    size = rows.rows.shape[1]
    cost = np.concatenate([np.zeros(size), np.ones(rows.places)])
    below, most = sparse.hstack([rows.rows, -rows.give], format="csr"), rows.most
    if bent:
        below = sparse.vstack([below, _wide(rows.bend, len(cost))], format="csr")
        most = np.concatenate([most, rows.bend_most])
    return _linear(rows, cost, size, below, most)


def _held_breach_m(rows: LimitRows, least: Answer) -> float:
    """Return by how much the least total breach is more than it would be with no post held."""
    if not len(rows.held) or least.cost <= HELD_M:
        return 0.0
    return max(least.cost - solve(_least_breach(rows.let_go, bent=True)).cost, 0.0)


def _at_breach(rows: LimitRows, least: Answer, *, bent: bool) -> tuple[Any, Floats]:
    """Return limits on rise, and on breach where there must be some, that hold the total breach at this least one.

    A place gives a breach only if it may: with a total within `HELD_M` of the least one, a place at which a metre of
    breach adds r metres to the least total has at most `HELD_M` ÷ r. Where r is a half or more that is left as room in
    the row itself, so the programme stays small and shuts out no line that it should not.
    """
    adds = 1.0 - np.bincount(rows.gives, least.price[: len(rows.gives)], minlength=rows.places)
    may = (adds < 0.5) & (least.cost > HELD_M)
    below, most = rows.rows, rows.most + np.where(may, 0.0, 2.0 * HELD_M)[rows.gives]
    if may.any():
        total = sparse.csr_array(np.ones((1, int(may.sum()))))
        below = sparse.block_array([[below, -rows.give[:, may]], [None, total]], format="csr")
        most = np.append(most, least.cost + HELD_M)
    if bent:
        below = sparse.vstack([below, _wide(rows.bend, below.shape[1])], format="csr")
        most = np.concatenate([most, rows.bend_most])
    return below, most


def _flowing(bays: BayGround, rows: LimitRows, below: Any, most: Floats) -> Programme:
    """Return the programme of rise, breach and changes of grade whose sum of squared changes is least.

    The changes are unknowns of their own, tied to the heights by equations: their squares then stand alone, and the
    numbers stay good over thousands of bays.
    """
    change = sparse.eye_array(len(bays.bent))
    square = np.concatenate([np.zeros(below.shape[1]), np.full(len(bays.bent), 2.0)])
    return _with_changes(bays, rows, below, most, -change, square, np.zeros(len(square)))


def _straight(bays: BayGround, rows: LimitRows, below: Any, most: Floats) -> Programme:
    """Return the programme of rise, breach, hollows and crests whose sum is least: a change is hollow less crest."""
    change = sparse.eye_array(len(bays.bent))
    cost = np.concatenate([np.zeros(below.shape[1]), np.ones(2 * len(bays.bent))])
    return _with_changes(bays, rows, below, most, sparse.hstack([-change, change]), np.zeros(len(cost)), cost)


def _with_changes(
    bays: BayGround, rows: LimitRows, below: Any, most: Floats, change: Any, square: Floats, cost: Floats
) -> Programme:
    size, before, added = len(bays.post_m), below.shape[1], change.shape[1]
    bend = sparse.hstack([_wide(bays.bend, before), change], format="csr")
    equal = sparse.vstack([bend, _wide(rows.hold, before + added)], format="csr")
    value = np.concatenate([-(bays.bend @ rows.wanted_m), rows.held_rise_m])
    not_negative = np.ones(before + added, dtype=bool)
    not_negative[:size] = False
    not_negative[before:] = not square.any()
    return Programme(square, cost, not_negative, _wide(below, before + added), most, equal, value)


def _linear(rows: LimitRows, cost: Floats, free: int, below: Any, most: Floats) -> Programme:
    """Return a linear programme whose unknowns after the first `free`, the rises among these, are not negative."""
    not_negative = np.arange(len(cost)) >= free
    return Programme(
        np.zeros(len(cost)), cost, not_negative, below, most, _wide(rows.hold, len(cost)), rows.held_rise_m
    )


def _wide(matrix: Any, columns: int) -> Any:
    """Return the matrix with columns of nothing added at its right."""
    nothing = sparse.csr_array((matrix.shape[0], columns - matrix.shape[1]))
    return sparse.hstack([matrix, nothing], format="csr")


def _settled(bays: BayGround, rows: LimitRows, rise: Floats) -> Floats:
    """Return the line lifted and tilted as a whole (a loop: lifted) as near as can be to the height wanted.

    Neither alters a change of grade. No bay or post may be further beyond its limit than it is, and a post that is held
    stays where it is.
    """
    moves = _moves(bays, rows)
    if not moves.shape[1]:
        return rise
    room = rows.most + np.maximum(rows.breach(rise), 2.0 * HELD_M)[rows.gives]
    below = sparse.csr_array(rows.rows @ moves)
    programme = Programme(
        square=2.0 * (moves**2).sum(axis=0),
        cost=2.0 * rise @ moves,
        not_negative=np.zeros(moves.shape[1], dtype=bool),
        below=below,
        most=room - rows.rows @ rise,
        equal=sparse.csr_array((0, moves.shape[1])),
        value=np.zeros(0),
    )
    return np.asarray(rise + moves @ solve(programme).unknown)


def _moves(bays: BayGround, rows: LimitRows) -> Floats:
    """Return (n, k) how rises change where the line lifts or tilts as a whole; held at one post it tilts about that."""
    lift = np.ones(len(bays.post_m))
    if bays.closed and not len(rows.held):
        return lift[:, None]
    if bays.closed or len(rows.held) > 1:
        return np.zeros((len(lift), 0))
    if len(rows.held):
        return (bays.post_m - bays.post_m[rows.held])[:, None] / np.ptp(bays.post_m)
    along = bays.post_m - bays.post_m.mean()
    return np.column_stack([lift, along / along.max()])


def _measured(
    bays: BayGround, rows: LimitRows, kind: TopLineKind, rise: Floats, bounds: tuple[float, float, float]
) -> TopLine:
    level = rows.wanted_m + rise
    change = np.full(len(level), np.nan)
    change[bays.bent] = bays.bend @ level
    cost = {"ground": np.nan, "flowing": np.nansum(change**2), "straight": np.nansum(np.abs(change))}[kind]
    breach = rows.breach(rise)
    breach[breach <= 3.0 * HELD_M] = 0.0
    low, high, tall = np.split(breach, [len(bays.bay_m), 2 * len(bays.bay_m)])
    return TopLine(kind, level, change, float(cost), bounds[1], low, high, tall, bounds[0], bounds[2])

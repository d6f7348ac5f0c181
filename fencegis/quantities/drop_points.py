"""The fewest places along a line from which everything on it is in reach, and of those the least work to carry.

Places are posts, in metres along the ground; a stack beside one serves the posts nearest to it, none further off than
the carry. Variables: which posts have a stack. Objective: first the fewest stacks; then the least work, which is for
each post the metres to its stack and, for each metre that it lies above the stack, `climb` metres more (below it, so
much less): uphill stacks win. Limit: the carry, and posts where no stack may lie. Why exact: on an open line, standing
each stack as far on as the first post not yet served allows is never more than any other choice, so it gives the
number and the last place that each stack in turn can have; the same from the far end gives its first place. The best
choice between is found stack by stack, for which posts lie between two neighbours, and whose they are, depends on
these two alone. On a loop every first stack that serves the first post is tried for the number; the work is then the
least with the highest of those that do with the fewest.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Whole = npt.NDArray[np.intp]
    Flags = npt.NDArray[np.bool_]

A_MILLIMETRE = 0.001


def fewest(
    at_m: Floats,
    *,
    carry_m: float,
    ground_m: Floats | None = None,
    climb: float = 0.0,
    may: Flags | None = None,
    loop_m: float | None = None,
) -> list[int] | None:
    """Return which of the posts (n,), sorted along the ground, have a stack: the fewest, of those the least work.

    `ground_m` (n,) are heights, unknown ones taken between their neighbours; `may` the posts where a stack may lie;
    `loop_m` the way round, None for an open line. None when a post is out of reach of every place for a stack.
    """
    if len(at_m) == 0:
        return []
    open_to = np.arange(len(at_m)) if may is None else np.flatnonzero(may)
    row = _Row(at_m, _filled(at_m, ground_m), open_to, carry_m + A_MILLIMETRE, climb)
    chosen = _open(row) if loop_m is None else _loop(row, loop_m)
    return None if chosen is None else sorted(int(open_to[place]) for place in chosen)


@dataclass(frozen=True, eq=False)
class _Row:
    """Posts (n,) and their heights, and which of them are places for a stack (m,), both in walking order."""

    at_m: Floats
    ground_m: Floats
    open_to: Whole
    reach_m: float
    climb: float

    @property
    def open_m(self) -> Floats:
        """Where the places are."""
        return np.asarray(self.at_m[self.open_to])

    @cached_property
    def _sums(self) -> tuple[Floats, Floats]:
        at, ground = (np.concatenate([[0.0], np.cumsum(each)]) for each in (self.at_m, self.ground_m))
        return at, ground

    def work_m(self, begin: Whole, end: Whole, stack_m: Floats, stack_ground_m: Floats) -> Floats:
        """Return the work of serving posts from `begin` up to `end` (exclusive), all on one side of a stack."""
        at, ground = self._sums
        count = end - begin
        off = np.abs(at[end] - at[begin] - count * stack_m)
        return np.asarray(off + self.climb * (ground[end] - ground[begin] - count * stack_ground_m))

    def between_m(self, left_m: Floats, left_ground_m: Floats, right_m: Floats, right_ground_m: Floats) -> Floats:
        """Return the work (a, b) of the posts from each left stack (a,) on to each right one (b,), to the nearer."""
        first = np.searchsorted(self.at_m, left_m, side="left")[:, None]
        last = np.searchsorted(self.at_m, right_m, side="left")[None, :]
        middle = np.searchsorted(self.at_m, (left_m[:, None] + right_m[None, :]) / 2.0, side="right")
        middle = np.clip(middle, first, np.maximum(last, first))
        to_left = self.work_m(first, middle, left_m[:, None], left_ground_m[:, None])
        return to_left + self.work_m(middle, last, right_m[None, :], right_ground_m[None, :])


def _filled(at_m: Floats, ground_m: Floats | None) -> Floats:
    known = np.zeros(len(at_m), dtype=bool) if ground_m is None else np.isfinite(ground_m)
    if ground_m is None or not known.any():
        return np.zeros(len(at_m))
    return np.asarray(np.interp(at_m, at_m[known], ground_m[known]))


def _open(row: _Row) -> list[int] | None:
    """Return the stacks of an open line."""
    windows = _windows(row.at_m, row.open_m, row.reach_m)
    if windows is None:
        return None
    count = len(row.at_m)
    at, ground = row.open_m, row.ground_m[row.open_to]
    first, last = windows[0], windows[-1]
    none = np.zeros(len(first), dtype=int)
    before = row.work_m(none, np.searchsorted(row.at_m, at[first]), at[first], ground[first])
    begin = np.searchsorted(row.at_m, at[last])
    after = row.work_m(begin, np.full(len(last), count), at[last], ground[last])
    return _cheapest(row, windows, before, after)


def _loop(row: _Row, loop_m: float) -> list[int] | None:
    """Return the stacks of a loop: each first one that serves the first post is tried."""
    off_m = (row.open_m - row.at_m[0] + loop_m / 2.0) % loop_m - loop_m / 2.0
    twice_m, open_twice_m = (np.concatenate([each, each + loop_m]) for each in (row.at_m, row.open_m))
    walk = _Walk(twice_m, open_twice_m, row.reach_m)
    tried = []
    for first in np.flatnonzero(np.abs(off_m) <= row.reach_m).tolist():
        left_from = row.open_m[first] + row.reach_m
        walked = walk.on(left_from, left_from + loop_m - 2.0 * row.reach_m)
        if walked is not None:
            tried.append((len(walked), -row.ground_m[row.open_to[first]], first))
    if not tried:
        return None
    first = min(tried)[2]
    posts_m, places_m, place = _left_by(first, row, loop_m)
    windows = _windows(posts_m, places_m, row.reach_m)
    return [first] if not windows else [first, *(int(place[on]) for on in _round(row, first, windows, loop_m))]


def _round(row: _Row, first: int, windows: list[Whole], loop_m: float) -> list[int]:
    """Return which places, counted on from a first stack, have the others of a loop."""
    on_m = (row.at_m - row.open_m[first]) % loop_m
    order = np.argsort(on_m, kind="stable")
    is_open = np.isin(order, row.open_to)
    on = _Row(on_m[order], row.ground_m[order], np.flatnonzero(is_open), row.reach_m, row.climb)
    at, ground = on.open_m, on.ground_m[on.open_to]
    stack, height = np.zeros(1), row.ground_m[row.open_to[first]][None]
    before = on.between_m(stack, height, at[windows[0]], ground[windows[0]])[0]
    after = on.between_m(at[windows[-1]], ground[windows[-1]], stack + loop_m, height)[:, 0]
    return _cheapest(on, windows, before, after)


def _left_by(first: int, row: _Row, loop_m: float) -> tuple[Floats, Floats, Whole]:
    """Return what a first stack leaves, in metres on from it: posts not served, places, and which places those are."""
    posts, places = ((each - row.open_m[first]) % loop_m for each in (row.at_m, row.open_m))
    order = np.argsort(places, kind="stable")
    return np.sort(posts[(posts > row.reach_m) & (posts < loop_m - row.reach_m)]), places[order], order


def _windows(at_m: Floats, open_m: Floats, reach_m: float) -> list[Whole] | None:
    """Return for each of the fewest stacks the places that it can have; None where a post is out of all reach."""
    latest = _Walk(at_m, open_m, reach_m).on()
    if latest is None:
        return None
    back = _Walk(-at_m[::-1], -open_m[::-1], reach_m).on() or []
    earliest = [len(open_m) - 1 - place for place in reversed(back)]
    return [np.arange(first, last + 1) for first, last in zip(earliest, latest, strict=True)]


class _Walk:
    """Posts (n,) and places (m,) in walking order, and for each which comes next."""

    def __init__(self, at_m: Floats, open_m: Floats, reach_m: float) -> None:
        self.at_m, self.open_m, self.reach_m = at_m, open_m, reach_m
        self.last = (np.searchsorted(open_m, at_m + reach_m, side="right") - 1).tolist()
        self.after = np.searchsorted(at_m, open_m + reach_m, side="right").tolist()

    def on(self, from_m: float = -math.inf, to_m: float = math.inf) -> list[int] | None:
        """Return places that serve the posts beyond `from_m` and before `to_m`; None where a post has none.

        Each is as far on as the first post not yet served allows.
        """
        post, end = int(np.searchsorted(self.at_m, from_m, side="right")), int(np.searchsorted(self.at_m, to_m))
        found = []
        while post < end:
            place = self.last[post]
            if place < 0 or self.open_m[place] < self.at_m[post] - self.reach_m:
                return None
            found.append(place)
            post = self.after[place]
        return found


def _cheapest(row: _Row, windows: list[Whole], before: Floats, after: Floats) -> list[int]:
    """Return one place of each window, no post left out between two, with the least work in all.

    `before` and `after` are the work outside the first and the last stack, for each place that these can have.
    """
    at, ground = row.open_m, row.ground_m[row.open_to]
    next_post = np.append(row.at_m, math.inf)[np.searchsorted(row.at_m, at + row.reach_m, side="right")]
    best, came = before, []
    for left, right in pairwise(windows):
        joined = (at[right][None, :] <= next_post[left][:, None] + row.reach_m) & (right[None, :] > left[:, None])
        work = row.between_m(at[left], ground[left], at[right], ground[right])
        summed = np.where(joined, best[:, None] + work, math.inf)
        came.append(summed.argmin(axis=0))
        best = summed.min(axis=0)
    place = int((best + after).argmin())
    chosen = [int(windows[-1][place])]
    for window, back in zip(windows[-2::-1], reversed(came), strict=True):
        place = int(back[place])
        chosen.append(int(window[place]))
    return chosen

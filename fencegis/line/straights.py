"""The fewest straights that explain noisy points: runs in plan, grades in profile.

Model. Points come in walking order, each the true place plus noise of known size. A chain of straights is scored by
the sum of squared distances of the points from their straight, in units of the noise, plus a charge for each bend; the
chain with the least score is found exactly, by dynamic programming over all places where a straight may end. A bend
stands on a point that both straights use, or, where the caller allows it and both straights have three points,
between two points. A straight never fits better for being longer: so one that can never again be part of the best
chain is dropped on the way, and another is measured again only when its last score is less than the best at hand.

The charge is `BEND_CHARGE` · ln(n), of the form of Schwarz's criterion (Ann. Statist. 6, 1978, 461–464); its factor
was found by trial on drawings made by the tests, and is ours.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]
    Whole = npt.NDArray[np.int_]
    Misfit = Callable[[Floats, Floats, Floats], Floats]

BEND_CHARGE = 5.0
# A point that two straights share is counted in both: what a longer straight may owe its parts (noise of 4 sigma).
SHARED_POINT = 16.0


@dataclass(frozen=True)
class Straight:
    """One straight: it explains the points `first` to `last`, both included."""

    first: int
    last: int


def across_track(east: Floats, cross: Floats, north: Floats) -> Floats:
    """Least sum of squared distances square to a line, from centred second moments: plan view."""
    middle, spread = (east + north) / 2.0, np.hypot((east - north) / 2.0, cross)
    return np.maximum(middle - spread, 0.0)


def vertical(along: Floats, cross: Floats, height: Floats) -> Floats:
    """Least sum of squared height differences from a line, from centred second moments: profile."""
    return np.maximum(height - cross**2 / np.maximum(along, 1e-300), 0.0)


def fewest_straights(
    first: Floats,
    second: Floats,
    *,
    weight: Floats,
    misfit: Misfit,
    between: Flags,
    charge: float,
    back: float = np.inf,
    through: Flags | None = None,
    earliest: Whole | None = None,
) -> list[Straight]:
    """Return the chain of straights with the least score, in walking order.

    `first`, `second`: (n,) coordinates of the points; `weight`: 1/σ² of each, or sums of such where a point stands for
    several; `between`: (n,) whether a bend may stand between a point and the one before it; `charge`: per bend; `back`:
    a straight may not come back towards its first point by more than this; `through`: (n,) whether a straight may run
    through a point (else it ends there), None for all; `earliest`: (n,), never falling, the first point that a straight
    may begin at which ends at this one, None for any.
    """
    moments = _Moments(first, second, weight, misfit)
    count = len(first)
    best = np.full(count, np.inf)  # score of the best chain whose last straight ends at this point
    best_long = np.full(count, np.inf)  # the same where that straight has three points or more
    source, source_long = np.full(count, -1), np.full(count, -1)
    shared, apart = np.full(count, np.inf), np.full(count, np.inf)  # score before a straight that begins here
    shared[0] = 0.0
    begun = _Begun(first, second, back)
    for last in range(1, count):
        begun.add(last - 1, min(shared[last - 1], apart[last - 1]))
        if through is not None and not through[last - 1]:
            begun.keep(begun.place == last - 1)
        begun.walk_on(last)
        if earliest is not None and earliest[last] > earliest[last - 1]:
            begun.keep(begun.place >= earliest[last])
        best[last], source[last] = shared[last - 1], last - 1  # two points lie on a straight exactly
        best_long[last], source_long[last] = begun.best_long(
            lambda place: moments.misfit(place, last) + np.minimum(shared[place], apart[place]),  # noqa: B023
            likely=source_long[last - 1],
        )
        if best_long[last] < best[last]:
            best[last], source[last] = best_long[last], source_long[last]
        shared[last] = best[last] + charge
        if between[last]:
            apart[last] = best_long[last - 1] + charge
        begun.keep(begun.least <= best[last] + charge + SHARED_POINT)
    return _walk_back(source, source_long, shared, apart)


def bend_charge(count: int) -> float:
    """Return what a bend costs among `count` points."""
    return float(BEND_CHARGE * np.log(max(count, 3)))


class _Begun:
    """The straights that may yet be part of the best chain, by the point where each begins, in walking order."""

    def __init__(self, first: Floats, second: Floats, back: float) -> None:
        self._points, self._back = np.vstack([first, second]), back
        self._place = np.empty(first.shape, dtype=int)
        self._rows = np.empty((4, len(first)))  # least score, both coordinates of the first point, furthest from it
        self._count = 0

    @property
    def place(self) -> Whole:
        """The point where each begins."""
        return self._place[: self._count]

    @property
    def least(self) -> Floats:
        """What each scores at the least: what it scored when last measured."""
        return self._rows[0, : self._count]

    def add(self, place: int, least: float) -> None:
        """Begin a straight at a point."""
        self._place[self._count] = place
        self._rows[:, self._count] = least, *self._points[:, place], 0.0
        self._count += 1

    def keep(self, which: Flags) -> None:
        """Drop the others."""
        if not which.all():
            place, rows = self._place[: self._count][which], self._rows[:, : self._count][:, which]
            self._count = len(place)
            self._place[: self._count], self._rows[:, : self._count] = place, rows

    def walk_on(self, last: int) -> None:
        """Let all go on to the point `last`, and drop those that come back: once it has come back, it has for good."""
        if self._back < np.inf:
            _, first, second, reach = self._rows[:, : self._count]
            gone = np.sqrt((first - self._points[0, last]) ** 2 + (second - self._points[1, last]) ** 2)
            onward = gone >= reach - self._back
            np.maximum(reach, gone, out=reach)
            self.keep(onward)

    def best_long(self, scores: Callable[[Whole], Floats], *, likely: int) -> tuple[float, int]:
        """Return the least score of the straights with three points or more, and where that one begins.

        The one `likely` to be best is measured first, then all that may score less.
        """
        long, least = self.place[:-1], self.least[:-1]  # the last begun has two points
        if not len(long):
            return np.inf, -1
        first = min(int(np.searchsorted(long, likely)), len(long) - 1)
        least[first] = scores(long[[first]])[0]
        some = np.flatnonzero(least < least[first])
        if len(some):
            least[some] = scores(long[some])
        best = int(least.argmin())
        return float(least[best]), int(long[best])


class _Moments:
    """Running sums, so that the misfit of any stretch of points costs a few operations."""

    def __init__(self, first: Floats, second: Floats, weight: Floats, misfit: Misfit) -> None:
        middle = (np.average(first, weights=weight), np.average(second, weights=weight))
        along, across = first - middle[0], second - middle[1]
        columns = (
            weight,
            weight * along,
            weight * across,
            weight * along**2,
            weight * along * across,
            weight * across**2,
        )
        self._sums = np.hstack([np.zeros((6, 1)), np.cumsum(np.vstack(columns), axis=1)])
        self._misfit = misfit

    def misfit(self, begin: Whole, last: int) -> Floats:
        """Return the misfit of each straight over the points `begin` to `last`, both included."""
        sums = self._sums[:, last + 1, None] - self._sums[:, begin]
        total, along, across, square_along, cross, square_across = sums
        return self._misfit(
            square_along - along**2 / total, cross - along * across / total, square_across - across**2 / total
        )


def _walk_back(source: Whole, source_long: Whole, shared: Floats, apart: Floats) -> list[Straight]:
    chain: list[Straight] = []
    last, must_be_long = len(source) - 1, False
    while True:
        first = int((source_long if must_be_long else source)[last])
        chain.append(Straight(first, last))
        if first == 0:
            return chain[::-1]
        must_be_long = last - first >= 2 and apart[first] < shared[first]
        last = first - 1 if must_be_long else first

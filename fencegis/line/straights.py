"""The fewest straights that explain noisy points: runs in plan, grades in profile.

Model. Points come in walking order, each the true place plus noise of known size. A chain of straights is scored by
the sum of squared distances of the points from their straight, in units of the noise, plus a charge for each bend; the
chain with the least score is found exactly, by dynamic programming over all places where a straight may end. A bend
stands on a point that both straights use, or, where the caller allows it and both straights have three points,
between two points. Straights that can never again be part of the best chain are dropped on the way (a longer straight
never fits better than its two parts), which keeps the work in proportion to the number of points.

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
    drop = np.divide(cross**2, along, out=np.zeros_like(cross), where=along > 0.0)
    return np.maximum(height - drop, 0.0)


def fewest_straights(
    first: Floats,
    second: Floats,
    *,
    weight: Floats,
    misfit: Misfit,
    between: npt.NDArray[np.bool_],
    charge: float,
    back: float = np.inf,
    through: npt.NDArray[np.bool_] | None = None,
) -> list[Straight]:
    """Return the chain of straights with the least score, in walking order.

    `first`, `second`: (n,) coordinates of the points; `weight`: 1/σ² of each, or sums of such where a point stands for
    several; `between`: (n,) whether a bend may stand between a point and the one before it; `charge`: per bend; `back`:
    a straight may not come back towards its first point by more than this; `through`: (n,) whether a straight may run
    through a point (else it ends there), None for all.
    """
    moments = _Moments(first, second, weight, misfit)
    count = len(first)
    best = np.full(count, np.inf)  # score of the best chain whose last straight ends at this point
    best_long = np.full(count, np.inf)  # the same where that straight has three points or more
    source, source_long = np.full(count, -1), np.full(count, -1)
    shared, apart = np.full(count, np.inf), np.full(count, np.inf)  # score before a straight that begins here
    shared[0] = 0.0
    alive, reach = np.array([0]), np.zeros(1)
    for last in range(1, count):
        if through is not None and not through[last - 1]:
            alive, reach = alive[-1:], reach[-1:]
        if back < np.inf:
            gone = np.hypot(first[last] - first[alive], second[last] - second[alive])
            onward = gone >= reach - back  # once it has come back, it has for good
            alive, reach = alive[onward], np.maximum(reach, gone)[onward]
        fit = moments.misfit(alive, last)
        long_enough = last - alive >= 2
        scores = fit + np.minimum(shared[alive], np.where(long_enough, apart[alive], np.inf))
        best[last], source[last] = _least(scores, alive)
        best_long[last], source_long[last] = _least(np.where(long_enough, scores, np.inf), alive)
        shared[last] = best[last] + charge
        if between[last]:
            apart[last] = best_long[last - 1] + charge
        keep = np.minimum(shared[alive], apart[alive]) + fit <= best[last] + charge + SHARED_POINT
        alive, reach = np.append(alive[keep], last), np.append(reach[keep], 0.0)
    return _walk_back(source, source_long, shared, apart)


def bend_charge(count: int) -> float:
    """Return what a bend costs among `count` points."""
    return float(BEND_CHARGE * np.log(max(count, 3)))


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
        self._sums = np.vstack([np.zeros(6), np.cumsum(np.column_stack(columns), axis=0)])
        self._misfit = misfit

    def misfit(self, begin: npt.NDArray[np.int_], last: int) -> Floats:
        """Return the misfit of each straight over the points `begin` to `last`, both included."""
        total, along, across, square_along, cross, square_across = (self._sums[last + 1] - self._sums[begin]).T
        return self._misfit(
            square_along - along**2 / total, cross - along * across / total, square_across - across**2 / total
        )


def _least(scores: Floats, alive: npt.NDArray[np.int_]) -> tuple[float, int]:
    place = int(np.argmin(scores))
    return float(scores[place]), int(alive[place])


def _walk_back(
    source: npt.NDArray[np.int_], source_long: npt.NDArray[np.int_], shared: Floats, apart: Floats
) -> list[Straight]:
    chain: list[Straight] = []
    last, must_be_long = len(source) - 1, False
    while True:
        first = int((source_long if must_be_long else source)[last])
        chain.append(Straight(first, last))
        if first == 0:
            return chain[::-1]
        must_be_long = last - first >= 2 and apart[first] < shared[first]
        last = first - 1 if must_be_long else first

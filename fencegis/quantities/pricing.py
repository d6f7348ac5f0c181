"""Patterns made as the continuous programme asks for them, and the bound that its dual values prove.

Gilmore and Gomory (Operations Research 9, 1961): the dual values of the programme over the patterns at hand price each
kind; a knapsack finds the pattern worth most. Everything that proves is in whole numbers.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from math import ceil, floor
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt
    from scipy import sparse

    from fencegis.quantities.kinds import Kinds, Parts, Pattern
    from fencegis.quantities.sticks import Yard

    Floats = npt.NDArray[np.float64]
    Whole = npt.NDArray[np.int64]
    Taken = list[tuple[int, npt.NDArray[np.bool_]]]

MOST_ROUNDS = 100
A_ROUND = 20  # patterns made in one round, no kind in two of them
WORTH = 1000  # dual values in thousandths of a unit of cost


def limits(kinds: Kinds, yard: Yard, patterns: Sequence[Pattern]) -> tuple[sparse.csr_array, Whole, Whole]:
    """Return the limits as rows · x ≥ least, those of counted stock negative, and each pattern's cost."""
    from scipy import sparse

    counted = {stock: row for row, stock in enumerate(_counted(yard), start=len(kinds.size))}
    cells = [(kind, place, taken) for place, (_, parts) in enumerate(patterns) for kind, taken in parts]
    cells += [(counted[stock], place, -1) for place, (stock, _) in enumerate(patterns) if stock in counted]
    row, column, value = np.array(cells, dtype=np.int64).reshape(-1, 3).T
    least = [*kinds.wanted, *(-(yard.count[stock] or 0) for stock in counted)]
    rows = sparse.csr_array((value.astype(float), (row, column)), shape=(len(least), len(patterns)))
    return rows, np.array(least), np.array([yard.cost[stock] for stock, _ in patterns])


def made(kinds: Kinds, yard: Yard, patterns: Sequence[Pattern]) -> tuple[list[Pattern], Floats, Whole]:
    """Return the patterns, how often the continuous programme cuts each, and what each kind is worth to it."""
    from scipy import optimize, sparse

    longest = yard.room.index(max(yard.room))
    known = dict.fromkeys([*patterns, *((longest, ((kind, 1),)) for kind in range(len(kinds.size)))])
    dear = float(10 * sum(yard.cost) + 1)  # a piece that is not cut: only while the stock at hand does not suffice
    best, of_best = -1, np.zeros(len(kinds.size), dtype=np.int64)
    while True:
        rows, least, cost = limits(kinds, yard, list(known))
        spare = sparse.eye_array(len(least), len(kinds.size), format="csr")
        found = optimize.linprog(
            np.concatenate([cost, np.full(len(kinds.size), dear)]),
            A_ub=-sparse.hstack([rows, spare], format="csr"),
            b_ub=-least,
        )
        worth = np.maximum(np.floor(-found.ineqlin.marginals * WORTH), 0).astype(np.int64)
        of_kind = worth[: len(kinds.size)]
        bound, new = proven(kinds, yard, of_kind), _wanted(kinds, yard, worth)
        best, of_best = max((best, of_best), (bound, of_kind), key=lambda pair: pair[0])
        fresh = [pattern for pattern in new if pattern not in known]
        done = not fresh or yard.round_up(best) >= found.fun - 1e-6 * yard.step
        if done or len(known) > len(kinds.size) + MOST_ROUNDS * A_ROUND:
            return list(known), found.x[: len(known)], of_best
        known.update(dict.fromkeys(fresh))


def proven(kinds: Kinds, yard: Yard, of_kind: Whole) -> int:
    """Return the cost that these values of each kind, in 1/WORTH of a unit, prove no cutting to be below.

    Scaled so that no pattern of endless stock is worth more than it costs (Farley, Operations Research 38, 1990), every
    cutting costs at least the worth of what is wanted, less what counted stock could save. Any values ≥ 0 will do.
    """
    value = _worth_most(kinds, yard, of_kind)
    scale = _scale(yard, value)
    whole = scale * sum(int(worth) * wanted for worth, wanted in zip(of_kind, kinds.wanted, strict=True))
    for stock in _counted(yard):
        saved = WORTH * yard.cost[stock] - scale * value[stock]
        whole += (yard.count[stock] or 0) * min(Fraction(0), saved)
    return max(0, ceil(whole / WORTH))


def within_cost(kinds: Kinds, yard: Yard, of_kind: Whole) -> Whole:
    """Return the values, made less where some pattern of endless stock is worth more than it costs."""
    scale = min(Fraction(1), _scale(yard, _worth_most(kinds, yard, of_kind)))
    return np.array([floor(scale * int(worth)) for worth in of_kind], dtype=np.int64)


def _worth_most(kinds: Kinds, yard: Yard, of_kind: Whole) -> list[int]:
    best, _ = _knapsack(kinds, kinds.wanted, of_kind, max(yard.room))
    return [int(best[room // kinds.unit]) for room in yard.room]


def _scale(yard: Yard, value: Sequence[int]) -> Fraction:
    endless = [stock for stock, count in enumerate(yard.count) if count is None and value[stock]]
    scale = min([Fraction(WORTH * yard.cost[stock], value[stock]) for stock in endless] or [Fraction(1)])
    return scale if len(endless) == len(yard.room) else min(scale, Fraction(1))


class Values:
    """What kinds are worth, in 1/WORTH of a unit of cost, and how far a pattern may cost more than its worth."""

    def __init__(self, kinds: Kinds, worth: Whole, room: int, spare: int) -> None:
        """Reckon the most that the kinds from each on are worth, in each room up to `room`."""
        self.of_kind, self.spare, self.unit = worth.tolist(), spare, kinds.unit
        best = np.zeros(room // kinds.unit + 1, dtype=np.int64)
        after = [best]
        for kind in range(len(kinds.size) - 1, -1, -1):
            best, step = best.copy(), kinds.size[kind] // kinds.unit
            for _ in range(min(kinds.wanted[kind], room // kinds.size[kind])):
                np.maximum(best[step:], best[:-step] + worth[kind], out=best[step:])
            after.append(best)
        self._from_kind = after[::-1]

    def most(self, kind: int, room: int) -> int:
        """Return the most that pieces from a kind on are worth in a room."""
        return int(self._from_kind[kind][room // self.unit])

    def needed(self, cost: int) -> int:
        """Return the least that a pattern of this cost has to be worth."""
        return WORTH * cost - self.spare


def _wanted(kinds: Kinds, yard: Yard, worth: Whole) -> list[Pattern]:
    """Return patterns worth more than they cost, the one worth most first, no kind in two of them."""
    of_kind, of_count = worth[: len(kinds.size)], dict(zip(_counted(yard), worth[len(kinds.size) :], strict=True))
    left = list(kinds.wanted)
    patterns: list[Pattern] = []
    while len(patterns) < A_ROUND:
        best, taken = _knapsack(kinds, left, of_kind, max(yard.room))
        gains = [
            int(best[room // kinds.unit]) - WORTH * cost - int(of_count.get(stock, 0))
            for stock, (room, cost) in enumerate(zip(yard.room, yard.cost, strict=True))
        ]
        stock = max(range(len(gains)), key=lambda place: gains[place])
        if gains[stock] <= 0:
            break
        parts = _read_back(kinds, taken, yard.room[stock] // kinds.unit)
        patterns.append((stock, parts))
        for kind, _ in parts:
            left[kind] = 0
    return patterns


def _counted(yard: Yard) -> list[int]:
    return [stock for stock, count in enumerate(yard.count) if count is not None]


def _knapsack(kinds: Kinds, left: Sequence[int], of_kind: Whole, room: int) -> tuple[Whole, Taken]:
    """Return the most that pieces in each room up to `room` are worth, and for each piece offered where it is taken."""
    best = np.zeros(room // kinds.unit + 1, dtype=np.int64)
    taken = []
    for kind, size in enumerate(kinds.size):
        step = size // kinds.unit
        for _ in range(min(left[kind], room // size) if of_kind[kind] else 0):
            with_it = best[:-step] + of_kind[kind]
            taken.append((kind, with_it > best[step:]))
            np.maximum(best[step:], with_it, out=best[step:])
    return best, taken


def _read_back(kinds: Kinds, taken: Taken, room: int) -> Parts:
    parts: Counter[int] = Counter()
    for kind, better in reversed(taken):
        step = kinds.size[kind] // kinds.unit
        if room >= step and better[room - step]:
            parts[kind] += 1
            room -= step
    return tuple(sorted(parts.items()))

"""Cuttings made piece by piece, bounds that no cutting can beat, and what can be settled before any search.

Sizes are whole numbers, a piece's length with its kerf; a stick of stock s holds sizes that sum to `yard.room[s]`.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from math import gcd
from typing import TYPE_CHECKING

import numpy as np

from fencegis.quantities.sticks import Stick

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fencegis.quantities.sticks import Yard


def first_fit(sizes: Sequence[int], yard: Yard, *, order: Iterable[int], longest: int | None = None) -> list[Stick]:
    """Return a cutting: each piece, in `order`, out of the first stick begun that still has room for it.

    A new stick is of the longest stock left that is no longer than stock `longest`, else of the longest that holds the
    piece. At last each stick is exchanged for the cheapest stock that holds its pieces. Raises ValueError when the
    stock runs out.
    """
    limit = max(yard.room) if longest is None else yard.room[longest]
    by_length = sorted(range(len(yard.room)), key=lambda stock: (yard.room[stock] > limit, -yard.room[stock]))
    free = np.zeros(64, dtype=np.int64)
    begun: list[tuple[int, list[int]]] = []
    spent = [0] * len(yard.room)
    for piece in order:
        size = sizes[piece]
        stick = int(np.argmax(free[: len(begun)] >= size)) if begun else 0
        if not begun or free[stick] < size:
            stock = next((s for s in by_length if yard.room[s] >= size and yard.left(s, spent)), None)
            if stock is None:
                raise ValueError("the stock runs out")
            stick = len(begun)
            begun.append((stock, []))
            spent[stock] += 1
            free = np.pad(free, (0, len(free))) if stick == len(free) else free
            free[stick] = yard.room[stock]
        begun[stick][1].append(piece)
        free[stick] -= size
    return _exchanged(begun, sizes, yard, spent)


def _exchanged(
    begun: Iterable[tuple[int, list[int]]], sizes: Sequence[int], yard: Yard, spent: list[int]
) -> list[Stick]:
    sticks = []
    for stock, pieces in begun:
        spent[stock] -= 1
        cheapest = yard.cheapest(sum(sizes[piece] for piece in pieces), spent)
        taken = stock if cheapest is None else cheapest
        spent[taken] += 1
        sticks.append(Stick(taken, tuple(sorted(pieces))))
    return sticks


def longest_first(sizes: Sequence[int], pieces: Iterable[int] | None = None) -> list[int]:
    """Return the pieces from the longest to the shortest, those alike as they come."""
    return sorted(range(len(sizes)) if pieces is None else pieces, key=lambda piece: (-sizes[piece], piece))


def first_fit_decreasing(sizes: Sequence[int], yard: Yard) -> list[Stick] | None:
    """Return the best of first-fit-decreasing over each choice of the longest stock; None when stock runs out."""
    found = []
    for stock in range(len(yard.room)):
        try:
            found.append(first_fit(sizes, yard, order=longest_first(sizes), longest=stock))
        except ValueError:
            continue
    return min(found, key=yard.total) if found else None


def fullest_first(sizes: Sequence[int], yard: Yard) -> list[Stick] | None:
    """Return a cutting of one stick after another, each with the longest piece left and the fullest fill beside it.

    Sticks are of the longest stock, then exchanged as in `first_fit`; None when the stock is counted.
    """
    if not yard.endless:
        return None
    longest = yard.room.index(max(yard.room))
    unit = gcd(*sizes)
    pieces = longest_first(sizes)
    lengths = [sizes[piece] // unit for piece in pieces]
    begun = []
    while pieces:
        room = yard.room[longest] // unit - lengths[0]
        chosen = [0, *(1 + place for place in _fullest(lengths[1:], room))]
        begun.append((longest, [pieces[place] for place in chosen]))
        for place in reversed(chosen):
            del pieces[place], lengths[place]
    return _exchanged(begun, sizes, yard, [0] * len(yard.room))


def _fullest(lengths: Sequence[int], room: int) -> list[int]:
    """Return places of descending lengths that fill the room best, the longer ones where there is a choice."""
    first = bisect_left(lengths, -room, key=lambda length: -length)
    reached = [1]  # bit n after each piece: the pieces so far can fill n
    for length in lengths[first:]:
        if reached[-1] >> room & 1:
            break
        reached.append((reached[-1] | reached[-1] << length) & ((2 << room) - 1))
    filled = reached[-1].bit_length() - 1
    chosen = []
    for place in range(len(reached) - 1, 0, -1):
        if not reached[place - 1] >> filled & 1:
            chosen.append(first + place - 1)
            filled -= lengths[first + place - 1]
    return chosen[::-1]


def simple_bound(sizes: Sequence[int], yard: Yard) -> int:
    """Return a cost that no cutting is below: all lengths together at the best cost a metre, and for one stock more.

    For one stock: Martello and Toth's bound L2 (Knapsack Problems, 1990, section 8.3.2), from memory: pieces over half
    a stick want one each, and what the shorter ones need beyond the room beside them wants more.
    """
    if not sizes:
        return 0
    total = sum(sizes)
    bound = min(-(-total * cost // room) for room, cost in zip(yard.room, yard.cost, strict=True) if room > 0)
    if len(yard.room) == 1:
        bound = max(bound, yard.cost[0] * _fewest_sticks(np.sort(np.asarray(sizes, dtype=np.int64)), yard.room[0]))
    return yard.round_up(bound)


def _fewest_sticks(sizes: np.ndarray[tuple[int], np.dtype[np.int64]], room: int) -> int:
    """Return L2 of ascending sizes: the greatest over each shortest size that is looked at."""
    sums = np.concatenate([[0], np.cumsum(sizes)])
    half = int(np.searchsorted(sizes, room / 2.0, side="right"))
    shortest = np.unique(np.concatenate([[0], sizes[:half]]))
    full = np.maximum(np.searchsorted(sizes, room - shortest, side="right"), half)  # from here on nothing fits beside
    beside = (full - half) * room - (sums[full] - sums[half])
    small = sums[half] - sums[np.searchsorted(sizes, shortest, side="left")]
    return int((len(sizes) - half + np.maximum(0, -((beside - small) // room))).max())


def settled(sizes: Sequence[int], yard: Yard) -> tuple[list[Stick], list[int]]:
    """Return sticks that some cheapest cutting has for certain, and the pieces left over.

    A piece beside which nothing fits is alone. Of one stock: when no two pieces fit beside the longest, the longest
    that does fit is as good as any other beside it (Martello and Toth's dominance). Nothing is settled when the stock
    is counted.
    """
    if not yard.endless:
        return [], list(range(len(sizes)))
    pieces = longest_first(sizes)[::-1]  # shortest first
    lengths = [sizes[piece] for piece in pieces]
    sticks = []
    while pieces:
        others = lengths[:-1]
        room = max(yard.room) - lengths[-1]
        if others and len(yard.room) > 1 and others[0] <= room:
            break
        if len(others) > 1 and others[0] + others[1] <= room:
            break
        together = [pieces.pop()]
        filled = lengths.pop()
        beside = bisect_right(lengths, room) - 1
        if beside >= 0:
            together.append(pieces.pop(beside))
            filled += lengths.pop(beside)
        stock = yard.cheapest(filled)
        if stock is None:
            raise ValueError("a piece is longer than any stock")
        sticks.append(Stick(stock, tuple(sorted(together))))
    return sticks, sorted(pieces)

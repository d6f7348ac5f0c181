"""Pieces as kinds: lengths that no stick can tell apart are one, so that hundreds of lengths become a few."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from math import gcd
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.quantities.sticks import Stick, Yard

    Parts = tuple[tuple[int, int], ...]  # kind, and how many
    Pattern = tuple[int, Parts]  # stock, and what a stick of it gives

MOST_BESIDE = 3  # with more pieces than this out of a stick nearly every length can be filled, and none is alike


@dataclass(frozen=True)
class Kinds:
    """The sizes, longest first, how many of each are wanted, and the pieces of each in their order."""

    size: tuple[int, ...]
    pieces: tuple[tuple[int, ...], ...]

    @property
    def wanted(self) -> tuple[int, ...]:
        """How many of each kind."""
        return tuple(len(pieces) for pieces in self.pieces)

    @property
    def unit(self) -> int:
        """The greatest number that every size is a multiple of."""
        return gcd(*self.size)

    def pattern(self, stick: Stick) -> Pattern:
        """Return what a stick gives of each kind."""
        place = {piece: kind for kind, pieces in enumerate(self.pieces) for piece in pieces}
        return stick.stock, tuple(sorted(Counter(place[piece] for piece in stick.pieces).items()))


def kinds_of(sizes: Sequence[int], *, as_size: dict[int, int] | None = None) -> Kinds:
    """Return the pieces by size, or by the size that theirs is taken as."""
    found: dict[int, list[int]] = {}
    for piece, size in enumerate(sizes):
        found.setdefault(size if as_size is None else as_size[size], []).append(piece)
    return Kinds(*zip(*((size, tuple(found[size])) for size in sorted(found, reverse=True)), strict=True))


def alike(sizes: Sequence[int], yard: Yard) -> dict[int, int]:
    """Return for each size the size it may be taken as: longer, yet every stick still holds what it held.

    A size is stretched to the room that is left in the fullest stick it can be in, one size after another, the longest
    first; each sees those already stretched. Where more than `MOST_BESIDE` fit a stick nothing is stretched.
    """
    count = Counter(sizes)
    if min(count) * (MOST_BESIDE + 1) <= max(yard.room):
        return {size: size for size in count}
    order = sorted(count, reverse=True)
    now = dict(zip(order, order, strict=True))
    unit = gcd(*order)
    inside = (2 << max(yard.room) // unit) - 1
    for size in order:
        filled = 1  # bit n: other pieces can fill n units
        for other in order:
            for _ in range(min(count[other], max(yard.room) // other) if other != size else 0):
                filled |= (filled << now[other] // unit) & inside
        now[size] += unit * _slack(filled, size // unit, count[size], [room // unit for room in yard.room])
    return now


def _slack(filled: int, size: int, count: int, rooms: Sequence[int]) -> int:
    """Return by how much each piece of a size can be stretched whatever stands beside it."""
    least = []
    for room in rooms:
        for copies in range(1, min(count, room // size) + 1):
            beside = room - copies * size
            fullest = (filled & ((1 << (beside + 1)) - 1)).bit_length() - 1
            least.append((beside - fullest) // copies)
    return min(least)


def coarser(sizes: Sequence[int], most: int) -> dict[int, int]:
    """Return for each size the longest of its neighbours in length, of which there are at most `most` groups."""
    order = sorted(set(sizes))
    step = max(1, -(-(order[-1] - order[0] + 1) // most))
    longest = {(size - order[0]) // step: size for size in order}
    return {size: longest[(size - order[0]) // step] for size in order}

"""What a cutting is made of: stock, sticks, and lengths as whole tenths of a millimetre, so that sums are exact."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

UNITS = 10_000  # tenths of a millimetre in a metre; ten-thousandths of a unit of money


@dataclass(frozen=True)
class Stock:
    """A length that can be had: as many as wanted unless `count` says how many.

    `price` is what one costs; None counts its metres, and then every stock must do so. `trimmed` is an off-cut of an
    earlier cut, given as what is left of it: both ends are good, nothing more comes off.
    """

    length_m: float
    count: int | None = None
    price: float | None = None
    trimmed: bool = False


@dataclass(frozen=True)
class Stick:
    """One stick: which stock it is of, and which pieces come out of it, in their own order."""

    stock: int
    pieces: tuple[int, ...]


@dataclass(frozen=True)
class Yard:
    """The stock in whole units. A stick of stock s holds pieces whose sizes, each with its kerf, sum to `room[s]`."""

    room: tuple[int, ...]
    cost: tuple[int, ...]
    count: tuple[int | None, ...]

    @property
    def endless(self) -> bool:
        """Whether every stock can be had as often as wanted."""
        return all(count is None for count in self.count)

    @property
    def step(self) -> int:
        """The greatest number that every possible cost is a multiple of."""
        return math.gcd(*self.cost) or 1

    def total(self, sticks: Sequence[Stick]) -> int:
        """Return what the sticks cost."""
        return sum(self.cost[stick.stock] for stick in sticks)

    def round_up(self, bound: int) -> int:
        """Return the least cost that is possible at or above a bound."""
        return -(-bound // self.step) * self.step

    def cheapest(self, filled: int, spent: Sequence[int] = ()) -> int | None:
        """Return the cheapest stock that holds so much and of which some is left; the shorter of two alike."""
        fitting = [
            (self.cost[stock], room, stock)
            for stock, room in enumerate(self.room)
            if room >= filled and self.left(stock, spent)
        ]
        return min(fitting)[2] if fitting else None

    def left(self, stock: int, spent: Sequence[int]) -> bool:
        """Whether any of this stock is left when `spent[stock]` of each are taken."""
        count = self.count[stock]
        return count is None or (spent[stock] if spent else 0) < count


def whole(value: float) -> int:
    """Return metres as tenths of a millimetre (or money as ten-thousandths), to the nearest."""
    return round(value * UNITS)


def yard_of(stocks: Sequence[Stock], *, kerf_m: float, trim_m: float) -> Yard:
    """Return the stock in whole units.

    Pieces side by side need a kerf between each two, one fewer than pieces: a piece's size is its length and a kerf,
    and a stick's room is its length without both trims, and a kerf.
    """
    if len({stock.price is None for stock in stocks}) > 1:
        raise ValueError("either every stock has a price or none has")
    bare = [whole(stock.length_m) - (0 if stock.trimmed else 2 * whole(trim_m)) for stock in stocks]
    costs = [whole(stock.length_m if stock.price is None else stock.price) for stock in stocks]
    return Yard(
        tuple(max(0, room + whole(kerf_m)) for room in bare), tuple(costs), tuple(stock.count for stock in stocks)
    )

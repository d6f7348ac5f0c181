"""The cheapest way to cut pieces out of stock, proven where it can be: what comes out of which stick.

First what needs no search (a bound that first-fit meets), then what some cheapest cutting has for certain, then the
integer programme of `patterns` over the rest. The result is never dearer than first-fit-decreasing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.quantities.first_fit import first_fit, first_fit_decreasing, fullest_first, settled, simple_bound
from fencegis.quantities.patterns import by_patterns
from fencegis.quantities.sticks import UNITS, Stick, Stock, whole, yard_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.quantities.sticks import Yard

USABLE_M = 0.6  # an off-cut this long is worth keeping: common practice


@dataclass(frozen=True)
class Cutting:
    """A cutting: sticks by the first piece out of each, pieces in their given order.

    `cost` is of the stock taken, in metres or in money as the stock was given; `bound` is what no cutting is below,
    `first_fit` what first-fit-decreasing takes, None where it runs out of stock. `left_m` is what is left of each stick
    for another piece, the saw's kerf and the trims already off.
    """

    sticks: tuple[Stick, ...]
    left_m: tuple[float, ...]
    cost: float
    bound: float
    first_fit: float | None

    @property
    def proven(self) -> bool:
        """Whether nothing is cheaper."""
        return self.cost <= self.bound

    def off_cuts(self, least_m: float = USABLE_M) -> list[Stock]:
        """Return what is left, from `least_m` on, as stock for the next cut, which costs nothing; the longest first."""
        kept = sorted((left for left in self.left_m if left >= least_m), reverse=True)
        return [Stock(left, count=1, trimmed=True, price=0.0) for left in kept]


def cut(pieces_m: Sequence[float], *, stocks: Sequence[Stock], kerf_m: float, trim_m: float) -> Cutting:
    """Return which pieces (lengths in metres, in walking order) come out of which stick.

    `trim_m` comes off each end of a stick, `kerf_m` goes between two pieces; lengths are taken to the nearest tenth of
    a millimetre. Raises ValueError when a piece is longer than any stock, when the stock at hand gives no cutting, or
    for a length that is not above 0.
    """
    yard = yard_of(stocks, kerf_m=kerf_m, trim_m=trim_m)
    sizes = [whole(piece) + whole(kerf_m) for piece in pieces_m]
    if any(whole(piece) <= 0 for piece in pieces_m):
        raise ValueError("a piece has no length")
    if sizes and (not stocks or max(sizes) > max(yard.room)):
        raise ValueError("a piece is longer than any stock")
    decreasing = first_fit_decreasing(sizes, yard) if sizes else []
    sticks, bound = _cheapest(sizes, yard, decreasing) if sizes else ([], 0)
    sticks = sorted(sticks, key=lambda stick: stick.pieces)
    free = [yard.room[stick.stock] - sum(sizes[piece] for piece in stick.pieces) - whole(kerf_m) for stick in sticks]
    return Cutting(
        tuple(sticks),
        left_m=tuple(max(0, units) / UNITS for units in free),
        cost=yard.total(sticks) / UNITS,
        bound=bound / UNITS,
        first_fit=None if decreasing is None else yard.total(decreasing) / UNITS,
    )


def _cheapest(sizes: Sequence[int], yard: Yard, decreasing: list[Stick] | None) -> tuple[list[Stick], int]:
    """Return the cheapest cutting found and the greatest bound.

    First-fit in walking order comes first: where it is as cheap, pieces of one stick stand near one another.
    """
    known = [sticks for sticks in (_walking(sizes, yard), decreasing) if sticks is not None]
    certain, rest = settled(sizes, yard)
    bound = yard.total(certain) + simple_bound([sizes[piece] for piece in rest], yard)
    if rest and not any(yard.total(sticks) <= bound for sticks in known):
        found, least = _searched(sizes, yard, rest)
        bound = max(bound, yard.total(certain) + least)
        known += [[*certain, *found]] if found is not None else []
    elif not rest:
        known.append(certain)
    if not known:
        raise ValueError("the stock at hand gives no cutting")
    return min(known, key=yard.total), bound


def _walking(sizes: Sequence[int], yard: Yard) -> list[Stick] | None:
    try:
        return first_fit(sizes, yard, order=range(len(sizes)))
    except ValueError:
        return None


def _searched(sizes: Sequence[int], yard: Yard, rest: Sequence[int]) -> tuple[list[Stick] | None, int]:
    """Return the cheapest cutting of the rest and its bound, by first-fit-decreasing where that meets the bound."""
    own = [sizes[piece] for piece in rest]
    ways = [way for way in (first_fit_decreasing(own, yard), fullest_first(own, yard)) if way is not None]
    found = min(ways, key=yard.total, default=None)
    bound = simple_bound(own, yard)
    if found is None or yard.total(found) > bound:
        chosen, least = by_patterns(own, yard, found or [])
        bound = max(bound, least)
        found = min((sticks for sticks in (found, chosen) if sticks is not None), key=yard.total, default=None)
    if found is None:
        return None, bound
    return [Stick(stick.stock, tuple(rest[piece] for piece in stick.pieces)) for stick in found], bound

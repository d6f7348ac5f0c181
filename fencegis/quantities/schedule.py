"""The order of the work, and which piece of it falls on which day.

The order is the trade's, a fixed rule: activities in the catalogue's order; those that are done together go place by
place or stretch by stretch along the line. That order is a choice, not proved best. For it the days are as few as they
can be when no piece is split: each day takes what still fits, and no other cut of the same row of pieces is ahead of
that on any day. A piece longer than a whole day goes on over days.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Whole = npt.NDArray[np.int_]

A_SECOND_H = 1.0 / 3600.0


@dataclass(frozen=True, eq=False)
class Filled:
    """Parts of pieces by day, (n,) each, in the order of the work: piece, its day (0 first), hours, share of it."""

    piece: Whole
    day: Whole
    hours_h: Floats
    share: Floats


@cache
def stages() -> dict[str, tuple[int, int]]:
    """Return for each activity its stage and its rank: a stage is done along the whole site before the next begins.

    Activities that the catalogue has done `together` are one stage.
    """
    together: dict[str, int] = {}
    found: dict[str, tuple[int, int]] = {}
    for row in rows("activities"):
        stage = together.setdefault(row["together"] or row["activity"], len(together))
        found.setdefault(row["activity"], (stage, len(found)))
    return found


def in_order(stage: Floats, *, line: Whole, place_m: Floats, rank: Whole, from_m: Floats) -> Whole:
    """Return the order in which pieces (n,) are done: by stage, line, place, rank in the stage, and chainage."""
    return np.lexsort(np.stack([from_m, rank, place_m, line, stage]))


def fill(hours_h: npt.ArrayLike, *, room_h: Callable[[int], float]) -> Filled:
    """Return the pieces (n,), in their order, by day; `room_h` says how many hours of work a day has, 0 the first.

    Raises ValueError for a day without room. No piece is split that fits a day of its own.
    """
    left = np.array(hours_h, dtype=float)
    whole, begun = left.copy(), np.concatenate([[0.0], np.cumsum(left)])
    parts: list[tuple[Whole, Floats, int]] = []
    first, day = 0, 0
    while first < len(left):
        room = room_h(day)
        if not room > 0.0:
            raise ValueError(f"day {day + 1} has no room for work")
        done = whole[first] - left[first]  # of a piece that goes on from the day before
        end = int(np.searchsorted(begun, begun[first] + done + room + A_SECOND_H, side="right")) - 1
        hours = left[first:end].copy()
        pieces = np.arange(first, end)
        first = max(end, first)
        if first < len(left) and whole[first] > room + A_SECOND_H and (over := room - float(hours.sum())) > A_SECOND_H:
            pieces, hours = np.append(pieces, first), np.append(hours, over)
            left[first] -= over
        parts.append((pieces, hours, day))
        day += 1
    return _filled(parts, whole)


def _filled(parts: list[tuple[Whole, Floats, int]], whole: Floats) -> Filled:
    if not parts:
        nothing = np.zeros(0)
        return Filled(nothing.astype(int), nothing.astype(int), nothing, nothing)
    piece = np.concatenate([pieces for pieces, _, _ in parts])
    hours = np.concatenate([hours for _, hours, _ in parts])
    day = np.repeat([day for _, _, day in parts], [len(pieces) for pieces, _, _ in parts])
    share = np.divide(hours, whole[piece], out=np.ones_like(hours), where=whole[piece] > 0.0)
    return Filled(piece, day, hours, share)

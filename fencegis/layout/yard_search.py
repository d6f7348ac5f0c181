"""Every order of a few sticks looked at, the best kept: a proof, where it comes to its end."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.yard_places import EQUAL_MM, NONE, steps_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fencegis.layout.yard_places import Whole, Yard

NODES = 200_000  # that are looked at before it gives up


def search_all(yard: Yard, stick: Whole, after: Whole) -> tuple[Whole, bool]:
    """Return the best of all orders that fill the same places, and whether all were looked at.

    Least sum, then least worst step; branches that cannot beat the best so far are cut off.
    """
    search = _Search(yard, stick, after)
    for _ in search.branch(0, 0.0, 0.0):
        if search.looked_at > NODES:
            return search.best, False
    return search.best, True


class _Search:
    """Places filled one after another, each with every stick that fits."""

    def __init__(self, yard: Yard, stick: Whole, after: Whole) -> None:
        self.yard, self.best, self.looked_at = yard, stick.copy(), 0
        self.least = steps_of(yard, stick)
        self.order = np.flatnonzero((stick != NONE) & (yard.settled == NONE)).tolist()
        self.now = yard.settled.copy()
        self.left = set(yard.free_sticks.tolist())
        rank = {place: number for number, place in enumerate(self.order)}
        links = [(one, int(after[one])) for one in np.flatnonzero(after != NONE).tolist()]
        self.closes: list[list[tuple[int, int]]] = [[] for _ in range(len(self.order) + 1)]
        for link in links:  # a step is known once its later end is filled
            self.closes[max(rank.get(end, NONE) for end in link) + 1].append(link)

    def branch(self, filled: int, total: float, worst: float) -> Iterator[None]:
        """Fill the place after the first `filled`, and all after it, every way; yields once for each try."""
        self.looked_at += 1
        yield
        for one, two in self.closes[filled]:
            step = abs(self._face(one) - self._face(two))
            total, worst = total + step, max(worst, step)
        least, least_worst = self.least
        if total > least + EQUAL_MM or (total > least - EQUAL_MM and worst > least_worst - EQUAL_MM):
            return
        if filled == len(self.order):
            self.best, self.least = self.now.copy(), (total, worst)
            return
        place = self.order[filled]
        for stick in self._tries(place):
            self.now[place] = stick
            self.left.remove(stick)
            yield from self.branch(filled + 1, total, worst)
            self.left.add(stick)
        self.now[place] = NONE

    def _face(self, place: int) -> float:
        return float(self.yard.face_mm[place, self.now[place]])

    def _tries(self, place: int) -> list[int]:
        """Return the sticks that fit, of those that are alike everywhere only the first; the likeliest first."""
        alike: dict[bytes, int] = {}
        for stick in sorted(self.left):
            if self.yard.fits[place, stick]:
                kind = self.yard.face_mm[:, stick].tobytes() + self.yard.fits[:, stick].tobytes()
                alike.setdefault(kind, stick)
        return list(alike.values())

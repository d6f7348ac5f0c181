"""An order of sticks bettered step by step, never worsened: swaps of two, and every other post shared out anew."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.yard_places import EQUAL_MM, NONE, faces, neighbours

if TYPE_CHECKING:
    from fencegis.layout.yard_places import Floats, Whole, Yard

GREAT = 1e-10  # weight of steps to the fourth power: among orders of equal sum the one without a great step
FORBIDDEN = 1e9
ROUNDS = 8
WORK = 2e6  # rounds times places squared, where that allows fewer: some seconds for two thousand posts
LOOKS = 12  # at each place, on the average, before the swaps of a round come to an end
GAIN_MM = EQUAL_MM / 100.0


def step_cost(step_mm: Floats, great: float = GREAT) -> Floats:
    """Return what steps cost, more than their size where they are great; a missing neighbour costs nothing."""
    size = np.abs(step_mm)
    return np.where(np.isnan(size), 0.0, size + great * size**4)


def cost_of(yard: Yard, stick: Whole, *, great: float = GREAT) -> float:
    """Return what all steps of an order cost, and all sticks that are not where a plan had them."""
    _, after = neighbours(yard, stick != NONE)
    face, one = faces(yard, stick), np.flatnonzero(after != NONE)
    moved = yard.moved_mm(np.arange(len(stick)), stick)
    return float(step_cost(face[one] - face[after[one]], great).sum() + moved.sum())


def bettered(yard: Yard, stick: Whole, *, great: float = GREAT) -> Whole:
    """Return the sticks (n,) with neighbours more alike; settled ones stay, the same places are filled.

    `great` is the weight of great steps: with more of it the worst step gets less, at some cost of the sum.
    Posts no two of which are neighbours can be shared out anew among themselves and the spares exactly, as an
    assignment, for what stands beside each does not move: every second and every third post in turn.
    """
    order, least = stick.copy(), cost_of(yard, stick, great=great)
    for _ in range(int(np.clip(WORK / max(1, len(stick)) ** 2, 1, ROUNDS))):
        order = _swapped(yard, order, great)
        for apart, first in ((2, 0), (2, 1), (3, 0), (3, 1), (3, 2)):
            order = _shared_anew(yard, order, apart, first, great)
        cost = cost_of(yard, order, great=great)
        if cost > least - EQUAL_MM:
            break
        least = cost
    return order


def _shared_anew(yard: Yard, stick: Whole, apart: int, first: int, great: float) -> Whole:
    """Return the sticks with every `apart`-th free post of each line, from its `first`, shared out anew."""
    before, after = neighbours(yard, stick != NONE)
    rank = np.zeros(len(stick), dtype=int)
    for number in range(len(yard.closed)):
        here = np.flatnonzero((yard.chain == number) & (stick != NONE))
        rank[here] = np.arange(len(here))
    chosen = (stick != NONE) & (rank % apart == first)
    chosen &= ~((rank > 0) & (after != NONE) & (after < np.arange(len(stick))))  # a loop's last stands beside its first
    places = np.flatnonzero(chosen & (yard.settled == NONE))
    if len(places) < 2:
        return stick
    from scipy.optimize import linear_sum_assignment

    pool = np.concatenate([stick[places], np.setdiff1d(yard.free_sticks, stick)])
    face = np.append(faces(yard, stick), np.nan)
    would = yard.face_mm[np.ix_(places, pool)]
    cost = _beside(would, face[before[places]][:, None], face[after[places]][:, None], great)
    cost += yard.moved_mm(places[:, None], pool)
    cost[~yard.fits[np.ix_(places, pool)]] = FORBIDDEN
    row, column = linear_sum_assignment(cost)
    if cost[row, column].sum() > np.trace(cost[:, : len(places)]) - GAIN_MM:
        return stick
    anew = stick.copy()
    anew[places[row]] = pool[column]
    return anew


def _swapped(yard: Yard, stick: Whole, great: float) -> Whole:
    """Return the sticks bettered by swaps, of two places or of a place and a spare, until none betters them."""
    swaps = _Swaps(yard, stick, great)
    waiting = deque(swaps.free.tolist())
    inside = set(waiting)
    for _ in range(LOOKS * len(waiting)):
        if not waiting:
            break
        place = waiting.popleft()
        inside.discard(place)
        for moved in swaps.best_at(place):
            if moved not in inside:
                inside.add(moved)
                waiting.append(moved)
    return swaps.stick


class _Swaps:
    """An order in the making."""

    def __init__(self, yard: Yard, stick: Whole, great: float) -> None:
        self.yard, self.stick, self.great = yard, stick.copy(), great
        self.before, self.after = neighbours(yard, stick != NONE)
        self.face = np.append(faces(yard, stick), np.nan)  # place -1 has no face
        self.free = np.flatnonzero((stick != NONE) & (yard.settled == NONE))
        self.spare = np.setdiff1d(yard.free_sticks, stick)

    def best_at(self, place: int) -> list[int]:
        """Make the best swap of the stick at a place, and return the free places whose steps have changed."""
        gain, other = self._of_places(place)
        gain_spare, spare = self._of_spares(place)
        if min(gain, gain_spare) > -GAIN_MM:
            return []
        moved = [place]
        mine = self.stick[place]
        if gain <= gain_spare:
            self._put(place, int(self.stick[other]))
            self._put(other, int(mine))
            moved.append(other)
        else:
            self._put(place, int(self.spare[spare]))
            self.spare[spare] = mine
        around = {int(side[one]) for one in moved for side in (self.before, self.after)} | set(moved)
        return sorted(one for one in around if one != NONE and self.yard.settled[one] == NONE)

    def _put(self, place: int, stick: int) -> None:
        self.stick[place], self.face[place] = stick, self.yard.face_mm[place, stick]

    def _beside(self, face_mm: Floats, before_mm: Floats, after_mm: Floats) -> Floats:
        return _beside(face_mm, before_mm, after_mm, self.great)

    def _of_places(self, place: int) -> tuple[float, int]:
        """Return the least change of cost from a swap with another place, and that place."""
        yard, free, face = self.yard, self.free, self.face
        before, after, own = self.before[free], self.after[free], self.stick[free]
        there, here = yard.face_mm[free, self.stick[place]], yard.face_mm[place, own]
        mine = [np.where(side[place] == free, there, face[side[place]]) for side in (self.before, self.after)]
        theirs = [np.where(side == place, here, face[side]) for side in (before, after)]
        gain = self._beside(here, *mine) + self._beside(there, *theirs)
        gain -= self._beside(face[free], face[before], face[after])
        gain -= self._beside(face[place], face[self.before[place]], face[self.after[place]])
        moved, mine_now = yard.moved_mm, self.stick[place]
        gain += moved(place, own) + moved(free, mine_now) - moved(free, own) - moved(place, mine_now)
        gain[~(yard.fits[place, own] & yard.fits[free, self.stick[place]]) | (free == place)] = 0.0
        best = int(gain.argmin())
        return float(gain[best]), int(free[best])

    def _of_spares(self, place: int) -> tuple[float, int]:
        """Return the least change of cost from a swap with a spare, and which spare."""
        if not len(self.spare):
            return 0.0, NONE
        ends = self.face[self.before[place]], self.face[self.after[place]]
        gain = self._beside(self.yard.face_mm[place, self.spare], *ends) - self._beside(self.face[place], *ends)
        gain += self.yard.moved_mm(place, self.spare) - self.yard.moved_mm(place, self.stick[place])
        gain[~self.yard.fits[place, self.spare]] = 0.0
        best = int(gain.argmin())
        return float(gain[best]), best


def _beside(face_mm: Floats, before_mm: Floats, after_mm: Floats, great: float) -> Floats:
    return np.asarray(step_cost(face_mm - before_mm, great) + step_cost(face_mm - after_mm, great))

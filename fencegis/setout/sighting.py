"""Sighting pegs: the fewest on a straight run of which every two neighbours see each other over the ground.

From the eye at one peg the pole at the other shows where the line of sight passes over all the ground between, grass
included; both ways. Sight runs over heights as they were looked up, straight in between: no tree, crop or shed in it.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.records.spec import Sight

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]
    Places = npt.NDArray[np.int_]

MOST_PLACES = 400  # where a peg may stand in one run; a longer run offers the highest place of each of so many parts
MINUTE_RAD = math.radians(1.0 / 60.0)  # what an eye tells apart
A_HAIR = 1e-12


def eye_mm(distance_m: npt.ArrayLike) -> Floats:
    """Return by how much an eye mistakes a mark at this distance: one minute of arc, 29 mm at 100 m."""
    return np.asarray(1000.0 * np.tan(MINUTE_RAD) * np.asarray(distance_m, dtype=float))


def out_of_plumb_mm(height_m: float, *, lean_deg: float = 1.0) -> float:
    """Return how far a leaning pole stands off at this height above its foot: 35 mm at 2 m for one degree."""
    return 1000.0 * height_m * math.tan(math.radians(lean_deg))


def seen_from(station_m: Floats, ground_m: Floats, place: int, *, sight: Sight) -> Flags:
    """Return which of the stations after `place`, (n − place − 1,), see it and are seen from it.

    `ground_m` (n,), all known, at `station_m` (n,), rising. Slopes of sight lines against the steepest before them.
    """
    away = station_m[place + 1 :] - station_m[place]
    rise = ground_m[place + 1 :] - ground_m[place]
    out = _over(away, rise, sight.eye_m, sight.pole_m, sight.clear_m)
    return out & _over(away, rise, sight.pole_m, sight.eye_m, sight.clear_m)


def _over(away: Floats, rise: Floats, here_m: float, there_m: float, clear_m: float) -> Flags:
    """Return which places a straight line reaches, from `here_m` over this place to `there_m` over that one."""
    ground = (rise + (clear_m - here_m)) / away
    steepest = np.maximum.accumulate(ground)
    before = np.concatenate([[-np.inf], steepest[:-1]])
    return np.asarray((rise + (there_m - here_m)) / away >= before - A_HAIR)


def lowest_seen_m(station_m: Floats, ground_m: Floats, place: int, other: int, *, sight: Sight) -> float:
    """Return the lowest point of a pole at `other` that the eye at `place` sees, in m above its foot, at least 0."""
    step = 1 if other > place else -1
    between = np.arange(place + step, other, step)
    if not len(between):
        return 0.0
    eye = ground_m[place] + sight.eye_m
    slope = ((ground_m[between] + sight.clear_m - eye) / np.abs(station_m[between] - station_m[place])).max()
    return float(max(0.0, eye + slope * abs(station_m[other] - station_m[place]) - ground_m[other]))


def fewest_pegs(station_m: Floats, ground_m: Floats, *, sight: Sight) -> Places:
    """Return the places of pegs, both ends included: the fewest of which every two neighbours see each other.

    Exact over the places where one may stand: every station, or in a run of more than
    `MOST_PLACES` the highest of each part. Among chains of as few, the one of evenest sights (least sum of squares).
    """
    may_stand = standing_places(ground_m)
    chain = _chain(station_m, ground_m, may_stand, sight)
    if chain is None:  # places too far apart: next to each other stations always see each other
        chain = _chain(station_m, ground_m, np.arange(len(station_m)), sight)
    if chain is None:
        raise ValueError("ground must be known at every station")
    return chain


def standing_places(ground_m: Floats) -> Places:
    """Return the stations where a peg may stand: all, or in a long run the highest of each part, and both ends."""
    count = len(ground_m)
    if count <= MOST_PLACES:
        return np.arange(count)
    edges = np.linspace(0, count, MOST_PLACES - 1).astype(int)
    highest = [begin + int(ground_m[begin:end].argmax()) for begin, end in pairwise(edges)]
    return np.unique([0, *highest, count - 1])


class _Front:
    """Places that so many sights reach from one end, and the evenest chain to each; walked from that end."""

    def __init__(self, station_m: Floats, ground_m: Floats, may_stand: Places, sight: Sight) -> None:
        self.station_m, self.ground_m, self.may_stand, self.sight = station_m, ground_m, may_stand, sight
        self.sights = 0
        self.square = np.full(len(may_stand), np.inf)  # of the sights of the best chain to each place, summed
        self.before = np.full(len(may_stand), -1)
        self.newest: Places = np.array([0])
        self.square[0] = 0.0

    def go_on(self) -> None:
        """Add the places that one more sight reaches."""
        known = np.isfinite(self.square)
        reached = np.full(len(known), np.inf)
        for place in self.newest:
            at, later = int(self.may_stand[place]), self.may_stand[place + 1 :]
            seen = seen_from(self.station_m, self.ground_m, at, sight=self.sight)[later - at - 1]
            place_seen = place + 1 + np.flatnonzero(seen & ~known[place + 1 :])
            square = self.square[place] + (self.station_m[self.may_stand[place_seen]] - self.station_m[at]) ** 2
            better = square < reached[place_seen]
            reached[place_seen[better]] = square[better]
            self.before[place_seen[better]] = place
        self.newest = np.flatnonzero(np.isfinite(reached))
        self.square[self.newest] = reached[self.newest]
        self.sights += 1

    def back_from(self, place: int) -> list[int]:
        """Return the chain to a place, the place first."""
        chain = [place]
        while chain[-1]:
            chain.append(int(self.before[chain[-1]]))
        return chain


def _chain(station_m: Floats, ground_m: Floats, may_stand: Places, sight: Sight) -> Places | None:
    """Return the best chain through `may_stand`, None when there is none.

    From both ends at once, the narrower front a sight further each time, until they meet: then no chain has fewer.
    """
    count = len(may_stand)
    ahead = _Front(station_m, ground_m, may_stand, sight)
    back = _Front(station_m[-1] - station_m[::-1], ground_m[::-1], (len(station_m) - 1 - may_stand)[::-1], sight)
    while True:
        newest = count - 1 - back.newest
        both = np.intersect1d(ahead.newest, newest)
        if len(both):
            break
        front = ahead if len(ahead.newest) <= len(back.newest) else back
        front.go_on()
        if not len(front.newest):
            return None
    meet = int(both[np.argmin(ahead.square[both] + back.square[count - 1 - both])])
    onward = [count - 1 - place for place in back.back_from(count - 1 - meet)]
    return may_stand[[*ahead.back_from(meet)[::-1], *onward[1:]]]


def second_pole(station_m: Floats, ground_m: Floats, chain: Places, *, sight: Sight) -> int | None:
    """Return the place of a second pole for one peg between two ends, None where there is no room for one.

    To line a peg P in between A and B that do not see each other, two poles are moved in turn: Q, beyond P and seen
    from A too, is brought into line with P and A, then P into line with Q and B, until neither moves. It stands as far
    from P as it may; beyond P, or else on A's side and seen from B.
    """
    begin, peg, end = (int(place) for place in chain)
    seen = begin + 1 + np.flatnonzero(seen_from(station_m, ground_m, begin, sight=sight))
    beyond = seen[(seen > peg) & (seen < end)]
    if len(beyond):
        return int(beyond[-1])
    back = station_m[-1] - station_m[::-1]  # the same ground walked from the other end
    seen = (
        len(back)
        - 1
        - (len(back) - end + np.flatnonzero(seen_from(back, ground_m[::-1], len(back) - 1 - end, sight=sight)))
    )
    short = seen[(seen > begin) & (seen < peg)]
    return int(short.min()) if len(short) else None

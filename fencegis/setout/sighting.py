"""Sighting pegs: the fewest on a straight run of which every two neighbours see each other over the ground.

From the eye at one peg the pole at the other shows where the line of sight passes over all the ground between, grass
included; both ways. Sight runs over heights as they were looked up, straight in between. Canopy, where it is given, is
taken for leaves from the ground up: a line of sight passes over it, never under, and nobody sights from within it. No
crop or shed is looked at.
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


def seen_from(
    station_m: Floats, ground_m: Floats, place: int, *, sight: Sight, canopy_m: Floats | None = None
) -> Flags:
    """Return which of the stations after `place`, (n − place − 1,), see it and are seen from it.

    `ground_m` (n,), all known, at `station_m` (n,), rising; `canopy_m` (n,) stands above the ground, infinite where its
    height is unknown, NaN where there may be none. Slopes of sight lines against the steepest before them.
    """
    away = station_m[place + 1 :] - station_m[place]
    rise = ground_m[place + 1 :] - ground_m[place]
    over = _to_clear_m(ground_m, canopy_m, sight)[place + 1 :]
    open_here = _open(ground_m, canopy_m, sight)
    out = _over(away, rise, over, sight.eye_m, sight.pole_m) & open_here[place + 1 :] & open_here[place]
    return np.asarray(out & _over(away, rise, over, sight.pole_m, sight.eye_m))


def _to_clear_m(ground_m: Floats, canopy_m: Floats | None, sight: Sight) -> Floats:
    """Return how far above the ground of each station a line of sight has to pass: over grass, or over canopy."""
    grass_m = np.full(len(ground_m), sight.clear_m)
    return grass_m if canopy_m is None else np.fmax(grass_m, canopy_m)


def _open(ground_m: Floats, canopy_m: Floats | None, sight: Sight) -> Flags:
    """Return at which stations an eye and a pole stand out of the canopy."""
    if canopy_m is None:
        return np.ones(len(ground_m), dtype=bool)
    return np.asarray(~(canopy_m >= min(sight.eye_m, sight.pole_m)))


def _over(away: Floats, rise: Floats, over: Floats, here_m: float, there_m: float) -> Flags:
    """Return which places a straight line reaches, from `here_m` over this place to `there_m` over that one.

    Between them it passes `over` metres above the ground, (n,) as `away`.
    """
    ground = (rise + (over - here_m)) / away
    steepest = np.maximum.accumulate(ground)
    before = np.concatenate([[-np.inf], steepest[:-1]])
    return np.asarray((rise + (there_m - here_m)) / away >= before - A_HAIR)


def lowest_seen_m(
    station_m: Floats, ground_m: Floats, place: int, other: int, *, sight: Sight, canopy_m: Floats | None = None
) -> float:
    """Return the lowest point of a pole at `other` that the eye at `place` sees, in m above its foot, at least 0."""
    step = 1 if other > place else -1
    between = np.arange(place + step, other, step)
    if not len(between):
        return 0.0
    eye = ground_m[place] + sight.eye_m
    top = ground_m[between] + _to_clear_m(ground_m, canopy_m, sight)[between]
    slope = ((top - eye) / np.abs(station_m[between] - station_m[place])).max()
    return float(max(0.0, eye + slope * abs(station_m[other] - station_m[place]) - ground_m[other]))


def peg_chains(
    station_m: Floats, ground_m: Floats, *, sight: Sight, canopy_m: Floats | None = None
) -> tuple[Places, ...]:
    """Return the places of pegs in chains: in each the fewest of which every two neighbours see each other.

    Without canopy there is one chain, from end to end. Canopy that no sight passes over parts one chain from the
    next: each reaches as far as any chain can, and the next begins where one may stand again.
    """
    openings = np.flatnonzero(_open(ground_m, canopy_m, sight))
    chains: list[Places] = []
    begin = 0
    while begin < len(openings):
        first = int(openings[begin])
        rest = None if canopy_m is None else canopy_m[first:]
        reached = first + _furthest(station_m[first:], ground_m[first:], openings[begin:] - first, sight, rest)
        part = slice(first, reached + 1)
        inside = None if canopy_m is None else canopy_m[part]
        chains.append(first + fewest_pegs(station_m[part], ground_m[part], sight=sight, canopy_m=inside))
        begin = int(np.searchsorted(openings, reached, side="right"))
    return tuple(chains)


def _furthest(station_m: Floats, ground_m: Floats, may_stand: Places, sight: Sight, canopy_m: Floats | None) -> int:
    """Return the last place that a chain from the first reaches."""
    if len(may_stand) == 1 or may_stand[-1] == len(may_stand) - 1:  # nothing shut in between: neighbours see each other
        return int(may_stand[-1])
    front = _Front(station_m, ground_m, may_stand, sight, canopy_m)
    while len(front.newest) and not np.isfinite(front.square[-1]):
        front.go_on()
    return int(may_stand[np.flatnonzero(np.isfinite(front.square))[-1]])


def fewest_pegs(station_m: Floats, ground_m: Floats, *, sight: Sight, canopy_m: Floats | None = None) -> Places:
    """Return the places of pegs, both ends included: the fewest of which every two neighbours see each other.

    Exact over the places where one may stand: every station out of canopy, or in a run of more than
    `MOST_PLACES` the highest of each part. Among chains of as few, the one of evenest sights (least sum of squares).
    Raises ValueError where no chain joins the ends, which canopy alone can bring about (see `peg_chains`).
    """
    chain = _chain(station_m, ground_m, standing_places(ground_m, _open(ground_m, canopy_m, sight)), sight, canopy_m)
    if chain is None:  # places too far apart: next to each other stations always see each other
        chain = _chain(station_m, ground_m, np.arange(len(station_m)), sight, canopy_m)
    if chain is None:
        raise ValueError("ground must be known at every station, and canopy must not part the ends")
    return chain


def standing_places(ground_m: Floats, out_of_canopy: Flags | None = None) -> Places:
    """Return the stations where a peg may stand: all, or in a long run the highest of each part, and both ends.

    With `out_of_canopy` (n,) only those where it holds, and both ends.
    """
    count = len(ground_m)
    level = ground_m if out_of_canopy is None else np.where(out_of_canopy, ground_m, -np.inf)
    if count <= MOST_PLACES:
        inner = np.flatnonzero(level > -np.inf)
    else:
        edges = np.linspace(0, count, MOST_PLACES - 1).astype(int)
        highest = np.array([begin + int(level[begin:end].argmax()) for begin, end in pairwise(edges)])
        inner = highest[level[highest] > -np.inf]
    return np.unique([0, *inner, count - 1])


class _Front:
    """Places that so many sights reach from one end, and the evenest chain to each; walked from that end."""

    def __init__(
        self, station_m: Floats, ground_m: Floats, may_stand: Places, sight: Sight, canopy_m: Floats | None
    ) -> None:
        self.station_m, self.ground_m, self.canopy_m = station_m, ground_m, canopy_m
        self.may_stand, self.sight = may_stand, sight
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
            everywhere = seen_from(self.station_m, self.ground_m, at, sight=self.sight, canopy_m=self.canopy_m)
            seen = everywhere[later - at - 1]
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


def _chain(
    station_m: Floats, ground_m: Floats, may_stand: Places, sight: Sight, canopy_m: Floats | None
) -> Places | None:
    """Return the best chain through `may_stand`, None when there is none.

    From both ends at once, the narrower front a sight further each time, until they meet: then no chain has fewer.
    """
    count = len(may_stand)
    ahead = _Front(station_m, ground_m, may_stand, sight, canopy_m)
    back = _Front(
        station_m[-1] - station_m[::-1],
        ground_m[::-1],
        (len(station_m) - 1 - may_stand)[::-1],
        sight,
        _turned(canopy_m),
    )
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


def _turned(canopy_m: Floats | None) -> Floats | None:
    return None if canopy_m is None else canopy_m[::-1]


def second_pole(
    station_m: Floats, ground_m: Floats, chain: Places, *, sight: Sight, canopy_m: Floats | None = None
) -> int | None:
    """Return the place of a second pole for one peg between two ends, None where there is no room for one.

    To line a peg P in between A and B that do not see each other, two poles are moved in turn: Q, beyond P and seen
    from A too, is brought into line with P and A, then P into line with Q and B, until neither moves. It stands as far
    from P as it may; beyond P, or else on A's side and seen from B.
    """
    begin, peg, end = (int(place) for place in chain)
    seen = begin + 1 + np.flatnonzero(seen_from(station_m, ground_m, begin, sight=sight, canopy_m=canopy_m))
    beyond = seen[(seen > peg) & (seen < end)]
    if len(beyond):
        return int(beyond[-1])
    last = len(station_m) - 1
    back = station_m[-1] - station_m[::-1]  # the same ground walked from the other end
    seen_back = seen_from(back, ground_m[::-1], last - end, sight=sight, canopy_m=_turned(canopy_m))
    seen = end - 1 - np.flatnonzero(seen_back)
    short = seen[(seen > begin) & (seen < peg)]
    return int(short.min()) if len(short) else None

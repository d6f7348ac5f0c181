"""Which strings of short runs an arc may stand for, and where that arc begins and ends.

The chain of straights explains an arc as a string of short runs that all turn the same way. An arc over whole runs is
looked for first, the best choice of strings being found exactly; then each arc's ends are moved to where the arc and
the straights beside it fit best. What comes out is likely, not taken: `line.curves` fits all together and decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line import arc
from fencegis.line.drawn_chain import misfit
from fencegis.line.straights import bend_charge

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.line.straights import Straight

    Floats = npt.NDArray[np.float64]
    Whole = npt.NDArray[np.int_]

RADIUS_COSTS = 1.0  # bends
SMOOTH_SAVES = 0.5  # bends: of a joint's two unknowns one is gone
FEWEST_VERTICES = 5  # of an arc; fewer lie on one too easily
EDGE_TURN_RAD = float(np.radians(30.0))
LONGEST_STRING = 60  # runs that are looked at together
PASSES = 4  # over the two ends of an arc
WORTH_A_LOOK = 0.25  # bends that an arc has to save, both its joints being smooth
SURELY_BENT = 0.5  # an arc turns by this share, at least, of what the runs it stands for turn by
TOO_LONG = 4.0  # times what edges may stand off an arc: not worth a fit


@dataclass(frozen=True)
class String:
    """Runs that an arc may stand for, `end` not included, and what it would save at the most."""

    begin: int
    end: int
    gain: float


@dataclass(frozen=True, eq=False)
class Pieces:
    """Straights and arcs in walking order, each as the vertices that it explains."""

    members: list[Whole]
    curved: list[bool]

    def rolled(self, by: int) -> Pieces:
        """Return a loop's pieces begun with another."""
        return Pieces(self.members[by:] + self.members[:by], self.curved[by:] + self.curved[:by])


class Drawn:
    """The vertices as drawn, and how well a straight or an arc explains some of them by itself.

    `points` (n, 2), `noise_m` of each in east and in north, `limit` in noises. A peg counts as any vertex here.
    """

    def __init__(self, points: Floats, noise_m: float, limit: float) -> None:
        """Take the vertices as drawn."""
        self.points, self.noise_m, self.limit_m = points, noise_m, limit * noise_m
        self.charge = bend_charge(len(points))

    def path_m(self, members: Whole) -> float:
        """Return the length drawn."""
        return float(np.hypot(*np.diff(self.points[members], axis=0).T).sum())

    def straight(self, members: Whole) -> float:
        """Return the misfit of the straight through these vertices."""
        return misfit(self.points[members], np.full(len(members), self.noise_m))

    def arc(self, members: Whole) -> tuple[float, float]:
        """Return the misfit of the arc through these vertices, inf where it may not be one, and its radius."""
        if len(members) < FEWEST_VERTICES:
            return np.inf, np.inf
        on = self.points[members]
        centre, radius = arc.fitted_circle(on)
        off = np.abs(np.hypot(*(on - centre).T) - radius)
        if off.max() > self.limit_m or not self._follows(on, radius):
            return np.inf, radius
        return float(((off / self.noise_m) ** 2).sum()), radius

    def follows(self, members: Whole) -> bool:
        """Return whether the drawing follows the arc through these vertices between them too.

        The misfit sees vertices only, and the four of a square lie on a circle. So on the average the edges may stand
        off the arc by no more than the noise, and turn by no more than 30° from one to the next.
        """
        on = self.points[members]
        return len(on) >= FEWEST_VERTICES and self._follows(on, arc.fitted_circle(on)[1])

    def _follows(self, on: Floats, radius_m: float) -> bool:
        edge = np.hypot(*np.diff(on, axis=0).T)
        turns = edge.sum() / radius_m <= EDGE_TURN_RAD * len(edge)
        return bool(turns and (edge**2).mean() / (8.0 * radius_m) <= self.noise_m)

    def headings_rad(self, members: Whole, *, curved: bool) -> tuple[float, float]:
        """Return the bearings in which the piece by itself begins and ends."""
        on = self.points[members]
        if not curved:
            return (float(np.arctan2(*(on[-1] - on[0]))),) * 2
        centre, _ = arc.fitted_circle(on)
        way = np.sign(arc.turned_rad(on))
        out = way * (on[[0, -1]] - centre)  # square to the radius, clockwise where it turns right
        begins, ends = np.arctan2(out[:, 1], -out[:, 0])
        return float(begins), float(ends)

    def is_circle(self, runs: Sequence[Whole]) -> bool:
        """Return whether a loop is likelier one circle than these runs."""
        whole, _ = self.arc(np.append(np.arange(len(self.points)), 0))
        if len(self.points) * EDGE_TURN_RAD < 2.0 * np.pi:
            return False
        return whole + 1.5 * self.charge < sum(self.straight(run) for run in runs) + self.charge * len(runs)


def strings_of_runs(drawn: Drawn, runs: Sequence[Whole], turn_rad: Floats) -> list[String]:
    """Return the strings of runs that arcs had best stand for, by dynamic programming over all choices of whole runs.

    `turn_rad` (r + 1,) is at the start of each run and at the end of the last, 0 at the ends of an open line.
    """
    apart = np.concatenate([[0.0], np.cumsum([drawn.straight(run) for run in runs])])
    best = np.zeros(len(runs) + 1)
    source: list[String | None] = [None] * (len(runs) + 1)
    for end in range(1, len(runs) + 1):
        best[end] = best[end - 1]
        for begin in range(end - 1, max(-1, end - LONGEST_STRING), -1):
            if begin < end - 2 and turn_rad[begin + 1] * turn_rad[end - 1] <= 0.0:
                break  # no longer string turns one way
            gain = saving(drawn, runs[begin:end], turn_rad[begin : end + 1], float(apart[end] - apart[begin]))
            if gain > WORTH_A_LOOK * drawn.charge and best[begin] + gain > best[end]:
                best[end], source[end] = best[begin] + gain, String(begin, end, gain)
    return _walked_back(source)


def saving(drawn: Drawn, runs: Sequence[Whole], turn: Floats, apart: float) -> float:
    """Return what an arc over these runs would save at the most: a joint that turns the same way may be smooth."""
    inner, outer = turn[1:-1], turn[[0, -1]]
    way = np.sign(inner[0] if len(inner) else outer[0])
    smooth = way * outer > 0.0
    if not (way * inner > 0.0).all() or (not len(inner) and not smooth.all()):
        return -np.inf
    beside = np.minimum(np.abs(outer[smooth]), np.abs(inner).max(initial=0.0) if len(inner) else np.inf)
    told = float(np.abs(inner).sum() + beside.sum() / 2.0)
    members = union(runs)
    length, edges = drawn.path_m(members), len(members) - 1
    if length * told / edges**2 / 8.0 > TOO_LONG * drawn.noise_m:
        return -np.inf
    bent, radius = drawn.arc(members)
    if not np.isfinite(bent) or length / radius < SURELY_BENT * told:
        return -np.inf
    return apart - bent + drawn.charge * (len(runs) - 1 - RADIUS_COSTS + SMOOTH_SAVES * int(smooth.sum()))


def _walked_back(source: list[String | None]) -> list[String]:
    strings: list[String] = []
    end = len(source) - 1
    while end > 0:
        string = source[end]
        if string is not None:
            strings.append(string)
        end = end - 1 if string is None else string.begin
    return strings[::-1]


def pieces_with(drawn: Drawn, runs: Sequence[Whole], strings: Sequence[String], *, closed: bool) -> Pieces:
    """Return the runs with arcs for these strings, in walking order, the ends of each arc where all fit best."""
    members: list[Whole] = []
    curved: list[bool] = []
    begins = {string.begin: string for string in strings}
    place = 0
    while place < len(runs):
        string = begins.get(place)
        members.append(runs[place] if string is None else union(runs[place : string.end]))
        curved.append(string is not None)
        place = place + 1 if string is None else string.end
    pieces = Pieces(_apart_at_arcs(members, curved, closed=closed), curved)
    return _with_leftovers_gone(drawn, _with_ends_moved(drawn, pieces, closed=closed), closed=closed)


def _with_ends_moved(drawn: Drawn, pieces: Pieces, *, closed: bool) -> Pieces:
    count = len(pieces.curved)
    for place in np.flatnonzero(pieces.curved).tolist():
        by = (place - count // 2) % count if closed else 0
        rolled = pieces.rolled(by)
        _move_ends(drawn, rolled, (place - by) % count)
        pieces = rolled.rolled(count - by)
    return pieces


def _with_leftovers_gone(drawn: Drawn, pieces: Pieces, *, closed: bool) -> Pieces:
    """Return the pieces without what an arc left over of a run, where the arc and the next straight share it better."""
    while True:
        count = len(pieces.curved)
        for place in [place for place in range(count) if pieces.curved[place]]:
            by = (place - count // 2) % count if closed else 0
            rolled = pieces.rolled(by)
            for straight_first in (False, True):
                found = _without_leftover(drawn, rolled, (place - by) % count, straight_first=straight_first)
                if found is not None:
                    break
            if found is not None:
                pieces = found.rolled(len(found.curved) - by % len(found.curved))
                break
        else:
            return pieces


def _without_leftover(drawn: Drawn, pieces: Pieces, place: int, *, straight_first: bool) -> Pieces | None:
    """Return the pieces with an arc and two straights on one side of it shared out as arc and straight, if better."""
    near, far = (place - 1, place - 2) if straight_first else (place + 1, place + 2)
    if min(near, far) < 0 or max(near, far) >= len(pieces.curved) or pieces.curved[near] or pieces.curved[far]:
        return None
    bend, left_over, run = (pieces.members[each] for each in (place, near, far))
    both = union([run, left_over] if straight_first else [left_over, run])
    own, curve = _shared_out(drawn, both, bend, straight_first=straight_first)
    before = drawn.arc(bend)[0] + drawn.straight(left_over) + drawn.straight(run) + drawn.charge
    if not drawn.arc(curve)[0] + drawn.straight(own) < before:
        return None
    members, curved = list(pieces.members), list(pieces.curved)
    members[place], members[far] = curve, own
    del members[near], curved[near]
    return Pieces(members, curved)


def _apart_at_arcs(members: list[Whole], curved: list[bool], *, closed: bool) -> list[Whole]:
    """Return the pieces with no vertex shared where an arc begins or ends: the joint stands between two vertices."""
    members = list(members)
    for place in range(0 if closed else 1, len(members)):
        if (curved[place] or curved[place - 1]) and members[place][0] == members[place - 1][-1]:
            if curved[place]:
                members[place] = members[place][1:]
            else:
                members[place - 1] = members[place - 1][:-1]
    return members


def _move_ends(drawn: Drawn, pieces: Pieces, place: int) -> None:
    members = pieces.members
    for _ in range(PASSES):
        before = [len(part) for part in members]
        for other in (place - 1, place + 1):
            if 0 <= other < len(members) and not pieces.curved[other]:
                members[other], members[place] = _shared_out(
                    drawn, members[other], members[place], straight_first=other < place
                )
        if [len(part) for part in members] == before:
            break


def _shared_out(drawn: Drawn, run: Whole, bend: Whole, *, straight_first: bool) -> tuple[Whole, Whole]:
    """Return the vertices of a straight and of the arc beside it shared out anew between the two."""
    both = np.concatenate([run, bend]) if straight_first else np.concatenate([bend, run])[::-1]
    cuts = range(2, len(both) - FEWEST_VERTICES + 1)
    cost = [drawn.straight(both[:cut]) + drawn.arc(both[cut:])[0] for cut in cuts]
    if not np.isfinite(min(cost, default=np.inf)):
        return run, bend
    own, curve = np.split(both, [cuts[int(np.argmin(cost))]])
    return (own, curve) if straight_first else (own[::-1], curve[::-1])


def pieces_of(order: Whole, runs: Sequence[Straight], curved: Sequence[bool]) -> Pieces:
    """Return the pieces of a line's shape."""
    return Pieces([order[run.first : run.last + 1] for run in runs], list(curved))


def moved_joint(pieces: Pieces, joint: int, by: int) -> Pieces | None:
    """Return the pieces with the joint before piece `joint` moved on by some vertices, None where too few are left."""
    count = len(pieces.curved)
    before, after = (joint - 1) % count, joint % count
    both = np.concatenate([pieces.members[before], pieces.members[after]])
    cut = len(pieces.members[before]) + by
    least = [FEWEST_VERTICES if pieces.curved[place] else 2 for place in (before, after)]
    if before == after or cut < least[0] or len(both) - cut < least[1]:
        return None
    members = list(pieces.members)
    members[before], members[after] = both[:cut], both[cut:]
    return Pieces(members, pieces.curved)


def between_arcs(pieces: Pieces, *, closed: bool) -> list[int]:
    """Return the places of straights that have an arc on either side."""
    count = len(pieces.curved)
    places = range(0 if closed else 1, count if closed else count - 1)
    return [
        place
        for place in places
        if not pieces.curved[place] and pieces.curved[place - 1] and pieces.curved[(place + 1) % count]
    ]


def shared_by_arcs(drawn: Drawn, pieces: Pieces, place: int) -> Pieces:
    """Return the pieces without one straight, its vertices shared out between the arcs beside it as both fit best."""
    count = len(pieces.curved)
    before, after = (place - 1) % count, (place + 1) % count
    every = union([pieces.members[before], pieces.members[place], pieces.members[after]])
    first = len(pieces.members[before])
    cuts = range(first, first + len(pieces.members[place]) + 1)
    cost = [drawn.arc(every[:cut])[0] + drawn.arc(every[cut:])[0] for cut in cuts]
    cut = cuts[int(np.argmin(cost))]
    members = list(pieces.members)
    members[before], members[after] = every[:cut], every[cut:]
    keep = [other for other in range(count) if other != place]
    return Pieces([members[other] for other in keep], [pieces.curved[other] for other in keep])


def union(runs: Sequence[Whole]) -> Whole:
    """Return the vertices of neighbouring runs in walking order, one that two share once."""
    parts = [runs[0]]
    for run in runs[1:]:
        parts.append(run[1:] if run[0] == parts[-1][-1] else run)
    return np.concatenate(parts)

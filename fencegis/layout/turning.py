"""How much the wires turn along a line: every turn rubs some of the tension away between the puller and the far end.

The sizes of all turns count alike: in plan at corners and along arcs, in profile at changes of grade, and from post to
post, since posts do not stand on the string to the millimetre.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.breaks import profile_turn_deg
from fencegis.line.chainage import directions_at

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt

    from fencegis.line.course import Course

    Floats = npt.NDArray[np.float64]

AT_M = 0.001  # nearer than this is at the place
ARC_STEP_M = 2.0  # an arc is told by its heading this often


@dataclass(frozen=True, eq=False)
class Turned:
    """The sizes of turns summed from a line's start to each of n stations, in degrees; both rise.

    `before_deg` (n,) leaves out what turns at the station itself, `past_deg` (n,) has it: between two strainers neither
    their own turns count, so a strain turns by `before_deg` of its end less `past_deg` of its beginning.
    """

    before_deg: Floats
    past_deg: Floats

    def between(self, begin: int, end: int) -> float:
        """Return the turning of the strain from one station to another."""
        return max(0.0, float(self.before_deg[end] - self.past_deg[begin]))


@dataclass(frozen=True, eq=False)
class Turning:
    """The turns of a whole line, ready to be summed up to any place.

    `place_m` (k,) rises; `at_deg` (k,) is what turns at each, `turned_deg` (k,) what has turned before it;
    `each_metre_deg` is what a metre along the ground turns from post to post.
    """

    course: Course
    place_m: Floats
    at_deg: Floats
    turned_deg: Floats
    each_metre_deg: float

    def up_to(self, chainage_m: Floats) -> Turned:
        """Return the sums at each chainage (n,)."""
        chainage = np.asarray(chainage_m, dtype=float)
        metres = self.each_metre_deg * self.course.grades.along_ground(chainage)
        return Turned(self._turned(chainage - AT_M) + metres, self._turned(chainage + AT_M) + metres)

    def _turned(self, chainage: Floats) -> Floats:
        """Interpolate from what was passed at one place to what has turned before the next: an arc turns evenly."""
        place = np.clip(np.searchsorted(self.place_m, chainage, side="right") - 1, 0, len(self.place_m) - 2)
        past = (self.turned_deg + self.at_deg)[place]
        begin, end = self.place_m[place], self.place_m[place + 1]
        share = np.clip((chainage - begin) / np.maximum(end - begin, AT_M), 0.0, 1.0)
        on = past + share * (self.turned_deg[place + 1] - past)
        return np.asarray(np.where(chainage >= self.place_m[-1], self.turned_deg[-1], on))


def turning_along(course: Course, *, taken: Mapping[float, int], bay_m: float, post_turn_deg: float) -> Turning:
    """Return the turns of a line.

    `taken` gives by the chainage of a post the change of grade it takes, which turns the wires there; `post_turn_deg`
    is what to count at each line post of a bay `bay_m`.
    """
    length = course.line.length_m
    joint = course.grades.joint_m.astype(float)
    for post, number in taken.items():
        joint[number] = post
    even = np.linspace(0.0, length, max(2, int(np.ceil(length / ARC_STEP_M)) + 1))
    place = _apart(_apart(course.corner_m, joint), even)
    bend, along = _plan_turns_deg(course, place)
    np.add.at(bend, _nearest(place, joint), np.abs(profile_turn_deg(course.grades)))
    turned = np.concatenate([[0.0], np.cumsum(bend[:-1] + along)])
    return Turning(course, place, bend, turned, post_turn_deg / bay_m)


def _apart(first: Floats, more: Floats) -> Floats:
    """Return all places, rising, of `more` only those that are not about one of the first: none is counted twice."""
    first, more = np.unique(first), np.unique(more)
    if len(first):
        more = more[np.abs(first[_nearest(first, more)] - more) > 4.0 * AT_M]
    return np.union1d(first, more)


def _nearest(place: Floats, chainage: Floats) -> npt.NDArray[np.int_]:
    """Return which of the places, rising, is nearest to each chainage."""
    after = np.clip(np.searchsorted(place, chainage), 1, max(1, len(place) - 1))
    nearer = np.abs(place[after - 1] - chainage) <= np.abs(place[np.minimum(after, len(place) - 1)] - chainage)
    return np.asarray(np.where(nearer, after - 1, after))


def _plan_turns_deg(course: Course, place: Floats) -> tuple[Floats, Floats]:
    """Return the size of the turn in plan at each place (k,), and between each and the next (k−1,)."""
    before, after = _heading_deg(course, place - AT_M), _heading_deg(course, place + AT_M)
    return np.abs(_wrapped(after - before)), np.abs(_wrapped(before[1:] - after[:-1]))


def _heading_deg(course: Course, chainage: Floats) -> Floats:
    way = directions_at(course.line, chainage)
    return np.asarray(np.degrees(np.arctan2(way[:, 0], way[:, 1])))


def _wrapped(turn: Floats) -> Floats:
    wrapped = (turn + 180.0) % 360.0 - 180.0
    return np.asarray(np.where(np.abs(wrapped) < 1e-9, 0.0, wrapped))

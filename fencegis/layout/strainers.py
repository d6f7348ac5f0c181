"""Posts that stand before bays are shared out: strainers, and key posts on crests and in dips.

Strainers stand at ends, nodes, corners and gates, at changes of grade whose lift a line post does not hold, and where
the strain would get too long. In post and rail the same places take the end, corner, junction and gate posts; there is
no strain to end, so neither grade nor length asks for one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows
from fencegis.layout.strain_chain import candidates_m, cheapest_chain
from fencegis.line.counting import equal_parts
from fencegis.line.run_table import bend_class

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy.typing as npt

    from fencegis.layout.gates import Gate
    from fencegis.line.course import Course
    from fencegis.records.spec import Fence

    Floats = npt.NDArray[np.float64]
    Lift = Callable[[Floats], Floats]
    Stretch = tuple[float, float]

REASONS = ("end", "junction", "corner", "peg", "gate", "crossing", "grade", "length")
STRAINED = ("line brace", "corner")  # classes of catalogue/bend_rules.csv that are strained from; the others are posts
ONE_POST_M = 0.01
BESIDE = 0.5  # of the greatest bay: a change of grade, or a key post, this near to a strainer is taken by it


@dataclass(frozen=True, eq=False)
class Fixed:
    """The fixed posts of one line in walking order.

    `chainage_m` (n,); `reasons` says for each why it is a strainer, empty for a key post; `joint` is the place in
    `course.grades` of the change of grade that it takes, −1 for none.
    """

    chainage_m: Floats
    reasons: tuple[tuple[str, ...], ...]
    joint: npt.NDArray[np.int_]


def fixed_posts(
    course: Course,
    *,
    gates: Sequence[Gate],
    fence: Fence,
    bay_m: float,
    lift: Lift,
    forbidden: Sequence[Stretch] = (),
    bend_rule: str | None = None,
) -> Fixed:
    """Return the posts of one line that must stand where they stand.

    `gates` are those of this line; `bay_m` is the greatest bay; `lift` gives the wires' lift in kN for changes of
    direction in profile in degrees, dips positive; `forbidden` are stretches, from and to in chainage, where no
    strainer is put for the length's sake while another place will do; `bend_rule` is the rule set that says which
    corners take a strainer in wire, all of them without one. A loop's start always does.
    """
    standing = _Standing()
    for chainage, reason in _required(course, gates, bend_rule=bend_rule):
        standing.strainer(chainage, reason, within=ONE_POST_M)
    for chainage in course.corner_m:  # one that strains nothing still stands on the corner
        standing.key(float(chainage), within=ONE_POST_M)
    if course.kind == "wire":
        _take_breaks(standing, course, gates, fence=fence, bay_m=bay_m, lift=lift)
        _share_strains(standing, course, gates, strain_m=fence.strain_m, bay_m=bay_m, forbidden=forbidden)
    return standing.in_walking_order()


def asks_for_own_post(change_pct: Floats, *, bay_m: float) -> npt.NDArray[np.bool_]:
    """Return where a change of grade would hold the wire off its place by more than is put up with.

    Half way between two posts a bay apart a change of grade stands off the chord by change × bay ÷ 4.
    """
    return np.asarray(np.abs(change_pct) / 100.0 * bay_m / 4.0 >= limit("wire off ground"))


def limit(item: str) -> float:
    """Return a value of `catalogue/post_holding.csv`."""
    return next(float(row["value"]) for row in rows("post_holding") if row["item"] == item)


@dataclass
class _Standing:
    """Posts as they are put up: chainage → why it strains, and the change of grade it takes."""

    why: dict[float, set[str]] = field(default_factory=dict)
    joint: dict[float, int] = field(default_factory=dict)

    def nearest(self, chainage: float, within: float) -> float | None:
        close = [post for post in self.why if abs(post - chainage) <= within]
        return min(close, key=lambda post: abs(post - chainage), default=None)

    def strainer(self, chainage: float, reason: str, *, within: float) -> None:
        post = self.nearest(chainage, within)
        self.why.setdefault(chainage if post is None else post, set()).add(reason)

    def key(self, chainage: float, *, within: float) -> None:
        if self.nearest(chainage, within) is None:
            self.why[chainage] = set()

    def take_break(self, chainage: float, joint: int, *, strains: bool, within: float) -> None:
        post = self.nearest(chainage, within)
        post = chainage if post is None else post
        self.why.setdefault(post, set())
        self.joint.setdefault(post, joint)
        if strains:
            self.why[post].add("grade")

    def long_strain(self, chainage: float, *, within: float) -> None:
        """Put a strainer here; a key post close beside gives way to it."""
        key = self.nearest(chainage, within)
        if key is not None and not self.why[key]:
            del self.why[key]
            if key in self.joint:
                self.joint[chainage] = self.joint.pop(key)
        self.why.setdefault(chainage, set()).add("length")

    def in_walking_order(self) -> Fixed:
        posts = sorted(self.why)
        reasons = tuple(tuple(reason for reason in REASONS if reason in self.why[post]) for post in posts)
        return Fixed(np.array(posts), reasons, np.array([self.joint.get(post, -1) for post in posts], dtype=int))


def _required(course: Course, gates: Sequence[Gate], *, bend_rule: str | None) -> list[tuple[float, str]]:
    length, closed = course.line.length_m, course.line.closed
    held = course.planned.fit.held if closed else course.planned.fit.held[1:-1]
    strained = _strained_corners(course, bend_rule)
    required = [] if closed else [(0.0, "end"), (length, "end")]
    required += [(float(chainage), "junction") for chainage in course.nodes]
    required += [(float(chainage), "corner") for chainage in course.corner_m[strained]]
    required += [(float(chainage), "peg") for chainage in course.corner_m[strained & held]]
    required += [(chainage, "gate") for gate in gates for chainage in (gate.from_m, gate.to_m)]
    if closed:  # the start and the end of a loop are one post
        required = [(0.0 if length - chainage < ONE_POST_M else chainage, reason) for chainage, reason in required]
    return required


def _strained_corners(course: Course, bend_rule: str | None) -> npt.NDArray[np.bool_]:
    """Return which corners take a strainer: in rail and without a rule all, else those that the rule asks one of."""
    if course.kind != "wire" or bend_rule is None:
        return np.ones(len(course.corner_m), dtype=bool)
    asks = np.array([bend_class(float(turn), bend_rule) in STRAINED for turn in np.abs(course.turn_deg)], dtype=bool)
    return np.asarray(asks | (course.corner_m < ONE_POST_M))


def _take_breaks(
    standing: _Standing, course: Course, gates: Sequence[Gate], *, fence: Fence, bay_m: float, lift: Lift
) -> None:
    """Give each change of grade that asks for one a key post or a strainer, the largest first."""
    change = np.nan_to_num(course.grades.change_pct)
    slope = np.degrees(np.arctan(course.grades.grade_pct / 100.0))
    turn = np.nan_to_num(np.concatenate([[0.0], np.diff(slope), [0.0]]))
    strains = (lift(turn) > limit(fence.post_set)) | (np.abs(turn) >= limit("angle post"))
    asks = asks_for_own_post(change, bay_m=bay_m) | strains
    for place in sorted(np.flatnonzero(asks), key=lambda joint: (-abs(change[joint]), joint)):
        chainage = float(course.grades.joint_m[place])
        if not any(gate.from_m < chainage < gate.to_m for gate in gates):
            standing.take_break(chainage, int(place), strains=bool(strains[place]), within=BESIDE * bay_m)


def _share_strains(
    standing: _Standing,
    course: Course,
    gates: Sequence[Gate],
    *,
    strain_m: float,
    bay_m: float,
    forbidden: Sequence[Stretch],
) -> None:
    """Put the cheapest chain of strainers where the wires between two would be longer than allowed along the ground."""
    change = course.grades.change_pct
    crests = [post for post, joint in standing.joint.items() if not standing.why[post] and change[joint] < 0.0]
    crest_m = course.grades.along_ground(crests)
    ends = sorted(post for post, reasons in standing.why.items() if reasons)
    if course.line.closed:
        ends.append(course.line.length_m)
    for begin, end in pairwise(ends):
        if is_opening(begin, end, gates):
            continue
        along = course.grades.along_ground([begin, end])
        length = float(along[1] - along[0])
        if equal_parts(length, strain_m) == 1:
            continue
        station = candidates_m(length, strain_m, also=crest_m - along[0])
        chainage = course.grades.chainage_at(along[0] + station)
        chain = cheapest_chain(
            station,
            greatest_m=strain_m,
            crest=np.isin(station, crest_m - along[0]),
            forbidden=within(chainage, forbidden),
        )
        for place in chainage[chain]:
            standing.long_strain(float(place), within=BESIDE * bay_m)


def within(chainage_m: Floats, stretches: Sequence[Stretch]) -> npt.NDArray[np.bool_]:
    """Return which chainages lie in one of the stretches, ends included."""
    inside = np.zeros(len(chainage_m), dtype=bool)
    for from_m, to_m in stretches:
        inside |= (chainage_m >= from_m) & (chainage_m <= to_m)
    return inside


def is_opening(from_m: float, to_m: float, gates: Sequence[Gate]) -> bool:
    """Return whether the stretch between two posts is a gate's."""
    return any(abs(gate.from_m - from_m) < ONE_POST_M and abs(gate.to_m - to_m) < ONE_POST_M for gate in gates)

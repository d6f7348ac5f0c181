"""Every post of a line: bays shared out along the ground between the fixed posts, equal or full with a make-up bay."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.bay_limit import cap_past_m, greatest_bay_m
from fencegis.layout.breaks import asks_for_own_post
from fencegis.layout.clear_of import clear_marks_m
from fencegis.layout.second_posts import take_two
from fencegis.layout.standing import ONE_POST_M, Opening, is_opening
from fencegis.layout.strain_chain import Limits, cheapest_chain, costs_of
from fencegis.line.counting import A_MILLIMETRE, equal_parts

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.layout.gates import Gate
    from fencegis.layout.standing import Fixed, Way
    from fencegis.line.course import Course
    from fencegis.records.spec import Fence

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]


STUB = 0.5  # of a full bay: a make-up bay under it looks like a mistake (common practice)


@dataclass(frozen=True, eq=False)
class Stretch:
    """From one fixed post to the next, by their places in `Fixed`.

    `bays` is 0 where the way opens: for a gate, and between the two posts of a corner.
    """

    begin: int
    end: int  # of a loop's last stretch 0
    from_m: float
    to_m: float
    ground_length_m: float
    greatest_m: float
    bays: int
    moved: bool = False  # bays are not as they would be, so that posts keep clear of something


@dataclass(frozen=True, eq=False)
class Row:
    """The posts of one line in walking order; a loop's first is not repeated.

    `fixed` (n,) is the place in `Fixed`, −1 for a post shared out; `opens` (n,) is true where no bay follows. In rail
    `key` (n,) says which posts shared out are heavier, `string_end` (n,) which of those for the string's sake.
    """

    chainage_m: Floats
    fixed: npt.NDArray[np.int_]
    opens: Flags
    stretches: tuple[Stretch, ...]
    key: Flags
    string_end: Flags


def shared_out(
    course: Course,
    *,
    fixed: Fixed,
    gates: Sequence[Gate],
    fence: Fence,
    kept_clear: Sequence[tuple[float, float]] = (),
    openings: Sequence[tuple[float, float]] = (),
) -> Row:
    """Return all posts of one line, bays along the ground, none over the greatest by more than the tolerance.

    `kept_clear` are stretches, from and to in chainage, in which no post's centre stands while another row will do;
    `openings` ways between two assemblies of their own, without posts and bays.
    """
    chainage, place, opens, stretches = [], [], [], []
    for planned in _stretches(course, fixed, [*gates, *(Opening(*way) for way in openings)], fence):
        along = course.grades.along_ground([planned.from_m, planned.to_m])
        seen_less = _seen(fixed, planned.begin) < _seen(fixed, planned.end)
        marks = bay_marks_m(planned, full=fence.bays == "full", make_up_first=seen_less)
        stretch, marks = _kept_clear(course, planned, marks, kept_clear, fence)
        stretches.append(stretch)
        marks = along[0] + marks
        chainage += [fixed.chainage_m[stretch.begin], *course.grades.chainage_at(marks)]
        place += [stretch.begin] + [-1] * len(marks)
        opens += [stretch.bays == 0] + [False] * len(marks)
    if not course.line.closed:
        chainage, place, opens = [*chainage, fixed.chainage_m[-1]], [*place, len(fixed.chainage_m) - 1], [*opens, False]
    posts, shared = np.array(chainage, dtype=float), np.array(place, dtype=int) < 0
    key, string_end = np.zeros(len(posts), dtype=bool), np.zeros(len(posts), dtype=bool)
    if course.kind != "wire":
        key = key_posts(course, posts, bay_m=fence.post_spacing_m) & shared
        ground = course.grades.along_ground(posts)
        string_end = string_ends(stretches, ground_m=ground, key=key, string_m=fence.string_m)
    opens_after = np.array(opens, dtype=bool)
    return Row(posts, np.array(place, dtype=int), opens_after, tuple(stretches), key | string_end, string_end)


def _kept_clear(
    course: Course, stretch: Stretch, marks: Floats, spans: Sequence[tuple[float, float]], fence: Fence
) -> tuple[Stretch, Floats]:
    """Return the stretch and its marks, shared out again where one of them stands in what has to be kept clear."""
    near = [span for span in spans if span[1] > stretch.from_m and span[0] < stretch.to_m]
    if not near or not len(marks):
        return stretch, marks
    begin_m = float(course.grades.along_ground([stretch.from_m])[0])
    forbidden = [tuple((course.grades.along_ground(list(span)) - begin_m).tolist()) for span in near]
    if not any(((marks > low) & (marks < high)).any() for low, high in forbidden):
        return stretch, marks
    clear = clear_marks_m(
        stretch.ground_length_m,
        greatest_m=stretch.greatest_m + fence.bay_tolerance_mm / 1000.0,
        least_m=STUB * stretch.greatest_m,
        forbidden=forbidden,
    )
    if len(clear.marks_m) == len(marks) and np.allclose(clear.marks_m, marks):  # nothing within the limits keeps off
        return stretch, marks
    return replace(stretch, bays=len(clear.marks_m) + 1, moved=True), clear.marks_m


def bay_marks_m(stretch: Stretch, *, full: bool, make_up_first: bool) -> Floats:
    """Return how far along the ground each post between a stretch's two ends stands from its first (bays − 1,).

    Equal bays; or full ones, and what is left over in a make-up bay at one end. A make-up bay under half a full one is
    a stub: then it and the bay beside it are two equal ones. A stretch that only the tolerance lets into its number of
    bays has equal ones all the same.
    """
    bays, length = max(stretch.bays, 1), stretch.ground_length_m
    if not full or bays == 1 or bays * stretch.greatest_m <= length:
        return np.linspace(0.0, length, bays + 1)[1:-1]
    rest = length - (bays - 1) * stretch.greatest_m
    made_up = [rest] if rest >= STUB * stretch.greatest_m else [(rest + stretch.greatest_m) / 2.0] * 2
    each = np.array([stretch.greatest_m] * (bays - len(made_up)) + made_up)
    return np.asarray(np.cumsum(each[::-1] if make_up_first else each)[:-1])


def _seen(fixed: Fixed, post: int) -> int:
    """Return how much an odd bay beside this fixed post is looked at: most at a gate, least at a corner or junction."""
    reasons = fixed.reasons[post]
    return 2 if "gate" in reasons else 1 if "end" in reasons else 0


def key_posts(course: Course, chainage_m: Floats, *, bay_m: float) -> Flags:
    """Return which posts of a rail line, at `chainage_m` (n,), stand nearest to a change of grade that asks for one.

    They carry the bend of the rails.
    """
    key = np.zeros(len(chainage_m), dtype=bool)
    change = np.nan_to_num(course.grades.change_pct)
    for chainage in course.grades.joint_m[asks_for_own_post(change, bay_m=bay_m)]:
        key[int(np.abs(chainage_m - chainage).argmin())] = True
    return key


def string_ends(stretches: Sequence[Stretch], *, ground_m: Floats, key: Flags, string_m: float) -> Flags:
    """Return which posts in a rail line end a string between two fixed posts further apart than one string reaches.

    The same chain as for strainers, over posts of the equal bays: the fewest strings of about one length, ended at a
    key post where one stands near. `ground_m` (n,) are the posts along the ground, `key` (n,) those heavier already;
    `string_m` is the longest string.
    """
    ends = np.zeros(len(ground_m), dtype=bool)
    begin = 0
    for stretch in stretches:
        inner = max(stretch.bays, 1) - 1
        posts = np.arange(begin + 1, begin + 1 + inner)
        if stretch.ground_length_m > string_m + A_MILLIMETRE and inner:
            along = np.concatenate([[0.0], ground_m[posts] - ground_m[begin], [stretch.ground_length_m]])
            stout = np.concatenate([[False], key[posts], [False]])
            found = cheapest_chain(along, limits=Limits(string_m), costs=costs_of("string"), welcome=stout)
            ends[begin + np.array(found, dtype=int)] = True
        begin += inner + 1
    return ends


def _stretches(course: Course, fixed: Fixed, ways: Sequence[Way], fence: Fence) -> list[Stretch]:
    count = len(fixed.chainage_m)
    pairs = [(begin, begin + 1) for begin in range(count - 1)] + ([(count - 1, 0)] if course.line.closed else [])
    stretches = []
    for begin, end in pairs:
        from_m = float(fixed.chainage_m[begin])
        to_m = course.line.length_m if course.line.closed and end == 0 else float(fixed.chainage_m[end])
        along = course.grades.along_ground([from_m, to_m])
        length = float(along[1] - along[0])
        if is_opening(from_m, to_m, ways) or fixed.second[end]:
            stretches.append(Stretch(begin, end, from_m, to_m, length, np.nan, 0))
            continue
        cover = np.array([_cover_m(course, fixed, post, fence) for post in (begin, end)])
        greatest = _greatest(course, from_m, to_m, cover.max(axis=0), fence)
        bays = _bays(length, greatest, fence)
        if bays <= 2:  # one rail, or its two halves, reaches to both ends
            greatest = _greatest(course, from_m, to_m, cover.sum(axis=0), fence)
            bays = _bays(length, greatest, fence)
        stretches.append(Stretch(begin, end, from_m, to_m, length, greatest, bays))
    return stretches


def _bays(length_m: float, greatest_m: float, fence: Fence) -> int:
    return equal_parts(length_m, greatest_m + fence.bay_tolerance_mm / 1000.0)


def _greatest(course: Course, from_m: float, to_m: float, cover_m: Floats, fence: Fence) -> float:
    grades = course.grades
    inside = (grades.joint_m[1:] > from_m) & (grades.joint_m[:-1] < to_m) & grades.known
    steepest = float(np.abs(grades.grade_pct[inside]).max(initial=0.0))
    rails_m, cap_m = cover_m.tolist()
    return greatest_bay_m(course.kind, fence, grade_pct=steepest, cover_m=rails_m, cap_cover_m=cap_m)


def _cover_m(course: Course, fixed: Fixed, post: int, fence: Fence) -> tuple[float, float]:
    """Return how far rails, and a cap, reach beyond this post's centre: to its edge, or the mitre at corners."""
    reasons = fixed.reasons[post]
    width_mm = fence.gate_post_mm if "gate" in reasons else fence.post_mm
    stops = "gate" in reasons or "end" in reasons or bool(fixed.paired[post])
    turn = course.turn_deg[np.abs(course.corner_m - fixed.chainage_m[post]) < ONE_POST_M]
    cap_m = width_mm / 2000.0 if stops else float(cap_past_m(turn, fence=fence).max(initial=0.0))
    if fence.rails_fixed == "centred":  # a bay is reckoned between two line posts
        return max(0.0, (fence.post_mm - width_mm) / 2000.0), cap_m
    return _rails_cover_m(turn, width_mm, fence, stops=stops), cap_m


def _rails_cover_m(turn: Floats, width_mm: float, fence: Fence, *, stops: bool) -> float:
    if stops:
        return width_mm / 2000.0 if fence.end_cover == "edge" else 0.0
    if take_two(turn, fence=fence).any():
        return fence.post_mm / 2000.0
    half_turn = np.radians(np.abs(turn)).max(initial=0.0) / 2.0
    # past a right angle nobody mitres: the rail runs to the post's edge
    return float((fence.post_mm / 2000.0 + fence.rail_thick_mm / 1000.0) * min(np.tan(min(half_turn, 1.5)), 1.0))

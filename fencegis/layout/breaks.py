"""Changes of grade that ask for a post: which, and whether it has to be a strainer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows
from fencegis.layout.standing import BESIDE

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy.typing as npt

    from fencegis.layout.standing import Standing, Way
    from fencegis.line.course import Course
    from fencegis.line.grade import Grades

    Floats = npt.NDArray[np.float64]
    Lift = Callable[[Floats], Floats]


def take_breaks(
    standing: Standing, course: Course, ways: Sequence[Way], *, post_set: str, bay_m: float, lift: Lift
) -> None:
    """Give each change of grade that asks for one a key post or a strainer, the largest first.

    A raster coarser than the bays cannot tell where that is: then none is given.
    """
    if not course.grades.tells_posts(bay_m):
        return
    change = np.nan_to_num(course.grades.change_pct)
    turn = profile_turn_deg(course.grades)
    strains = (lift(turn) > limit(post_set)) | (np.abs(turn) >= limit("angle post"))
    asks = asks_for_own_post(change, bay_m=bay_m) | strains
    for place in sorted(np.flatnonzero(asks), key=lambda joint: (-abs(change[joint]), joint)):
        chainage = float(course.grades.joint_m[place])
        if not any(way.from_m < chainage < way.to_m for way in ways):
            standing.take_break(chainage, int(place), strains=bool(strains[place]), within=BESIDE * bay_m)


def profile_turn_deg(grades: Grades) -> Floats:
    """Return the change of direction in profile at each joint in degrees, a dip positive, 0 where it is unknown."""
    slope = np.degrees(np.arctan(grades.grade_pct / 100.0))
    return np.asarray(np.nan_to_num(np.concatenate([[0.0], np.diff(slope), [0.0]])))


def asks_for_own_post(change_pct: Floats, *, bay_m: float) -> npt.NDArray[np.bool_]:
    """Return where a change of grade would hold the wire off its place by more than is put up with.

    Half way between two posts a bay apart a change of grade stands off the chord by change × bay ÷ 4.
    """
    return np.asarray(np.abs(change_pct) / 100.0 * bay_m / 4.0 >= limit("wire off ground"))


def limit(item: str) -> float:
    """Return a value of `catalogue/post_holding.csv`."""
    return next(float(row["value"]) for row in rows("post_holding") if row["item"] == item)

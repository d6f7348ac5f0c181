"""How posts stand on a slope: plumb, or square to the ground. Published specifications disagree, so it is a setting."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows
from fencegis.records.notes import Note
from fencegis.records.tables import checked

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt
    import pandas as pd

    from fencegis.line.course import Course
    from fencegis.records.spec import Fence

    Floats = npt.NDArray[np.float64]

BESIDE_M = 1e-6


def grade_angle_deg(course: Course, chainage_m: Floats) -> Floats:
    """Return the angle of the fitted ground at each chainage (n,), uphill positive, NaN where it is unknown.

    On a change of grade the mean of its two sides; a loop's start has its end on the other side.
    """
    grades, length = course.grades, course.line.length_m
    angle = np.degrees(np.arctan(grades.grade_pct / 100.0))
    sides = []
    for step in (-BESIDE_M, BESIDE_M):
        at = chainage_m + step
        at = at % length if course.line.closed else np.clip(at, BESIDE_M, length - BESIDE_M)
        stretch = np.searchsorted(grades.joint_m, at, side="right") - 1
        sides.append(angle[np.clip(stretch, 0, len(angle) - 1)])
    return np.asarray((sides[0] + sides[1]) / 2.0)


def with_lean(posts: pd.DataFrame, courses: Sequence[Course], *, fence: Fence) -> pd.DataFrame:
    """Return the layer `posts` with `lean_deg`: 0 for plumb posts, else the angle of the ground, uphill positive.

    A post square to the ground leans downhill: with a positive angle its top stands back, towards the line's start.
    """
    lean = np.zeros(len(posts))
    if fence.posts_stand == "square":
        for course in courses:
            here = posts["line_id"].eq(course.line_id).to_numpy()
            lean[here] = grade_angle_deg(course, posts["chainage_m"].to_numpy(dtype=float)[here])
    return checked("posts", posts.assign(lean_deg=lean))


def notes_on_stand(posts: pd.DataFrame, *, fence: Fence, height_m: float) -> list[Note]:
    """Return how depth and spacing are measured for posts that stand so, and who asks for it.

    `height_m` is how high posts stand above the ground.
    """
    if fence.posts_stand == "plumb":
        return [
            Note(
                "default",
                f"posts stand plumb: so print {_who('plumb')}; square to the ground {_who('square')}. Depth is measured"
                " plumb, on the downhill face (common practice), bays along the ground",
            )
        ]
    known = posts[posts["lean_deg"].notna()]
    unknown = len(posts) - len(known)
    most = ""
    if len(known):
        size_deg = known["lean_deg"].abs().to_numpy(dtype=float)
        worst = int(size_deg.argmax())
        off_m = height_m * np.sin(np.radians(size_deg[worst]))
        most = f": most at {known['post_id'].iloc[worst]}, {size_deg[worst]:.1f}°, {off_m:.2f} m at {height_m:.2f} m"
    return [
        Note(
            "default",
            f"posts stand square to the ground: so prints {_who('square')}; plumb {_who('plumb')}. Depth is measured"
            " along the post, bays along the ground from foot to foot. A top stands off plumb, downhill, by height ×"
            f" sine of the lean{most}{f'; the lean of {unknown} posts is not known' if unknown else ''}",
        )
    ]


def _who(setting: str) -> str:
    return " and ".join(row["who"] for row in rows("posts_stand") if row["setting"] == setting)

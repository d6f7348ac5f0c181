"""Tree tops taken for ground: a surface model told from bare ground by what trees do along the line.

Trees make heights go up and down again by metres within the width of a crown, steeply on both sides, and again and
again. Ground may do one of these: a bank or a cutting is steep one way, a ridge goes up and down gently, a mound or a
dam wall stands alone. So a **hump** is a top with `HUMP_M` of fall on both sides, no further than `CROWN_M` from fall
to fall, both flanks steeper than `STEEP` somewhere; a stretch with `MANY` of them is no ground (all common practice).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.errors import Problem
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.line.course import Course
    from fencegis.records.spec import Spec

    Floats = npt.NDArray[np.float64]

HUMP_M = 2.0
CROWN_M = 30.0
STEEP = 0.6
MANY = 3
STRETCH_M = 300.0  # so many humps within this are a repetition, not a chance
SIGMAS = 6.0  # a swing is at least so many standard errors of a height: noise makes none
COARSEST_M = 5.0  # cells coarser than a crown's flank show none


def humps(station_m: Floats, height_m: Floats, *, least_m: float = HUMP_M) -> Floats:
    """Return (h, 2) from and to of each hump along a profile, where it is `least_m` under its top on either side.

    `station_m` (n,) rises; a NaN among `height_m` (n,) ends what is before it.
    """
    found = []
    known = ~np.isnan(height_m)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(int)))
    for begin, end in edges.reshape(-1, 2).tolist():
        found += _humps(station_m[begin:end], height_m[begin:end], least_m)
    return np.array(found, dtype=float).reshape(-1, 2)


def _humps(station_m: Floats, height_m: Floats, least_m: float) -> list[tuple[float, float]]:
    turns = _turns(height_m, least_m)
    found = []
    for low, top, after in zip(turns, turns[1:], turns[2:], strict=False):
        if height_m[top] <= height_m[low]:
            continue
        fallen = height_m[top] - least_m
        begin = low + int(np.flatnonzero(height_m[low:top] <= fallen)[-1])
        end = top + int(np.flatnonzero(height_m[top : after + 1] <= fallen)[0])
        flanks = (slice(begin, top + 1), slice(top, end + 1))
        steep = min(float(np.abs(np.diff(height_m[one]) / np.diff(station_m[one])).max()) for one in flanks)
        if steep >= STEEP and station_m[end] - station_m[begin] <= CROWN_M:
            found.append((float(station_m[begin]), float(station_m[end])))
    return found


def _turns(height_m: Floats, least_m: float) -> list[int]:
    """Return the places where the profile turns, lows and tops by turns, each at least `least_m` from the next.

    The first and the last are where the first and the last such swing begin and end.
    """
    turns: list[int] = []
    low = top = furthest = 0
    rising = 0
    for place, height in enumerate(height_m.tolist()):
        if rising == 0:
            low, top = (place if height < height_m[low] else low), (place if height > height_m[top] else top)
            if height_m[top] - height_m[low] >= least_m:
                rising, turns, furthest = (1 if top > low else -1), [min(low, top)], max(low, top)
        elif (height - height_m[furthest]) * rising >= 0.0:
            furthest = place
        elif (height_m[furthest] - height) * rising >= least_m:
            turns.append(furthest)
            furthest, rising = place, -rising
    return [*turns, furthest] if rising else []


def repeated(found: Floats) -> Floats:
    """Return which of (h, 2) humps stand in a stretch that holds `MANY` of them, (k, 2)."""
    keep = np.zeros(len(found), dtype=bool)
    for first in range(len(found) - MANY + 1):
        if found[first + MANY - 1, 1] - found[first, 0] <= STRETCH_M:
            keep[first : first + MANY] = True
    return found[keep]


def surface_faults(courses: Sequence[Course], *, spec: Spec) -> tuple[list[Problem], list[Note]]:
    """Return a fault for heights that are tree tops, and notes: on single humps, and where the fault is overridden."""
    problems: list[Problem] = []
    notes: list[Note] = []
    least_m = max(HUMP_M, SIGMAS * spec.elevation.vertical_error_m)
    for course in (course for course in courses if course.ground and course.grades.step_m <= COARSEST_M):
        found = humps(course.station_m, course.ground_at(course.station_m), least_m=least_m)
        many = repeated(found)
        if len(many):
            where = f"{course.line_id} from {many[0, 0]:.0f} to {many[-1, 1]:.0f} m"
            what = (
                f"heights under the line rise and fall like tree tops: {len(many)} times by {least_m:.1f} m or more and"
                f" back within {CROWN_M:.0f} m ({where})"
            )
            if spec.elevation.bare_ground:
                text = f"elevation: {what}; taken as ground all the same, as [elevation] bare_ground says"
                notes.append(Note("doubt", text, course.line_id, float(many[0, 0])))
            else:
                fix = (
                    "use a model of the bare ground; if it is one, and somebody looked there, say [elevation]"
                    " bare_ground = true."
                )
                problems.append(Problem("elevation", "", f"{what}.", fix))
        else:
            notes += [
                Note("doubt", f"ground rises and falls {least_m:.1f} m here: a mound, or a tree", course.line_id, at)
                for at in found.mean(axis=1).tolist()
            ]
    return problems, notes

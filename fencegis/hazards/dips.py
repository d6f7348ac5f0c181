"""Dips of the fitted ground where no watercourse is drawn: a note to look for a drain, never a crossing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.hazards.treatment import distance
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.hazards.found import Floats, Stretch
    from fencegis.line.course import Course

MOST = 12  # dips named in one note, the deepest


def dips(
    joint_m: Floats, fitted_m: Floats, sigma_m: Floats, *, closed: bool, reach_m: float, sigmas: float, noise_m: float
) -> Floats:
    """Return (d, 2) chainage and depth of each dip of a fitted profile that is deeper than `sigmas` standard errors.

    `joint_m` (k,) rises, `fitted_m` (k,) are heights, NaN where unknown, `sigma_m` (k,) their standard errors, and
    `noise_m` is added to them in quadrature. The depth is that below the lower of the highest ground on each side,
    looked for as far as `reach_m` or to where the ground lies lower again. A loop goes on past its start.
    """
    if closed:
        turn, last = joint_m[-1], len(joint_m) - 1
        joint_m = np.concatenate([joint_m[:-1] - turn, joint_m[:-1], joint_m[:-1] + turn, [2.0 * turn]])
        fitted_m, sigma_m = (np.concatenate([np.tile(one[:-1], 3), one[:1]]) for one in (fitted_m, sigma_m))
        inner = range(last, 2 * last)
    else:
        inner = range(1, len(joint_m) - 1)
    found = []
    for place in inner:
        one, two = (_side(joint_m, fitted_m, place, step, reach_m) for step in (-1, 1))
        if one is None or two is None:
            continue
        side = one if fitted_m[one] < fitted_m[two] else two
        depth = fitted_m[side] - fitted_m[place]
        if depth > sigmas * np.sqrt(sigma_m[side] ** 2 + sigma_m[place] ** 2 + noise_m**2):
            found.append((joint_m[place], depth))
    return np.array(found).reshape(-1, 2)


def _side(joint_m: Floats, fitted_m: Floats, place: int, step: int, reach_m: float) -> int | None:
    """Return the highest joint on one side of a joint before the ground lies lower; None where it falls at once.

    Of a flat bottom only its first joint has both sides.
    """
    best, at = None, place + step
    while 0 <= at < len(joint_m) and abs(joint_m[at] - joint_m[place]) <= reach_m and not np.isnan(fitted_m[at]):
        if fitted_m[at] < fitted_m[place] or (fitted_m[at] == fitted_m[place] and best is None and step < 0):
            break
        if fitted_m[at] > fitted_m[place] and (best is None or fitted_m[at] > fitted_m[best]):
            best = at
        at += step
    return best


def dip_note(course: Course, *, noise_m: float, drawn: Sequence[Stretch], near_m: float, said_m: float) -> Note | None:
    """Return a note that names the dips of one line where no watercourse is drawn, None where there is none.

    `drawn` are stretches with drawn water, which explains a dip up to `near_m` off, and one in whose hollow it lies.
    Where the ground itself lies further than `said_m` below the fitted grades a note of its own says so already.
    """
    grades = course.grades
    found = dips(
        grades.joint_m,
        grades.fitted_m,
        grades.sigma_m,
        closed=course.line.closed,
        reach_m=distance("dip_reach_m"),
        sigmas=distance("dip_sigmas"),
        noise_m=noise_m,
    )
    found = np.array([dip for dip in found if not any(_holds(course, dip, water, near_m) for water in drawn)])
    if len(found):
        off_m = course.ground_at(found[:, 0]) - grades.fitted_at(found[:, 0])
        found = found[~(off_m < -said_m)]
    if not len(found):
        return None
    deepest = found[np.sort(np.argsort(-found[:, 1], kind="stable")[:MOST])]
    places = ", ".join(f"{chainage:.0f} m ({depth:.1f} m)" for chainage, depth in deepest)
    more = f" and {len(found) - MOST} shallower ones" if len(found) > MOST else ""
    text = f"no watercourse is drawn where the ground dips below both sides: look for a drain at {places}{more}"
    return Note("doubt", text, course.line_id, float(deepest[0, 0]) if len(found) == 1 else None)


def _holds(course: Course, dip: Floats, water: Stretch, near_m: float) -> bool:
    """Return whether drawn water lies in the hollow of a dip: no ground between stands higher than half its depth."""
    at_m, depth_m = dip
    low, high = water[0] - near_m, water[1] + near_m
    if low <= at_m <= high:
        return True
    edge_m = low if low > at_m else high
    if abs(edge_m - at_m) > distance("dip_reach_m"):
        return False
    fitted_m = course.grades.fitted_at(np.linspace(at_m, edge_m, 20))
    return bool(fitted_m.max() - fitted_m[0] <= depth_m / 2.0)

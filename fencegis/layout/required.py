"""Strainers that have to stand: at ends, nodes, corners and both sides of gates."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.standing import ONE_POST_M
from fencegis.line.run_table import bend_class

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.layout.gates import Gate
    from fencegis.line.course import Course

STRAINED = ("line brace", "corner")  # classes of catalogue/bend_rules.csv that are strained from; the others are posts


def required(course: Course, gates: Sequence[Gate], *, bend_rule: str | None) -> list[tuple[float, str]]:
    """Return the chainage of each strainer that has to stand, and why.

    The start and the end of a loop are one post; where an arc runs over it the wires still end there.
    """
    length, closed = course.line.length_m, course.line.closed
    strained = strained_corners(course, bend_rule)
    found = [] if closed else [(0.0, "end"), (length, "end")]
    if closed and course.kind == "wire" and not (course.corner_m < ONE_POST_M).any():
        found.append((0.0, "end"))
    found += [(float(chainage), "junction") for chainage in course.nodes]
    found += [(float(chainage), "corner") for chainage in course.corner_m[strained]]
    found += [(float(chainage), "peg") for chainage in course.corner_m[strained & course.held]]
    found += [(chainage, "gate") for gate in gates for chainage in (gate.from_m, gate.to_m)]
    if closed:
        found = [(0.0 if length - chainage < ONE_POST_M else chainage, reason) for chainage, reason in found]
    return found


def strained_corners(course: Course, bend_rule: str | None) -> npt.NDArray[np.bool_]:
    """Return which corners take a strainer: in rail and without a rule all, else those that the rule asks one of."""
    if course.kind != "wire" or bend_rule is None:
        return np.ones(len(course.corner_m), dtype=bool)
    asks = np.array([bend_class(float(turn), bend_rule) in STRAINED for turn in np.abs(course.turn_deg)], dtype=bool)
    return np.asarray(asks | (course.corner_m < ONE_POST_M))

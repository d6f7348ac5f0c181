"""What strained wires do to a post."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]


def resultant_kn(turn_deg: npt.ArrayLike, *, wires: int, tension_kn: float) -> Floats:
    """Return the pull of `wires` that turn by `turn_deg` at a post: 2 T sin(turn ÷ 2), whatever way they turn.

    In plan it is the sideways pull at a bend, in profile the lift in a dip (statics: the sum of two equal forces).
    """
    turn = np.radians(np.abs(np.asarray(turn_deg, dtype=float)))
    return np.asarray(2.0 * wires * tension_kn * np.sin(turn / 2.0))


def lift_kn(
    grade_before_pct: npt.ArrayLike, grade_after_pct: npt.ArrayLike, *, wires: int, tension_kn: float
) -> Floats:
    """Return the lift of the wires at a change of grade, 0 on a crest; NaN where a grade is unknown.

    Grades are uphill positive in walking direction: lift where the wire rises more after the post than before it.
    """
    before, after = (np.asarray(grade, dtype=float) / 100.0 for grade in (grade_before_pct, grade_after_pct))
    return lift_of_turn_kn(np.degrees(np.arctan(after) - np.arctan(before)), wires=wires, tension_kn=tension_kn)


def lift_of_turn_kn(turn_deg: npt.ArrayLike, *, wires: int, tension_kn: float) -> Floats:
    """Return the lift at a change of direction in profile, a dip positive: none on a crest, NaN where unknown."""
    turn = np.asarray(turn_deg, dtype=float)
    return resultant_kn(np.maximum(turn, 0.0), wires=wires, tension_kn=tension_kn)  # a NaN stays one

"""The one number printed for a change of grade: how sharp a break in profile asks for an assembly."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis.layout.breaks import take_breaks
from fencegis.layout.standing import Standing

if TYPE_CHECKING:
    from collections.abc import Callable


def asked_at(turn_deg: float) -> str:
    """What a break of this much asks for between two straight grades, half of it each side; wires that weigh nothing.

    A dip is positive.
    """
    half = 100.0 * np.tan(np.radians(turn_deg / 2.0))
    grades = SimpleNamespace(
        grade_pct=np.array([-half, half]),
        change_pct=np.array([0.0, 2.0 * half, 0.0]),
        joint_m=np.array([0, 50, 100.0]),
        tells_posts=lambda bay_m: bay_m > 0.0,
    )
    standing = Standing()
    take_breaks(
        standing, SimpleNamespace(grades=grades), [], post_set="driven", bay_m=5.0, lift=lambda turn: 0.0 * turn
    )
    return "angle post assembly" if "grade" in standing.why[50.0] else "post"


@pytest.mark.parametrize(
    ("turn_deg", "asked"),
    [
        (29.0, "post"),
        (29.9, "post"),
        (30.1, "angle post assembly"),
        (31.0, "angle post assembly"),
        (-29.9, "post"),
        (-30.1, "angle post assembly"),
    ],
)
@pytest.mark.published(source="iowa-2519", where="2519.03 A.2: vertical change of direction of 30° or more")
def test_iowa_in_profile(compare: Callable, turn_deg: float, asked: str) -> None:
    compare(asked_at(turn_deg), asked)

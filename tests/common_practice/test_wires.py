"""Common practice: what strained wires and the posts that hold them do, where no print was found."""

from __future__ import annotations

import numpy as np
import pytest

from fencegis.catalogue import rows
from fencegis.records.spec import Fence
from fencegis.strength.values import value_of
from fencegis.strength.wire import greatest_turning_deg, lift_kn, tension_after

INCH_M = 0.0254


def holds_kn(post_set: str) -> float:
    (row,) = (row for row in rows("post_holding") if row["item"] == post_set)
    return float(row["value"])


def test_six_wires_that_rise_five_degrees_each_side_pull_a_dug_post_out_and_not_a_driven_one() -> None:
    """Common practice: about 117 kgf, where a dug and rammed post holds some 90 and a driven one several times that."""
    grade = 100.0 * float(np.tan(np.radians(5.0)))
    lift = float(lift_kn(-grade, grade, wires=6, tension_kn=1.1))
    assert lift / 9.80665 * 1000.0 == pytest.approx(117.0, abs=0.5)
    assert holds_kn("dug") < lift < holds_kn("driven")
    assert holds_kn("bored") == holds_kn("dug")


def test_wire_rubs_on_wood_as_metal_does() -> None:
    """Common practice: the middle of the 0.2 (wet) to 0.6 (dry) that is printed for wood on metal, not for fences."""
    assert value_of("wire", "friction") == pytest.approx((0.2 + 0.6) / 2.0)


def test_a_strain_that_keeps_three_quarters_turns_no_more_than_one_sharp_corner() -> None:
    """Common practice: a landholder takes bends to about 30 or 40° without a strainer; nobody draws past a corner."""
    assert 30.0 < greatest_turning_deg() < 45.0
    assert tension_after(90.0, tension_kn=1.1)[0] < 0.6 * 1.1


def test_wires_stand_where_agencies_have_them() -> None:
    """Common practice for the very figures: agencies print 42 to 48 in for the top wire, 15 to 18 in for the lowest."""
    assert 42.0 <= value_of("footing", "top wire") / INCH_M <= 48.0
    assert 15.0 <= value_of("footing", "bottom wire") / INCH_M <= 18.0


def test_a_smooth_wire_is_strained_to_between_two_hundred_and_two_hundred_and_fifty_pounds() -> None:
    """From memory: what extension sheets agree on for high tensile wire."""
    assert 200.0 <= Fence().tension_kn * 1000.0 / 4.44822 <= 250.0

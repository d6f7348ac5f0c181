"""Common practice: distances that no rule set prints, for phone lines, limbs and the machine under them."""

from __future__ import annotations

from fencegis.catalogue import rows
from fencegis.hazards.approach import at_limb, at_phone

MAST_M = 3.0  # a mast type driver needs about this much air over the machine, and the hammer besides


def allowance(name: str) -> float:
    """Common practice, all of it but the owner's distances: the row says so."""
    (row,) = (row for row in rows("overhead_allowances") if row["name"] == name)
    assert row["standing"] == "common practice"
    return float(row["value"])


def test_a_phone_line_is_kept_a_metre_from_and_a_limb_half_of_one() -> None:
    """Common practice: a blow breaks neither at once, and both have to be seen."""
    assert at_phone().distance_m == 1.0
    assert at_limb().distance_m == 0.5
    assert "common practice" in at_phone().rule
    assert "common practice" in at_limb().rule


def test_a_mast_stands_about_three_metres_over_the_machine() -> None:
    """Common practice."""
    assert allowance("mast_height_m") >= MAST_M
    assert 2.0 <= allowance("machine_height_m") <= 2.7  # small tractors, to the top of the roll bar


def test_an_outer_wire_hangs_off_the_drawn_centre_by_more_at_high_voltage() -> None:
    """Common practice: a cross-arm of a rural pole is about 2.4 m long; nobody draws each wire."""
    assert allowance("half_width_low_m") == 2.4 / 2.0
    assert allowance("half_width_high_m") > 2.0 * allowance("half_width_low_m")


def test_a_height_judged_from_the_ground_is_good_to_a_metre_at_best() -> None:
    """Common practice: against the sky a wire's height cannot be told."""
    assert allowance("height_error_m") >= 1.0
    assert allowance("limb_error_m") >= 1.0

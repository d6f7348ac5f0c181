"""Common practice: side slopes that are flagged, and what a machine with a post driver may look like."""

from __future__ import annotations

import pytest

from fencegis.hazards.machine import kinds, machine_of
from fencegis.hazards.plane import slope_error, square_m
from fencegis.hazards.slope_limits import limits_of, side_value
from fencegis.records.spec import Spec

MOWERS_DEG = 14.04  # 25 %, a limit for mowing: no rating for a tractor with a mast up
SKIDDERS_DEG = 19.29  # 35 %, of rubber-tyred skidders


def spec(kind: str) -> Spec:
    return Spec.model_validate({"machine": {"kind": kind}})


def test_the_level_is_well_under_what_mowers_and_skidders_go_by() -> None:
    """Common practice: a mast stands high, and is hammered on."""
    assert side_value("level") == 8.0
    assert side_value("level") < 0.6 * MOWERS_DEG


def test_a_skidders_limit_is_past_the_tip_angle_of_a_small_tractor_with_its_driver_in_front() -> None:
    assert limits_of(spec("mast driver on a small tractor, in front")).first_tip_deg < SKIDDERS_DEG


@pytest.mark.parametrize("kind", kinds())
def test_no_kind_is_flagged_later_than_the_common_level(kind: str) -> None:
    assert limits_of(spec(kind)).level_deg <= side_value("level")


def test_a_small_tractors_numbers_are_a_small_tractors() -> None:
    """Common practice: 1 to 2 t, driver of a quarter to half a ton, front axle with a third to a half of it alone."""
    for kind in kinds()[:2]:
        machine = machine_of(spec(kind))
        assert 1000.0 <= (machine.mass_kg or 0.0) <= 2000.0
        assert 250.0 <= (machine.driver_kg or 0.0) <= 600.0
        assert 0.33 <= (machine.ahead_m or 0.0) / (machine.wheelbase_m or 1.0) <= 0.5


def test_the_plane_is_wide_enough_that_the_rasters_noise_is_no_slope() -> None:
    """Common practice: 8 m. Two heights under a track of 1.3 m are ten times less sure."""
    assert side_value("window") == 8.0
    at_m = square_m(side_value("window"), side_value("spacing"))
    under_the_wheels = 2.0**0.5 / 1.3  # of a metre's error
    assert slope_error(at_m, alike_m=0.0) < under_the_wheels / 10.0
    assert slope_error(at_m, alike_m=side_value("alike")) < under_the_wheels / 9.0


def test_a_front_axle_steers_with_a_fifth_of_the_weight_or_more() -> None:
    assert (side_value("front least"), side_value("front most")) == (20.0, 60.0)

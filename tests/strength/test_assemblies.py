"""Forces in braces, and the types there are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fencegis.strength.assemblies import Assembly, assemblies, assembly_named, brace_forces
from fencegis.strength.footing import ratio_band
from fencegis.strength.wire import stay_force

NAMES = ["diagonal stay", "H-brace", "double H-brace"]


def test_the_three_types_stand_in_the_catalogue() -> None:
    assert [one.name for one in assemblies()] == NAMES
    assert [one.panels for one in assemblies()] == [0, 1, 2]


@pytest.mark.parametrize("name", NAMES)
def test_an_assembly_can_be_built(name: str) -> None:
    one = assembly_named(name)
    above = one.post_m - one.in_ground_m
    assert 0.0 < one.rail_height_m <= above
    assert one.rail_m > one.rail_height_m
    assert ratio_band("strainer")[0] <= one.in_ground_m / one.post_m <= ratio_band("sand or bog")[1]


def test_an_unknown_type_is_answered_with_those_there_are() -> None:
    with pytest.raises(ValueError, match=r"'K-brace' is none of diagonal stay, H-brace, double H-brace"):
        assembly_named("K-brace")


@pytest.mark.parametrize("name", ["H-brace", "double H-brace"])
def test_the_whole_brace_does_not_tip(name: str) -> None:
    """Moments about the last post at the ground: the pull against the lift of the strainer."""
    one = assembly_named(name)
    forces = brace_forces(6.6, height_m=0.75, assembly=one)
    assert forces.lift_kn * one.panels * one.rail_m == pytest.approx(6.6 * 0.75)


def test_the_wire_takes_what_the_rail_presses() -> None:
    one = assembly_named("H-brace")
    forces = brace_forces(6.6, height_m=one.rail_height_m, assembly=one)
    assert forces.rail_kn == pytest.approx(6.6)
    assert np.hypot(forces.rail_kn, forces.lift_kn) == pytest.approx(forces.wire_kn)


def test_a_stay_is_worked_as_a_stay() -> None:
    one = assembly_named("diagonal stay")
    forces = brace_forces(6.6, height_m=0.75, assembly=one)
    lead = np.sqrt(one.rail_m**2 - one.rail_height_m**2)
    stay = stay_force(6.6, heights_m=0.75, stay_height_m=one.rail_height_m, lead_m=lead)
    assert (forces.rail_kn, forces.lift_kn, forces.wire_kn) == pytest.approx((stay.along_kn, stay.upright_kn, 0.0))


@pytest.mark.parametrize("name", NAMES)
def test_a_longer_rail_lifts_the_strainer_less(name: str) -> None:
    one: Assembly = assembly_named(name)
    longer = replace(one, rail_m=one.rail_m + 0.5)
    assert (
        brace_forces(6.6, height_m=0.75, assembly=longer).lift_kn
        < brace_forces(6.6, height_m=0.75, assembly=one).lift_kn
    )

"""The machine: its row, what the site's own numbers take over, and kinds that nobody knows."""

from __future__ import annotations

import pytest

from fencegis.catalogue import rows
from fencegis.errors import InputError
from fencegis.hazards.machine import Machine, called, kinds, machine_of
from fencegis.records.spec import Spec

IN_FRONT = "mast driver on a small tractor, in front"


def spec(**machine: object) -> Spec:
    return Spec.model_validate({"machine": machine})


def test_without_a_machine_nothing_is_known_and_nothing_assumed() -> None:
    assert machine_of(Spec()) == Machine()
    assert machine_of(Spec()).told() == ""


def test_without_a_kind_only_what_the_site_gives() -> None:
    assert machine_of(spec(width_m=1.7, work_side="left")) == Machine(width_m=1.7, work_side="left")


def test_the_sites_own_number_wins_over_the_row_and_is_not_assumed() -> None:
    machine = machine_of(spec(kind=IN_FRONT, track_m=1.44, working_height_m=4.3))
    assert (machine.track_m, machine.working_height_m, machine.wheelbase_m) == (1.44, 4.3, 1.8)
    assert "track_m" not in machine.assumed
    assert "working_height_m" not in machine.assumed
    assert machine.told("track_m", "wheelbase_m", "pivot_m") == (
        "wheelbase 1.8 m and front axle's pivot over the ground 0.45 m"
    )


def test_a_mast_wants_its_air_over_the_machine() -> None:
    machine = machine_of(spec(kind=IN_FRONT))
    assert machine.working_height_m == pytest.approx(2.2 + 3.0)  # small tractor to the roll bar, and the mast
    assert "working_height_m" in machine.assumed


def test_a_kind_is_found_however_it_is_spelt() -> None:
    assert machine_of(spec(kind="  By  Hand ")).kind == "by hand"


def test_a_kind_that_nobody_knows_is_a_fault_that_names_the_nearest() -> None:
    with pytest.raises(InputError, match=r"\[machine\] kind: no machine is called 'excavater'. Fix: Write 'excavator'"):
        machine_of(spec(kind="excavater"))


@pytest.mark.parametrize("kind", kinds())
def test_every_kind_says_how_high_and_wide_it_works_and_names_only_what_a_machine_has(kind: str) -> None:
    machine = machine_of(spec(kind=kind))
    needed = (machine.working_height_m, machine.reach_m, machine.width_m, machine.turning_m, machine.over_post_m)
    assert None not in needed
    assert {row["name"] for row in rows("machines") if row["machine"] == kind} <= set(machine.assumed)
    assert all(called(name) in machine.told() for name in machine.assumed)


@pytest.mark.parametrize("kind", kinds())
def test_no_tilt_is_ever_assumed(kind: str) -> None:
    """An assumed tilt would say of a slope that a post can be plumbed there."""
    machine = machine_of(spec(kind=kind))
    assert (machine.tilt_side_deg, machine.tilt_fore_deg, machine.side_shift_m) == (None, None, None)


def test_no_machine_is_lower_than_a_line_post_with_its_hammer() -> None:
    """Common practice: a post of 2.4 m stood on the ground, hammer and lift of 0.7 to 0.9 m over it."""
    assert all((machine_of(spec(kind=kind)).working_height_m or 0.0) >= 2.4 + 0.9 for kind in kinds())

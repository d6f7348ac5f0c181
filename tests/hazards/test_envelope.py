"""How high and how far out the machine is taken to work where nobody taped it."""

from __future__ import annotations

import pytest

from fencegis.catalogue import rows
from fencegis.hazards.envelope import envelope_of
from fencegis.hazards.machine import kinds
from fencegis.records.spec import Spec


def spec(**tables: object) -> Spec:
    return Spec.model_validate(tables)


def test_without_a_machine_a_mast_on_a_small_tractor_is_taken() -> None:
    found = envelope_of(Spec())
    assert (found.height_m, found.reach_m, found.taped) == (5.2, 2.0, False)
    assert found.assumed == "working height 5.2 m and reach 2 m"


def test_what_was_taped_wins_over_the_row_of_the_kind() -> None:
    found = envelope_of(spec(machine={"kind": "excavator", "working_height_m": 4.4, "reach_m": 5.0}))
    assert (found.height_m, found.reach_m, found.taped, found.assumed) == (4.4, 5.0, True, "")


@pytest.mark.parametrize("kind", kinds())
def test_a_kind_has_its_rows_and_says_that_nobody_taped_it(kind: str) -> None:
    row = {one["name"]: float(one["value"]) for one in rows("machines") if one["machine"] == kind}
    found = envelope_of(spec(machine={"kind": kind, "reach_m": 1.7}))
    mast_m = row["machine_height_m"] + row["mast_m"] if "mast_m" in row else row["working_height_m"]
    assert (found.height_m, found.reach_m) == pytest.approx((mast_m, 1.7))
    assert not found.taped
    assert found.assumed == f"working height {mast_m:g} m of a machine of the kind “{kind}”"


def test_a_mast_driver_needs_three_metres_of_air_over_the_machine() -> None:
    """Common practice."""
    assert envelope_of(spec(machine={"kind": "mast driver on a small tractor, in front"})).height_m == pytest.approx(
        5.2
    )


def test_a_hammer_is_not_lower_than_over_the_longest_post() -> None:
    """A post of 3.6 m stood on the ground and 0.9 m of hammer and lift over it."""
    machine = {"kind": "driver without a mast"}
    assert envelope_of(spec(machine=machine)).height_m == pytest.approx(3.6)
    assert envelope_of(spec(machine=machine, fence={"post_lengths_m": (2.4, 3.6)})).height_m == pytest.approx(4.5)

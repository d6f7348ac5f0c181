"""What people lift and run out by hand, by the kind of fence and the lengths that are given."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fencegis.hazards.envelope import Envelope, envelope_of
from fencegis.hazards.handling import handling_of, nearer, working_envelope
from fencegis.hazards.measure import Flag, Measured
from fencegis.records.spec import Spec

if TYPE_CHECKING:
    from fencegis.records.spec import FenceKind


def spec(**tables: object) -> Spec:
    return Spec.model_validate(tables)


@pytest.mark.parametrize(
    ("kind", "fence", "height_m", "reach_m", "what"),
    [
        ("post and rail", {"rail_m": (3.6, 4.8)}, 5.8, 1.0, "a rail or board of 4.8 m lifted on end, 5.8 m up"),
        ("post and rail", {"rail_m": (3.6,), "cap_m": (6.0,)}, 7.0, 1.0, "a rail or board of 6 m"),
        ("post and rail", {"rail_m": (1.2,), "post_lengths_m": (2.4,)}, 3.4, 1.0, "a post of 2.4 m lifted on end"),
        ("wire", {"rail_m": (4.8,)}, 4.0, 1.5, "wire that flies up"),
        ("wire", {"post_lengths_m": (2.4, 3.6)}, 4.6, 1.5, "a post of 3.6 m lifted on end"),
    ],
)
def test_the_longest_thing_counts(
    kind: FenceKind, fence: dict[str, object], height_m: float, reach_m: float, what: str
) -> None:
    found = handling_of(spec(fence=fence), kind)
    assert found is not None
    assert (found.envelope.height_m, found.envelope.reach_m) == pytest.approx((height_m, reach_m))
    assert what in found.what
    assert not found.envelope.taped


def test_of_rails_without_a_length_nothing_is_known() -> None:
    assert handling_of(spec(), "post and rail") is None


def test_a_machine_that_reaches_higher_and_further_holds_all_of_it() -> None:
    found = handling_of(spec(), "wire")
    assert found is not None
    assert found.is_within(Envelope(4.0, 1.5, taped=True, assumed=""))
    assert not found.is_within(Envelope(3.9, 1.5, taped=True, assumed=""))
    assert not found.is_within(Envelope(5.0, 1.4, taped=True, assumed=""))


def test_by_hand_the_machine_is_what_is_lifted() -> None:
    by_hand = spec(machine={"kind": "by hand"}, fence={"rail_m": (4.8,)})
    envelope = working_envelope(by_hand, "post and rail")
    assert envelope.height_m == pytest.approx(5.8)
    assert not envelope.taped
    assert "lifted on end" in envelope.assumed
    driver = spec(machine={"kind": "driver without a mast"}, fence={"rail_m": (4.8,)})
    assert working_envelope(driver, "post and rail") == envelope_of(driver)


def test_what_is_handled_is_told_where_it_comes_nearer_or_goes_on_beyond() -> None:
    machine = Measured([Flag((10.0, 30.0), 1.0, 1.0, 20.0)])
    same, near, beyond = Flag((12.0, 28.0), 1.5), Flag((12.0, 28.0), 0.5), Flag((9.0, 28.0), 1.5)
    assert nearer(Measured([same]), machine).flags == []
    assert nearer(Measured([near]), machine).flags == [near]
    assert nearer(Measured([beyond]), machine).flags == [beyond]
    assert nearer(Measured([same]), Measured()).flags == [same]


def test_of_what_has_no_distance_only_the_stretch_counts() -> None:
    machine = Measured([Flag((10.0, 30.0))])
    assert nearer(Measured([Flag((11.0, 29.0))]), machine).flags == []
    assert len(nearer(Measured([Flag((5.0, 35.0))]), machine).flags) == 1

"""What people lift and run out by hand near a conductor: as high as a machine, or higher."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.hazards.approach import allowance
from fencegis.hazards.envelope import Envelope, envelope_of
from fencegis.hazards.machine import machine_of
from fencegis.hazards.measure import Measured

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.hazards.measure import Flag
    from fencegis.records.spec import Fence, FenceKind, Spec

BY_HAND = "by hand"  # the kind of machine that is none
_NEARER_M = 0.01  # less is how finely either is reckoned


@dataclass(frozen=True)
class Handling:
    """How high and how far out the longest thing goes while it is handled, and what it is, in words."""

    envelope: Envelope
    what: str

    def is_within(self, machine: Envelope) -> bool:
        """Say whether the machine's envelope holds all of it: then the machine is always nearer."""
        return self.envelope.height_m <= machine.height_m and self.envelope.reach_m <= machine.reach_m


def handling_of(spec: Spec, kind: FenceKind) -> Handling | None:
    """Return what is handled on a line of this kind; None when no length of anything long is given.

    A rail, a cap's board or a post is lifted on end with its foot at the height of a hand; wire that is run out,
    strained or breaks flies up. Heights and reach are common practice: they raise flags and never lower one.
    """
    found = [*_lifted(spec.fence, kind), *([_wire()] if kind == "wire" else [])]
    if not found:
        return None
    most = max(found, key=lambda one: one.envelope.height_m)
    reach_m = max(one.envelope.reach_m for one in found)
    return Handling(Envelope(most.envelope.height_m, reach_m, taped=False, assumed=most.envelope.assumed), most.what)


def working_envelope(spec: Spec, kind: FenceKind) -> Envelope:
    """Return what is swept along a line: the machine's envelope; without a machine, what is lifted by hand besides."""
    envelope, handling = envelope_of(spec), handling_of(spec, kind)
    if machine_of(spec).kind != BY_HAND or handling is None:
        return envelope
    height_m = max(envelope.height_m, handling.envelope.height_m)
    reach_m = max(envelope.reach_m, handling.envelope.reach_m)
    parts = [part for part in (envelope.assumed, handling.envelope.assumed) if part]
    return Envelope(height_m, reach_m, envelope.taped, "; ".join(parts))


def nearer(by_hand: Measured, machine: Measured) -> Measured:
    """Return of what was handled the stretches that come nearer than the machine does, or go on beyond its own."""
    return Measured([flag for flag in by_hand.flags if _is_nearer(flag, machine.flags)], by_hand.unknown)


def _is_nearer(flag: Flag, others: Sequence[Flag]) -> bool:
    start, end = flag.stretch
    over = [one for one in others if one.stretch[0] < end and one.stretch[1] > start]
    if not any(one.stretch[0] <= start and one.stretch[1] >= end for one in over):
        return True
    return flag.after_m < min(one.after_m for one in over) - _NEARER_M  # never of what has no distance


def _lifted(fence: Fence, kind: FenceKind) -> list[Handling]:
    """Return the longest rail or board, and the longest post, each lifted on end."""
    rails_m = (*(fence.rail_m or ()), *(fence.cap_m or ())) if kind == "post and rail" else ()
    longest = [("rail or board", rails_m), ("post", fence.post_lengths_m or ())]
    return [_on_end(name, max(lengths_m)) for name, lengths_m in longest if lengths_m]


def _on_end(name: str, length_m: float) -> Handling:
    height_m = length_m + allowance("hand_height_m")
    what = f"a {name} of {length_m:g} m lifted on end, {height_m:g} m up"
    return Handling(Envelope(height_m, allowance("rail_reach_m"), taped=False, assumed=what), what)


def _wire() -> Handling:
    height_m, reach_m = allowance("wire_flick_m"), allowance("wire_reach_m")
    what = f"wire that flies up while it is run out or strained, {height_m:g} m up"
    return Handling(Envelope(height_m, reach_m, taped=False, assumed=what), what)

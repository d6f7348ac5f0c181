"""The machine's envelope, and what an obstacle overhead has to answer.

At a station the envelope is every point within reach in plan (a disc, not a strip), from the ground under that point
up to the working height above it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from fencegis.hazards.approach import allowance
from fencegis.hazards.machine import machine_of

if TYPE_CHECKING:
    from fencegis.hazards.found import Floats
    from fencegis.hazards.machine import Machine
    from fencegis.records.spec import Spec


@dataclass(frozen=True)
class Envelope:
    """How high and how far out the machine works. `taped` only when both numbers were given."""

    height_m: float
    reach_m: float
    taped: bool
    assumed: str  # what was assumed, as printed; empty when nothing was


@dataclass(frozen=True)
class Allowance:
    """What is taken off before the distance is worked out: off the plan distance, and off the height overhead.

    `swings` takes off the plan distance as well what wind moves the thing sideways at each place of it.
    """

    plan_m: float = 0.0
    height_m: float = 0.0
    swings: bool = False


AS_GIVEN = Allowance()


class Overhead(Protocol):
    """Something overhead that a distance can be worked out to."""

    def distance_m(
        self, points: Floats, ground_m: Floats, *, working_height_m: float, off: Allowance, below_m: float
    ) -> Floats:
        """Return (n,) least distances from the columns that stand on the ground at (n, 2) points.

        Exact where they are less than `below_m`; elsewhere any number that is not less. Infinite where a height is
        not known.
        """
        ...


def envelope_of(spec: Spec) -> Envelope:
    """Return the machine's envelope; what `[machine]` does not give is assumed, to raise flags only.

    Assumed are the numbers of the machine's kind, where it has one, else those of a mast on a small tractor. A hammer
    is never taken lower than over the longest post that is on hand. Raises InputError for a kind that is not known.
    """
    own, machine = spec.machine, machine_of(spec)
    height_m = own.working_height_m if own else None
    reach_m = own.reach_m if own else None
    assumed = []
    assumed_height_m, assumed_reach_m = _assumed_height_m(machine, spec), machine.reach_m or allowance("reach_m")
    if height_m is None:
        assumed.append(f"working height {assumed_height_m:g} m")
    if reach_m is None:
        assumed.append(f"reach {assumed_reach_m:g} m")
    words = " and ".join(assumed)
    return Envelope(
        assumed_height_m if height_m is None else height_m,
        assumed_reach_m if reach_m is None else reach_m,
        taped=not assumed,
        assumed=f"{words} of a machine of the kind “{machine.kind}”" if assumed and machine.kind else words,
    )


def _assumed_height_m(machine: Machine, spec: Spec) -> float:
    """Return how high the hammer is taken to stand at its highest."""
    height_m = machine.working_height_m or allowance("machine_height_m") + allowance("mast_height_m")
    longest_m = max(spec.fence.post_lengths_m or (0.0,))
    return max(height_m, longest_m + machine.over_post_m) if machine.over_post_m else height_m

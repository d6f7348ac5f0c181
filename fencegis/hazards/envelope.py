"""The machine's envelope, and what an obstacle overhead has to answer.

At a station the envelope is every point within reach in plan (a disc, not a strip), from the ground under that point
up to the working height above it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from fencegis.hazards.approach import allowance

if TYPE_CHECKING:
    from fencegis.hazards.found import Floats
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
    """What is taken off before the distance is worked out: off the plan distance, and off the height overhead."""

    plan_m: float = 0.0
    height_m: float = 0.0


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
    """Return the machine's envelope; what `[machine]` does not give is assumed, to raise flags only."""
    machine = spec.machine
    height_m = machine.working_height_m if machine else None
    reach_m = machine.reach_m if machine else None
    assumed_height_m = allowance("machine_height_m") + allowance("mast_height_m")
    assumed = []
    if height_m is None:
        assumed.append(f"working height {assumed_height_m:g} m")
    if reach_m is None:
        assumed.append(f"reach {allowance('reach_m'):g} m")
    return Envelope(
        assumed_height_m if height_m is None else height_m,
        allowance("reach_m") if reach_m is None else reach_m,
        taped=not assumed,
        assumed=" and ".join(assumed),
    )

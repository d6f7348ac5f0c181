"""What to know about conductors overhead: whom to ask, and which numbers nobody gave."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fencegis.hazards.approach import Approach, allowance
from fencegis.hazards.near import Legs, joined
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from fencegis.hazards.conductors import Conductor
    from fencegis.hazards.envelope import Envelope
    from fencegis.hazards.measure import Measured
    from fencegis.records.spec import Spec


def owner_notes(
    legs: Legs, conductors: Sequence[Conductor], found: Mapping[int, Measured], *, file: str
) -> Iterator[Note]:
    """Yield a note for each stretch on which a line's owner has to be asked, whatever the arithmetic says.

    That is under a line or within 9 m in plan of its outer conductor, 15 m where it stands on towers (HSE guidance
    GS6, as quoted by a network operator), and wherever it is flagged.
    """
    asked_m = np.array(
        [allowance("owner_tower_m" if one.tower else "owner_pole_m") + one.half_width_m for one in conductors]
    )
    beside = set(legs.passing([one.line for one in conductors], within_m=asked_m))
    for place, one in enumerate(conductors):
        stretches = legs.within(one.line, distance_m=float(asked_m[place])) if place in beside else []
        stretches += [flag.stretch for flag in found[place].flags] if place in found else []
        for start, end in joined(stretches, length_m=legs.line.length_m):
            yield Note(
                "doubt",
                f"overhead: owner to be asked before the machine comes: {file}, {one.about}, "
                f"from {start:.0f} to {end:.0f} m",
                legs.line.line_id,
                start,
            )


def default_notes(
    near: Sequence[tuple[Conductor, Approach]], spec: Spec, envelope: Envelope, *, file: str
) -> Iterator[Note]:
    """Yield a note for each number that was assumed, for conductors that pass near, none twice."""
    if near and envelope.assumed:
        yield Note("default", f"overhead: {envelope.assumed} assumed, to raise flags only: tape the machine at work")
    power = [(conductor, approach) for conductor, approach in near if conductor.kind == "power"]
    if power and spec.rules.approach is None:
        yield Note("default", "overhead: no rule chosen: the greatest distance that any set asks is used")
    for approach in dict.fromkeys(approach for _, approach in power if approach.second_hand):
        yield Note("doubt", f"overhead: the rule was read second hand, ask for its own text: {approach.rule}")
    for conductor, approach in near:
        for text in _doubts(conductor, approach):
            yield Note("doubt", f"{file}, {conductor.label}: {text}")
        for text in conductor.assumed:
            yield Note("default", f"{file}, {conductor.label}: taken: {text}")


def _doubts(conductor: Conductor, approach: Approach) -> Iterator[str]:
    if conductor.doubt:
        yield f"{conductor.doubt}: everything near it is flagged"
    if conductor.kind == "power" and math.isnan(conductor.voltage_kv):
        yield "voltage unknown: the rule's distance for that is used"
    if conductor.kind == "power" and conductor.insulated is None:
        yield "nobody said whether it is insulated: taken as bare"
    if approach.distance_m is None:
        yield "distance to be set by the line's owner"

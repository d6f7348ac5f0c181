"""What to know about conductors overhead: whom to ask, and which numbers nobody gave."""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis import catalogue
from fencegis.hazards.approach import Approach, allowance
from fencegis.hazards.given import label, number
from fencegis.hazards.near import Legs, joined
from fencegis.line.chainage import nearest_line
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import geopandas as gpd

    from fencegis.hazards.conductors import Conductor
    from fencegis.hazards.measure import Measured
    from fencegis.line.chainage import Line
    from fencegis.records.spec import Spec


def owner_notes(
    legs: Legs, conductors: Sequence[Conductor], found: Sequence[Mapping[int, Measured]], *, file: str
) -> Iterator[Note]:
    """Yield a note for each stretch on which a line's owner has to be asked, whatever the arithmetic says.

    That is under a line or within 9 m in plan of its outer conductor, 15 m where it stands on towers (HSE guidance
    GS6, as quoted by a network operator), and wherever it is flagged in any of `found`.
    """
    asked_m = np.array(
        [allowance("owner_tower_m" if one.tower else "owner_pole_m") + one.half_width_m for one in conductors]
    )
    beside = set(legs.passing([one.line for one in conductors], within_m=asked_m))
    for place, one in enumerate(conductors):
        stretches = legs.within(one.line, distance_m=float(asked_m[place])) if place in beside else []
        stretches += [flag.stretch for of in found if place in of for flag in of[place].flags]
        for start, end in joined(stretches, length_m=legs.line.length_m):
            yield Note(
                "doubt",
                f"overhead: owner to be asked before the machine comes: {file}, {one.about}, "
                f"from {start:.0f} to {end:.0f} m",
                legs.line.line_id,
                start,
            )


def pole_notes(conductors: Sequence[Conductor], *, file: str) -> Iterator[Note]:
    """Yield a note for poles that were given without the line between them: where the wires hang has to be seen."""
    joined_up = {one.rows: one for one in conductors if one.joined}
    for one in joined_up.values():
        yield Note(
            "doubt",
            f"{file}, {one.label}: each joined to those next to it up to {one.longest_span_m:g} m apart (common "
            "practice); draw the line as it hangs, with a vertex at each pole",
        )
    for one in conductors:
        if one.pole:
            yield Note(
                "doubt",
                f"{file}, {one.label}: a pole, and no line to it: look up where its wires go, and draw them; only what "
                "is near the pole itself is flagged",
            )


def gate_notes(
    lines: Sequence[Line], conductors: Sequence[Conductor], gates: gpd.GeoDataFrame | None, *, plan_m: float, file: str
) -> Iterator[Note]:
    """Yield a note for each gate that a conductor hangs over or near: a delivery comes that way, higher than a tractor.

    `plan_m` is what the drawing may be out. How near is common practice.
    """
    if gates is None or not len(gates) or not len(lines):
        return
    middles = np.column_stack([gates.geometry.x, gates.geometry.y])
    which, chainage_m, _ = nearest_line(lines, middles)
    for place, row in enumerate(gates.drop(columns=gates.geometry.name).to_dict("records")):
        half_m = np.nan_to_num(number(row, "opening_m")) / 2.0
        for one in conductors:
            gap_m = shapely.distance(one.line, shapely.Point(middles[place])) - one.half_width_m - one.most_swing_m
            if gap_m - half_m - plan_m <= allowance("delivery_m"):
                yield Note(
                    "doubt",
                    f"overhead: {file}, {one.about}: over the gate of gates.geojson, {label(row)}, or within "
                    f"{allowance('delivery_m'):g} m of it (common practice): a delivery truck with a crane or a "
                    "tipping body comes under it: ask the line's owner first, crane and body down, unload well away",
                    lines[which[place]].line_id,
                    float(chainage_m[place]),
                )


def default_notes(
    near: Sequence[tuple[Conductor, Approach]], spec: Spec, taken: Sequence[str], *, file: str
) -> Iterator[Note]:
    """Yield a note for each number that was assumed, for conductors that pass near, none twice.

    `taken` says what was assumed of the machine and of what is handled.
    """
    if near:
        for text in dict.fromkeys(taken):
            yield Note("default", f"overhead: {text}")
        travel_m = spec.machine.travel_height_m if spec.machine else None
        if travel_m is not None:
            text = f"between posts the machine counts as up at work as well, not as at {travel_m:g} m on its way there"
            yield Note("default", f"overhead: {text}")
    power = [(conductor, approach) for conductor, approach in near if conductor.kind == "power"]
    if power and spec.rules.approach is None:
        yield Note("default", "overhead: no rule chosen: the greatest distance that any set asks is used")
    for approach in dict.fromkeys(approach for _, approach in power if approach.second_hand):
        yield Note("doubt", f"overhead: the rule was read second hand, ask for its own text: {approach.rule}")
    for conductor, approach in near:
        for text in _doubts(conductor, approach):
            yield Note("doubt", f"{file}, {conductor.label}: {text}")
        for text in (
            *conductor.assumed,
            *([conductor.sway] if math.isnan(conductor.swing_m) and conductor.sway else []),
        ):
            yield Note("default", f"{file}, {conductor.label}: taken: {text}")


def _doubts(conductor: Conductor, approach: Approach) -> Iterator[str]:
    if conductor.doubt and not conductor.pole:
        yield f"{conductor.doubt}: everything near it is flagged"
    if conductor.kind == "power" and math.isnan(conductor.voltage_kv):
        yield "voltage unknown: the rule's distance for that is used"
    if conductor.kind == "power" and conductor.insulated is None:
        yield "nobody said whether it is insulated: taken as bare"
    if approach.distance_m is None:
        yield "distance to be set by the line's owner"
    least_m, source = least_height(conductor.voltage_kv)
    if conductor.kind == "power" and conductor.height_m < least_m:
        yield (
            f"{conductor.height_m:g} m is lower than a line of its voltage may hang, {least_m:g} m ({source}): "
            "measure again from a distance, and tell its owner"
        )


@cache
def least_height(voltage_kv: float) -> tuple[float, str]:
    """Return the least height over the ground that a line of a voltage in kV hangs at by print, and the source.

    An unknown voltage has the lowest row, one above the last number the highest.
    """
    rows = catalogue.rows("conductor_heights")
    row = next((one for one in rows if not voltage_kv > float(one["voltage_to_kv"])), rows[-1])
    return float(row["height_m"]), row["source"]

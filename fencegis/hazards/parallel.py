"""Wire beside a power line: it takes up a voltage of its own with nothing touching."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.hazards import checks
from fencegis.hazards.approach import allowance
from fencegis.hazards.checks import Part
from fencegis.hazards.conductors import conductors
from fencegis.hazards.found import Answer, Found, checks_table, flagged_rows, flat, hazards_table
from fencegis.hazards.measure import Flag
from fencegis.hazards.near import Legs, joined
from fencegis.hazards.poles import cannot_be_placed
from fencegis.line.chainage import cut

if TYPE_CHECKING:
    from collections.abc import Sequence

    import geopandas as gpd

    from fencegis.hazards.conductors import Conductor
    from fencegis.hazards.found import Stretch
    from fencegis.line.chainage import Line
    from fencegis.records.spec import FenceKind, Spec

KIND = "parallel power"
ADVICE = (
    "Ask the line's owner before wire is run: a long wire beside high voltage takes up a voltage of its own with "
    "nothing touching it, and more near a tower or pole when the line has a fault. Earthing, gaps, lengths without "
    "metal, and how near to a tower metal may stand are for the line's owner to say, and for licensed people and the "
    "local code. Until the earthing is in, nobody handles long wire alone, and nobody at all with thunder about."
)
NO_WIRE = "no wire: post and rail"


def parallel(
    lines: Sequence[Line],
    *,
    layer: gpd.GeoDataFrame | None,
    spec: Spec,
    kinds: Sequence[FenceKind] | None = None,
    file: str = "overhead.geojson",
) -> Found:
    """Return where wire runs beside high voltage, and what was looked at, line by line.

    A stretch is flagged where it runs for 100 m or longer within 10 m in plan of the outer conductor of a line above
    1 to 33 kV, or 30 m of one above that or of unknown voltage: all such lines together. Half width and two standard
    errors of the drawing come off first. All these numbers are common practice. `kinds` is what is built on each line,
    the specification's where absent; rails without mesh have no wire, and the answer says so. Distances stay empty in
    the rows: none is published that would do.
    """
    built = [_has_wire(kind, spec) for kind in kinds or [spec.fence.kind] * len(lines)]
    if layer is None:
        absent = [_answer(line, checks.absent(line, file=file), wire) for line, wire in zip(lines, built, strict=True)]
        return Found(
            hazards_table([]), checks_table([(line, KIND, [one]) for line, one in zip(lines, absent, strict=True)]), ()
        )
    high = [one for one in conductors(layer, ground=flat, elevation=False) if _is_high(one)]
    rows, tiles = [], []
    for line, wire in zip(lines, built, strict=True):
        flags = _beside(Legs(line), high, spec) if wire else []
        basis = [_basis(line, flag.stretch, high, spec, file=file) for flag in flags]
        rows.append(flagged_rows(line, flags, answer=Answer(KIND, math.nan, None, _rule(), ADVICE), basis=basis))
        parts = [Part(flag.stretch, "flagged", f"flagged: {text}") for flag, text in zip(flags, basis, strict=True)]
        tiles.append((line, KIND, checks.tiled(_answer(line, _rest(line, layer, high, spec, file=file), wire), parts)))
    return Found(hazards_table(rows), checks_table(tiles), ())


def electric_fence(voltage_kv: float) -> str:
    """Return what is asked of an electric fence near a line of a voltage in kV, in words; NaN takes the most."""
    known = "to_1" if voltage_kv <= 1.0 else "to_33" if voltage_kv <= 33.0 else "above_33"
    beside_m = allowance("electric_beside_to_1_kv_m" if voltage_kv <= 1.0 else "electric_beside_above_1_kv_m")
    return (
        f"an electric fence: wires and leads {allowance(f'electric_{known}_kv_m'):g} m off, none higher than "
        f"{allowance('electric_height_m'):g} m within {beside_m:g} m in plan, no crossing that can be avoided "
        "(IEC 60335-2-76, second hand)"
    )


def _has_wire(kind: FenceKind, spec: Spec) -> bool:
    return kind == "wire" or bool(spec.fence.mesh_solidity or spec.fence.mesh_m)


def _is_high(one: Conductor) -> bool:
    return one.kind == "power" and not one.voltage_kv <= allowance("parallel_above_kv")


def _within_m(one: Conductor, spec: Spec) -> float:
    """Return how far in plan from the drawn line wire still runs beside it."""
    low = one.voltage_kv <= allowance("half_width_split_kv")
    drawn_m = math.hypot(spec.boundary.vertex_sigma_m, spec.boundary.shift_sigma_m)
    off_m = one.half_width_m + allowance("allowance_sigmas") * drawn_m
    return allowance("parallel_low_m" if low else "parallel_high_m") + off_m


def _beside(legs: Legs, high: Sequence[Conductor], spec: Spec) -> list[Flag]:
    """Return the stretches that run beside lines of high voltage for long enough; one over a loop's start is one."""
    within_m = np.array([_within_m(one, spec) for one in high])
    near = legs.passing([one.line for one in high], within_m=within_m)
    found = [stretch for place in near for stretch in legs.within(high[place].line, distance_m=float(within_m[place]))]
    line, stretches = legs.line, joined(found, length_m=legs.line.length_m)
    lengths_m = [end - start for start, end in stretches]
    if line.closed and len(stretches) > 1 and stretches[0][0] == 0.0 and stretches[-1][1] == line.length_m:
        lengths_m[0] = lengths_m[-1] = lengths_m[0] + lengths_m[-1]
    least_m = allowance("parallel_length_m")
    return [Flag(stretch) for stretch, length_m in zip(stretches, lengths_m, strict=True) if length_m >= least_m]


def _rule() -> str:
    low_m, high_m, length_m = (allowance(f"parallel_{name}_m") for name in ("low", "high", "length"))
    split_kv, above_kv = allowance("half_width_split_kv"), allowance("parallel_above_kv")
    return (
        f"wire for {length_m:g} m or longer within {low_m:g} m in plan of a line above {above_kv:g} to {split_kv:g} "
        f"kV, {high_m:g} m above that or voltage unknown (common practice); a transmission operator's guideline goes "
        "by the length of metal and by how near line and towers are (second hand)"
    )


def _basis(line: Line, stretch: Stretch, high: Sequence[Conductor], spec: Spec, *, file: str) -> str:
    """Return what runs beside a stretch, how near and for how long, and what an electric fence has to keep."""
    path = shapely.LineString(cut(line, *stretch))
    beside = [one for one in high if shapely.dwithin(path, one.line, _within_m(one, spec))]
    away = [f"{file}, {one.about}: nearest {shapely.distance(path, one.line):.0f} m in plan as drawn" for one in beside]
    drawn = [
        f"{text}; assumed: {', '.join(one.assumed)}" if one.assumed else text
        for one, text in zip(beside, away, strict=True)
    ]
    worst = max(
        (one.voltage_kv for one in beside), key=lambda voltage_kv: math.inf if math.isnan(voltage_kv) else voltage_kv
    )
    length_m = stretch[1] - stretch[0]
    return "; ".join([f"{length_m:.0f} m of wire beside high voltage", *drawn, electric_fence(worst)])


def _rest(line: Line, layer: gpd.GeoDataFrame, high: Sequence[Conductor], spec: Spec, *, file: str) -> Part:
    lacking = ["a feature that is no line and no pole cannot be placed"] if cannot_be_placed(layer) else []
    if any(one.joined or one.pole for one in high):
        lacking.append("poles given without the line between them, look up")
    seen = (spec.walked.overhead or "").strip()
    count = f"{len(layer)} feature" + ("" if len(layer) == 1 else "s")
    basis = f"none found in {file} ({count}) — " + (f"walked {seen}" if seen else "not walked")
    status: checks.Status = "clear" if seen and not lacking else "not checked"
    return Part((0.0, line.length_m), status, "; ".join([basis, *lacking]))


def _answer(line: Line, rest: Part, wire: bool) -> Part:
    """Return the answer where nothing is flagged; without wire there is nothing to look for."""
    return rest if wire else Part((0.0, line.length_m), "clear", NO_WIRE)

"""What is said of a crossing: what it rests on, what to do, and what to know."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fencegis.hazards.treatment import distance

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.hazards.banks import Bank
    from fencegis.hazards.crossing_fit import Crossing
    from fencegis.hazards.found import Stretch
    from fencegis.hazards.treatment import Treatment
    from fencegis.hazards.watercourse import Watercourse
    from fencegis.line.course import Course

FLOOD_STEP_M = 2.0
FIRST = "First choice: do not cross."
LAST = (
    "Nothing across water stays for good: look at it after every flood. Ask for permits first, and where a machine may "
    "work: two printed specifications keep machines {off_m:.0f} m off a creek."
)
NOT_FOUND = {
    "rising": "the ground goes on rising for {reach_m:.0f} m",
    "flat": "the ground shows no bank within {reach_m:.0f} m",
    "unknown": "no ground heights",
    "line ends": "the line ends first",
}


def advice(treatment: Treatment) -> str:
    """Return what to do at a crossing of a class, or along water."""
    first = "" if treatment.name == "along it" else f"{FIRST} "
    return f"{first}{treatment.advice} {LAST.format(off_m=distance('machine_off_m'))}"


def called(waters: Sequence[Watercourse]) -> str:
    """Return the watercourses as the file names them, each once."""
    return ", ".join(dict.fromkeys(water.label for water in waters))


def basis(crossing: Crossing, *, ends: Sequence[float], file: str) -> str:
    """Return what is known of a crossing and how; `ends` are where its end assemblies stand."""
    parts = [crossing.treatment.words, f"{file}, {_met(crossing)}", *_banks(crossing), *_bed(crossing)]
    parts += _flood(crossing)
    if ends:
        parts.append(f"own end assemblies at {' and '.join(f'{at:.1f}' for at in ends)} m")
    off_m = crossing.terms.off_m * crossing.stretching
    if off_m:
        parts.append(f"all this ± {off_m:.1f} m along the line: find the banks on site")
    return "; ".join(parts)


def _met(crossing: Crossing) -> str:
    said = []
    for meet in crossing.meets:
        angle = "" if math.isnan(meet.angle_deg) else f", {meet.angle_deg:.0f}° to the flow"
        if meet.of.outline:
            low, high = (_at(crossing, at) for at in meet.stretch)
            said.append(f"{meet.of.label} from {low:.1f} to {high:.1f} m as drawn{angle}")
        else:
            said.append(f"{meet.of.label} at {_at(crossing, meet.middle_m):.1f} m as drawn{angle}")
    text = " and ".join(said)
    return f"{text}, too near one another to be fenced apart" if len(said) > 1 else text


def _banks(crossing: Crossing) -> list[str]:
    low, high = crossing.from_bank, crossing.to_bank
    if not crossing.shown:
        return ["; ".join(_bank(crossing, bank) for bank in (low, high))]
    how = {bank.why for bank in (low, high)}
    width = [meet.of.width_m for meet in crossing.meets if not math.isnan(meet.of.width_m) and not meet.of.outline]
    drawn = f"by the width given ({width[0]:g} m)" if width else "as drawn"
    by = " and ".join(dict.fromkeys("found from the ground" if why == "" else drawn for why in sorted(how)))
    heights = (
        "" if math.isnan(low.ground_m + high.ground_m) else f" (ground {low.ground_m:.1f} and {high.ground_m:.1f})"
    )
    places = f"{_at(crossing, low.at_m):.1f} and {_at(crossing, high.at_m):.1f} m"
    moved = f", moved {abs(crossing.moved_m):.1f} m to the bed that the ground shows" if crossing.moved_m else ""
    return [f"banks at {places}{heights}, {by}{moved}", f"span {crossing.span_m:.1f} m"]


def _bank(crossing: Crossing, bank: Bank) -> str:
    side = "before" if bank is crossing.from_bank else "beyond"
    if bank.why in NOT_FOUND:
        return f"no bank known {side} it: {NOT_FOUND[bank.why].format(reach_m=distance('bank_reach_m'))}"
    return f"bank {side} it at {_at(crossing, bank.at_m):.1f} m"


def _bed(crossing: Crossing) -> list[str]:
    if math.isnan(crossing.bed_m):
        return ["bed unknown, no ground heights"]
    given = all(meet.of.outline or not math.isnan(meet.of.width_m) for meet in crossing.meets)
    where = "" if given else f", the lowest ground within {crossing.search_m:.1f} m of the drawn place"
    if not given and abs(crossing.bed_at_m - crossing.meets[0].middle_m) > crossing.search_m - crossing.terms.step_m:
        where += ", at the edge of that: look on site where the water runs"
    parts = [f"bed {crossing.bed_m:.1f} at {_at(crossing, crossing.bed_at_m):.1f} m{where}"]
    if not math.isnan(crossing.drop_m):
        parts.append(f"drop {crossing.drop_m:.1f} ± {crossing.drop_sigma_m:.1f} m below the line from bank to bank")
    elif crossing.shown and not math.isnan(crossing.from_bank.ground_m + crossing.to_bank.ground_m):
        parts.append("the ground shows no bed there")
    if crossing.bed_unseen:
        parts.append(f"cells of {crossing.terms.cell_m:.1f} m do not show so small a bed: it may be deeper")
    return parts


def _flood(crossing: Crossing) -> list[str]:
    level_m = crossing.flood_level_m
    if math.isnan(level_m):
        return []
    if math.isnan(crossing.bed_m):
        return [f"flood level {level_m:.1f}, not held against the ground"]
    text = f"flood level {level_m:.1f}: {level_m - crossing.bed_m:.1f} m over the bed"
    over = over_banks_m(crossing)
    if over is None:
        return [f"{text}, banks not known"]
    low, high = over
    if max(low, high) > 0.0:
        return [f"{text}, over the banks by {max(low, 0.0):.1f} and {max(high, 0.0):.1f} m: into the fence"]
    near = ", within the error of the heights" if reaches_fence(crossing) else ""
    return [f"{text}, {-max(low, high):.1f} m below the lower bank{near}"]


def over_banks_m(crossing: Crossing) -> tuple[float, float] | None:
    """Return how high a flood stands over the ground of each bank, below it negative; None where unknown."""
    low, high = (crossing.flood_level_m - bank.ground_m for bank in (crossing.from_bank, crossing.to_bank))
    return None if math.isnan(low + high) else (low, high)


def reaches_fence(crossing: Crossing) -> bool:
    """Return whether a flood, two standard errors of the heights added, comes over a bank."""
    over = over_banks_m(crossing)
    return over is not None and max(over) > -2.0 * crossing.terms.height_sigma_m


def _at(crossing: Crossing, chainage_m: float) -> float:
    """Return a chainage as it is printed: on a loop from 0 to its length."""
    return chainage_m % crossing.line.length_m if crossing.line.closed else chainage_m


def doubts(crossing: Crossing) -> list[str]:
    """Return what has to be settled on site before the stretch is priced."""
    found = []
    if crossing.treatment.name == "measure first":
        found.append("banks and drop are not known well enough to choose how it is fenced: measure them")
    over = over_banks_m(crossing)
    if over and reaches_fence(crossing):
        stands = f"stands {max(over):.1f} m over" if max(over) > 0.0 else "may come over"
        found.append(
            f"the flood level given {stands} the lower bank, into the fence beside it: what stands there has to bear"
            " it, or to be given up"
        )
    if crossing.beyond:
        low, high = crossing.beyond
        found.append(
            f"the width given makes {crossing.span_m:.0f} m from bank to bank, but the ground goes on rising to banks"
            f" {high.at_m - low.at_m:.0f} m apart, {min(low.ground_m, high.ground_m) - crossing.bed_m:.1f} m over the"
            " bed: measure it"
        )
    ends = [bank for bank in (crossing.from_bank, crossing.to_bank) if bank.why == "line ends"]
    if ends:
        found.append("the line ends before the bank: its end would stand in the water's reach")
    return found


def basis_along(
    course: Course,
    waters: Sequence[Watercourse],
    stretch: Stretch,
    crossed: Sequence[Crossing],
    *,
    file: str,
    height_sigma_m: float,
) -> str:
    """Return what is known of a stretch that keeps to water for long, its crossings by chainage."""
    low, high = stretch
    text = f"{file}, {called(waters)}, within {distance('zone_reach_m'):.0f} m of the line for {high - low:.0f} m"
    parts = [f"{text}: one stretch along the water, its crossings without end assemblies of their own"]
    places = [_at(one, meet.middle_m) for one in crossed for meet in one.meets]
    parts.append(f"crosses it at {', '.join(f'{at:.0f}' for at in places)} m" if places else "does not cross it")
    levels = [water.flood_level_m for water in waters if not math.isnan(water.flood_level_m)]
    if levels:
        parts.append(_flooded(course, stretch, max(levels), height_sigma_m))
    return "; ".join(parts)


def _flooded(course: Course, stretch: Stretch, level_m: float, sigma_m: float) -> str:
    """Return how much of a stretch lies within two standard errors of a flood level, or lower."""
    look = np.arange(stretch[0], stretch[1], FLOOD_STEP_M)
    height = course.ground_at(np.mod(look, course.line.length_m) if course.line.closed else look)
    known, low = np.isfinite(height), height < level_m + 2.0 * sigma_m
    if not known.any():
        return f"flood level {level_m:.1f}, not held against the ground"
    lost = "" if known.all() else f", no ground heights over {FLOOD_STEP_M * np.sum(~known):.0f} m"
    if not low.any():
        return f"flood level {level_m:.1f}: below the line's ground{lost}"
    deep_m = level_m - float(np.nanmin(height))
    reach = f"about {FLOOD_STEP_M * np.sum(low):.0f} m of line in its reach"
    return f"flood level {level_m:.1f}: {reach}, up to {max(deep_m, 0.0):.1f} m deep{lost}"

"""One crossing measured: banks, bed, span, drop and flood, and crossings too near one another taken as one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fencegis.hazards.banks import Bank, Profile, Rules, bank, drop_m, drop_sigma_m, lowest, shifted
from fencegis.hazards.treatment import distance, treatment_for
from fencegis.line.chainage import points_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.hazards.found import Ground, Stretch
    from fencegis.hazards.treatment import Treatment
    from fencegis.hazards.watercourse import Meeting
    from fencegis.line.chainage import Line

NOT_KNOWN = math.nan
SHOWN = ("", "shape")  # why a bank is where it is, when it is one


@dataclass(frozen=True)
class Terms:
    """What the measuring rests on: the drawing's error, the raster's error and cell; `cell_m` 0 without a raster."""

    off_m: float  # one standard error of where a drawn watercourse lies beside the planned line
    height_sigma_m: float
    cell_m: float

    @property
    def step_m(self) -> float:
        """How far apart the ground is looked up."""
        return min(1.0, max(0.25, self.cell_m / 4.0))

    def rules(self) -> Rules:
        """Return when a rise is a bank."""
        look_m, grade = max(distance("shoulder_look_m"), self.cell_m), distance("shoulder_grade")
        return Rules(
            least_m=max(distance("least_bank_m"), distance("bank_sigmas") * self.height_sigma_m),
            grade=grade,
            look_m=look_m,
            rose_m=max(grade * look_m, distance("rise_sigmas") * self.height_sigma_m),
            stop_m=max(grade * look_m, distance("stop_sigmas") * self.height_sigma_m),
            reach_m=distance("bank_reach_m"),
        )

    def search_m(self, meet: Meeting) -> float:
        """Return how far along the line from the drawn place the bed is looked for."""
        square_m = max(distance("search_sigmas") * self.off_m, distance("least_search_m"), self.cell_m)
        return square_m * meet.stretching


@dataclass(frozen=True, eq=False)
class Crossing:
    """One crossing, of one watercourse or of some too near one another, along one line.

    `bed_at_m` and `bed_m` are NaN where unknown; `search_m` is how far along the line the bed was looked for. `moved_m`
    is how far a stretch of given width was moved to lie over the bed that the ground shows, and `beyond` the
    banks that it shows further out, None where it shows none. On a loop a chainage before the start is negative.
    """

    line: Line
    meets: tuple[Meeting, ...]
    from_bank: Bank
    to_bank: Bank
    bed_at_m: float
    bed_m: float
    search_m: float
    terms: Terms
    moved_m: float = 0.0
    beyond: tuple[Bank, Bank] | None = None

    @property
    def stretch(self) -> Stretch:
        """From bank to bank, or as far as is known."""
        return self.from_bank.at_m, self.to_bank.at_m

    @cached_property
    def shown(self) -> bool:
        """Whether both banks are known."""
        return self.from_bank.why in SHOWN and self.to_bank.why in SHOWN

    @property
    def span_m(self) -> float:
        """From bank to bank along the line, NaN where a bank is not known."""
        return self.to_bank.at_m - self.from_bank.at_m if self.shown else NOT_KNOWN

    @cached_property
    def drop_m(self) -> float:
        """Height of the straight line from bank to bank over the bed; NaN where unknown, or where there is no bed."""
        if not self.shown:
            return NOT_KNOWN
        drop = drop_m(from_bank=self.from_bank, to_bank=self.to_bank, bed_at_m=self.bed_at_m, bed_m=self.bed_m)
        return drop if drop > 0.0 else NOT_KNOWN

    @property
    def bed_unseen(self) -> bool:
        """Whether the bed may be deeper than the raster tells, being too narrow for its cells."""
        return self.span_m < distance("seen_cells") * self.terms.cell_m

    @property
    def drop_sigma_m(self) -> float:
        """One standard error of the drop."""
        share = (self.bed_at_m - self.from_bank.at_m) / self.span_m
        return drop_sigma_m(share=share, sigma_m=self.terms.height_sigma_m)

    @property
    def deepest_m(self) -> float:
        """What the drop may be: two standard errors more; infinite where the raster does not tell it."""
        deepest_m = self.drop_m + 2.0 * self.drop_sigma_m
        return math.inf if math.isnan(deepest_m) or self.bed_unseen else deepest_m

    @property
    def angle_deg(self) -> float:
        """The least angle between line and flow, NaN where no flow has a direction."""
        angles = [meet.angle_deg for meet in self.meets if not math.isnan(meet.angle_deg)]
        return min(angles, default=NOT_KNOWN)

    @property
    def stretching(self) -> float:
        """By how much distances square to the flow grow along the line."""
        return max(meet.stretching for meet in self.meets)

    @property
    def flood_level_m(self) -> float:
        """The highest flood level given, NaN for none."""
        levels = [meet.of.flood_level_m for meet in self.meets if not math.isnan(meet.of.flood_level_m)]
        return max(levels, default=NOT_KNOWN)

    @cached_property
    def treatment(self) -> Treatment:
        """The class of the catalogue."""
        return treatment_for(
            water="standing" if any(meet.of.water == "standing" for meet in self.meets) else "flowing",
            span_m=self.span_m,
            drop_m=self.drop_m,
            deepest_m=self.deepest_m,
            flood_over_bed_m=self.flood_level_m - self.bed_m + 2.0 * self.terms.height_sigma_m,
        )


def crossing_of(line: Line, meet: Meeting, *, ground: Ground | None, terms: Terms) -> Crossing:
    """Return the crossing where a line meets a watercourse.

    Of an outline the banks are looked for outward from its edges, else they are the edges. With a width they stand that
    far apart, moved to where the ground shows a bed if it shows one near. Else they are looked for outward from the
    lowest ground near the drawn place; where none is found, they are as far off as the bed was looked for.
    """
    search_m, rules = terms.search_m(meet), terms.rules()
    profile = None if ground is None else _profile(line, meet, ground, search_m=search_m, terms=terms)
    low, high = meet.stretch
    if meet.of.outline:
        at_m, bed_m = _lowest(profile, low, high)
        ends = _outward(line, profile, (low, high), bed_m, rules)
        return Crossing(line, (meet,), *ends, at_m, bed_m, search_m, terms)
    if not math.isnan(meet.of.width_m):
        half_m = meet.of.half_m * meet.stretching
        moved_m = _moved(profile, (low - half_m, high + half_m), search_m, rules)
        low, high = low - half_m + moved_m, high + half_m + moved_m
        at_m, bed_m = _lowest(profile, low, high)
        ends = _drawn(line, profile, low), _drawn(line, profile, high)
        outer = _outward(line, profile, (low, high), bed_m, rules)
        beyond = outer if any(_goes_on(end, far, rules) for end, far in zip(ends, outer, strict=True)) else None
        return Crossing(line, (meet,), *ends, at_m, bed_m, search_m, terms, moved_m, beyond)
    at_m, bed_m = _lowest(profile, low - search_m, high + search_m)
    if profile is None or math.isnan(bed_m):
        ends = Bank(low - search_m, NOT_KNOWN, "unknown"), Bank(high + search_m, NOT_KNOWN, "unknown")
    else:
        ends = (
            _found(line, bank(profile, from_m=at_m, bed_m=bed_m, side=-1, rules=rules), low - search_m),
            _found(line, bank(profile, from_m=at_m, bed_m=bed_m, side=1, rules=rules), high + search_m),
        )
    return Crossing(line, (meet,), *ends, at_m, bed_m, search_m, terms)


def _profile(line: Line, meet: Meeting, ground: Ground, *, search_m: float, terms: Terms) -> Profile:
    rules, half_m = terms.rules(), (meet.stretch[1] - meet.stretch[0]) / 2.0 + meet.of.half_m * meet.stretching
    out_m = half_m + search_m + rules.reach_m + rules.look_m
    count = math.ceil(out_m / terms.step_m)
    chainage = np.asarray(meet.middle_m + np.arange(-count, count + 1) * terms.step_m, dtype=np.float64)
    on_line = np.ones(len(chainage), dtype=bool) if line.closed else (chainage >= 0.0) & (chainage <= line.length_m)
    along = np.mod(chainage, line.length_m) if line.closed else chainage[on_line]
    height = np.full(len(chainage), np.nan)
    height[on_line] = ground(points_at(line, along))
    return Profile(chainage, height, on_line)


def _lowest(profile: Profile | None, low: float, high: float) -> tuple[float, float]:
    return (NOT_KNOWN, NOT_KNOWN) if profile is None else lowest(profile, from_m=low, to_m=high)


def _moved(profile: Profile | None, stretch: Stretch, by_m: float, rules: Rules) -> float:
    """Return how far a stretch of given width is moved along the line; not at all where the ground shows no bed."""
    if profile is None:
        return 0.0
    low, high = stretch
    by_m = shifted(profile, from_m=low, to_m=high, by_m=by_m)
    lower = min(profile.at(low + by_m), profile.at(high + by_m))
    return by_m if lower - lowest(profile, from_m=low + by_m, to_m=high + by_m)[1] >= rules.least_m else 0.0


def _outward(line: Line, profile: Profile | None, edges: Stretch, bed_m: float, rules: Rules) -> tuple[Bank, Bank]:
    """Return the banks beyond the edges of an outline, the edges themselves where the ground shows none."""
    low, high = (_drawn(line, profile, edge) for edge in edges)
    if profile is None or math.isnan(bed_m):
        return low, high
    one = bank(profile, from_m=edges[0], bed_m=bed_m, side=-1, rules=rules)
    two = bank(profile, from_m=edges[1], bed_m=bed_m, side=1, rules=rules)
    return one if not one.why and low.why == "shape" else low, two if not two.why and high.why == "shape" else high


def _goes_on(given: Bank, shown: Bank, rules: Rules) -> bool:
    """Return whether the ground goes on rising as a bank does beyond the bank of a given width."""
    out_m = abs(shown.at_m - given.at_m)
    return out_m > rules.look_m and shown.ground_m - given.ground_m > distance("shoulder_grade") * out_m


def _drawn(line: Line, profile: Profile | None, at_m: float) -> Bank:
    """Return a bank as drawn or by the width; where the line ends first it is none."""
    height = NOT_KNOWN if profile is None else profile.at(at_m)
    if not line.closed and not 0.0 < at_m < line.length_m:
        return Bank(min(max(at_m, 0.0), line.length_m), NOT_KNOWN, "line ends")
    return Bank(at_m, height, "shape")


def _found(line: Line, found: Bank, else_m: float) -> Bank:
    """Return a bank that the ground shows, else how far the bed was looked for, on the line."""
    if not found.why:
        return found
    at_m = else_m if line.closed else min(max(else_m, 0.0), line.length_m)
    return Bank(at_m, NOT_KNOWN, found.why)


def together(crossings: Sequence[Crossing], *, line: Line, apart_m: float) -> list[Crossing]:
    """Return the crossings of one line in order, those that leave less than `apart_m` between banks as one."""
    whole: list[Crossing] = []
    for one in sorted(crossings, key=lambda crossing: crossing.stretch):
        if whole and one.stretch[0] - whole[-1].stretch[1] < apart_m:
            whole[-1] = _both(whole[-1], one)
        else:
            whole.append(one)
    if line.closed and len(whole) > 1 and whole[0].stretch[0] + line.length_m - whole[-1].stretch[1] < apart_m:
        last = whole.pop()
        whole[0] = _both(_turned(last, -line.length_m), whole[0])
    return whole


def _both(one: Crossing, two: Crossing) -> Crossing:
    further = one.to_bank if one.to_bank.at_m > two.to_bank.at_m else two.to_bank
    low = min((one, two), key=lambda crossing: math.inf if math.isnan(crossing.bed_m) else crossing.bed_m)
    return Crossing(
        line=one.line,
        meets=one.meets + two.meets,
        from_bank=one.from_bank,
        to_bank=further,
        bed_at_m=low.bed_at_m,
        bed_m=low.bed_m,
        search_m=max(one.search_m, two.search_m),
        terms=one.terms,
        moved_m=max(one.moved_m, two.moved_m, key=abs),
    )


def _turned(one: Crossing, by_m: float) -> Crossing:
    """Return a crossing of a loop with its chainages counted from another turn."""
    low, high = (Bank(end.at_m + by_m, end.ground_m, end.why) for end in (one.from_bank, one.to_bank))
    return Crossing(
        one.line, one.meets, low, high, one.bed_at_m + by_m, one.bed_m, one.search_m, one.terms, one.moved_m
    )

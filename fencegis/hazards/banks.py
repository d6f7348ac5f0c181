"""Bed and banks in a profile of the ground across a watercourse. Arrays in, numbers out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.hazards.found import Floats

    Flags = npt.NDArray[np.bool_]

Why = Literal["", "shape", "rising", "flat", "unknown", "line ends"]
_SAME_M = 1e-6  # heights nearer than this are one height


@dataclass(frozen=True)
class Rules:
    """When a rise is a bank, and where it ends.

    The ground has to rise `least_m` over the bed, by `grade` on the whole way out, and by more than `rose_m` over the
    last `look_m`; its top is where it rises no more than `stop_m` over the next. Nothing is looked at further than
    `reach_m` out.
    """

    least_m: float
    grade: float
    look_m: float
    rose_m: float
    stop_m: float
    reach_m: float


@dataclass(frozen=True, eq=False)
class Profile:
    """Ground heights at even steps along the line.

    `chainage_m` (n,) rises evenly and may run past a line's ends; `ground_m` (n,) is NaN where unknown; `on_line` (n,)
    is false past the ends of an open line.
    """

    chainage_m: Floats
    ground_m: Floats
    on_line: Flags

    @property
    def step_m(self) -> float:
        """How far apart the heights are."""
        return float(self.chainage_m[1] - self.chainage_m[0])

    def at(self, chainage_m: float) -> float:
        """Return the height at a chainage, NaN where a step beside it is unknown."""
        place = (chainage_m - self.chainage_m[0]) / self.step_m
        low = min(max(int(np.floor(place + 1e-9)), 0), len(self.ground_m) - 2)
        share = min(max(place - low, 0.0), 1.0)
        if share < 1e-6:
            return float(self.ground_m[low])
        if share > 1.0 - 1e-6:
            return float(self.ground_m[low + 1])
        return float((1.0 - share) * self.ground_m[low] + share * self.ground_m[low + 1])


@dataclass(frozen=True)
class Bank:
    """Where a bank's top is, and its ground.

    `why` is empty when the ground profile shows it, else says why the place is not the ground's: "shape" (given by the
    drawing or by the width), "rising" (the ground goes on rising), "flat" (it never rises enough), "unknown", "line
    ends". With any of the last four `at_m` is as far as is known and no bank.
    """

    at_m: float
    ground_m: float
    why: Why


def lowest(profile: Profile, *, from_m: float, to_m: float) -> tuple[float, float]:
    """Return the chainage and the height of the lowest ground between two chainages.

    Of equals the nearest to the middle. Both NaN where no height is known there.
    """
    inside = np.flatnonzero(
        (profile.chainage_m >= from_m - _SAME_M) & (profile.chainage_m <= to_m + _SAME_M) & ~np.isnan(profile.ground_m)
    )
    if not len(inside):
        return float("nan"), float("nan")
    height = profile.ground_m[inside]
    equal = inside[height <= height.min() + _SAME_M]
    off = np.abs(profile.chainage_m[equal] - (from_m + to_m) / 2.0)
    best = int(equal[np.argmin(off)])
    return float(profile.chainage_m[best]), float(profile.ground_m[best])


def bank(profile: Profile, *, from_m: float, bed_m: float, side: Literal[-1, 1], rules: Rules) -> Bank:
    """Return the bank found walking out from a chainage, against the chainage (−1) or along it (1).

    It is the first place where the ground, high enough over the bed, stops rising; of the ground just ahead of it the
    point that stands furthest above a straight line is taken, which is the edge of a sharp bank.
    """
    start = (from_m - profile.chainage_m[0]) / profile.step_m
    first = int(np.ceil(start - 1e-6)) if side > 0 else int(np.floor(start + 1e-6))
    steps = max(2, round(rules.look_m / profile.step_m))
    out = slice(first, None) if side > 0 else slice(first, None, -1) if first >= 0 else slice(0, 0)
    ground, chainage, on_line = profile.ground_m[out], profile.chainage_m[out], profile.on_line[out]
    known = int(np.argmax(np.isnan(ground))) if np.isnan(ground).any() else len(ground)
    ground = ground[:known]
    if len(ground) > steps:
        ahead = np.lib.stride_tricks.sliding_window_view(ground, steps + 1)
        near = np.abs(chainage[: len(ahead)] - from_m) <= rules.reach_m + _SAME_M
        stopped = ahead.max(axis=1) - ahead[:, 0] <= rules.stop_m
        behind = ground[np.maximum(np.arange(len(ahead)) - steps, 0)]
        least_m = np.maximum(rules.least_m, rules.grade * np.abs(chainage[: len(ahead)] - from_m))
        rose = (ahead[:, 0] - bed_m >= least_m) & (ahead[:, 0] - behind > rules.rose_m)
        top = rose & stopped & near
        if top.any():
            place = int(np.argmax(top))
            at = place + _edge(ahead[place])
            return Bank(float(chainage[at]), float(ground[at]), "")
    if known < len(chainage) and abs(chainage[known] - from_m) <= rules.reach_m:
        why: Why = "unknown" if on_line[known] else "line ends"
    else:
        rise = float(ground[np.abs(chainage[:known] - from_m) <= rules.reach_m].max(initial=-np.inf)) - bed_m
        why = "rising" if rise >= rules.least_m else "flat"
    return Bank(float("nan"), float("nan"), why)


def _edge(ground: Floats) -> int:
    """Return which of the heights stands furthest above the straight line from the first to the last."""
    above = ground - np.linspace(ground[0], ground[-1], len(ground))
    return int(np.argmax(above)) if above.max() > _SAME_M else 0


def shifted(profile: Profile, *, from_m: float, to_m: float, by_m: float) -> float:
    """Return by how much a stretch of known width is shifted to lie best over the bed, at most `by_m` either way.

    Best is where the lower of its two ends stands highest over the lowest ground between; of equals the least shift.
    0 where no height is known.
    """
    steps = int(by_m / profile.step_m + 1e-9)
    shifts = np.arange(-steps, steps + 1) * profile.step_m
    depth = np.array([_depth(profile, from_m + shift, to_m + shift) for shift in shifts])
    if np.isnan(depth).all():
        return 0.0
    equal = np.flatnonzero(depth >= np.nanmax(depth) - _SAME_M)
    return float(shifts[equal[np.argmin(np.abs(shifts[equal]))]])


def _depth(profile: Profile, from_m: float, to_m: float) -> float:
    bed = lowest(profile, from_m=from_m, to_m=to_m)[1]
    return float(np.minimum(profile.at(from_m), profile.at(to_m))) - bed


def drop_m(*, from_bank: Bank, to_bank: Bank, bed_at_m: float, bed_m: float) -> float:
    """Return the height of the straight line from bank to bank over the bed, NaN where one of them is unknown."""
    span_m = to_bank.at_m - from_bank.at_m
    share = (bed_at_m - from_bank.at_m) / span_m
    return from_bank.ground_m + share * (to_bank.ground_m - from_bank.ground_m) - bed_m


def drop_sigma_m(*, share: float, sigma_m: float) -> float:
    """Return one standard error of the drop for heights with `sigma_m` each, the bed at `share` of the span."""
    return float(sigma_m * np.sqrt(1.0 + share**2 + (1.0 - share) ** 2))

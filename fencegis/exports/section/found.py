"""Crossings, buried services and the air under limbs on the long section: small signs at the ground and over it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.exports.section.paper import BRICK, SMALL, width_mm
from fencegis.exports.words import each, number, present

if TYPE_CHECKING:
    from collections.abc import Callable

    from fencegis.exports.section.paper import Paper
    from fencegis.exports.section.scales import Row
    from fencegis.records.plan import Plan

BELOW_GROUND_MM = 2.2  # the line of a buried service: nobody knows how deep it lies
STEP_MM = 1.5
Stretch = tuple[float, float]


@dataclass(frozen=True)
class Found:
    """What lies along one line, by chainage in metres.

    `air` are stretches with the least height of limbs over the ground, where limbs are flagged; `banks` and `beds` are
    of crossings; `services` are the stretches flagged for them.
    """

    air: tuple[tuple[float, float, float], ...] = ()
    banks: tuple[float, ...] = ()
    beds: tuple[float, ...] = ()
    services: tuple[Stretch, ...] = ()

    @property
    def over_m(self) -> float:
        """How far what is drawn stands over the ground at most."""
        return max((least for _, _, least in self.air), default=0.0)


def found_of(plan: Plan, line_id: str) -> Found:
    """Return what is drawn of one line."""
    flags = plan.hazards[plan.hazards["line_id"] == line_id]
    limbs = [(row.from_m, row.to_m) for row in each(flags[flags["kind"] == "tree limb"])]
    crossings = list(each(plan.crossings[plan.crossings["line_id"] == line_id]))
    air = plan.headroom[(plan.headroom["line_id"] == line_id) & plan.headroom["least_m"].notna()]
    return Found(
        air=tuple(
            (row.from_m, row.to_m, row.least_m)
            for row in each(air)
            if any(begin <= (row.from_m + row.to_m) / 2.0 <= end for begin, end in limbs)
        ),
        banks=tuple(end for row in crossings for end in (row.from_m, row.to_m)),
        beds=tuple(row.bed_at_m for row in crossings if present(row.bed_at_m)),
        services=tuple((row.from_m, row.to_m) for row in each(flags[flags["kind"] == "buried service"])),
    )


def draw_found(paper: Paper, found: Found, row: Row, down_mm: Callable[[float], float]) -> None:
    """Draw what lies in a row; `down_mm` gives the ground's place down the sheet at a chainage."""
    _air(paper, found, row, down_mm)
    for stretch in found.services:
        begin, end = max(stretch[0], row.from_m), min(stretch[1], row.to_m)
        if end > begin:
            places = np.linspace(begin, end, 2 + int((end - begin) * row.across / STEP_MM)).tolist()
            paper.line("service", [(row.right_mm(at), down_mm(at) + BELOW_GROUND_MM) for at in places])
    for at in found.banks:
        if row.holds(at):
            paper.line("bank", ((row.right_mm(at), down_mm(at) - 1.6), (row.right_mm(at), down_mm(at) + 1.6)))
    for at in found.beds:
        if row.holds(at):
            right, level = row.right_mm(at), down_mm(at)
            paper.shape("bed", ((right, level + 0.2), (right + 1.1, level - 1.7), (right - 1.1, level - 1.7)))


def _air(paper: Paper, found: Found, row: Row, down_mm: Callable[[float], float]) -> None:
    """Draw the air under limbs, with its number where that lies over no other's: the least are told first."""
    told: list[Stretch] = []
    for from_m, to_m, least in sorted(found.air, key=lambda stretch: stretch[2]):
        begin, end = max(from_m, row.from_m), min(to_m, row.to_m)
        if end <= begin:
            continue
        left, right = row.right_mm(begin), row.right_mm(end)
        level = min(down_mm(begin), down_mm(end)) - least * row.up
        paper.line("air", ((left, level), (right, level)))
        words = number(least)
        half, middle = width_mm(words, SMALL) / 2.0 + 0.4, (left + right) / 2.0
        if all(middle + half <= start or stop <= middle - half for start, stop in told):
            told.append((middle - half, middle + half))
            paper.box("behind", middle - half, level - 2.6, middle + half, level - 0.5)
            paper.write(words, (middle, level - 0.8), size=SMALL, align="center", colour=BRICK)

"""What a long section names, and where the names go: above the ground what stands, below it what to mind."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from fencegis.exports.section.paper import SMALL, WIDTH_MM, fitted_text, width_mm
from fencegis.exports.words import SAME_PLACE_M, each, holder, metres, number, present, turn

if TYPE_CHECKING:
    import pandas as pd

    from fencegis.exports.section.scales import Ground
    from fencegis.records.plan import Plan

NO_ELEVATION = "no elevation: grades not checked"
NO_GROUND = "ground not known: grades not checked"
LANE_GAP_MM = 1.6
BESIDE_M = 0.5
WORDS_MM = 120.0
DRAWN_AS = {"crossing": "water", "side slope": "slope", "buried service": "service"}
SAID_BY_KIND = ("crossing", "survey mark", "access", "parallel power")


@dataclass(frozen=True)
class Mark:
    """Something with a name on a line, from chainage to chainage (the same for a point).

    `must` is said wherever it is; what is not may stay without a name where there is no room. `rank` is the order of
    choosing places, least first.
    """

    from_m: float
    to_m: float
    kind: str
    text: str
    rank: int = 9
    must: bool = False

    @property
    def middle_m(self) -> float:
        """Where its name is wanted."""
        return (self.from_m + self.to_m) / 2.0


def standing(plan: Plan, line_id: str) -> list[Mark]:
    """Return the corners, junctions, gates and strainers of a line; those at one place share one name."""
    marks = [
        Mark(row.chainage_m, row.chainage_m, "corner", f"{row.corner_id}, {turn(row.turn_deg)}", 1)
        for row in _of(plan.corners, line_id)
    ]
    marks += [
        Mark(row.chainage_m, row.chainage_m, "node", f"junction {row.node_id}", 2) for row in _of(plan.nodes, line_id)
    ]
    marks += [
        Mark(row.from_m, row.to_m, "gate", f"gate {row.gate_id}, {metres(row.opening_m, 2)}", 0)
        for row in _of(plan.gates, line_id)
    ]
    taken = [at for mark in marks for at in (mark.from_m, mark.to_m)]
    for row in _of(plan.strainers, line_id):
        named = any(abs(at - row.chainage_m) <= SAME_PLACE_M for at in taken)
        marks.append(Mark(row.chainage_m, row.chainage_m, "strainer", "" if named else row.strainer_id, 3))
    return marks


def to_mind(plan: Plan, line_id: str, ground: Ground) -> list[Mark]:
    """Return the hazards, the stretches without ground heights and the breaks of grade of a line, faint ones last."""
    marks = _hazards(plan, line_id)
    if not ground.known:
        marks.append(Mark(0.0, ground.length_m, "unknown", NO_ELEVATION, 1, must=True))
    else:
        marks += [Mark(start, stop, "unknown", NO_GROUND, 1, must=True) for start, stop in ground.gaps()]
    strained = holder(plan, line_id) == "strainer"
    for row in _of(plan.breaks, line_id):
        taken = present(row.strainer_id)
        held = f", taken by {row.strainer_id}" if taken else (", no strainer" if strained else "")
        text = f"{row.kind} {'+' if row.change_pct > 0 else ''}{number(row.change_pct)} %{held}"
        marks.append(Mark(row.chainage_m, row.chainage_m, "taken" if taken else "crest", text, 2 if taken else 3))
    marks += [Mark(row.chainage_m, row.chainage_m, "faint", "") for row in _of(plan.faint_breaks, line_id)]
    return marks


def _hazards(plan: Plan, line_id: str) -> list[Mark]:
    """Return the hazards; neighbours that overlap and say the same share their words."""
    marks: list[Mark] = []
    said: list[tuple[list[str], str]] = []
    waters = {round(row.from_m, 3): row for row in _of(plan.crossings, line_id)}
    slopes = {round(row.from_m, 3): row for row in _of(plan.side_slopes, line_id)}
    for row in _of(plan.hazards, line_id):
        at = round(row.from_m, 3)
        words = _about(row, waters.get(at) if row.kind == "crossing" else slopes.get(at))
        if marks and said[-1][1] == words and row.from_m <= marks[-1].to_m + BESIDE_M:
            said[-1][0].append(row.hazard_id)
            marks[-1] = replace(marks[-1], to_m=max(marks[-1].to_m, row.to_m))
        else:
            said.append(([row.hazard_id], words))
            marks.append(Mark(row.from_m, row.to_m, DRAWN_AS.get(row.kind, "hazard"), "", 0, must=True))
    texts = [f"{ids[0]}{f' to {ids[-1]}' if len(ids) > 1 else ''} {words}" for ids, words in said]
    return [replace(mark, text=fitted_text(text, SMALL, WORDS_MM)) for mark, text in zip(marks, texts, strict=True)]


def _about(row: Any, more: Any = None) -> str:
    """Return a flag in as few words as tell it; `more` is the row of its own layer, where it has one."""
    if row.kind == "crossing" and more is not None:
        sizes = (("span", more.span_m), ("drop", more.drop_m))
        said = [f"{name} {metres(value)}" for name, value in sizes if present(value)]
        return ", ".join([f"{more.crossing_id} {more.treatment}", *said])
    if row.kind == "side slope" and more is not None and present(more.fall_deg):
        return f"side slope {number(abs(more.fall_deg))}° to the {'right' if more.fall_deg > 0 else 'left'}"
    if row.kind in SAID_BY_KIND:
        return str(row.kind)
    if present(row.clearance_m):
        asked = f"asked for {metres(row.required_m)}" if present(row.required_m) else "the owner sets the distance"
        return f"{row.kind}, least distance {metres(row.clearance_m)}, {asked}"
    return f"{row.kind}, {row.basis}"


def _of(frame: pd.DataFrame, line_id: str) -> list[Any]:
    return list(each(frame[frame["line_id"] == line_id]))


class Lanes:
    """Names in lanes one above another: each goes into the first lane where it touches no other."""

    def __init__(self, most: int, left_mm: float) -> None:
        """Open no more than `most` lanes, save for what must be said; nothing begins left of `left_mm`."""
        self.most, self.left = most, left_mm
        self.lanes: list[list[tuple[float, float]]] = []

    def place(self, text: str, wanted_mm: float, *, must: bool) -> tuple[int, float] | None:
        """Return the lane and the middle of the text across the sheet; None where there is no room."""
        half = width_mm(text, SMALL) / 2.0
        middle = min(max(wanted_mm, self.left + half), WIDTH_MM - 1.0 - half)
        begin, end = middle - half - LANE_GAP_MM, middle + half + LANE_GAP_MM
        for lane, taken in enumerate(self.lanes):
            if all(end <= start or stop <= begin for start, stop in taken):
                taken.append((begin, end))
                return lane, middle
        if len(self.lanes) < self.most or must:
            self.lanes.append([(begin, end)])
            return len(self.lanes) - 1, middle
        return None


def thinning(bay_mm: float, least_mm: float = 0.9) -> int:
    """Return of how many posts one is drawn, so that their ticks stay apart."""
    return max(1, math.ceil(least_mm / bay_mm)) if bay_mm > 0 else 1

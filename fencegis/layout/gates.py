"""Gates on the planned line: two posts each, moved along where one of them can serve as a corner's or a node's post."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.errors import InputError, Problem
from fencegis.layout.second_posts import apart_m, take_two
from fencegis.layout.standing import LEAST_BAY_M, ONE_POST_M
from fencegis.line.chainage import nearest_line
from fencegis.records.notes import Note
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Sequence

    import geopandas as gpd
    import numpy.typing as npt

    from fencegis.line.course import Course
    from fencegis.records.spec import Fence, Spec

    Floats = npt.NDArray[np.float64]

FILE = "gates.geojson"


@dataclass(frozen=True)
class Gate:
    """One gate: `row` of the layer as given; chainages are of the post centres."""

    row: int
    feature: str
    line: int
    from_m: float
    to_m: float


@dataclass(frozen=True)
class Hung:
    """All gates in file order, and what to know."""

    gates: tuple[Gate, ...]
    notes: tuple[Note, ...]


def hung(courses: Sequence[Course], *, gates: gpd.GeoDataFrame | None, spec: Spec) -> Hung:
    """Return where each gate's two posts stand.

    The opening is clear between post faces, the span from centre to centre. Raises InputError for a gate wider than
    its run and for two gates in one place.
    """
    if gates is None or gates.empty:
        return Hung((), ())
    middles = np.column_stack([gates.geometry.x, gates.geometry.y])
    on_line, chainage, offset = nearest_line([course.line for course in courses], middles)
    found, notes, problems = [], [], []
    for row, feature in enumerate(gates["feature"]):
        line, drawn_m = int(on_line[row]), float(chainage[row])
        course = courses[line]
        post_m = _number(gates["gate_post_mm"].iloc[row], spec.fence.gate_post_mm) / 1000.0
        span_m = float(gates["opening_m"].iloc[row]) + post_m
        fixed = _fixed_m(course)
        middle = _moved(drawn_m, span_m, fixed, beyond_m=_beyond_m(course, fixed, spec.fence))
        gate = Gate(row, feature, line, middle - span_m / 2.0, middle + span_m / 2.0)
        if not _within_a_run(course, gate):
            problems.append(_too_wide(gate, span_m))
        found.append(gate)
        notes += _notes(course, gate, float(offset[row]), middle - drawn_m)
    problems += _overlaps(found)
    if problems:
        raise InputError(problems)
    return Hung(tuple(found), tuple(notes))


def _number(value: float, otherwise: float) -> float:
    return otherwise if np.isnan(value) else float(value)


def _fixed_m(course: Course) -> Floats:
    """Return the chainages of ends, corners and nodes, a loop's start at both of its ends."""
    length = course.line.length_m
    return np.unique(np.concatenate([[0.0, length], course.corner_m, list(course.nodes)]))


def _beyond_m(course: Course, fixed: Floats, fence: Fence) -> Floats:
    """Return how far beyond each fixed place its last post stands: at a corner with two posts the second."""
    beyond = np.zeros(len(fixed))
    two = take_two(course.turn_deg, fence=fence) & (course.kind != "wire")
    for corner, apart in zip(course.corner_m[two], apart_m(course.turn_deg[two], fence=fence), strict=True):
        beyond[np.abs(fixed - corner) < ONE_POST_M] = apart
    return beyond


def _moved(middle: float, span: float, fixed: Floats, *, beyond_m: Floats) -> float:
    """Return the middle after moving along until one post is the fixed one that it stood on or close beside."""
    gap = middle - fixed
    near = np.flatnonzero(np.abs(gap) < span / 2.0 + LEAST_BAY_M + np.where(gap > 0.0, beyond_m, 0.0))
    if not len(near):
        return middle
    place = int(near[np.argmin(np.abs(np.abs(gap[near]) - span / 2.0))])
    beyond = 1.0 if gap[place] >= 0.0 else -1.0
    if fixed[place] == fixed[0]:
        beyond = 1.0
    elif fixed[place] == fixed[-1]:
        beyond = -1.0
    return float(fixed[place] + beyond * span / 2.0)


def _within_a_run(course: Course, gate: Gate) -> bool:
    fixed = _fixed_m(course)
    inside = (fixed > gate.from_m + 0.001) & (fixed < gate.to_m - 0.001)
    return bool(gate.from_m >= -0.001 and gate.to_m <= course.line.length_m + 0.001 and not inside.any())


def _too_wide(gate: Gate, span_m: float) -> Problem:
    return Problem(
        FILE,
        gate.feature,
        f"needs {span_m:.2f} m between post centres, more than its straight run has.",
        "Move it to a longer run, or make the opening narrower.",
    )


def _overlaps(gates: list[Gate]) -> list[Problem]:
    problems = []
    in_order = sorted(gates, key=lambda gate: (gate.line, gate.from_m))
    for one, two in pairwise(in_order):
        if one.line == two.line and two.from_m < one.to_m - 0.001:
            problems.append(
                Problem(
                    FILE,
                    two.feature,
                    f"overlaps {one.feature} by {one.to_m - two.from_m:.2f} m on the planned line.",
                    "Move one of the two along the fence, or delete it.",
                )
            )
    return problems


def _notes(course: Course, gate: Gate, offset_m: float, moved_m: float) -> list[Note]:
    notes = []
    middle = (gate.from_m + gate.to_m) / 2.0
    if abs(offset_m) >= 0.01:
        notes.append(
            Note(
                "repair",
                f"{gate.feature}: gate drawn {abs(offset_m):.2f} m off, moved onto the line",
                course.line_id,
                middle,
            )
        )
    if abs(moved_m) >= 0.01:
        notes.append(
            Note(
                "repair",
                f"{gate.feature}: gate moved {abs(moved_m):.2f} m along so that one of its posts is the corner, end or"
                " junction post",
                course.line_id,
                middle,
            )
        )
    return notes


def gate_table(hung_gates: Hung, courses: Sequence[Course], *, gates: gpd.GeoDataFrame | None) -> pd.DataFrame:
    """Return the layer `gates`, numbered along each line."""
    if gates is None or not hung_gates.gates:
        return empty("gates")
    in_order = sorted(hung_gates.gates, key=lambda gate: (gate.line, gate.from_m))
    given = gates.iloc[[gate.row for gate in in_order]].reset_index(drop=True)
    lines = [courses[gate.line].line_id for gate in in_order]
    return checked(
        "gates",
        pd.DataFrame(
            {
                "line_id": lines,
                "from_m": [gate.from_m for gate in in_order],
                "to_m": [gate.to_m for gate in in_order],
                "gate_id": [f"{line}-G{lines[: place + 1].count(line)}" for place, line in enumerate(lines)],
                **{
                    name: given[name]
                    for name in ("name", "opening_m", "leaf_m", "leaves", "hinge", "swing_side", "setback_m", "wing_m")
                },
            }
        ),
    )

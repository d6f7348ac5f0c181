"""A planned line with its ground: all that hazards and layout need to know of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.chainage import points_at
from fencegis.line.grade import Grades, fitted_grades, flat, stations_m

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import numpy.typing as npt

    from fencegis.line.chainage import Line
    from fencegis.line.network import Network, PlannedLine
    from fencegis.records.spec import FenceKind

    Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Course:
    """`station_m` (n,) is where the profile is told; `nodes` names the nodes by chainage."""

    planned: PlannedLine
    grades: Grades
    station_m: Floats
    ground: Callable[[Floats], Floats] | None  # points → heights, None when nothing is known of the ground
    nodes: Mapping[float, str]
    owned: frozenset[str]  # nodes whose post stands in this line's rows

    @property
    def line(self) -> Line:
        """The line with its chainage."""
        return self.planned.line

    @property
    def line_id(self) -> str:
        """The line's name."""
        return self.planned.drawn.line_id

    @property
    def kind(self) -> FenceKind:
        """What is built on it."""
        return self.planned.drawn.kind

    @cached_property
    def corners(self) -> npt.NDArray[np.int_]:
        """Which of the fit's corners are corners: not an open line's ends, nor where an arc goes on smoothly."""
        smooth = self.planned.fit.tangent
        inner = np.arange(len(smooth)) if self.line.closed else np.arange(1, len(smooth) - 1)
        return inner[~smooth[inner]]

    @cached_property
    def tangent_m(self) -> Floats:
        """Chainage of each joint of an arc that is no corner."""
        return self.line.run_m[: len(self.planned.fit.tangent)][self.planned.fit.tangent]

    @cached_property
    def corner_m(self) -> Floats:
        """Chainage of each corner; a loop has one at 0, unless an arc runs over its start."""
        return self.line.run_m[self.corners]

    @cached_property
    def held(self) -> npt.NDArray[np.bool_]:
        """Whether a peg stands on each corner."""
        return self.planned.fit.held[self.corners]

    @cached_property
    def turn_deg(self) -> Floats:
        """Change of direction at each corner, right positive."""
        begin, end = self.line.ends
        chord, half = np.arctan2(*(end - begin).T), self.line.run_turn_rad / 2.0
        turn = (chord - half)[self.corners % len(chord)] - (chord + half)[self.corners - 1]
        return np.asarray((np.degrees(turn) + 180.0) % 360.0 - 180.0)

    def ground_at(self, chainage_m: Floats) -> Floats:
        """Return the ground looked up at each chainage, NaN where it is unknown."""
        if self.ground is None:
            return np.full(len(chainage_m), np.nan)
        return self.ground(points_at(self.line, chainage_m))


def course_of(
    planned: PlannedLine,
    *,
    nodes: Mapping[float, str],
    owned: frozenset[str],
    ground: Callable[[Floats], Floats] | None,
    cell_m: float,
    vertical_error_m: float,
) -> Course:
    """Return the line with its ground looked up about once a cell; flat and unknown without `ground`."""
    length = planned.line.length_m
    station = stations_m(length, cell_m)
    if ground is None:
        return Course(planned, flat(length), station, None, nodes, owned)
    height = ground(points_at(planned.line, station))
    grades = fitted_grades(station, height, vertical_error_m=vertical_error_m)
    return Course(planned, grades, station, ground, nodes, owned)


def courses_of(
    net: Network, *, ground: Callable[[Floats], Floats] | None, cell_m: float, vertical_error_m: float
) -> list[Course]:
    """Return every line of the network with its ground and its nodes; the first line at a node owns the node's post."""
    owner: dict[str, str] = {}
    for meeting in net.meetings:
        owner.setdefault(meeting.node_id, meeting.line_id)
    courses = []
    for planned in net.lines:
        line_id = planned.drawn.line_id
        courses.append(
            course_of(
                planned,
                nodes={meeting.chainage_m: meeting.node_id for meeting in net.meetings if meeting.line_id == line_id},
                owned=frozenset(node for node, line in owner.items() if line == line_id),
                ground=ground,
                cell_m=cell_m,
                vertical_error_m=vertical_error_m,
            )
        )
    return courses

"""The tables that tell where the line runs: `runs`, `corners`, `breaks`, `nodes`, `profile`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.catalogue import rows as catalogue_rows
from fencegis.line import arc
from fencegis.line.bearings import bearings
from fencegis.records.notes import Note
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fencegis.line.chainage import Line
    from fencegis.line.course import Course
    from fencegis.line.network import Meeting
    from fencegis.records.site import Site


def run_table(courses: Sequence[Course], *, site: Site) -> tuple[pd.DataFrame, tuple[Note, ...]]:
    """Return the layer `runs` and what to know of its bearings and arcs. The length's error is that of its two ends.

    An arc's bearing is that of its tangent where it begins.
    """
    frames, begins, ahead = [], [], []
    for course in courses:
        line, fit = course.line, course.planned.fit
        begin, end = line.run_m[:-1], line.run_m[1:]
        bent = line.rises_m != 0.0
        frames.append(
            pd.DataFrame(
                {
                    "line_id": course.line_id,
                    "from_m": begin,
                    "to_m": end,
                    "run_id": [f"{course.line_id}-R{number}" for number in range(1, len(begin) + 1)],
                    "kind": np.where(bent, "arc", "straight"),
                    "radius_m": _radius(line),
                    "sigma_radius_m": _arc_sigma(course, arc.radius_m),
                    "label": course.planned.drawn.label,
                    "length_m": end - begin,
                    "ground_length_m": np.diff(course.grades.along_ground(line.run_m)),
                    "sigma_length_m": np.where(bent, _arc_sigma(course, arc.length_m), _length_sigma(course)),
                    "offset_left_m": fit.left_m,
                    "offset_right_m": fit.right_m,
                }
            )
        )
        begins.append(line.ends[0])
        ahead.append(_tangent_ends(line))
    runs = pd.concat(frames, ignore_index=True)
    columns, notes = bearings(np.vstack(begins), np.vstack(ahead), site=site)
    runs = checked("runs", runs.assign(**columns))
    return runs, (*notes, *_notes_on_arcs(runs))


def _tangent_ends(line: Line) -> np.ndarray:
    """Return for each run the point that it would come to if it went on as it begins; of a straight its end."""
    begin, end = line.ends
    step = end - begin
    bearing = np.arctan2(*step.T) - line.run_turn_rad / 2.0
    return np.asarray(begin + np.hypot(*step.T)[:, None] * np.column_stack([np.sin(bearing), np.cos(bearing)]))


def _radius(line: Line) -> np.ndarray:
    begin, end = line.ends
    bent = line.rises_m != 0.0
    radius = np.full(len(bent), np.nan)
    radius[bent] = arc.radius_m(begin[bent], end[bent], line.rises_m[bent])
    return radius


def _arc_sigma(course: Course, told: Callable[..., np.ndarray]) -> np.ndarray:
    """Return one standard error of what is told of each arc, from the errors of its ends and rise; NaN of straights."""
    line = course.line
    bent = line.rises_m != 0.0
    sigma = np.full(len(bent), np.nan)
    if bent.any():
        begin, end = (part[bent] for part in line.ends)
        sigma[bent] = arc.sigma_of(told, begin, end, line.rises_m[bent], course.planned.fit.arc_covariance[bent])
    return sigma


def _notes_on_arcs(runs: pd.DataFrame) -> list[Note]:
    arcs = runs[runs["kind"] == "arc"]
    told = zip(
        *(arcs[name].tolist() for name in ("run_id", "radius_m", "sigma_radius_m", "line_id", "from_m")), strict=True
    )
    return [
        Note(
            "default",
            f"{name} is planned as an arc of {abs(radius):.1f} m radius to the {'right' if radius > 0.0 else 'left'}"
            f" (one standard error {sigma:.1f} m): it explains the drawing better than straight runs do",
            line_id,
            float(from_m),
        )
        for name, radius, sigma, line_id, from_m in told
    ]


def corner_table(courses: Sequence[Course], *, bend_rule: str | None) -> pd.DataFrame:
    """Return the layer `corners`; without a chosen rule set the class is empty."""
    frames = []
    for course in courses:
        turn, fit = course.turn_deg, course.planned.fit
        frames.append(
            pd.DataFrame(
                {
                    "line_id": course.line_id,
                    "chainage_m": course.corner_m,
                    "corner_id": [f"{course.line_id}-C{number:02d}" for number in range(1, len(turn) + 1)],
                    "turn_deg": turn,
                    "interior_deg": 180.0 - np.abs(turn),
                    "held": course.held,
                    "sigma_m": fit.sigma_m[course.corners],
                    "rule_class": [bend_class(float(size), bend_rule) for size in np.abs(turn)],
                }
            )
        )
    return checked("corners", pd.concat(frames, ignore_index=True))


def bend_class(turn_deg: float, rule_set: str | None, *, post: str = "wood") -> str | None:
    """Return what a rule set of `catalogue/bend_rules.csv` asks of a bend of this size, None without a rule set."""
    for row in catalogue_rows("bend_rules"):
        if row["rule_set"] != rule_set or row["post"] not in ("any", post):
            continue
        low, high = float(row["from_deg"]), float(row["to_deg"])
        above = turn_deg > low or (turn_deg == low and row["from_included"] == "yes")
        below = turn_deg < high or (turn_deg == high and row["to_included"] == "yes")
        if above and below:
            return row["asks"]
    return None


def node_table(meetings: Sequence[Meeting]) -> pd.DataFrame:
    """Return the layer `nodes`: a row for each line at each node."""
    if not meetings:
        return empty("nodes")
    return checked("nodes", pd.DataFrame([vars(meeting) for meeting in meetings]))


def profile_table(courses: Sequence[Course]) -> pd.DataFrame:
    """Return the layer `profile`: the ground as looked up and the fitted grades, joints included."""
    frames = []
    for course in courses:
        chainage = np.unique(np.concatenate([course.station_m, course.grades.joint_m]))
        frames.append(
            pd.DataFrame(
                {
                    "line_id": course.line_id,
                    "chainage_m": chainage,
                    "ground_m": course.ground_at(chainage),
                    "fitted_m": course.grades.fitted_at(chainage),
                    "sigma_m": course.grades.sigma_at(chainage),
                }
            )
        )
    return checked("profile", pd.concat(frames, ignore_index=True))


def _length_sigma(course: Course) -> np.ndarray:
    begin, end = course.line.ends
    ahead = (end - begin) / np.hypot(*(end - begin).T)[:, None]
    covariance = course.planned.fit.covariance
    both = covariance[: len(ahead)] + np.roll(covariance, -1, axis=0)[: len(ahead)]
    return np.asarray(np.sqrt(np.einsum("ni,nij,nj->n", ahead, both, ahead)))

"""The tables that tell where the line runs: `runs`, `corners`, `breaks`, `nodes`, `profile`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.catalogue import rows as catalogue_rows
from fencegis.line.bearings import bearings
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.line.course import Course
    from fencegis.line.network import Meeting
    from fencegis.records.notes import Note
    from fencegis.records.site import Site


def run_table(courses: Sequence[Course], *, site: Site) -> tuple[pd.DataFrame, tuple[Note, ...]]:
    """Return the layer `runs` and what to know of its bearings. The length's error is that of its two corners."""
    frames = []
    for course in courses:
        chainage, fit = course.line.chainage_m, course.planned.fit
        begin, end = chainage[:-1], chainage[1:]
        along = course.grades.along_ground(chainage)
        frames.append(
            pd.DataFrame(
                {
                    "line_id": course.line_id,
                    "from_m": begin,
                    "to_m": end,
                    "run_id": [f"{course.line_id}-R{number}" for number in range(1, len(begin) + 1)],
                    "kind": "straight",
                    "label": course.planned.drawn.label,
                    "length_m": end - begin,
                    "ground_length_m": np.diff(along),
                    "sigma_length_m": _length_sigma(course),
                    "offset_left_m": fit.left_m,
                    "offset_right_m": fit.right_m,
                }
            )
        )
    runs = pd.concat(frames, ignore_index=True)
    ends = [np.vstack([course.line.path[place] for course in courses]) for place in (slice(None, -1), slice(1, None))]
    columns, notes = bearings(*ends, site=site)
    return checked("runs", runs.assign(**columns)), notes


def corner_table(courses: Sequence[Course], *, bend_rule: str | None) -> pd.DataFrame:
    """Return the layer `corners`; without a chosen rule set the class is empty."""
    frames = []
    for course in courses:
        turn, fit = course.turn_deg, course.planned.fit
        inner = slice(None) if course.line.closed else slice(1, -1)
        frames.append(
            pd.DataFrame(
                {
                    "line_id": course.line_id,
                    "chainage_m": course.corner_m,
                    "corner_id": [f"{course.line_id}-C{number:02d}" for number in range(1, len(turn) + 1)],
                    "turn_deg": turn,
                    "interior_deg": 180.0 - np.abs(turn),
                    "held": fit.held[inner],
                    "sigma_m": fit.sigma_m[inner],
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


def break_table(courses: Sequence[Course]) -> pd.DataFrame:
    """Return the layer `breaks`: every change of grade that was fitted; strainers are entered by the pipeline."""
    frames = []
    for course in courses:
        grades = course.grades
        found = ~np.isnan(grades.change_pct)
        frames.append(
            pd.DataFrame(
                {
                    "line_id": course.line_id,
                    "chainage_m": grades.joint_m[found],
                    "change_pct": grades.change_pct[found],
                    "sigma_pct": grades.change_sigma_pct[found],
                    "kind": np.where(grades.change_pct[found] < 0, "crest", "dip"),
                }
            )
        )
    return checked("breaks", pd.concat(frames, ignore_index=True))


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
    step = np.diff(course.line.path, axis=0)
    ahead = step / np.hypot(*step.T)[:, None]
    covariance = course.planned.fit.covariance
    both = covariance[np.arange(len(ahead))] + np.roll(covariance, -1, axis=0)[: len(ahead)]
    return np.asarray(np.sqrt(np.einsum("ni,nij,nj->n", ahead, both, ahead)))

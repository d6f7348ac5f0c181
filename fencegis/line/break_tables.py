"""The tables of changes of grade: `breaks`, those fitted, and `faint_breaks`, left out since noise makes as much."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.records.tables import checked

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.line.course import Course

    Floats = npt.NDArray[np.float64]


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
                    "sigma_chainage_m": grades.place_sigma_m[found],
                    "change_pct": grades.change_pct[found],
                    "sigma_pct": grades.change_sigma_pct[found],
                    "kind": _kind(grades.change_pct[found]),
                }
            )
        )
    return checked("breaks", pd.concat(frames, ignore_index=True))


def faint_break_table(courses: Sequence[Course]) -> pd.DataFrame:
    """Return the layer `faint_breaks`: changes of grade left out as noise that are nearly sure."""
    frames = []
    for course in courses:
        chainage, change, sigma = course.grades.faint.T
        frames.append(
            pd.DataFrame(
                {
                    "line_id": pd.Series([course.line_id] * len(chainage), dtype="str"),
                    "chainage_m": chainage,
                    "change_pct": change,
                    "sigma_pct": sigma,
                    "kind": pd.Series(_kind(change), dtype="str"),
                    "says": pd.Series([_says(size) for size in np.abs(change) / sigma], dtype="str"),
                }
            )
        )
    return checked("faint_breaks", pd.concat(frames, ignore_index=True))


def _kind(change_pct: Floats) -> npt.NDArray[np.str_]:
    return np.where(change_pct < 0, "crest", "dip")


def _says(size: float) -> str:
    return f"{size:.1f} standard errors: noise alone makes as much; look on the walk"

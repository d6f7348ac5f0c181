"""All hazard steps together: numbered, and with a word for every kind that nobody looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.hazards.found import Found
    from fencegis.line.course import Course

NOT_BUILT = ("side slope", "crossing", "buried service", "keep-out")


def hazard_table(found: Sequence[Found]) -> pd.DataFrame:
    """Return the layer `hazards`, numbered; rows of one hazard that a loop's start cuts share a number."""
    tables = [
        one.hazards.assign(hazard=[f"{step} {row}" for row in one.hazards.index])
        for step, one in enumerate(found)
        if len(one.hazards)
    ]
    if not tables:
        return empty("hazards")
    table = pd.concat(tables, ignore_index=True)
    names = {hazard: f"H{number:02d}" for number, hazard in enumerate(dict.fromkeys(table["hazard"]), start=1)}
    return checked("hazards", table.assign(hazard_id=table["hazard"].map(names)).drop(columns="hazard"))


def no_strainer(found: Sequence[Found]) -> dict[str, list[tuple[float, float]]]:
    """Return for each line the stretches, from and to in chainage, where no strainer should stand: under conductors."""
    stretches: dict[str, list[tuple[float, float]]] = {}
    for one in (one for one in found if len(one.hazards)):
        for line_id, kind, from_m, to_m in one.hazards[["line_id", "kind", "from_m", "to_m"]].itertuples(index=False):
            if str(kind).startswith("overhead"):
                stretches.setdefault(str(line_id), []).append((float(from_m), float(to_m)))
    return stretches


def check_table(found: Sequence[Found], courses: Sequence[Course]) -> pd.DataFrame:
    """Return the layer `checks`; what no step looks at is *not checked* over the whole of each line."""
    unlooked = pd.DataFrame(
        [
            {
                "line_id": course.line_id,
                "from_m": 0.0,
                "to_m": course.line.length_m,
                "kind": kind,
                "status": "not checked",
                "basis": f"{kind}: not looked at by this version of the program",
            }
            for course in courses
            for kind in NOT_BUILT
        ]
    )
    return checked("checks", pd.concat([*(one.checks for one in found), unlooked], ignore_index=True))

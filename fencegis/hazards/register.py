"""All hazard steps together: numbered, and with a word for every kind that nobody looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import pandas as pd

from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.hazards.found import Found, Stretch
    from fencegis.line.course import Course

NOT_BUILT: tuple[str, ...] = ()
LAYERS_OF_HAZARDS = ("crossings", "trees", "clearing", "headroom", "side_slopes", "access")


def hazard_table(found: Sequence[Found]) -> pd.DataFrame:
    """Return the layer `hazards`, numbered in walking order; rows of one that a loop's start cuts share a number."""
    tables = [
        one.hazards.assign(hazard=[f"{step} {row}" for row in one.hazards.index])
        for step, one in enumerate(found)
        if len(one.hazards)
    ]
    if not tables:
        return empty("hazards")
    table = pd.concat(tables, ignore_index=True)
    lines = {line: place for place, line in enumerate(dict.fromkeys(_lines(found, table)))}
    table = table.assign(line=table["line_id"].map(lines)).sort_values(["line", "from_m", "to_m"], kind="stable")
    names = {hazard: f"H{number:02d}" for number, hazard in enumerate(dict.fromkeys(table["hazard"]), start=1)}
    table = table.assign(hazard_id=table["hazard"].map(names)).drop(columns=["hazard", "line"])
    return checked("hazards", table.reset_index(drop=True))


def _lines(found: Sequence[Found], table: pd.DataFrame) -> list[str]:
    """Return the names of lines as they come: those that steps looked at, then any that only a flag names."""
    return [*(line for one in found for line in one.checks["line_id"]), *table["line_id"]]


def forbidden(found: Sequence[Found], *of: Literal["strainers", "posts"]) -> dict[str, dict[str, list[Stretch]]]:
    """Return by line, and by what forbids it, the stretches on which no strainer, or no post, should stand."""
    stretches: dict[str, dict[str, list[Stretch]]] = {}
    for ban in (ban for one in found for ban in one.bans if ban.of in of):
        stretches.setdefault(ban.line_id, {}).setdefault(ban.why, []).append(ban.stretch)
    return stretches


def stands(found: Sequence[Found]) -> dict[str, list[tuple[float, str]]]:
    """Return by line where the work has to end on an assembly of its own, by chainage, and why."""
    places: dict[str, list[tuple[float, str]]] = {}
    for stand in (stand for one in found for stand in one.stands):
        places.setdefault(stand.line_id, []).append((stand.chainage_m, stand.reason))
    return places


def openings(found: Sequence[Found]) -> dict[str, list[Stretch]]:
    """Return by line where the fence opens between two assemblies of its own, from and to in chainage."""
    ways: dict[str, list[Stretch]] = {}
    for line_id, stretch in (way for one in found for way in one.openings):
        ways.setdefault(line_id, []).append(stretch)
    return ways


def own_layers(found: Sequence[Found]) -> dict[str, pd.DataFrame]:
    """Return the layers that hazard steps fill, each there though nothing fills it."""
    given = {name: table for one in found for name, table in one.layers.items()}
    return {name: given[name] if name in given else empty(name) for name in LAYERS_OF_HAZARDS}


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

"""What only several files together show: marks and gates that lie off the line, gates in one place."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.errors import Problem

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy.typing as npt

    from fencegis.records.site import DrawnLine

    Floats = npt.NDArray[np.float64]


def path_of(line: DrawnLine) -> Floats:
    """Return the line's vertices, a loop's first repeated at its end."""
    return np.vstack([line.vertices, line.vertices[:1]]) if line.closed else line.vertices


def off_the_line(marks: gpd.GeoDataFrame, drawn: tuple[DrawnLine, ...], *, file: str) -> list[Problem]:
    """Return a fault for each mark further from every drawn line than three standard deviations, 3 m at least."""
    limit_m = max([3.0, *(3.0 * line.sigma_m for line in drawn)])
    distance_m, _ = _nearest(marks, drawn)
    return [
        Problem(
            file,
            label,
            f"it is {away:.1f} m from the nearest line; more than {limit_m:g} m is too far.",
            "move it onto the line, correct the line, or take it out.",
        )
        for label, away in zip(marks["feature"], distance_m, strict=True)
        if away > limit_m
    ]


def overlapping_gates(gates: gpd.GeoDataFrame, drawn: tuple[DrawnLine, ...], *, file: str) -> list[Problem]:
    """Return a fault for each two gates on one line whose openings run into one another."""
    _, nearest = _nearest(gates, drawn)
    problems = []
    for place, line in enumerate(drawn):
        here = gates[nearest == place]
        path = shapely.linestrings(path_of(line))
        middles = shapely.line_locate_point(path, here.geometry.to_numpy())
        stops = list(zip(here["feature"], middles, here["opening_m"], strict=True))
        for (one, one_m, one_opening_m), (other, other_m, other_opening_m) in combinations(stops, 2):
            apart_m = abs(one_m - other_m)
            if line.closed:
                apart_m = min(apart_m, shapely.length(path) - apart_m)
            if apart_m < (one_opening_m + other_opening_m) / 2:
                fault = f"its opening runs into that of {one}: their middles are {apart_m:.2f} m apart on the line."
                problems.append(Problem(file, other, fault, "move one of them, or make an opening smaller."))
    return problems


def _nearest(marks: gpd.GeoDataFrame, drawn: tuple[DrawnLine, ...]) -> tuple[Floats, npt.NDArray[np.intp]]:
    """Return for each mark its distance from the nearest line and that line's place."""
    paths = np.array([shapely.linestrings(path_of(line)) for line in drawn])
    apart_m = shapely.distance(marks.geometry.to_numpy()[:, None], paths[None, :])
    return apart_m.min(axis=1), apart_m.argmin(axis=1)

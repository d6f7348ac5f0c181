"""The two marks that a rover is tried on before anything else: far apart, and on the ground where there are any."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.exports.key_points import rows

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.exports.key_points import Place
    from fencegis.records.plan import Plan

    Floats = npt.NDArray[np.float64]

TURNS = {"end", "corner", "junction", "peg"}  # kinds of key point that can be told apart on the ground and the map


@dataclass(frozen=True)
class CheckMark:
    """One of the two. `line_id` is None for a peg, which somebody gave; `ground_m` is NaN when unknown."""

    name: str
    words: str
    line_id: str | None
    easting_m: float
    northing_m: float
    ground_m: float


def check_marks(plan: Plan, places: Sequence[Place]) -> tuple[CheckMark, ...]:
    """Return the two pegs that are furthest apart; without two, the two corners or ends that are; else nothing.

    Pegs were placed on the ground by somebody, so a rover can stand on them; a corner is only a number until it is set.
    """
    marks = _pegs(plan)
    if len(marks) < 2:
        turns = [place for place in places if place.kind in TURNS]
        marks = [
            CheckMark(
                "", f"{place.kind} {place.name}", place.line_id, place.easting_m, place.northing_m, place.ground_m
            )
            for place in turns
        ]
    if len(marks) < 2:
        return ()
    pair = furthest_apart(np.array([(mark.easting_m, mark.northing_m) for mark in marks]))
    return tuple(_called(marks[at], number) for number, at in enumerate(pair, start=1))


def furthest_apart(points: Floats) -> tuple[int, int]:
    """Return which two of (n, 2) points are furthest apart, the lower first; the first such pair of equals."""
    from scipy.spatial.distance import pdist

    corners = shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(points)))  # the furthest two are of them
    outer = np.flatnonzero((points[:, None, :] == corners).all(axis=2).any(axis=1))
    first, second = np.triu_indices(len(outer), 1)
    if not len(first):  # all are one place
        return 0, 1
    at = int(np.argmax(pdist(points[outer])))
    return int(outer[first[at]]), int(outer[second[at]])


def _called(mark: CheckMark, number: int) -> CheckMark:
    return replace(mark, name=f"CHK{number}")


def _pegs(plan: Plan) -> list[CheckMark]:
    pegs = plan.site.pegs
    if pegs is None:
        return []
    return [CheckMark("", f"{row.kind} peg", None, row.geometry.x, row.geometry.y, float("nan")) for row in rows(pegs)]

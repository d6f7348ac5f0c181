"""Runs of two plans matched by place: which stayed, which moved and how far, which are gone or new."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from pyproj import Transformer

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.records.plan import Plan

SAME_SHARE = 0.5  # of the shorter run that lies near the other, for the two to be one run
LEAST_NEAR_M = 2.0  # runs nearer than this are at one place, however well they were drawn
SIGMAS = 3.0


@dataclass(frozen=True)
class Match:
    """A run of the first plan and one of the other by their numbers, 0 where it has none, and how far apart they lie.

    `apart_m` is the greatest distance from either to the other (Hausdorff's); `longer_m` the other's length less the
    first's, along the ground.
    """

    first: int
    other: int
    apart_m: float = 0.0
    longer_m: float = 0.0


def shapes_in(plan: Plan, crs: str) -> list[Any]:
    """Return the plan's runs as lines in another grid, directly from datum to datum."""
    turn = Transformer.from_crs(plan.crs, crs, always_xy=True)
    return list(shapely.transform(plan.runs.geometry.to_numpy(), lambda at: np.column_stack(turn.transform(*at.T))))


def near_m(first: Plan, other: Plan) -> float:
    """Return how near two runs count as one place: three standard deviations of two hands' difference, 2 m at least."""
    hands = [max((line.sigma_m for line in plan.site.drawn), default=0.0) for plan in (first, other)]
    return max(LEAST_NEAR_M, SIGMAS * math.hypot(*hands))


def matched(first: Sequence[Any], other: Sequence[Any], *, near_m: float) -> list[tuple[int, int]]:
    """Return pairs of places (0 first) of runs that are one: most of the shorter lies near the other, best first."""
    around = [line.buffer(near_m) for line in first]
    tree = shapely.STRtree(around)
    pairs = []
    for place, line in enumerate(other):
        for found in tree.query(line, predicate="intersects").tolist():
            together = line.intersection(around[found]).length
            if together >= SAME_SHARE * min(line.length, first[found].length):
                pairs.append((-together, found, place))
    taken: tuple[set[int], set[int]] = (set(), set())
    best = []
    for _, one, two in sorted(pairs):
        if one not in taken[0] and two not in taken[1]:
            taken[0].add(one)
            taken[1].add(two)
            best.append((one, two))
    return sorted(best)


def matches(first: Plan, other: Plan) -> list[Match]:
    """Return every run of both plans once, in the first's order, then what is new, in the other's."""
    lines, others = list(first.runs.geometry), shapes_in(other, first.crs)
    pairs = dict(matched(lines, others, near_m=near_m(first, other)))
    lengths = [plan.runs["ground_length_m"].to_numpy(dtype=float) for plan in (first, other)]
    found = []
    for one, line in enumerate(lines):
        if one in pairs:
            two = pairs[one]
            apart = float(shapely.hausdorff_distance(line, others[two], densify=0.1))
            found.append(Match(one + 1, two + 1, apart, float(lengths[1][two] - lengths[0][one])))
        else:
            found.append(Match(one + 1, 0))
    new = set(range(len(others))) - set(pairs.values())
    return [*found, *(Match(0, two + 1) for two in sorted(new))]

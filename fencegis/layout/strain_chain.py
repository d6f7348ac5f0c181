"""The cheapest chain of stout posts between two that have to stand: strainers in wire, string ends in rail.

Model. Variables: which of the candidate stations take one. Objective: the sum of what each costs there (a little less
where a stout post stands anyway, a thousand times as much where none may stand) and of what each strain costs by the
square of its length. Limits: no strain longer than the greatest, and none that turns more than the greatest turning;
only from a candidate to the very next may either be broken, where no choice could mend it, at the cost of a ban. Exact
by dynamic programming: the cheapest chain to a candidate is the cheapest over its possible predecessors, and no choice
beyond it changes that. Length and turning both rise along the line, so the possible predecessors are an unbroken row.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows
from fencegis.line.counting import A_MILLIMETRE

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.layout.turning import Turned

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]

CANDIDATE_STEP_M = 2.0
A_HAIR_DEG = 1e-6  # sums of the same turns taken in another order differ by less


@dataclass(frozen=True)
class Costs:
    """What a chain of one kind costs, in posts of that kind: a row each of `catalogue/strainer_costs.csv`."""

    post: float
    uneven: float
    welcome: float
    forbidden: float


@dataclass(frozen=True)
class Limits:
    """The greatest length of a strain along the ground, and the greatest sum of its turns."""

    length_m: float
    turning_deg: float = np.inf


@cache
def costs_of(chain: str) -> Costs:
    """Return the costs of a `strain` or of a `string`."""
    return Costs(**{row["item"]: float(row["value"]) for row in rows("strainer_costs") if row["chain"] == chain})


def candidates_m(length_m: float, *, parts: int, also: Floats) -> Floats:
    """Return stations from 0 to `length_m` where a strainer could stand, both ends included, rising.

    Every two metres, where `parts` equal strains or one more would put them, and the stations `also` (crests, bends);
    metres along the ground.
    """
    grid = np.linspace(0.0, length_m, max(2, round(length_m / CANDIDATE_STEP_M) + 1))
    even = [np.linspace(0.0, length_m, count + 1) for count in (parts, parts + 1)]
    inside = also[(also > 0.0) & (also < length_m)]
    return np.unique(np.concatenate([grid, *even, inside]))


def cheapest_chain(
    station_m: Floats,
    *,
    limits: Limits,
    costs: Costs,
    turned: Turned | None = None,
    welcome: Flags | None = None,
    forbidden: Flags | None = None,
) -> list[int]:
    """Return the places in `station_m` of the cheapest chain's posts, the two ends left out.

    `station_m` (n,) are the candidates, rising, the ends first and last; `turned` sums the turns up to each, none
    without; `welcome` and `forbidden` (n,) say where a post is welcome and where none may stand.
    """
    standing = standing_cost(len(station_m), costs=costs, welcome=welcome, forbidden=forbidden)
    count = len(station_m)
    best, source = np.full(count, np.inf), np.zeros(count, dtype=int)
    best[0] = 0.0
    first = _first_before(station_m, limits, turned)
    for place in range(1, count):
        begin = min(int(first[place]), place - 1)  # where even the very next is too far, it is the only one
        strains = costs.uneven * ((station_m[place] - station_m[begin:place]) / limits.length_m) ** 2
        cost = best[begin:place] + strains
        cheapest = int(np.argmin(cost))
        source[place] = begin + cheapest
        best[place] = cost[cheapest] + standing[place]
    chain = [int(source[-1])]
    while chain[-1] > 0:
        chain.append(int(source[chain[-1]]))
    return chain[-2::-1]


def chain_cost(
    station_m: Floats,
    *,
    limits: Limits,
    costs: Costs,
    turned: Turned | None = None,
    welcome: Flags | None = None,
    forbidden: Flags | None = None,
) -> float:
    """Return what a chain with a post at each of these stations costs, the two ends costing nothing.

    Every strain beyond a limit costs as a ban.
    """
    standing = standing_cost(len(station_m), costs=costs, welcome=welcome, forbidden=forbidden)
    length = np.diff(station_m)
    beyond = length > limits.length_m + A_MILLIMETRE
    if turned is not None:
        beyond |= turned.before_deg[1:] - turned.past_deg[:-1] > limits.turning_deg + A_HAIR_DEG
    strains = costs.uneven * (length / limits.length_m) ** 2 + costs.forbidden * beyond
    return float(strains.sum() + standing[1:-1].sum())


def standing_cost(count: int, *, costs: Costs, welcome: Flags | None, forbidden: Flags | None) -> Floats:
    """Return what a post costs at each of `count` candidates."""
    cost = np.full(count, costs.post)
    if welcome is not None:
        cost -= costs.welcome * welcome
    if forbidden is not None:
        cost += costs.forbidden * forbidden
    return cost


def _first_before(station_m: Floats, limits: Limits, turned: Turned | None) -> npt.NDArray[np.int_]:
    """Return for each candidate the first from which a strain to it keeps both limits."""
    first = np.searchsorted(station_m, station_m - limits.length_m - A_MILLIMETRE)
    if turned is None:
        return np.asarray(first)
    least = turned.before_deg - limits.turning_deg - A_HAIR_DEG
    return np.asarray(np.maximum(first, np.searchsorted(turned.past_deg, least)))

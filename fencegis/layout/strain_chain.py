"""The cheapest chain of strainers between two that have to stand.

Model. Variables: which of the candidate stations take a strainer. Objective: the sum of what each costs there (an
assembly, less a little on a crest, a thousand times as much where none may stand) and of what each strain costs by the
square of its length. Limit: no strain longer than the greatest. Exact by dynamic programming: the cheapest chain to a
candidate is the cheapest over its possible predecessors, and no choice beyond it changes that.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows
from fencegis.line.counting import A_MILLIMETRE, equal_parts

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]

CANDIDATE_STEP_M = 2.0


def candidates_m(length_m: float, greatest_m: float, *, also: Floats) -> Floats:
    """Return stations from 0 to `length_m` where a strainer could stand, both ends included, rising.

    Every two metres, where equal strains would put them, and the stations `also` (crests); metres along the ground.
    """
    parts = equal_parts(length_m, greatest_m)
    grid = np.linspace(0.0, length_m, max(2, round(length_m / CANDIDATE_STEP_M) + 1))
    even = [np.linspace(0.0, length_m, count + 1) for count in (parts, parts + 1)]
    inside = also[(also > 0.0) & (also < length_m)]
    return np.unique(np.concatenate([grid, *even, inside]))


def cheapest_chain(station_m: Floats, *, greatest_m: float, crest: Flags, forbidden: Flags) -> list[int]:
    """Return the places in `station_m` of the cheapest chain's strainers, the two ends left out.

    `station_m` (n,) are the candidates, rising, the ends first and last; `crest` and `forbidden` (n,) say where a
    strainer is welcome and where none may stand. Where no chain keeps the greatest length, gaps between neighbouring
    candidates being longer than that, ValueError.
    """
    standing = standing_cost(crest, forbidden)
    count = len(station_m)
    best, source = np.full(count, np.inf), np.zeros(count, dtype=int)
    best[0] = 0.0
    first = np.searchsorted(station_m, station_m - greatest_m - A_MILLIMETRE)
    for place in range(1, count):
        before = slice(int(first[place]), place)
        cost = best[before] + strain_cost(station_m[place] - station_m[before], greatest_m)
        cheapest = int(np.argmin(cost)) if len(cost) else 0
        if not len(cost) or not np.isfinite(cost[cheapest]):
            raise ValueError(f"no strainer within {greatest_m:.1f} m before {station_m[place]:.1f} m")
        source[place] = int(first[place]) + cheapest
        best[place] = cost[cheapest] + (standing[place] if place < count - 1 else 0.0)
    chain = [int(source[-1])]
    while chain[-1] > 0:
        chain.append(int(source[chain[-1]]))
    return chain[-2::-1]


def standing_cost(crest: Flags, forbidden: Flags) -> Floats:
    """Return what a strainer costs at each candidate, in assemblies."""
    return np.asarray(_cost("assembly") - _cost("crest") * crest + _cost("forbidden") * forbidden)


def strain_cost(length_m: Floats, greatest_m: float) -> Floats:
    """Return what strains of these lengths cost, in assemblies."""
    return np.asarray(_cost("uneven") * (length_m / greatest_m) ** 2)


def _cost(item: str) -> float:
    return next(float(row["value"]) for row in rows("strainer_costs") if row["item"] == item)

"""The cheapest cutting as an integer programme over patterns.

Pieces that no stick can tell apart are one kind i, wanted d_i times. A pattern p is what one stick of stock s(p) gives:
a_ip of kind i.

    variables   x_p, how many sticks are cut in pattern p: whole, not below 0
    objective   least sum of cost[s(p)] x_p
    limits      sum of a_ip x_p at least d_i for each kind; the sticks of a counted stock at most its count

With every pattern that leaves no room for another wanted piece the programme's optimum is the cheapest cutting: any
cutting is such an x when room left over is filled with pieces too many, and any x is a cutting when they are left out.
Where patterns are too many to list, they are made as the continuous programme asks for them, for kinds made coarser by
taking a piece as long as the longest of its neighbours in length; the bound is then that of the dual values, over the
true lengths. With few kinds every pattern that a cheaper cutting could have is then listed, if there are not too many;
else the cutting may miss the optimum, and its distance from the bound says by how much at most. Work is limited in
patterns and nodes, never in seconds: the same list gives the same cutting on any machine.
"""

from __future__ import annotations

from itertools import islice
from math import ceil
from typing import TYPE_CHECKING

import numpy as np

from fencegis.quantities.first_fit import first_fit_decreasing, fullest_first
from fencegis.quantities.kinds import alike, coarser, kinds_of
from fencegis.quantities.pricing import WORTH, Values, limits, made, proven, within_cost
from fencegis.quantities.sticks import Stick

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    import numpy.typing as npt

    from fencegis.quantities.kinds import Kinds, Parts, Pattern
    from fencegis.quantities.sticks import Yard

    Whole = npt.NDArray[np.int64]

LISTED_KINDS = 40
MOST_PATTERNS = 4000
MOST_WORTHY = 15_000
COARSE_KINDS = 80
INFEASIBLE, NEVER = 2, 2**62  # scipy's status; a cost that nothing has
LISTED_NODES = 100
MADE_NODES = 10  # over patterns made for other values, more nodes gain little: measured


def by_patterns(sizes: Sequence[int], yard: Yard, start: Sequence[Stick]) -> tuple[list[Stick] | None, int]:
    """Return the cheapest cutting over the patterns, None when there is none, and a cost that no cutting is below.

    `start` is a cutting already known, whose patterns are among those tried; it may be empty.
    """
    stretched = alike(sizes, yard)
    true = kinds_of(sizes, as_size=stretched)
    patterns = all_patterns(true, yard)
    if patterns is not None:
        times, bound = _chosen(true, yard, patterns, nodes=LISTED_NODES)
        return None if times is None else _handed_out(times, patterns, true), yard.round_up(bound)
    lumped = stretched if len(true.size) <= COARSE_KINDS else coarser(sizes, COARSE_KINDS)
    kinds = kinds_of(sizes, as_size=lumped)
    patterns, often, worth = made(kinds, yard, [])
    spread = np.interp(true.size, kinds.size[::-1], worth[::-1]).astype(np.int64)
    bound = yard.round_up(proven(true, yard, spread))
    found = [sticks for sticks in (list(start), _rounded(often, patterns, kinds, sizes, yard)) if sticks]
    if not found or min(map(yard.total, found)) > bound:
        times, _ = _chosen(kinds, yard, patterns, nodes=MADE_NODES)
        found += [] if times is None else [_handed_out(times, patterns, kinds)]
    best = min(found, key=yard.total, default=None)
    if best is None or not yard.endless or yard.total(best) <= bound or len(true.size) > COARSE_KINDS:
        return best, bound
    better, least = _cheaper_than(yard.total(best), kinds, yard, worth)
    return better or best, max(bound, least)


def _cheaper_than(known: int, kinds: Kinds, yard: Yard, worth: Whole) -> tuple[list[Stick] | None, int]:
    """Return a cutting cheaper than one known, None when there is none or none was found, and a bound.

    A cutting costs what is wanted is worth, and for each stick what its pattern costs over its worth. So a cheaper one
    has no pattern that costs more over its worth than is left between the two; often these are few enough to list.
    """
    worth = within_cost(kinds, yard, worth)
    spare = WORTH * (known - yard.step) - int(worth @ np.array(kinds.wanted))
    patterns = all_patterns(kinds, yard, Values(kinds, worth, max(yard.room), spare)) if spare >= 0 else []
    if patterns is None:
        return None, 0
    if not patterns:
        return None, known
    times, least = _chosen(kinds, yard, patterns, nodes=LISTED_NODES)
    return None if times is None else _handed_out(times, patterns, kinds), min(known, least)


def all_patterns(kinds: Kinds, yard: Yard, values: Values | None = None) -> list[Pattern] | None:
    """Return every pattern with no room for another wanted piece; None when there are too many to list.

    With `values` only those that cost at most its `spare` over their worth.
    """
    if len(kinds.size) > (LISTED_KINDS if values is None else COARSE_KINDS):
        return None
    looked_at = (
        (stock, parts)
        for stock, room in enumerate(yard.room)
        for parts in _full(kinds, room, 0, room + 1, values, 0 if values is None else values.needed(yard.cost[stock]))
    )
    most = MOST_PATTERNS if values is None else MOST_WORTHY
    found = list(islice(looked_at, most + 1))
    if len(found) > most:
        return None
    return [(stock, parts) for stock, parts in found if parts]


def _full(
    kinds: Kinds, room: int, kind: int, smallest_skipped: int, values: Values | None, needed: int
) -> Iterator[Parts | None]:
    """Yield how kinds from `kind` on fill the room so that nothing skipped still fits, None for each way that fails."""
    if values is not None and values.most(kind, room) < needed:
        yield None
        return
    if kind == len(kinds.size):
        yield () if room < smallest_skipped else None
        return
    wanted, size = kinds.wanted[kind], kinds.size[kind]
    for taken in range(min(wanted, room // size), -1, -1):
        skipped = smallest_skipped if taken == wanted else size
        still = needed if values is None else needed - taken * values.of_kind[kind]
        for rest in _full(kinds, room - taken * size, kind + 1, skipped, values, still):
            yield ((kind, taken), *rest) if taken and rest is not None else rest


def _chosen(kinds: Kinds, yard: Yard, patterns: Sequence[Pattern], *, nodes: int) -> tuple[list[int] | None, int]:
    """Return how often each pattern is cut, None when no choice gives every piece, and the solver's own bound."""
    from scipy import optimize

    rows, least, cost = limits(kinds, yard, patterns)
    found = optimize.milp(
        cost / yard.step,
        integrality=np.ones(len(patterns)),
        constraints=optimize.LinearConstraint(rows, lb=least),
        options={"mip_rel_gap": 0.0, "node_limit": nodes},
    )
    bound = found.mip_dual_bound
    steps = ceil(bound - 1e-6) if bound is not None and np.isfinite(bound) else 0
    if found.status == INFEASIBLE:
        return None, NEVER
    times = None if found.x is None else np.round(found.x).astype(int)
    if times is None or (rows @ times < least).any():
        return None, steps * yard.step
    return times.tolist(), steps * yard.step


def _rounded(
    often: Iterable[float], patterns: Sequence[Pattern], kinds: Kinds, sizes: Sequence[int], yard: Yard
) -> list[Stick] | None:
    """Return the continuous programme's answer rounded down, and the pieces left over cut by the better rule of two."""
    if not yard.endless:
        return None
    sticks = _handed_out([int(times + 1e-9) for times in often], patterns, kinds)
    cut = {piece for stick in sticks for piece in stick.pieces}
    left = [piece for piece in range(len(sizes)) if piece not in cut]
    own = [sizes[piece] for piece in left]
    ways = (first_fit_decreasing(own, yard), fullest_first(own, yard)) if own else ()
    best = min((way for way in ways if way is not None), key=yard.total, default=[])
    return sticks + [Stick(stick.stock, tuple(left[piece] for piece in stick.pieces)) for stick in best]


def _handed_out(times: Iterable[int], patterns: Sequence[Pattern], kinds: Kinds) -> list[Stick]:
    """Return the sticks: of each kind the first piece to the first stick; pieces too many are left out."""
    waiting = [list(pieces) for pieces in kinds.pieces]
    sticks = []
    for (stock, parts), count in zip(patterns, times, strict=True):
        for _ in range(count):
            pieces: list[int] = []
            for kind, number in parts:
                pieces += waiting[kind][:number]
                del waiting[kind][:number]
            if pieces:
                sticks.append(Stick(stock, tuple(sorted(pieces))))
    return sticks

"""The chain of straights behind a drawn line: where bends may stand, hairpins, and where a loop begins.

A hand that clicks puts its vertices on the bends; one that traces, or a walker, drops them without knowing of bends.
So the line is first explained with bends on vertices only. Where steps are short and that explanation has few bends
among many vertices, the drawing was traced there, and the search is made again with bends allowed between vertices.

No straight may leave a vertex further off than noise puts one (`line.noise_limit`). The best chain is found without
that limit first; a straight of it that breaks the limit shows a stretch which no straight can explain, and the search
is made again with all straights barred that hold such a stretch, until none does. A chain that is best without the
limit and keeps it is best with it, so the search stays exact.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.noise_limit import limit_in_sigmas, unexplained
from fencegis.line.straights import Straight, across_track, bend_charge, fewest_straights

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]
    Whole = npt.NDArray[np.int_]

TRACED_STEP_M = 50.0  # upper quartile of the steps around; who steps further clicks on the bends (ours, by trial)
LONGEST_STEP_M = 150.0
AROUND = 5  # steps either side
FEW_BENDS = 2  # in that window: one bend between vertices is explained as two on vertices
MANY_VERTICES = 4  # to a straight, over the whole line: as good a sign
BACK = 8.0  # sigma: two vertices of a straight walk change places by no more than this
SHARP = -0.87  # cosine: legs within 30° of straight back
LONG = 8  # steps of a straight whose two halves are each found as surely as the whole
FEWEST_RUNS = 3  # of a loop; one so small that the noise explains it keeps its vertices


@dataclass(frozen=True, eq=False)
class Chain:
    """The straights of a line over its vertices in the order they are walked.

    `order` (n,) has a loop's first vertex at both ends where a bend stands on it; `traced` (n,) is where a bend may
    stand between a vertex and the one before it.
    """

    order: Whole
    straights: list[Straight]
    traced: Flags


def open_chain(points: Floats, sigma: Floats, *, clicked: Flags) -> Chain:
    """Return the straights of an open line: `points` (n, 2) in walking order, `sigma` (n,) in east and north each.

    `clicked` (n,) is where the line may not bend between a vertex and the one before it.
    """
    on_vertices = _search(points, sigma, between=np.zeros(len(points), dtype=bool))
    traced = _traced(points, on_vertices) & ~clicked
    straights = _search(points, sigma, between=traced) if traced.any() else on_vertices
    return Chain(np.arange(len(points)), straights, traced)


def loop_chain(points: Floats, sigma: Floats, *, clicked: Flags) -> Chain:
    """Return the straights of a loop, walked from a bend on.

    Where the loop is opened it must bend, for a search from end to end. So a clicked loop is opened on its sharpest
    bend; one with a straight of many vertices in the middle of that, whose halves are put together again unless the
    loop bends there.
    """
    count = len(points)
    walk = np.append(np.arange(count), 0)
    on_vertices = _search(points[walk], sigma[walk], between=np.zeros(len(walk), dtype=bool))
    traced = _traced(points[walk], on_vertices)
    traced = np.append(traced[-1], traced[1:-1]) & ~clicked  # of the first vertex: the step that closes the loop
    walk = (walk + _opening(points[walk], on_vertices)) % count
    straights = _search(points[walk], sigma[walk], between=traced[walk])
    order, straights = _closed_up(walk, straights, points, sigma)
    if len(straights) < FEWEST_RUNS:
        every = [Straight(first, first + 1) for first in range(count)]
        return Chain(np.append(np.arange(count), 0), every, np.zeros(count + 1, dtype=bool))
    return Chain(order, straights, traced[order])


def _search(points: Floats, sigma: Floats, *, between: Flags) -> list[Straight]:
    back = BACK * float(np.median(sigma))
    limit = limit_in_sigmas(len(points)) * float(sigma.max())  # a peg's own is its fit's to keep
    earliest = np.zeros(len(points), dtype=int)
    while True:
        chain = fewest_straights(
            points[:, 0],
            points[:, 1],
            weight=1.0 / sigma**2,
            misfit=across_track,
            between=between,
            charge=bend_charge(len(points)),
            back=back,
            through=~_hairpins(points, back),
            earliest=earliest,
        )
        if not _barred(points, chain, limit, earliest):
            return chain


def _barred(points: Floats, chain: list[Straight], limit_m: float, earliest: Whole) -> bool:
    """Bar, in `earliest`, the straights that hold a stretch which shows itself unexplained; return whether any did."""
    found = False
    for straight in chain:
        begin = straight.first
        while straight.last - begin > 1:
            stretch = unexplained(points[begin : straight.last + 1], limit_m)
            if stretch is None:
                break
            first, last = begin + stretch[0], begin + stretch[1]
            np.maximum(earliest[last:], first + 1, out=earliest[last:])
            begin, found = first + 1, True  # there may be more further on
    return found


def _traced(points: Floats, on_vertices: list[Straight]) -> Flags:
    """Return at which vertices the line may bend between them and the one before."""
    step = np.hypot(*np.diff(points, axis=0).T)
    traced = np.zeros(len(points), dtype=bool)
    if len(step) < AROUND:
        return traced
    bend = np.zeros(len(points))
    bend[[straight.first for straight in on_vertices[1:]]] = 1.0
    around = np.lib.stride_tricks.sliding_window_view(np.pad(step, AROUND, mode="symmetric"), 2 * AROUND + 1)
    near = np.convolve(bend, np.ones(2 * AROUND + 2), mode="full")[AROUND + 1 : -AROUND][: len(step)]
    few = (near <= FEW_BENDS) | (len(points) >= MANY_VERTICES * len(on_vertices))
    traced[1:] = (np.percentile(around, 75, axis=1) <= TRACED_STEP_M) & (step <= LONGEST_STEP_M) & few
    return traced


def _hairpins(points: Floats, shortest_m: float) -> Flags:
    """Return at which vertices the drawing turns back on itself, both legs longer than noise could make them."""
    step = np.diff(points, axis=0)
    length = np.hypot(*step.T)
    hairpin = np.zeros(len(points), dtype=bool)
    back = (step[:-1] * step[1:]).sum(axis=1) < SHARP * length[:-1] * length[1:]
    hairpin[1:-1] = back & (np.minimum(length[:-1], length[1:]) > shortest_m)
    return hairpin


def _opening(points: Floats, chain: list[Straight]) -> int:
    """Return at which vertex to open a loop whose straights, opened on its first vertex, are known."""
    longest = max(chain, key=lambda straight: straight.last - straight.first)
    if len(chain) == 1 or longest.last - longest.first >= LONG:
        return (longest.first + longest.last) // 2
    step = np.array([points[straight.last] - points[straight.first] for straight in chain])
    ahead = step / np.maximum(np.hypot(*step.T), 1e-9)[:, None]
    return chain[int((ahead[:-1] * ahead[1:]).sum(axis=1).argmin()) + 1].first


def _closed_up(walk: Whole, chain: list[Straight], points: Floats, sigma: Floats) -> tuple[Whole, list[Straight]]:
    """Put the first and the last straight together where that costs less than a bend between them."""
    if len(chain) < FEWEST_RUNS:
        return walk, chain
    head, tail, count = chain[0], chain[-1], len(walk) - 1
    halves = np.append(walk[tail.first :], walk[1 : head.last + 1])
    apart = sum(
        misfit(points[walk[one.first : one.last + 1]], sigma[walk[one.first : one.last + 1]]) for one in (head, tail)
    )
    together, limit_m = misfit(points[halves], sigma[halves]), limit_in_sigmas(count) * float(sigma.max())
    if together > apart + bend_charge(count) or unexplained(points[halves], limit_m) is not None:
        return walk, chain
    begin = chain[1].first
    order = np.append(walk[begin:count], walk[: head.last + 1])
    whole = [Straight(one.first - begin, one.last - begin) for one in chain[1:-1]]
    return order, [*whole, Straight(tail.first - begin, len(order) - 1)]


def misfit(points: Floats, sigma: Floats) -> float:
    """Return the least sum of squares, in units of the noise, of one straight through the points (n, 2)."""
    weight = 1.0 / sigma**2
    away = points - np.average(points, axis=0, weights=weight)
    east, cross, north = ((weight * away[:, one] * away[:, two]).sum() for one, two in ((0, 0), (0, 1), (1, 1)))
    return float(across_track(np.array([east]), np.array([cross]), np.array([north]))[0])

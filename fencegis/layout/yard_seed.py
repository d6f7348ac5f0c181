"""A first order of the sticks, thin to thick, so that thin and thick posts meet as seldom as can be.

Sticks go out from the thinnest to the thickest, each beside one that is out already wherever it may: only where no such
place takes it does it begin a stretch of its own, where that takes most sticks for each crossing. On one line where
every stick fits every place that is sorted order; between two heavy posts it is thick, thinning to the middle, and
thick again, every second stick on the other side.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.yard_better import step_cost
from fencegis.layout.yard_places import EQUAL_MM, NONE, neighbours

if TYPE_CHECKING:
    from fencegis.layout.yard_places import Flags, Floats, Whole, Yard

WORK = 4e7  # places squared times choices of spares: about what takes seconds
WINDOWS = 24


def targets(yard: Yard, filled: Whole) -> Floats:
    """Return the face width (n,) that each of the places `filled` would have if lengths did not matter; others NaN.

    Of sticks to spare the thinnest or the thickest are left, whichever makes the steps less; what is settled counts as
    it stands.
    """
    target = np.full(len(yard.chain), np.nan)
    stands = filled[yard.settled[filled] != NONE]
    target[stands] = yard.face_mm[stands, yard.settled[stands]]
    free = filled[yard.settled[filled] == NONE]
    sticks = np.intersect1d(yard.usable, yard.free_sticks)
    if not len(free) or not len(sticks):
        return target
    sizes = np.sort(np.median(yard.face_mm[:, sticks], axis=0))
    reserved, rest = _reserved(sizes, yard.least_mm[free[yard.strong[free]]])
    line = len(free) - len(reserved)
    here = np.zeros(len(target), dtype=bool)
    here[filled] = True
    links = neighbours(yard, here)
    tries = int(np.clip(WORK / len(filled) ** 2, 2, WINDOWS))
    best, least = target, np.inf
    for start in np.unique(np.linspace(0, len(rest) - line, tries).astype(int)):
        tried = _laid_out(target, np.sort(np.append(reserved, rest[start : start + line])), free, yard.least_mm, links)
        cost = float(step_cost(tried - np.append(tried, np.nan)[links[1]]).sum())
        if cost < least - EQUAL_MM:
            best, least = tried, cost
    return best


def _reserved(sizes: Floats, least_mm: Floats) -> tuple[Floats, Floats]:
    """Return the thinnest sizes that are thick enough for the strong places, and the rest."""
    left = np.ones(len(sizes), dtype=bool)
    for asked in np.sort(least_mm)[::-1]:
        enough = np.flatnonzero(left & (sizes >= asked))
        left[enough[0] if len(enough) else np.flatnonzero(left)[-1]] = False
    return sizes[~left], sizes[left]


def _laid_out(stands: Floats, sizes: Floats, free: Whole, least_mm: Floats, links: tuple[Whole, Whole]) -> Floats:
    """Return the face widths with `sizes` (thin first) laid out over the places `free`."""
    target, out = stands.copy(), np.zeros(len(stands) + 1, dtype=bool)
    waiting = np.zeros(len(stands), dtype=bool)
    waiting[free] = True
    settled = ~np.isnan(stands)
    before, after = links
    for size in sizes:
        out[:-1][settled & (stands <= size)] = True
        may = waiting & (least_mm <= size + EQUAL_MM)
        if not may.any():  # what is left asks for more than there is
            may = waiting
        place = _next(may, out, before, after, target)
        target[place], out[place], waiting[place] = size, True, False
    return target


def _next(may: Flags, out: Flags, before: Whole, after: Whole, face_mm: Floats) -> int:
    """Return where the next stick goes: where the fewest pairs of one out and one not come to be.

    Among places beside a stick that is out already the one beside the thinnest.
    """
    places = np.flatnonzero(may)
    sides = np.stack([before[places], after[places]])
    linked = sides != NONE
    beside = out[sides] & linked
    more = linked.sum(axis=0) - 2 * beside.sum(axis=0)
    least = more.min()
    if least > 0:
        return _opening(may, places, more, after)
    best = places[more == least]
    thin = np.where(beside, np.append(face_mm, np.nan)[sides], np.inf).min(axis=0)[more == least]
    return int(best[thin.argmin()])


def _opening(may: Flags, places: Whole, more: Whole, after: Whole) -> int:
    """Return where a stretch of its own begins: in the one that takes most sticks for each crossing that it costs.

    `more` is what each of `places` costs. A stretch with an open end begins there, another in its middle, so that both
    of its sides come to their ends at once.
    """
    follows = np.append(may, False)[after]  # place -1 is none
    run = np.cumsum(np.append(True, ~(may & follows)[:-1]))[places]
    length = np.bincount(run)
    cost = np.full(len(length), np.inf)
    np.minimum.at(cost, run, more)
    longest = int((length / cost).argmax())
    inside = places[(run == longest) & (more == cost[longest])]
    return int(inside[len(inside) // 2])

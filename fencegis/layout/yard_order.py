"""Which stick stands where, so that neighbours are alike: least sum of steps in face width, then least worst step.

What is exact: which places can be filled (an assignment); the order, where `search_all` comes to its end. Beyond that
sticks are laid out as sorted order asks, bent to what each place needs by an assignment, and bettered by swaps, great
steps counting for ever more: of the orders that come of it, the one with the least worst step whose sum is near the
least. How far that may be from the best is told by `yard_bound.least_sum_mm` and `yard_worst.least_worst_mm`.

Sorted order: on one open line where every stick fits every place, thin to thick has sum = widest − thinnest and worst =
the greatest gap between neighbours in size. No order has less: walking from the thinnest to the widest post, the steps
add up to at least their difference, and some step has to cross each gap. Between two posts thicker than all between
them the line goes down and up again: the thickest at both ends, thinning to the middle, every second stick on the other
side; then sum = 2 × (end − thinnest), which every order needs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fencegis.layout.yard_better import bettered
from fencegis.layout.yard_places import EQUAL_MM, NONE, neighbours, steps_of
from fencegis.layout.yard_search import search_all
from fencegis.layout.yard_seed import targets

if TYPE_CHECKING:
    from fencegis.layout.yard_places import Floats, Whole, Yard

FILLED = 1e7  # what a filled place is worth, in millimetres of distance from its target: more than all of them together
STRONG = 3.0  # a strong place is worth as much as three others
FEW = 10  # places that `search_all` is tried on
HEAVIER = (5e-7, 2e-5, 1e-4)  # weights of great steps that are tried too: 20 mm count for 0.1, 3 and 16 mm more
MANY = 600  # places from which only the middle one of them is tried
LESSER = 0.03  # of the sum of all steps: so much more is worth a lesser worst step (common practice)


class Choice(NamedTuple):
    """The stick at each place (n,), -1 where there is none; `proven` when every order was looked at."""

    stick: Whole
    sum_mm: float
    worst_mm: float
    proven: bool


def choose(yard: Yard) -> Choice:
    """Return a stick for every place that one can be found for, neighbours as alike as can be.

    As many places as can be are filled, a strong one counting for three. Deterministic. Where `planned` is given, a
    stick is moved from its place only where what is settled asks for it, or steps get less by more than `carry_mm`.
    """
    if not len(yard.usable):
        return Choice(yard.settled.copy(), 0.0, 0.0, proven=True)
    stick = _first(yard)
    filled = stick != NONE
    stick = _blended(yard, stick)
    proven = False
    if yard.planned is None and np.count_nonzero(filled & (yard.settled == NONE)) <= FEW:
        stick, proven = search_all(yard, stick, neighbours(yard, filled)[1])
    return Choice(stick, *steps_of(yard, stick), proven)


def _blended(yard: Yard, first: Whole) -> Whole:
    """Return the order with the least worst step of those bettered from the first whose sum is near the least."""
    orders = [bettered(yard, first)]
    if yard.planned is None:  # else what was planned stays, whatever steps a swap on site makes
        heavier = HEAVIER if len(first) < MANY else HEAVIER[1:2]
        orders += [bettered(yard, first, great=great) for great in heavier]
    steps = [steps_of(yard, order) for order in orders]
    most = (1.0 + LESSER) * min(total for total, _ in steps) + EQUAL_MM
    near = [number for number, (total, _) in enumerate(steps) if total <= most]
    return orders[min(near, key=lambda number: (steps[number][1], steps[number][0]))]


def _first(yard: Yard) -> Whole:
    """Return a stick for every place that can have one, near the order that sorting asks for."""
    stick, free = yard.settled.copy(), yard.free_places
    if yard.planned is not None:
        had = np.where(yard.planned == NONE, np.nan, yard.face_mm[np.arange(len(stick)), yard.planned])
        stick[free] = _assigned(yard, free, np.nan_to_num(had[free]))
        return stick
    if len(yard.usable) >= len(stick):
        stick[free] = _assigned(yard, free, targets(yard, np.arange(len(stick)))[free])
    if (stick == NONE).any():  # first which places can be filled at all, then in which order
        stick[free] = _assigned(yard, free, None)
        free = free[stick[free] != NONE]
        filled = np.flatnonzero(stick != NONE)
        if len(filled):
            target = np.full(len(stick), np.nan)
            target[filled] = targets(yard, filled)[filled]
            stick[free] = _assigned(yard, free, target[free])
    return stick


def _assigned(yard: Yard, places: Whole, target_mm: Floats | None) -> Whole:
    """Return the stick for each of `places`: the most filled, then nearest to the targets; -1 where none fits."""
    from scipy.optimize import linear_sum_assignment

    sticks = yard.free_sticks
    worth = FILLED * np.where(yard.strong[places], STRONG, 1.0) - np.linspace(0.0, 1.0, len(places), endpoint=False)
    fits = yard.fits[np.ix_(places, sticks)]
    off = yard.moved_mm(places[:, None], sticks)
    if target_mm is not None:
        off = off + np.abs(yard.face_mm[np.ix_(places, sticks)] - target_mm[:, None])
    row, column = linear_sum_assignment(np.where(fits, off - worth[:, None], 0.0))
    chosen = np.full(len(places), NONE)
    good = fits[row, column]
    chosen[row[good]] = sticks[column[good]]
    return chosen

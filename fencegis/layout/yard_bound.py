"""What no order of the sticks can be below: the least sum of steps in face width, counted cut by cut.

For a width t every post is thinner than t or not, and the steps between neighbours of either sort each cross t. The sum
of all steps is the number of such crossings summed over t. At each t there are at least as many as

* the places that have to be thicker (all that fits, or what stands there, is) and those that have to be thinner ask
  for, walking along each line;
* and, as there are only so many sticks of either sort, what it takes to put the rest of the other sort somewhere: in a
  stretch between two thick posts it costs two crossings, between a thick one and an open end one, on a line of its own
  none.

Each t takes the cheapest, alone: what no order can beat, though no order may reach it.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fencegis.layout.yard_places import NONE

if TYPE_CHECKING:
    from fencegis.layout.yard_places import Flags, Floats, Whole, Yard

EITHER, THICK, THIN = 0, 1, 2


class Stretches(NamedTuple):
    """Free stretches at one cut, by what bounds them; `crossings` is what the bounded places ask for alone."""

    crossings: int
    thin: int  # places that have to be thin
    between: dict[int, list[int]]  # lengths between two of a sort
    beside: dict[int, list[int]]  # lengths between one of a sort and an open end
    mixed: int  # places between one of either sort: any share of them costs nothing more
    alone: list[int]  # lengths of chains with no bound at all
    loops_only: bool  # none of those is open, nor any stretch: what is split at all is split twice


def least_sum_mm(yard: Yard, stick: Whole) -> float:
    """Return what the sum of steps in mm cannot be below, for any order of the sticks that fills the same places.

    `stick` (n,) is -1 at the places left open.
    """
    filled = np.flatnonzero(stick != NONE)
    if len(filled) < 2:
        return 0.0
    usable = yard.usable
    least, most = _ranges(yard, filled)
    thinnest, thickest = (pick(yard.face_mm[np.ix_(filled, usable)], axis=0) for pick in (np.min, np.max))
    cuts = np.unique(np.concatenate([least, most, thinnest, thickest]))
    known: dict[bytes, Stretches] = {}
    total = 0.0
    for below, above in pairwise(cuts.tolist()):
        sort = np.where(least >= above, THICK, np.where(most <= below, THIN, EITHER))
        key = sort.tobytes()
        if key not in known:
            known[key] = stretches(sort, yard.chain[filled], yard.closed)
        thin_at_least = len(filled) - int(np.count_nonzero(thickest >= above))
        thin_at_most = int(np.count_nonzero(thinnest <= below))
        total += (above - below) * least_crossings(known[key], thin_at_least, thin_at_most)
    return float(total)


def may_stand(yard: Yard, filled: Whole) -> Flags:
    """Return which sticks may stand at each of the places `filled` (k, m); at a settled one only what stands there."""
    may = yard.fits[filled].copy()
    may[:, yard.settled[yard.settled != NONE]] = False
    stands = yard.settled[filled] != NONE
    may[stands] = False
    may[np.flatnonzero(stands), yard.settled[filled][stands]] = True
    return may


def _ranges(yard: Yard, filled: Whole) -> tuple[Floats, Floats]:
    """Return the thinnest and the thickest that may stand at each place; of a settled one what stands there."""
    face, may = yard.face_mm[filled], may_stand(yard, filled)
    return np.where(may, face, np.inf).min(axis=1), np.where(may, face, -np.inf).max(axis=1)


def stretches(sort: Whole, chain: Whole, closed: Flags) -> Stretches:
    """Return the free stretches at one cut.

    `sort` and `chain` (k,) are what each place has to be and its line, `closed` which lines are loops.
    """
    crossings, mixed, alone, loops_only = 0, 0, [], True
    between: dict[int, list[int]] = {THICK: [], THIN: []}
    beside: dict[int, list[int]] = {THICK: [], THIN: []}
    for number, loop in enumerate(closed):
        here = sort[chain == number]
        at = np.flatnonzero(here)
        ring = bool(loop) and len(here) > 2
        if not len(at):
            if len(here):
                alone.append(len(here))
                loops_only &= ring
            continue
        pairs = list(pairwise(at.tolist()))
        if ring:
            pairs.append((int(at[-1]), int(at[0]) + len(here)))
        else:
            loops_only = False
            beside[int(here[at[0]])].append(int(at[0]))
            beside[int(here[at[-1]])].append(len(here) - 1 - int(at[-1]))
        for one, two in pairs:
            bounds = int(here[one]), int(here[two % len(here)])
            if bounds[0] != bounds[1]:
                crossings, mixed = crossings + 1, mixed + two - one - 1
            else:
                between[bounds[0]].append(two - one - 1)
    return Stretches(crossings, int(np.count_nonzero(sort == THIN)), between, beside, mixed, alone, loops_only)


def least_crossings(at: Stretches, thin_at_least: int, thin_at_most: int) -> int:
    """Return the fewest crossings with a number of thin posts between the two."""
    thin = at.thin + sum(at.between[THIN]) + sum(at.beside[THIN])  # when every stretch is like what bounds it
    more = thin_at_least - thin - at.mixed
    less = thin - thin_at_most
    extra = 0
    if less > 0:
        extra = _to_place(less, ones=at.beside[THIN], twos=at.between[THIN])
    elif not _without_cost(at.alone, thin_at_least - thin, thin_at_most - thin, at.mixed):
        extra = max(
            2 if at.loops_only else 1, _to_place(more - sum(at.alone), ones=at.beside[THICK], twos=at.between[THICK])
        )
    return at.crossings + extra


def _without_cost(alone: list[int], least: int, most: int, mixed: int) -> bool:
    """Return whether whole chains, thin or thick, and any share of `mixed` places give a number between the two."""
    sums = 1
    for length in alone:
        sums |= sums << length
    first = max(0, least - mixed)
    return most >= first and bool((sums >> first) & ((1 << (most - first + 1)) - 1))


def _to_place(posts: int, *, ones: list[int], twos: list[int]) -> int:
    """Return what it costs at least to put so many posts in stretches that cost one or two crossings, used or not."""
    if posts <= 0:
        return 0
    room_one, room_two = (np.concatenate([[0], np.cumsum(sorted(rooms, reverse=True))]) for rooms in (ones, twos))
    need = posts - room_two  # that the stretches of one crossing have to take, by how many of two are used
    used = np.searchsorted(room_one, need)
    possible = used < len(room_one)
    return int((used + 2 * np.arange(len(room_two)))[possible].min()) if possible.any() else 0

"""Which leg of a deed belongs to which run of the plan, and how far the deed's north is turned from the plan's."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]
    Places = npt.NDArray[np.int_]

FAR = 5.0  # standard errors beyond which a difference says no more than "another side", in choosing pairs only
SNOOPED = 3.0  # standard errors beyond which a leg has no say in the swing
LIKELY_SWING_DEG = 20.0  # magnetic declination and map convergence: chooses where the shape alone leaves it open
TRIED = 24  # longest legs, each of whose own swing is tried
TRIALS = 400  # pairs whose swing is tried in a partial match, longest legs first
CHAINED = 30  # and those of them that most legs fall in with
CLOSE_CALL = 9.0  # squared standard errors between the best fit and another way round


@dataclass(frozen=True, eq=False)
class Sides:
    """Sides in walking order, each (n,): plane bearing, length, one standard error of each.

    `curved` marks a run that is an arc, or a leg that is the chord of one: an arc is compared with a chord only.
    """

    bearing_deg: Floats
    length_m: Floats
    bearing_sigma_deg: Floats
    length_sigma_m: Floats
    curved: Flags

    def __len__(self) -> int:
        """Return how many sides there are."""
        return len(self.length_m)

    def taken(self, order: Places, *, backward: bool = False) -> Sides:
        """Return the sides in another order; `backward` turns each about."""
        return Sides(
            (self.bearing_deg[order] + (180.0 if backward else 0.0)) % 360.0,
            self.length_m[order],
            self.bearing_sigma_deg[order],
            self.length_sigma_m[order],
            self.curved[order],
        )


@dataclass(frozen=True, eq=False)
class Pairing:
    """`run` is (n,) the place of each leg's run, −1 for none; `backward` when the deed walks the line the other way.

    `swing_deg` turns the deed's bearings into the plan's, clockwise positive, NaN without a pair; `silent` are paired
    legs so far off that they had no say in it; `other_way` when the shape alone fits nearly as well another way round.
    """

    run: Places
    backward: bool
    swing_deg: float
    swing_sigma_deg: float
    silent: Flags
    other_way: bool = False


def turned_deg(angle_deg: npt.ArrayLike) -> Floats:
    """Return angles as turns between −180 and 180 degrees, right positive."""
    return np.asarray((np.asarray(angle_deg, dtype=float) + 180.0) % 360.0 - 180.0)


def comparable(title: Sides, plan: Sides) -> Flags:
    """Say for each pair whether it can be compared: an arc only with the chord of one."""
    return np.asarray(~plan.curved | title.curved)


def swing(difference_deg: Floats, sigma_deg: Floats, *, start_deg: float) -> tuple[float, float, Flags]:
    """Return plan less title by least squares, its standard error, and which differences had a say.

    Those further than three standard errors from the rest have none, as long as half are left; `start_deg` is a first
    guess. The standard error is from the sides' own errors or from the scatter, whichever is more.
    """
    weight = sigma_deg**-2.0
    value, used = start_deg, np.zeros(len(sigma_deg), dtype=bool)
    for _ in range(20):
        off = turned_deg(difference_deg - value)
        near = np.abs(off) <= SNOOPED * sigma_deg
        if near.sum() * 2 < len(near):
            near = np.ones(len(near), dtype=bool)
        if (near == used).all():
            break
        used = near
        value += float(np.average(off[used], weights=weight[used]))
    off = turned_deg(difference_deg - value)[used]
    scatter = float(np.sqrt((weight[used] * off**2).sum() / max(1, used.sum() - 1)))
    return float(turned_deg(value)), max(1.0, scatter) / float(np.sqrt(weight[used].sum())), used


def whole(title: Sides, plan: Sides, *, loop: bool) -> Pairing | None:
    """Return the best of all ways to lay as many legs on as many runs: either direction, from any corner of a loop.

    None when the counts differ, or when fewer than half of the legs come near their run.
    """
    n = len(title)
    if n != len(plan) or n == 0:
        return None
    ways = [
        (backward, np.roll(np.arange(n)[:: -1 if backward else 1], -shift))
        for backward in (False, True)
        for shift in range(n if loop else 1)
    ]
    fits = [_fit(title, plan.taken(order, backward=backward)) for backward, order in ways]
    best = int(np.argmin([shape + (start / LIKELY_SWING_DEG) ** 2 for shape, start, _ in fits]))
    shape, start, near = fits[best]
    if near * 2 < n:
        return None
    backward, order = ways[best]
    others = [other for place, (other, _, _) in enumerate(fits) if place != best]
    close = min(others, default=np.inf) < shape + CLOSE_CALL
    return _settled(title, plan, order, backward=backward, start_deg=start, other_way=close)


def partial(title: Sides, plan: Sides, *, loop: bool) -> Pairing:
    """Return the pairs that fit in walking order, with one swing for all; legs that fit no run are left alone.

    `loop` when the deed comes back to its start or the line is closed: then the order goes round. Swings of likely
    pairs are tried, and for each the heaviest chain of pairs in order. Fewer than three pairs (or than all there are)
    prove nothing, and then none is returned.
    """
    n, m = len(title), len(plan)
    weight, pairs, backward, start_deg = 0.0, np.full(n, -1), False, np.nan
    for about in (False, True):
        order = np.arange(m)[:: -1 if about else 1]
        likely = _likely(title, plan.taken(order, backward=about))
        for trial in _trials(title, likely):
            found, chain = likely.chain(trial, n, m, loop=loop)
            found -= (likely.turn_deg[trial] / LIKELY_SWING_DEG) ** 2
            if found > weight:
                weight, backward, start_deg = found, about, float(likely.turn_deg[trial])
                pairs = np.full(n, -1)
                pairs[chain[:, 0]] = order[chain[:, 1]]
    if (pairs >= 0).sum() < min(3, n, m):
        return Pairing(np.full(n, -1), False, np.nan, np.nan, np.zeros(n, dtype=bool))
    return _settled(title, plan, pairs, backward=backward, start_deg=start_deg)


def named(title: Sides, plan: Sides, run: Places) -> Pairing:
    """Return the pairs that a person named (`run` (n,), −1 for none), in the direction that fits better."""
    pairs = np.flatnonzero(run >= 0)
    if not len(pairs):
        return Pairing(run, False, np.nan, np.nan, np.zeros(len(run), dtype=bool))
    fits = [_fit(title.taken(pairs), plan.taken(run[pairs], backward=backward)) for backward in (False, True)]
    best = int(np.argmin([shape + (start / LIKELY_SWING_DEG) ** 2 for shape, start, _ in fits]))
    return _settled(title, plan, run, backward=bool(best), start_deg=fits[best][1])


def _fit(title: Sides, plan: Sides) -> tuple[float, float, int]:
    """Return how badly leg k fits run k over all k, the swing that it takes, and how many come near in both."""
    together = comparable(title, plan)
    length_off = (plan.length_m - title.length_m) / np.hypot(plan.length_sigma_m, title.length_sigma_m)
    difference = plan.bearing_deg - title.bearing_deg
    sigma = np.hypot(plan.bearing_sigma_deg, title.bearing_sigma_deg)
    tried = np.argsort(-np.where(together, title.length_m, 0.0), kind="stable")[:TRIED]
    start = turned_deg(difference[tried])
    bearing_off = turned_deg(difference - start[:, None]) / sigma
    missed = np.minimum(length_off**2, FAR**2) + np.minimum(bearing_off**2, FAR**2)
    shape = np.where(together, missed, FAR**2).sum(axis=1)
    best = int(np.argmin(shape + (start / LIKELY_SWING_DEG) ** 2))
    near = (np.abs(length_off) <= FAR) & (np.abs(bearing_off[best]) <= FAR) | ~together
    return float(shape[best]), float(start[best]), int(near.sum())


@dataclass(frozen=True, eq=False)
class _Likely:
    """Pairs whose lengths are near, each (k,): how far they are off, plan less title bearing, its standard error."""

    place: Places  # (k, 2), leg and run
    length_off: Floats
    turn_deg: Floats
    sigma_deg: Floats

    def bearing_off(self, trial: int) -> Floats:
        """Return how far each pair is from the swing of one of them, in standard errors."""
        sigma = np.hypot(self.sigma_deg, self.sigma_deg[trial])
        return np.asarray(turned_deg(self.turn_deg - self.turn_deg[trial]) / sigma)

    def chain(self, trial: int, legs: int, runs: int, *, loop: bool) -> tuple[float, Places]:
        """Return the heaviest chain of pairs by the trial's swing: its weight and its (c, 2) places.

        Both places rise along it; in a loop they are counted from the trial, which begins it.
        """
        off = self.bearing_off(trial)
        fits = np.flatnonzero(np.abs(off) <= FAR)
        gain = 2.0 * FAR**2 - self.length_off[fits] ** 2 - off[fits] ** 2
        place = self.place[fits]
        counted = (place - self.place[trial]) % (legs, runs) if loop else place
        order = np.lexsort((counted[:, 1], counted[:, 0]))
        place, counted, gain = place[order], counted[order], gain[order]
        begins = ~counted.any(axis=1) if loop else np.ones(len(fits), dtype=bool)
        weight, before = np.where(begins, gain, -np.inf), np.full(len(fits), -1)
        for k in range(1, len(fits)):
            reach = np.where((counted[:k] < counted[k]).all(axis=1), weight[:k], -np.inf)
            if gain[k] + reach.max() > weight[k]:
                before[k] = int(reach.argmax())
                weight[k] = gain[k] + reach[before[k]]
        at, chain = int(weight.argmax()), []
        while at >= 0:
            chain.append(place[at])
            at = int(before[at])
        return float(weight.max()), np.array(chain)


def _likely(title: Sides, plan: Sides) -> _Likely:
    sigma_m = np.hypot(plan.length_sigma_m, title.length_sigma_m[:, None])
    length_off = (plan.length_m - title.length_m[:, None]) / sigma_m
    place = np.argwhere((np.abs(length_off) <= FAR) & (~plan.curved | title.curved[:, None]))
    leg, run = place.T
    turn = turned_deg(plan.bearing_deg[run] - title.bearing_deg[leg])
    sigma_deg = np.hypot(plan.bearing_sigma_deg[run], title.bearing_sigma_deg[leg])
    return _Likely(place, length_off[leg, run], turn, sigma_deg)


def _trials(title: Sides, likely: _Likely) -> list[int]:
    """Return the pairs whose swing is worth a chain: of the longest legs' those that most legs fall in with."""
    first = np.argsort(-title.length_m[likely.place[:, 0]], kind="stable")[:TRIALS].tolist()
    votes = [-len(np.unique(likely.place[np.abs(likely.bearing_off(trial)) <= FAR, 0])) for trial in first]
    return [first[place] for place in np.argsort(votes, kind="stable")[:CHAINED]]


def _settled(
    title: Sides, plan: Sides, run: Places, *, backward: bool, start_deg: float, other_way: bool = False
) -> Pairing:
    """Return the pairing with its swing by least squares over the pairs that can be compared."""
    paired = np.flatnonzero(run >= 0)
    legs, runs = title.taken(paired), plan.taken(run[paired], backward=backward)
    counted = comparable(legs, runs)
    silent = np.zeros(len(title), dtype=bool)
    if not counted.any():
        return Pairing(run, backward, np.nan, np.nan, silent, other_way)
    difference = runs.bearing_deg - legs.bearing_deg
    sigma = np.hypot(runs.bearing_sigma_deg, legs.bearing_sigma_deg)
    value, error, used = swing(difference[counted], sigma[counted], start_deg=start_deg)
    silent[paired[counted]] = ~used
    return Pairing(run, backward, value, error, silent, other_way)

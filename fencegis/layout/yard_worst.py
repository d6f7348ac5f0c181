"""What no order of the sticks can be below: the least worst step in face width.

Two arguments, each true of every order:

* Band. Take the sticks between two widths out of the line: what is left goes from thin to thick and back at least so
  many times (`yard_bound` counts that). Each of these trips has sticks of the band alone to climb on, and the one with
  the fewest has no more than its share of them, so some step is at least the width of the band ÷ (share + 1). On an
  open line that is the greatest gap between neighbours in size; on a loop, and between two heavy posts, the greatest
  gap over one stick, for both ways cannot climb on the same.
* Reach. Say that no step is above a limit. Then a stick may stand at a place only where one that differs by no more may
  stand beside it, and so on along the line; sizes further apart than the limit never meet on one line; and the places
  still have to find a stick each. The greatest limit at which that fails is found by halving.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fencegis.layout.yard_bound import EITHER, THICK, THIN, least_crossings, may_stand, stretches
from fencegis.layout.yard_places import EQUAL_MM, NONE, neighbours, steps_of

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.layout.yard_bound import Stretches
    from fencegis.layout.yard_places import Flags, Floats, Whole, Yard

CUTS = 300  # widths that bands begin and end at
LOOKS = 2000  # bands whose trips are counted
FINE_MM = 0.05  # a limit is looked for so finely
WORK = 4e6  # limits tried times places times sticks: some seconds; beyond that bands alone are asked
ROUNDS = 4  # walks up and down the lines until nothing more is struck


def least_worst_mm(yard: Yard, stick: Whole) -> float:
    """Return what the greatest step in mm cannot be below, for any order of the sticks that fills the same places.

    `stick` (n,) is such an order, -1 at the places left open; what is proven of it comes back to the last digit.
    """
    worst = steps_of(yard, stick)[1]
    if worst <= EQUAL_MM:
        return 0.0
    row = _row_of(yard, stick)
    low, high, left = min(_by_bands(yard, row), worst), worst, int(WORK / row.may.size)
    if left and high - low > EQUAL_MM and not _within_reach(row, high - EQUAL_MM):
        return worst
    while high - low > FINE_MM and left > 1:
        limit, left = (low + high) / 2.0, left - 1
        low, high = (low, limit) if _within_reach(row, limit) else (limit, high)
    return low


class _Row(NamedTuple):
    """The filled places (k,) and the sticks that may be used (u,)."""

    chain: Whole
    before: Whole  # (k,) in places of this row, -1 for none
    after: Whole
    face_mm: Floats  # (k, u)
    may: Flags  # (k, u)


def _row_of(yard: Yard, stick: Whole) -> _Row:
    filled, usable = np.flatnonzero(stick != NONE), yard.usable
    number = np.full(len(stick) + 1, NONE)  # place -1 is none
    number[filled] = np.arange(len(filled))
    before, after = (number[side[filled]] for side in neighbours(yard, stick != NONE))
    may = may_stand(yard, filled)[:, usable]
    return _Row(yard.chain[filled], before, after, yard.face_mm[np.ix_(filled, usable)], may)


def _by_bands(yard: Yard, row: _Row) -> float:
    """Return the greatest step that some band asks for."""
    band = _Bands(yard, row)
    lower, upper = np.triu_indices(len(band.cuts), 1)
    width, sticks = band.cuts[upper] - band.cuts[lower], band.more[lower] + band.less[upper] - band.sticks
    narrow = np.array([band.trips(at, at + 1) for at in range(len(band.cuts) - 1)], dtype=int)
    fewest = np.concatenate([np.minimum.accumulate(narrow[at:]) for at in range(len(narrow))] or [narrow])
    hope = _step_mm(width, sticks, fewest)  # a wider band has no more trips than any within it
    found = 0.0
    for at in np.argsort(-hope, kind="stable")[:LOOKS]:
        if hope[at] <= found:
            break
        found = max(found, float(_step_mm(width[at], sticks[at], band.trips(int(lower[at]), int(upper[at])))))
    return found


def _step_mm(width_mm: npt.ArrayLike, sticks: npt.ArrayLike, trips: npt.ArrayLike) -> Floats:
    """Return the step that bands ask for: of so many trips one has no more than its share of the sticks."""
    many = np.asarray(trips)
    share = np.asarray(sticks) // np.maximum(many, 1)
    return np.where(many > 0, np.asarray(width_mm) / (share + 1), 0.0)


class _Bands:
    """Bands between two of `cuts` (c,); `more` and `less` (c,) count sticks that can be thicker and thinner."""

    def __init__(self, yard: Yard, row: _Row) -> None:
        used = row.may.any(axis=0)
        face, may = row.face_mm[:, used], row.may[:, used]
        low, high = np.where(may, face, np.inf), np.where(may, face, -np.inf)
        self.least, self.most = low.min(axis=1), high.max(axis=1)
        thinnest, thickest = low.min(axis=0), high.max(axis=0)
        cuts = np.unique(np.concatenate([thinnest, thickest]))
        self.cuts = cuts[np.unique(np.linspace(0, len(cuts) - 1, min(CUTS, len(cuts))).astype(int))]
        self.more = np.count_nonzero(thickest[:, None] > self.cuts, axis=0)
        self.less = np.count_nonzero(thinnest[:, None] < self.cuts, axis=0)
        self.sticks, self.chain, self.closed = len(thinnest), row.chain, yard.closed
        self.known: dict[bytes, Stretches] = {}

    def trips(self, lower: int, upper: int) -> int:
        """Return how often at least the line goes from below a band to above it, or back."""
        sort = np.where(self.least >= self.cuts[upper], THICK, np.where(self.most <= self.cuts[lower], THIN, EITHER))
        key = sort.tobytes()
        if key not in self.known:
            self.known[key] = stretches(sort, self.chain, self.closed)
        places = len(self.chain)
        return least_crossings(self.known[key], places - int(self.more[lower]), int(self.less[upper]))


def _within_reach(row: _Row, limit_mm: float) -> bool:
    """Return False when no order can keep every step within the limit, True when this does not tell."""
    may = _supported(row, limit_mm)
    if not may.any(axis=1).all() or not _each_has_one(may):
        return False
    size = _sizes_that_meet(row.face_mm, may, limit_mm)
    if size.max(initial=0) == 0:
        return True
    hosts = np.zeros_like(may)
    for number in np.unique(row.chain):
        here = np.flatnonzero(row.chain == number)
        for one in range(size.max() + 1):
            of_size = may[here] & (size == one)
            if of_size.any(axis=1).all() and _each_has_one(of_size):
                hosts[here] |= of_size
    return _each_has_one(hosts)


def _supported(row: _Row, limit_mm: float) -> Flags:
    """Return which sticks may stand where (k, u), when one within the limit has to be able to stand on either side."""
    may = row.may.copy()
    places = np.arange(len(may))
    for _ in range(ROUNDS):
        count = np.count_nonzero(may)
        for order, beside in ((places, row.before), (places[::-1], row.after)):
            for place in order[beside[order] != NONE].tolist():
                _keep_supported(row, may, place, int(beside[place]), limit_mm)
        if np.count_nonzero(may) == count:
            break
    return may


def _keep_supported(row: _Row, may: Flags, place: int, beside: int, limit_mm: float) -> None:
    """Strike the sticks at a place that none of those which may stand beside it comes within the limit of."""
    sticks, reach = np.flatnonzero(may[place]), limit_mm + EQUAL_MM
    face, others = row.face_mm[place, sticks], np.sort(row.face_mm[beside, may[beside]])
    near = np.searchsorted(others, face + reach, side="right") - np.searchsorted(others, face - reach, side="left")
    near -= may[beside, sticks] & (np.abs(row.face_mm[beside, sticks] - face) <= reach)  # not the stick itself
    may[place, sticks[near <= 0]] = False


def _each_has_one(may: Flags) -> bool:
    """Return whether every place (k,) can have a stick of its own."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import maximum_bipartite_matching

    return bool((maximum_bipartite_matching(csr_array(may), perm_type="column") >= 0).all())


def _sizes_that_meet(face_mm: Floats, may: Flags, limit_mm: float) -> Whole:
    """Return a number (u,) for each stick, the same for those that steps within the limit may lead between."""
    thinnest, thickest = np.where(may, face_mm, np.inf).min(axis=0), np.where(may, face_mm, -np.inf).max(axis=0)
    order = np.argsort(thinnest, kind="stable")
    gap = thinnest[order][1:] - np.maximum.accumulate(thickest[order])[:-1]
    number = np.zeros(len(order), dtype=np.intp)
    number[order[1:]] = np.cumsum((gap > limit_mm + EQUAL_MM) & np.isfinite(gap))
    return number

"""Where each row's rails begin and end along one line.

Rails run over two bays and their joints are staggered row by row, so that no post carries every row's joint. At some
posts every rail has to be cut all the same: there all rows join, and the pattern starts afresh. Between two such posts
the first row, the third and so on begin with a long rail, the others with a short one, and a short one ends a row where
the count asks for it: joints of neighbouring rows then fall on posts of their own.

A line that goes round with no such post has no place to start from. There a row starts a post further on than the row
before it: over an even number of bays by turns from two posts; over an odd number, where each row has one short rail
and two rows cannot help meeting at a post, by turns from three.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows as catalogue_rows

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]
    Places = npt.NDArray[np.int_]


@dataclass(frozen=True, eq=False)
class Pattern:
    """The rails of one line (k,), row by row and along each row.

    `row` is 0 for the top one and −1 for a cap, `first` the bay that a rail begins in, `bays` how many it runs over, 1
    or 2. In a loop of b bays the rail that begins in the last bay may run on over the start. `count` is how many bays
    the line has, `closed` whether it is a loop; bay k lies between posts k and k + 1.
    """

    row: Places
    first: Places
    bays: Places
    count: int
    closed: bool

    @property
    def last_post(self) -> Places:
        """The post at which each rail ends (k,)."""
        end = self.first + self.bays
        return np.asarray(end % self.count if self.closed else end)

    @property
    def through(self) -> Flags:
        """At which posts (n,) a rail of some row runs on."""
        on = np.zeros(self.count + (0 if self.closed else 1), dtype=bool)
        on[((self.first + 1) % self.count)[self.bays == 2]] = True
        return on


def rail_pattern(opens: Flags, *, cut: Flags, single: Flags, rows: int, rail_bays: int, closed: bool) -> Pattern:
    """Return the rails over bays (b,): none where a gate `opens`, one-bay rails where `single` or by the setting.

    `cut` (n,) are posts where every row has to be cut; so are, unasked, the posts of a gate, those at both ends of a
    `single` bay, and the ends of an open line. `rail_bays` is 1 or 2. Each row covers every bay that has rails once.
    """
    count = len(opens)
    single = single | (rail_bays == 1)
    joined = cut | _beside(opens | single, closed=closed)
    if not closed:
        joined[[0, -1]] = True
    found = [
        (row, first % count, bays) for row in range(rows) for first, bays in _of_row(row, joined, opens, closed=closed)
    ]
    row, first, bays = np.array(found, dtype=int).reshape(-1, 3).T
    order = np.lexsort([first, row])
    return Pattern(row[order], first[order], bays[order], count, closed)


def _of_row(row: int, joined: Flags, opens: Flags, *, closed: bool) -> list[tuple[int, int]]:
    """Return (first bay, bays) of each rail of one row; a bay past a loop's last counts on."""
    count = len(opens)
    stops = [int(post) for post in np.flatnonzero(joined)]
    if not stops:
        start = row % (3 if count % 2 else 2)
        return _long_first(start, start + count)
    if closed:
        stops.append(stops[0] + count)
    rails: list[tuple[int, int]] = []
    for begin, end in pairwise(stops):
        if opens[begin % count]:
            continue
        if row % 2:
            rails.append((begin, 1))
        rails += _long_first(begin + row % 2, end)
    return rails


def cap_pattern(opens: Flags, *, stops: Flags, pairs: Flags, taken: Flags, closed: bool) -> Pattern:
    """Return the boards of a cap over bays (b,), one or two bays each: none where a gate `opens`.

    Every board ends at `stops` (n,), at the posts of a gate and at the ends of an open line; `pairs` (b,) says in which
    bays a board of two may begin. As few of the other joints as can be stand on posts that are `taken` (n,), where the
    top rail is joined; then as few boards as can be.
    """
    count = len(opens)
    ends = stops | _beside(opens, closed=closed)
    if not closed:
        ends[[0, -1]] = True
    places = [int(post) for post in np.flatnonzero(ends)]
    if not places:  # where no board ends at post 0, one of two bays ends at post 1
        found = [_fewest_shared(start, start + count, pairs, taken) for start in (0, 1)]
        boards = min(found, key=lambda way: _shared(way, taken))
    else:
        places += [places[0] + count] if closed else []
        stretches = [(begin, end) for begin, end in pairwise(places) if not opens[begin % count]]
        boards = [board for stretch in stretches for board in _fewest_shared(*stretch, pairs, taken)]
    first, bays = np.array(sorted((first % count, over) for first, over in boards), dtype=int).reshape(-1, 2).T
    return Pattern(np.full(len(first), -1), first, bays, count, closed)


def _shared(boards: list[tuple[int, int]], taken: Flags) -> tuple[int, int]:
    """Return how many of these boards begin on a post that is taken, and how many boards there are."""
    return sum(bool(taken[first % len(taken)]) for first, _ in boards), len(boards)


def _fewest_shared(begin: int, end: int, pairs: Flags, taken: Flags) -> list[tuple[int, int]]:
    """Return (first bay, bays) of boards from one post to another, the fewest joints on posts taken, then the fewest.

    The best way to each post in turn: by one bay from the post before, or by two from the one before that.
    """
    cost, steps = [(0, 0)], [0]
    for post in range(begin + 1, end + 1):
        ways = [(cost[-1], 1)]
        if post - begin > 1 and pairs[(post - 2) % len(pairs)]:
            ways.append((cost[-2], 2))
        (joints, fewest), over = min(ways)
        cost.append((joints + int(post < end and taken[post % len(taken)]), fewest + 1))
        steps.append(over)
    boards = []
    while end > begin:
        over = steps[end - begin]
        end -= over
        boards.append((end, over))
    return boards


def _long_first(begin: int, end: int) -> list[tuple[int, int]]:
    return [(first, min(2, end - first)) for first in range(begin, end, 2)]


def _beside(bays: Flags, *, closed: bool) -> Flags:
    """Return the posts (n,) at either end of these bays (b,)."""
    if closed:
        return np.asarray(bays | np.roll(bays, 1))
    return np.asarray(np.append(bays, False) | np.append(False, bays))


def least_radius_m(thick_mm: float) -> float:
    """Return the least radius that a rail so thick is bent to over two bays, from `catalogue/rails.csv`.

    Between the thicknesses listed it runs straight, below the thinnest and beyond the thickest in proportion.
    """
    listed = sorted(
        (float(row["thick_mm"]), float(row["value"]))
        for row in catalogue_rows("rails")
        if row["item"] == "least radius of a two-bay rail"
    )
    thick, radius = np.array([(0.0, 0.0), *listed]).T
    beyond = max(1.0, thick_mm / thick[-1])
    return float(np.interp(thick_mm, thick, radius) * beyond)

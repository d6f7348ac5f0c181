"""What is under the bottom rail once the top line stands: the gap in each bay, and where to fill or cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.top_line import top_line

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.layout.bay_ground import BayGround
    from fencegis.layout.rail_limits import Limits
    from fencegis.layout.top_line import TopLine, TopLineKind

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]
    Places = npt.NDArray[np.int_]

SEEN_M = 0.001  # nobody digs or fills for less


@dataclass(frozen=True, eq=False)
class Gaps:
    """Least and greatest gap in each bay (b,) and the chainage of each.

    NaN where a gate stands instead of rails, and where any of the bay's ground is unknown: what was not looked at is
    no gap.
    """

    least_m: Floats
    least_at_m: Floats
    greatest_m: Floats
    greatest_at_m: Floats


@dataclass(frozen=True, eq=False)
class Spots:
    """Stretches where the gap is beyond its limits, in order along the line (k,).

    `cut` says that ground is to go (the gap is too small), otherwise it is to be filled; `deepest_m` is how much at
    the worst place, `deepest_at_m`; `volume_m3` is over the width asked for, in place.
    """

    cut: Flags
    from_m: Floats
    to_m: Floats
    deepest_m: Floats
    deepest_at_m: Floats
    volume_m3: Floats


@dataclass(frozen=True, eq=False)
class RailHeights:
    """The top line and what follows from it.

    `top_m` (n,) is the top line's height above the ground at each post, NaN where the ground is unknown; `spots` holds
    what has to go and what has to come for the gap to keep its limits everywhere.
    """

    line: TopLine
    top_m: Floats
    gaps: Gaps
    spots: Spots


def rail_heights(bays: BayGround, *, limits: Limits, kind: TopLineKind, width_m: float) -> RailHeights:
    """Return the top line over these bays, heights at posts, gaps and spots; spots are `width_m` wide.

    Raises what `top_line` raises.
    """
    line = top_line(bays, limits=limits, kind=kind)
    gap = gap_m(bays, line.level_m, drop_m=limits.drop_m)
    spots = fill_and_cut(bays, gap, gap_min_m=limits.gap_min_m, gap_max_m=limits.gap_max_m, width_m=width_m)
    return RailHeights(line, line.level_m - bays.post_ground_m, bay_gaps(bays, gap), spots)


def gap_m(bays: BayGround, level_m: Floats, *, drop_m: float) -> Floats:
    """Return the gap under the bottom rail at each station (s,) of a top line at `level_m` (n,).

    NaN where the ground is unknown and in bays that open.
    """
    return np.where(bays.opens[bays.bay], np.nan, bays.from_posts(level_m) - drop_m - bays.ground_m)


def bay_gaps(bays: BayGround, gap_m: Floats) -> Gaps:
    """Return the least and greatest of the gaps at stations (s,) in each bay."""
    start = np.flatnonzero(bays.share == 0.0)
    least_m, greatest_m = np.minimum.reduceat(gap_m, start), np.maximum.reduceat(gap_m, start)
    return Gaps(
        least_m, _first_at(bays, gap_m == least_m[bays.bay]), greatest_m, _first_at(bays, gap_m == greatest_m[bays.bay])
    )


def fill_and_cut(bays: BayGround, gap_m: Floats, *, gap_min_m: float, gap_max_m: float, width_m: float) -> Spots:
    """Return where the gaps at stations (s,) are under the least (cut) or over the greatest (fill), and how much.

    Exact for ground that runs straight between stations. A spot runs on over a post, not over a loop's start.
    """
    too_small, too_large = _stretches(bays, gap_min_m - gap_m), _stretches(bays, gap_m - gap_max_m)
    cut = np.repeat([True, False], [len(too_small), len(too_large)])
    from_m, to_m, deepest_m, deepest_at_m, area_m2 = np.concatenate([too_small, too_large]).T
    order = np.lexsort([cut, from_m])
    columns = (from_m, to_m, deepest_m, deepest_at_m, area_m2 * width_m)
    return Spots(cut[order], *(column[order] for column in columns))


def _first_at(bays: BayGround, found: Flags) -> Floats:
    """Return the chainage of the first station found in each bay, NaN where none is."""
    at = np.full(len(bays.bay_m), np.nan)
    place = np.flatnonzero(found)[::-1]
    at[bays.bay[place]] = bays.station_m[place]
    return at


def _stretches(bays: BayGround, depth_m: Floats) -> Floats:
    """Return rows (k, 5) of from, to, deepest, where, and area, of the stretches where the depth is over nought.

    The depth runs straight from station to station. A step is the way from one station to the next; the step over a
    post has no length and joins the bays on either side.
    """
    begin, end = depth_m[:-1], depth_m[1:]
    top, under = np.maximum(begin, end), np.minimum(begin, end)
    deep = top > 0.0  # false where either is unknown
    crosses = deep & (under < 0.0)
    share = np.ones(len(top))  # of the step that is deep
    share[crosses] = top[crosses] / (top - under)[crosses]
    chainage, step = bays.station_m, np.diff(bays.station_m)
    starts = np.where(begin > 0.0, chainage[:-1], chainage[1:] - share * step)
    stops = np.where(end > 0.0, chainage[1:], chainage[:-1] + share * step)
    area = 0.5 * (top + np.maximum(under, 0.0)) * share * step
    edges = np.diff(np.concatenate([[0], deep.astype(int), [0]]))
    first, last = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1
    # two stretches that touch at a station where the depth is nought or less are two
    parted = np.flatnonzero(deep[:-1] & deep[1:] & ~(end[:-1] > 0.0))
    first, last = np.sort(np.concatenate([first, parted + 1])), np.sort(np.concatenate([last, parted]))
    rows = []
    for one, other in zip(first, last, strict=True):
        worst = one + int(np.argmax(depth_m[one : other + 2]))
        rows.append((starts[one], stops[other], depth_m[worst], chainage[worst], area[one : other + 1].sum()))
    found = np.array(rows, dtype=float).reshape(-1, 5)
    return found[found[:, 2] > SEEN_M]

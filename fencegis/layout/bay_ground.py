"""The ground under the rails, bay by bay: what the top line has to clear over the whole bay, not only at posts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]
    Places = npt.NDArray[np.int_]

SAME_M = 1e-6  # a station this near a post is the post's own


@dataclass(frozen=True, eq=False)
class BayGround:
    """The posts of one line in walking order, its bays, and the ground at stations in each.

    `post_m` (n,) are chainages, `bay_m` (b,) horizontal lengths; bay k runs from post k to the next, a loop's last back
    to the first, so b is n − 1, or n in a loop. `opens` (b,) is true where a gate stands instead of rails.
    Stations are ordered along the line, every bay beginning and ending with its posts: `bay` (s,) is the bay, `share`
    (s,) how far along it, 0 to 1, `ground_m` (s,) the ground, NaN where unknown; it runs straight between stations.
    """

    post_m: Floats
    bay_m: Floats
    closed: bool
    opens: Flags
    bay: Places
    share: Floats
    ground_m: Floats

    @cached_property
    def after(self) -> Places:
        """The post that ends each bay."""
        return (np.arange(len(self.bay_m)) + 1) % len(self.post_m)

    @cached_property
    def station_m(self) -> Floats:
        """Chainage of each station; in a loop's last bay it runs on past the line's length."""
        return np.asarray(self.post_m[self.bay] + self.share * self.bay_m[self.bay])

    @cached_property
    def post_ground_m(self) -> Floats:
        """Ground at the posts (n,), NaN where unknown."""
        ground = np.full(len(self.post_m), np.nan)
        ground[self.after] = self.ground_m[self.share == 1.0]
        ground[: len(self.bay_m)] = self.ground_m[self.share == 0.0]
        return ground

    @cached_property
    def bent(self) -> Places:
        """The posts with a bay on either side: all of a loop's, all but the ends of an open line."""
        return np.arange(0 if self.closed else 1, len(self.bay_m))

    @cached_property
    def bend(self) -> Any:
        """Sparse (posts of `bent`, n): from heights in metres to changes of grade in percent, crest negative."""
        from scipy import sparse

        before, after = self.bay_m[self.bent - 1], self.bay_m[self.bent]
        row = np.tile(np.arange(len(self.bent)), 3)
        column = np.concatenate([self.bent - 1, self.bent, self.after[self.bent]]) % len(self.post_m)
        weight = 100.0 * np.concatenate([1.0 / before, -1.0 / before - 1.0 / after, 1.0 / after])
        return sparse.csr_array((weight, (row, column)), shape=(len(self.bent), len(self.post_m)))

    def bend_for(self, miss_m: float) -> Floats:
        """Return the change of grade (posts of `bent`,) in percent that puts a post `miss_m` off a straight rail.

        A rail over the two bays before and after stands at the middle post at b·h₋ + a·h₊ over a + b, so the post's
        own height is a·b ÷ (a + b) times the change of grade away from it.
        """
        before, after = self.bay_m[self.bent - 1], self.bay_m[self.bent]
        return np.asarray(100.0 * miss_m * (before + after) / (before * after))

    def shares(self, station: Places) -> Any:
        """Sparse (stations, n): from heights at posts to heights of straight rails at these stations."""
        from scipy import sparse

        row = np.tile(np.arange(len(station)), 2)
        column = np.concatenate([self.bay[station], self.after[self.bay[station]]])
        weight = np.concatenate([1.0 - self.share[station], self.share[station]])
        return sparse.csr_array((weight, (row, column)), shape=(len(station), len(self.post_m)))

    def from_posts(self, post_m: Floats) -> Floats:
        """Return heights at stations (s,) of straight rails through heights at posts (n,)."""
        before, after = post_m[self.bay], post_m[self.after[self.bay]]
        return np.asarray((1.0 - self.share) * before + self.share * after)

    def binding(self, *, above: bool) -> Places:
        """Return the stations that decide whether a straight rail clears the ground of its bay (from above or below).

        They are the corners of the convex hull, upper or lower, of each bay's known ground: a straight line that keeps
        a distance from them keeps it from all. A point under the chord of its neighbours is no corner; taking all such
        points away at once, again and again, leaves the hull. Bays that open bind nothing.
        """
        keep = np.flatnonzero(~np.isnan(self.ground_m) & ~self.opens[self.bay])
        sign = 1.0 if above else -1.0
        while len(keep) > 2:
            bay, share, height = self.bay[keep], self.share[keep], sign * self.ground_m[keep]
            inner = (bay[:-2] == bay[1:-1]) & (bay[1:-1] == bay[2:])
            chord = height[:-2] * (share[2:] - share[1:-1]) + height[2:] * (share[1:-1] - share[:-2])
            under = inner & (height[1:-1] * (share[2:] - share[:-2]) <= chord)
            if not under.any():
                break
            keep = np.delete(keep, 1 + np.flatnonzero(under))
        return keep


def bay_ground(
    post_m: Floats,
    *,
    station_m: Floats,
    ground_m: Floats,
    round_m: float | None = None,
    opens: Flags | None = None,
) -> BayGround:
    """Return the bays between posts at chainages `post_m` (n,), rising, and the ground under each.

    The ground is `ground_m` (m,), NaN where unknown, at `station_m` (m,), rising, straight in between; it is unknown
    outside of them. `round_m` is the length of a loop, None for an open line.
    Raises ValueError for fewer than two posts (a loop: three), or chainages that do not rise.
    """
    closed = round_m is not None
    edge = post_m
    if round_m is not None:
        edge = np.append(post_m, post_m[0] + round_m)
        station_m, first = np.unique(np.concatenate([station_m, station_m + round_m]), return_index=True)
        ground_m = np.concatenate([ground_m, ground_m])[first]
    if len(post_m) < (3 if closed else 2) or not (np.diff(edge) > SAME_M).all():
        raise ValueError("a line has at least two posts, a loop three, and their chainages rise")
    bay = np.searchsorted(edge, station_m, side="right") - 1
    held = np.clip(bay, 0, len(edge) - 2)
    inside = (station_m - edge[held] > SAME_M) & (edge[held + 1] - station_m > SAME_M)
    own = np.interp(edge, station_m, ground_m, left=np.nan, right=np.nan)
    length = np.diff(edge)
    number = np.arange(len(length))
    all_bays = np.concatenate([number, held[inside], number])
    share = np.concatenate(
        [np.zeros(len(length)), (station_m[inside] - edge[held[inside]]) / length[held[inside]], np.ones(len(length))]
    )
    ground = np.concatenate([own[:-1], ground_m[inside], own[1:]])
    order = np.lexsort([share, all_bays])
    shut = np.zeros(len(length), dtype=bool) if opens is None else opens
    return BayGround(post_m, length, closed, shut, all_bays[order], share[order], ground[order])

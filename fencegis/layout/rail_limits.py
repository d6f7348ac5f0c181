"""The limits of a top line as rows of a linear programme: gaps over the whole bay, post lengths, straight rails.

The unknown is the rise at each post: the height of the top line over the height wanted there, which follows the known
ground and runs straight across unknown ground.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy import sparse

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.layout.bay_ground import BayGround
    from fencegis.records.spec import Fence

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]
    Places = npt.NDArray[np.int_]


@dataclass(frozen=True, eq=False)
class Limits:
    """What the top line has to keep.

    `drop_m` is the plumb distance from the top line to the under edge of the bottom rail; the gap under that edge stays
    from `gap_min_m` to `gap_max_m` and is best at `gap_wanted_m`. `tallest_m` (n,) is how far above the ground the top
    line may be at each post, infinite where any length is at hand. At posts where `through` (n,) is true a rail of some
    row runs on, and may be pulled on edge by `pull_m`. At posts where `held_m` (n,) is a number, in the ground's own
    datum, the top line stands at just that height, for another line's rails end there or run over; NaN where it is
    free. No rail runs on at a post that is held, so whatever the heights, rails reach them all.
    """

    drop_m: float
    gap_min_m: float
    gap_max_m: float
    gap_wanted_m: float
    tallest_m: Floats
    through: Flags
    held_m: Floats
    pull_m: float


def limits_of(fence: Fence, *, drop_m: float, tallest_m: Floats, through: Flags, held_m: Floats) -> Limits:
    """Return the limits that a fence's own numbers set; the gap wanted is midway between its limits."""
    return Limits(
        drop_m=drop_m,
        gap_min_m=fence.gap_min_m,
        gap_max_m=fence.gap_max_m,
        gap_wanted_m=(fence.gap_min_m + fence.gap_max_m) / 2.0,
        tallest_m=tallest_m,
        through=through,
        held_m=held_m,
        pull_m=fence.pull_mm / 1000.0,
    )


@dataclass(frozen=True, eq=False)
class LimitRows:
    """The limits as `rows` · rise ≤ `most` + breach[`gives`], and those that give nothing.

    These are `bend` · rise ≤ `bend_most`, and rise = `held_rise_m` (h,) at the posts `held` (h,). `wanted_m` (n,) is
    the height wanted at each post. The breach has a place for each bay's want of gap, then for each bay's excess, then
    for each post's length, `places` in all. `stiff` are the rows of `BayGround.bend` where rails run through; `bend`
    holds each twice, for the crest and for the hollow.
    """

    wanted_m: Floats
    rows: Any
    most: Floats
    gives: Places
    places: int
    stiff: Places
    bend: Any
    bend_most: Floats
    held: Places
    held_rise_m: Floats

    def breach(self, rise_m: Floats) -> Floats:
        """Return by how much each place of the breach goes beyond its limit, 0 where it is kept."""
        worst = np.zeros(self.places)
        np.maximum.at(worst, self.gives, self.rows @ rise_m - self.most)
        return worst

    @property
    def hold(self) -> Any:
        """Sparse (h, n): from rises at posts to those at posts that are held."""
        return sparse.eye_array(len(self.wanted_m), format="csr")[self.held]

    @property
    def let_go(self) -> LimitRows:
        """The same limits with no post held."""
        return replace(self, held=self.held[:0], held_rise_m=self.held_rise_m[:0])

    @property
    def give(self) -> Any:
        """Sparse (rows, places): which place of the breach opens each row."""
        count = len(self.gives)
        return sparse.csr_array((np.ones(count), (np.arange(count), self.gives)), shape=(count, self.places))


def limit_rows(bays: BayGround, limits: Limits) -> LimitRows:
    """Return the limits of the top line over these bays; unknown ground sets none.

    Raises ValueError when no ground is known at any post.
    """
    posts, count = len(bays.post_m), len(bays.bay_m)
    wanted = _ground_joined(bays) + limits.drop_m + limits.gap_wanted_m
    gap = bays.from_posts(wanted) - limits.drop_m - bays.ground_m
    floor, roof = bays.binding(above=True), bays.binding(above=False)
    tall = np.flatnonzero(np.isfinite(limits.tallest_m) & ~np.isnan(bays.post_ground_m))
    upright = sparse.eye_array(posts, format="csr")[tall]
    room = bays.post_ground_m[tall] + limits.tallest_m[tall] - wanted[tall]
    stiff = np.flatnonzero(limits.through[bays.bent])
    bend, bent = bays.bend[stiff], (bays.bend @ wanted)[stiff]
    pulled = bays.bend_for(limits.pull_m)[stiff]
    held = np.flatnonzero(~np.isnan(limits.held_m))
    return LimitRows(
        wanted_m=wanted,
        rows=sparse.vstack([-bays.shares(floor), bays.shares(roof), upright], format="csr"),
        most=np.concatenate([gap[floor] - limits.gap_min_m, limits.gap_max_m - gap[roof], room]),
        gives=np.concatenate([bays.bay[floor], count + bays.bay[roof], 2 * count + tall]),
        places=2 * count + posts,
        stiff=stiff,
        bend=sparse.vstack([bend, -bend], format="csr"),
        bend_most=np.concatenate([pulled - bent, pulled + bent]),
        held=held,
        held_rise_m=(limits.held_m - wanted)[held],
    )


def _ground_joined(bays: BayGround) -> Floats:
    """Return the ground at posts, straight from known to known where it is unknown, level beyond the last known."""
    known = ~np.isnan(bays.post_ground_m)
    if not known.any():
        raise ValueError("the ground is known at no post")
    around = float(bays.bay_m.sum()) if bays.closed else None
    return np.asarray(np.interp(bays.post_m, bays.post_m[known], bays.post_ground_m[known], period=around))

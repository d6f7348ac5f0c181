"""The least distance from columns standing on the ground to a curve in the air: arrays to arrays."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.hazards.envelope import Allowance
    from fencegis.hazards.found import Floats, Places

_FINE = np.linspace(-1.0, 1.0, 21)[:, None, None]  # between a point of the curve and its two neighbours
_CHUNK = 256  # columns at a time: the pairs stay in the processor's cache
_CELL_M = 0.5
_HANDFUL = 8


@dataclass(frozen=True, eq=False)
class Curve:
    """Points (n, 4) along a curve, and from each the steps (n, 4) to the next and to the one before; 0 at an end.

    Beside easting, northing and height stands how far wind moves the curve sideways there.
    """

    points: Floats
    ahead: Floats
    back: Floats

    @cached_property
    def handfuls(self) -> tuple[Floats, Floats]:
        """One point (n, 4) for each handful of neighbours, and how far the furthest of them is from it.

        What one swings more than the other counts as distance, for so much nearer it may come.
        """
        block = np.arange(len(self.points)) // _HANDFUL
        middle = self.points[np.minimum(np.arange(block[-1] + 1) * _HANDFUL + _HANDFUL // 2, len(self.points) - 1)]
        away = self.points - middle[block]
        off_m = np.sqrt((away[:, :3] ** 2).sum(axis=1)) + np.abs(away[:, 3])
        return middle, np.maximum.reduceat(
            np.where(np.isnan(off_m), np.inf, off_m), np.flatnonzero(np.diff(block, prepend=-1))
        )


def curve_of(pieces: Sequence[Floats]) -> Curve:
    """Return the pieces, (n, 4) points each, as one curve that is not joined across their ends."""
    kept = [piece for piece in pieces if len(piece)] or [np.empty((0, 4))]
    return Curve(
        np.concatenate(kept),
        np.concatenate([np.diff(piece, axis=0, append=piece[-1:]) for piece in kept]),
        np.concatenate([-np.diff(piece, axis=0, prepend=piece[:1]) for piece in kept]),
    )


def distance_m(curve: Curve, columns: Floats, *, flat_m: float, off: Allowance, within_m: float) -> Floats:
    """Return (n,) least distances from columns, whose tops are (n, 3), to the curve.

    The plan distance is first cut by the allowance, and so is the height of the curve; a curve below a column's top
    counts by its plan distance alone. Where a height is NaN the curve is taken `flat_m` above the top; infinite if
    that is NaN too, and where nothing lies within `within_m` in plan.
    """
    found = np.full(len(columns), np.inf)
    for start in range(0, len(columns), _CHUNK):
        some = columns[start : start + _CHUNK]
        low, high = some[:, :2].min(axis=0) - within_m, some[:, :2].max(axis=0) + within_m
        near = np.flatnonzero(((curve.points[:, :2] >= low) & (curve.points[:, :2] <= high)).all(axis=1))
        if not len(near):
            continue
        near = _worth_trying(curve, near, some, flat_m=flat_m, off=off)
        coarse = _apart(some[:, None, :], curve.points[near][None, :, :], flat_m=flat_m, off=off)
        best = near[np.argmin(coarse, axis=1)]
        between = curve.points[best] + np.abs(_FINE) * np.where(_FINE > 0.0, curve.ahead[best], curve.back[best])
        found[start : start + _CHUNK] = np.sqrt(_apart(some[None], between, flat_m=flat_m, off=off).min(axis=0))
    return found


def representatives(columns: Floats) -> tuple[Places, Places, Floats]:
    """Return one column of every half metre, which of them stands for each column, and how far off that one's top is.

    A distance to anything changes by no more than the top moves. Infinite where a ground height is not known.
    """
    cell = np.floor((columns[:, :2] - columns[:, :2].min(axis=0)) / _CELL_M).astype(np.int64)
    _, first, stands = np.unique(cell[:, 0] * (1 << 32) + cell[:, 1], return_index=True, return_inverse=True)
    order = np.argsort(first)
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    first, stands = first[order], rank[stands]
    off_m = np.sqrt(((columns - columns[first][stands]) ** 2).sum(axis=1))
    return first, stands, np.where(np.isnan(off_m), np.inf, off_m)


def _worth_trying(curve: Curve, near: Places, tops: Floats, *, flat_m: float, off: Allowance) -> Places:
    """Drop the handfuls of points that cannot hold the nearest to any of the tops, whatever lies between them."""
    handfuls = np.unique(near // _HANDFUL)
    middle, slack_m = (part[handfuls] for part in curve.handfuls)
    from_middle_m = np.sqrt(_apart(tops[:, None, :], middle[None, :, :], flat_m=flat_m, off=off))
    least_m = from_middle_m.min(axis=1, keepdims=True)
    open_ = np.isinf(slack_m) | (from_middle_m - np.where(np.isinf(slack_m), 0.0, slack_m) <= least_m).any(axis=0)
    return near[np.isin(near // _HANDFUL, handfuls[open_])]


def _apart(tops: Floats, curve: Floats, *, flat_m: float, off: Allowance) -> Floats:
    """Return squared distances of broadcast pairs; in place, for this is where the time goes."""
    plan_m: Floats = tops[..., 0] - curve[..., 0]
    plan_m *= plan_m
    across_m: Floats = tops[..., 1] - curve[..., 1]
    across_m *= across_m
    plan_m += across_m
    if off.plan_m or off.swings:
        np.sqrt(plan_m, out=plan_m)
        plan_m -= off.plan_m + curve[..., 3] if off.swings else off.plan_m
        np.maximum(plan_m, 0.0, out=plan_m)
        plan_m *= plan_m
    over_m: Floats = curve[..., 2] - (tops[..., 2] + off.height_m)
    unknown = np.isnan(over_m) if np.isnan(tops[..., 2]).any() or np.isnan(curve[..., 2]).any() else None
    if unknown is not None:
        over_m[unknown] = np.inf if np.isnan(flat_m) else flat_m - off.height_m
    np.maximum(over_m, 0.0, out=over_m)
    over_m *= over_m
    plan_m += over_m
    return plan_m

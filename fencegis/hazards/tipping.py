"""When a machine tips that stands still on a plane: statics of a body on two rear tyres and a front axle on a pin.

The front axle swings about the pin along the machine until its stops, which are not counted on: it carries weight and
side load through the pin and turns nothing. So the machine stands on a triangle (H. G. Gibson, K. C. Elliott and
S. P. E. Persson, Journal of Terramechanics 8(2), 1971, 65 to 79: front pin and two rear tyres). Tyres are taken as
hard, ground as hard and even, the machine as standing still: real ground tips it sooner.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Weight:
    """A mass and its centre: ahead of the rear axle, above the ground, and to the right of the middle."""

    mass_kg: float
    ahead_m: float
    height_m: float
    aside_m: float = 0.0


@dataclass(frozen=True)
class Support:
    """What the machine stands on: rear track, wheelbase, and the height of the front axle's pin above the ground."""

    track_m: float
    wheelbase_m: float
    pivot_m: float


def together(weights: Sequence[Weight]) -> Weight:
    """Return the weights as one, at their common centre."""
    mass = np.array([weight.mass_kg for weight in weights])
    centres = np.array([(weight.ahead_m, weight.height_m, weight.aside_m) for weight in weights])
    ahead, height, aside = mass @ centres / mass.sum()
    return Weight(float(mass.sum()), float(ahead), float(height), float(aside))


def front_share(weight: Weight, *, wheelbase_m: float) -> float:
    """Return the share of the weight that the front axle carries on level ground, of one."""
    return weight.ahead_m / wheelbase_m


def first_tip_deg(weight: Weight, support: Support) -> float:
    """Return the fall square to the machine at which its uphill rear tyre lifts, in degrees.

    tan φ = (T/2)(1 − a/L) ÷ (h − p·a/L) for a weight in the middle: track T, wheelbase L, pin's height p, its centre a
    ahead of the rear axle and h above the ground. Of left and right the lesser.
    """
    return float(tip_deg(weight, support, downhill_deg=np.array([-90.0, 90.0])).min())


def tip_deg(weight: Weight, support: Support, *, downhill_deg: Floats) -> Floats:
    """Return the steepest slope on which all three supports still carry, in degrees, by which way it falls.

    `downhill_deg` (n,) is from the machine's heading, right positive: 0 falls ahead of it, 90 to its right, 180 behind.
    0 where it does not stand on level ground, 90 where no slope that way tips it.
    """
    turn = np.radians(np.asarray(downhill_deg, dtype=float))
    edges = _edges(weight, support)
    overturns = edges[:, 1:] @ np.stack([np.cos(turn), np.sin(turn)])
    holds = np.maximum(edges[:, :1], 0.0)
    tangent = np.divide(holds, overturns, out=np.full(overturns.shape, np.inf), where=overturns > 0.0)
    tangent = np.where(edges[:, :1] > 0.0, tangent, 0.0)
    return np.asarray(np.degrees(np.arctan(tangent.min(axis=0))))


def worst_tip(weight: Weight, support: Support) -> tuple[float, float]:
    """Return the least slope that tips the machine whichever way it stands, and which way that falls from its heading.

    Both in degrees, the second as in `tip_deg`; of two that are alike the one to the right.
    """
    edges = _edges(weight, support)
    downhill = np.degrees(np.arctan2(edges[:, 2], edges[:, 1]))
    least = tip_deg(weight, support, downhill_deg=downhill)
    worst = int(np.argmin(least))
    return float(least[worst]), float(downhill[worst])


def _edges(weight: Weight, support: Support) -> Floats:
    """Return (3, 3): over the right, the left and the rear edge what holds, and what overturns ahead and to the right.

    An edge's far support carries while holds > tan(slope) · (ahead · cos β + right · sin β), slope falling to β.
    """
    half, long, pin = support.track_m / 2.0, support.wheelbase_m, support.pivot_m
    a, h, aside = weight.ahead_m, weight.height_m, weight.aside_m
    side = h - pin * a / long  # the pin takes its share of the side load at its own height
    nose, skew = half * h / long, pin * aside / long
    return np.array(
        [
            (half * (1.0 - a / long) - aside, nose + skew, side),
            (half * (1.0 - a / long) + aside, nose - skew, -side),
            (a, -h, 0.0),
        ]
    )

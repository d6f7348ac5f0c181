"""A traverse of bearings and lengths: how well it closes, its corners once balanced, its area."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, inf
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

_EXACT_M = 1e-9  # of a metre of perimeter: sums of sines do not come to nothing


@dataclass(frozen=True)
class Closure:
    """Where the traverse ends, less where it began, and its perimeter; any one unit of length."""

    east_m: float
    north_m: float
    perimeter_m: float

    @property
    def length_m(self) -> float:
        """The linear misclosure."""
        return hypot(self.east_m, self.north_m)

    @property
    def one_in(self) -> float:
        """The n of 1:n, perimeter over misclosure; infinite when it closes exactly."""
        return self.perimeter_m / self.length_m if self.length_m > _EXACT_M * self.perimeter_m else inf


def steps_en(bearing_deg: Floats, length_m: Floats) -> Floats:
    """Return (n, 2) easting and northing of each leg: departure and latitude. Bearings clockwise from north."""
    angle = np.radians(np.asarray(bearing_deg, dtype=float))
    return np.asarray(np.asarray(length_m, dtype=float)[:, None] * np.column_stack([np.sin(angle), np.cos(angle)]))


def closure(bearing_deg: Floats, length_m: Floats) -> Closure:
    """Return how far the legs miss coming back to their start."""
    east, north = steps_en(bearing_deg, length_m).sum(axis=0).tolist()
    return Closure(east, north, float(np.sum(length_m)))


def balanced(bearing_deg: Floats, length_m: Floats) -> Floats:
    """Return the (n, 2) corners, the start at 0, 0 first, the misclosure shared out by length (the compass rule)."""
    steps, length = steps_en(bearing_deg, length_m), np.asarray(length_m, dtype=float)
    steps = steps - steps.sum(axis=0) * (length / length.sum())[:, None]
    return np.vstack([np.zeros((1, 2)), np.cumsum(steps, axis=0)[:-1]])


def area_m2(corners: Floats) -> float:
    """Return the area within (n, 2) corners by their coordinates, however they go round; it must not cross itself."""
    east, north = (corners - corners[0]).T
    return float(abs(np.dot(east, np.roll(north, -1)) - np.dot(north, np.roll(east, -1))) / 2.0)

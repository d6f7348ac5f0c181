"""How a line is cut into rows and drawn to scale: metres along and metres of height to millimetres of paper."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.exports.section.paper import WIDTH_MM

if TYPE_CHECKING:
    import numpy.typing as npt
    import pandas as pd

    Floats = npt.NDArray[np.float64]

LEFT_MM, RIGHT_MM = 17.0, 3.0
ACROSS_MM = WIDTH_MM - LEFT_MM - RIGHT_MM
GREATEST_ROW_M = 1000.0
MOST_ROWS = 36  # of one plan; beyond that a row holds more metres
TALLEST_MM, LEAST_MM = 70.0, 6.0
EXAGGERATIONS = (10.0, 5.0, 4.0, 3.0, 2.0, 1.5, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01)
STEPS = (1.0, 2.0, 5.0)


@dataclass(frozen=True, eq=False)
class Ground:
    """A line's profile: heights are NaN where the ground is not known."""

    chainage_m: Floats
    raster_m: Floats
    fitted_m: Floats
    length_m: float
    over_m: float = 0.0  # how far what is drawn stands over the ground

    @property
    def known(self) -> bool:
        """Whether anything at all is known of the heights."""
        return bool(np.isfinite(self.fitted_m).any())

    def at(self, chainage_m: npt.ArrayLike) -> Floats:
        """Return heights to draw marks at: over a gap straight from edge to edge; 0 where nothing is known."""
        finite = np.isfinite(self.fitted_m)
        if not finite.any():
            return np.zeros(np.shape(chainage_m))
        known_m, heights_m = self.chainage_m[finite], self.fitted_m[finite]
        return np.asarray(np.interp(np.asarray(chainage_m, dtype=float), known_m, heights_m), dtype=float)

    def gaps(self) -> list[tuple[float, float]]:
        """Return the stretches without fitted heights."""
        unknown = ~np.isfinite(self.fitted_m)
        edges = np.flatnonzero(np.diff(np.concatenate([[0], unknown.astype(int), [0]])))
        starts, stops = edges[::2], edges[1::2] - 1
        last = len(self.chainage_m) - 1
        return [
            (
                float(self.chainage_m[max(start - 1, 0)]) if start else 0.0,
                float(self.chainage_m[min(stop + 1, last)]) if stop < last else self.length_m,
            )
            for start, stop in zip(starts, stops, strict=True)
        ]


def ground_of(profile: pd.DataFrame, length_m: float, *, over_m: float = 0.0) -> Ground:
    """Return the profile rows of one line; a line without any is not known throughout."""
    if not len(profile):
        nothing = np.full(2, np.nan)
        return Ground(np.array([0.0, length_m]), nothing, nothing, length_m)
    columns = [profile[name].to_numpy(dtype=float) for name in ("chainage_m", "ground_m", "fitted_m")]
    return Ground(columns[0], columns[1], columns[2], length_m, over_m)


@dataclass(frozen=True)
class Row:
    """One strip of a line's section: which chainages, which heights, how many millimetres tall."""

    from_m: float
    to_m: float
    low_m: float
    high_m: float
    across: float  # millimetres a metre along
    up: float  # millimetres a metre of height

    @property
    def tall_mm(self) -> float:
        """Height of the profile's band on the paper."""
        return max(LEAST_MM, (self.high_m - self.low_m) * self.up)

    def right_mm(self, chainage_m: float) -> float:
        """Return the place across the sheet."""
        return LEFT_MM + (chainage_m - self.from_m) * self.across

    def holds(self, chainage_m: float) -> bool:
        """Whether a station is in this row; the end of one row is the start of the next."""
        return self.from_m - 1e-6 <= chainage_m <= self.to_m + 1e-6


def row_length_m(lengths_m: list[float]) -> float:
    """Return how many metres the sheet's width holds: the longest line in rows of no more than a kilometre or so."""
    longest = max(lengths_m)
    rows = max(1, math.ceil(longest / GREATEST_ROW_M - 0.1))
    least = sum(lengths_m) / MOST_ROWS
    return _up_to(max(longest / rows, least), 10.0 if longest > 100.0 else 1.0)


def rows_of(ground: Ground, greatest_m: float, exaggeration: float) -> list[Row]:
    """Return the rows of a line, about equally long, all to one scale."""
    across = ACROSS_MM / greatest_m
    rows = []
    for start, stop in _cuts(ground, greatest_m):
        low, high = _heights(ground, start, stop)
        rows.append(Row(start, stop, low, high, across, across * exaggeration))
    return rows


def exaggeration_of(grounds: list[Ground], greatest_m: float) -> float:
    """Return by how much heights are stretched: the most of a list of round numbers that keeps every row low enough."""
    heights = [_heights(ground, *cut) for ground in grounds for cut in _cuts(ground, greatest_m)]
    tallest = max(high - low for low, high in heights) * ACROSS_MM / greatest_m
    return next((times for times in EXAGGERATIONS if tallest * times <= TALLEST_MM), EXAGGERATIONS[-1])


def _cuts(ground: Ground, greatest_m: float) -> list[tuple[float, float]]:
    rows = max(1, math.ceil((ground.length_m - 0.5) / greatest_m))
    length = _up_to(ground.length_m / rows, 10.0) if rows > 1 else ground.length_m
    starts = [length * row for row in range(rows)]
    return list(zip(starts, [*starts[1:], ground.length_m], strict=True))


def _up_to(length_m: float, step_m: float) -> float:
    return math.ceil(length_m / step_m - 1e-6) * step_m


def step_for(span: float, most: int) -> float:
    """Return the smallest step of 1, 2 or 5 times a power of ten that cuts the span in no more than `most`."""
    power = 10.0 ** math.floor(math.log10(max(span / most, 1e-3)))
    return next(step * power for step in (*STEPS, 10.0) if step * power * most >= span - 1e-9)


def _heights(ground: Ground, start: float, stop: float) -> tuple[float, float]:
    here = (ground.chainage_m >= start - 1e-6) & (ground.chainage_m <= stop + 1e-6)
    heights = np.concatenate([ground.raster_m[here], ground.fitted_m[here], ground.at([start, stop])])
    heights = heights[np.isfinite(heights)]
    return float(heights.min()), float(heights.max()) + ground.over_m

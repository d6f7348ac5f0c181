"""Profiles whose truth is known, seeded: straight grades under noise whose neighbours are alike, or not.

Heights are at 1 m steps. Noise is normal; with a correlation length of `alike_m` the noise of two heights d apart has
the correlation exp(−d ÷ alike_m). Legs are 50–400 m. A break's size is told in standard errors of the change of grade,
as two straights through the heights of the true legs beside it have it, by generalised least squares.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

SIGMA_M = 0.15
LENGTH_M = 10_000
LEG_M = (50, 400)
SIZES = (2, 3, 4, 5, 6, 7, 8)


@dataclass(frozen=True, eq=False)
class Profile:
    """`ground_m` (n,) are noisy heights at `station_m` (n,); each break has the least standard error of its chainage.

    Each leg's straight has its own level and grade, and a break is where two of them cross. So the variance of a
    crossing is, to first order, that of the difference of their levels there over the square of the change of grade;
    and as the chain's joints are as free as the straights are, this is the Cramér–Rao bound.
    """

    size: float  # of every break, in standard errors of the change
    station_m: Floats
    ground_m: Floats
    break_m: Floats
    break_sigma_m: Floats
    alike_m: float

    @property
    def sigma_as_if_m(self) -> float:
        """Noise of independent heights whose mean is as unsure as that of many of these."""
        near = correlation(self.alike_m)
        return float(SIGMA_M * np.sqrt((1.0 + near) / (1.0 - near)))


def profile(*, size: float, alike_m: float, seed: int) -> Profile:
    """Return profile number `seed` with breaks of one size, either way."""
    rng = np.random.default_rng([seed, round(10 * size), round(10 * alike_m)])
    edges = [0]
    while LENGTH_M - edges[-1] >= 2 * LEG_M[0]:
        edges.append(edges[-1] + int(rng.integers(LEG_M[0], min(LEG_M[1], LENGTH_M - edges[-1] - LEG_M[0]) + 1)))
    joint = np.array([*edges, LENGTH_M], dtype=float)
    legs = [leg_covariance(int(step), alike_m) for step in np.diff(joint)]
    change, break_sigma = [], []
    for before, after in pairwise(legs):
        # both legs are measured from the break: level there, and grade
        change.append(size * np.sqrt(before[1, 1] + after[1, 1]) * rng.choice([-1.0, 1.0]))
        break_sigma.append(np.sqrt(before[0, 0] + after[0, 0]) / abs(change[-1]))
    grade = np.cumsum([rng.normal(0.0, 0.05), *change])
    station = np.arange(LENGTH_M + 1.0)
    truth = np.interp(station, joint, np.concatenate([[0.0], np.cumsum(grade * np.diff(joint))]))
    noise = alike_noise(len(station), alike_m, rng)
    return Profile(size, station, truth + noise, joint[1:-1], np.array(break_sigma), alike_m)


def plane(*, alike_m: float, seed: int) -> tuple[Floats, Floats]:
    """Return stations and noisy heights of 10 km at one grade."""
    rng = np.random.default_rng([seed, round(10 * alike_m)])
    station = np.arange(LENGTH_M + 1.0)
    return station, rng.normal(0.0, 0.05) * station + alike_noise(len(station), alike_m, rng)


def alike_noise(count: int, alike_m: float, rng: np.random.Generator) -> Floats:
    from scipy.signal import lfilter

    near = correlation(alike_m)
    fresh = rng.normal(0.0, 1.0, count)
    fresh[1:] *= np.sqrt(1.0 - near**2)
    return SIGMA_M * np.asarray(lfilter([1.0], [1.0, -near], fresh))


def leg_covariance(length: int, alike_m: float) -> Floats:
    """Return the covariance of level at the first height and grade, for a straight through `length` + 1 heights.

    By symmetry it is that of the level at the last height too.
    """
    near = correlation(alike_m)
    rows = np.column_stack([np.ones(length + 1), np.arange(length + 1.0)])
    rows[1:] = (rows[1:] - near * rows[:-1]) / np.sqrt(1.0 - near**2)
    return np.asarray(SIGMA_M**2 * np.linalg.inv(rows.T @ rows))


def correlation(alike_m: float) -> float:
    """Return the correlation of neighbouring heights, 1 m apart."""
    return float(np.exp(-1.0 / alike_m)) if alike_m else 0.0

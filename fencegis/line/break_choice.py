"""Which changes of grade are ground and which could be noise; those left out are kept, to be looked at on the walk.

The same search as in plan (`line.straights`), with a small charge, finds candidates for where the grade changes. All
joints are then placed together (`line.joint_fit`), and the faintest change is left out and its neighbours placed anew,
until each is `SURE` standard errors (the difference of its two grades measured against what noise alone could make of
the heights beside it) or explains more than noise ever does.

Noise of neighbouring heights is alike where cells were smoothed or share their error. If the noise of two heights
k steps apart has the correlation ρᵏ, a straight through many of them is as unsure as one through independent heights
of √((1 + ρ) ÷ (1 − ρ)) times the noise (the variance of the mean of a first-order autoregressive series, e.g. Box and
Jenkins, Time Series Analysis; from memory). ρ is that of neighbouring residuals from the candidates, less its bias:
about −(2 + 4ρ) ÷ n for n heights about a straight of their own (Kendall, Biometrika 41, 1954, 403–404, has
−(1 + 3ρ) ÷ n about a mean; both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.joint_fit import joint_heights, place_joints, settled_joints, stretch_of
from fencegis.line.straights import fewest_straights, vertical

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

SHORTEST_BIN_M = 5.0  # breaks are sought no closer than this: a post or two
ROUGHLY = 2  # sweeps over candidates, most of which will go
CANDIDATE = 6.0  # charge: what a change of grade must explain, in squares of the noise, to be looked at
SURE = 2.6  # standard errors; on noisy planes fewer than one change in 10 km is that sure (ours, by trial)
PLAIN = 4.0  # standard errors of a height: a narrow ditch's edges have heights too few for sure grades, yet are ground
MOST_ALIKE = 0.9  # correlation of neighbours; more is ground that bends, not noise
MOST_BIAS = 0.05  # with few heights a stretch, ground that bends makes up for the rest
WORTH_A_LOOK = 2.0  # standard errors: fainter candidates are not told
APART_M = 25.0  # nearer to a break, or to a plainer candidate, one is not told


@dataclass(frozen=True, eq=False)
class Breaks:
    """The joints of one stretch of known ground.

    `joint_m` (k,), ends included, `place_sigma_m` (k,) one standard error of the chainage (NaN at the ends);
    `height_m` (k,); `change`, `change_sigma` (k−2,) of the inner joints, as a fraction. `faint` (j, 3) has chainage,
    change and its standard error of each candidate left out that is worth a look, as they were when it was left out.
    `sigma_m` is the noise of independent heights that would be as unsure as these.
    """

    joint_m: Floats
    place_sigma_m: Floats
    height_m: Floats
    change: Floats
    change_sigma: Floats
    faint: Floats
    sigma_m: float


def chosen_breaks(chainage: Floats, ground: Floats, *, sigma: float) -> Breaks:
    """Return the changes of grade in heights `ground` (n,), all known, at `chainage` (n,), rising; `sigma` each."""
    joint, sigma = _candidates_and_noise(chainage, ground, sigma)
    joint, left_out = _taken(chainage, ground, joint, sigma)
    joint, place_sigma = settled_joints(chainage, ground, joint, sigma=sigma)
    height = joint_heights(chainage, ground, joint)
    change, change_sigma = _changes(chainage, joint, height, sigma)
    return Breaks(joint, place_sigma, height, change, change_sigma, _worth_a_look(left_out, joint), sigma)


def _candidates_and_noise(chainage: Floats, ground: Floats, sigma: float) -> tuple[Floats, float]:
    """Return where the grade may change, and the noise of independent heights that would be as unsure as these.

    Likeness that is taken for ground hides; so candidates are looked for a second time with a first, coarser answer.
    """
    as_if = sigma
    for coarse in (True, False):
        first = _candidates(chainage, ground, as_if, coarse=coarse)
        joint, _, _ = place_joints(chainage, ground, first, sigma=as_if, sweeps=ROUGHLY)
        off = ground - np.interp(chainage, joint, joint_heights(chainage, ground, joint))
        alike = float(off[1:] @ off[:-1]) / max(float(off @ off), 1e-18)
        bias = (2.0 + 4.0 * max(alike, 0.0)) * (len(joint) - 1) / len(chainage)
        alike = min(max(alike + min(bias, MOST_BIAS), 0.0), MOST_ALIKE)
        as_if = sigma * float(np.sqrt((1.0 + alike) / (1.0 - alike)))
    return joint, as_if


def _candidates(chainage: Floats, ground: Floats, sigma: float, *, coarse: bool) -> Floats:
    """Return where the search over bins of a few metres puts the joints, both ends included."""
    step = (chainage[-1] - chainage[0]) / (len(chainage) - 1)
    many = max(1, round(SHORTEST_BIN_M / step))
    many *= 2 if coarse and many > 1 else 1
    edges = np.arange(0, len(chainage) - 1, many)  # the last bin takes the remainder
    count = np.diff(np.append(edges, len(chainage)))
    if len(edges) < 2:
        return chainage[[0, -1]]
    mean, height = np.add.reduceat(chainage, edges) / count, np.add.reduceat(ground, edges) / count
    chain = fewest_straights(
        mean,
        height,
        weight=count / sigma**2,
        misfit=vertical,
        between=np.ones(len(mean), dtype=bool),
        charge=CANDIDATE,
    )
    bends = [(mean[one.last] + mean[two.first]) / 2.0 for one, two in pairwise(chain)]
    return np.array([chainage[0], *bends, chainage[-1]])


def _taken(chainage: Floats, ground: Floats, joint: Floats, sigma: float) -> tuple[Floats, Floats]:
    """Return the joints when the faint changes are left out, of neighbours the faintest first, and those left out."""
    loose, gain = np.ones(len(joint), dtype=bool), np.zeros(len(joint))
    left_out = [np.zeros((0, 3))]
    while True:
        joint, _, anew = place_joints(chainage, ground, joint, sigma=sigma, loose=loose)
        gain = np.where(np.isnan(anew), gain, anew)
        change, change_sigma = _changes(chainage, joint, joint_heights(chainage, ground, joint), sigma)
        size = np.abs(change) / change_sigma
        beside = np.pad(size, 1, constant_values=np.inf)
        least = (size < SURE) & (size <= np.minimum(beside[:-2], beside[2:])) & (gain[1:-1] < PLAIN**2)
        faint = np.pad(least, 1)
        if not faint.any():
            return joint, np.vstack(left_out)
        left_out.append(np.column_stack([joint[faint], change[least], change_sigma[least]]))
        loose = (np.roll(faint, 1) | np.roll(faint, -1))[~faint]
        joint, gain = joint[~faint], gain[~faint]


def _worth_a_look(left_out: Floats, joint: Floats) -> Floats:
    """Return those left out that are nearly sure and have room to themselves, in walking order."""
    size = np.abs(left_out[:, 1]) / left_out[:, 2]
    kept: list[Floats] = []
    for row in left_out[np.argsort(-size, kind="stable")][: int((size >= WORTH_A_LOOK).sum())]:
        near = [*joint[1:-1], *(other[0] for other in kept)]
        if not near or np.abs(row[0] - np.array(near)).min() >= APART_M:
            kept.append(row)
    return np.array(sorted(kept, key=lambda row: row[0])).reshape(-1, 3)


def _changes(chainage: Floats, joint: Floats, height: Floats, sigma: float) -> tuple[Floats, Floats]:
    """Return the change of grade at each inner joint and its standard error."""
    grade_sigma = _grade_sigma(chainage, joint, sigma)
    return np.diff(np.diff(height) / np.diff(joint)), np.hypot(grade_sigma[:-1], grade_sigma[1:])


def _grade_sigma(chainage: Floats, joint: Floats, sigma: float) -> Floats:
    """Return one standard error of each stretch's own grade: σ ÷ √Σ(chainage − mean)², from its own heights."""
    place = stretch_of(chainage, joint)
    stretches = len(joint) - 1
    count = np.maximum(np.bincount(place, minlength=stretches), 1)
    mean = np.bincount(place, weights=chainage, minlength=stretches) / count
    spread = np.bincount(place, weights=(chainage - mean[place]) ** 2, minlength=stretches)
    return np.asarray(sigma / np.sqrt(np.maximum(spread, np.diff(joint) ** 2 / 12.0)))

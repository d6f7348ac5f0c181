"""The ground along a line as straight grades, the changes between them, and lengths along the ground.

Model. Heights at steps along the line are the true ground plus noise of `vertical_error_m`; the ground is a chain of
straight grades, joined. The same search as in plan (`line.straights`), with a small charge, finds candidates for where
the grade changes. All joints together are then fitted by least squares (`line.joint_fit`), and the faintest change is
left out, and the rest fitted anew, until each is `SURE` standard errors: the difference of its two grades measured
against what noise alone could make of the heights beside it.

Noise of neighbouring heights is alike where cells were smoothed or share their error. If the noise of two heights
k steps apart has the correlation ρᵏ, a straight through many of them is as unsure as one through independent heights
of √((1 + ρ) ÷ (1 − ρ)) times the noise (the variance of the mean of a first-order autoregressive series, e.g. Box and
Jenkins, Time Series Analysis; from memory). ρ is that of neighbouring residuals from the candidates.

Grade is uphill positive, change of grade is grade after less grade before (a crest is negative).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.joint_fit import fit_joints, height_sigma
from fencegis.line.straights import fewest_straights, vertical

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

SHORTEST_BIN_M = 5.0  # breaks are sought no closer than this: a post or two
CANDIDATE = 6.0  # charge: what a change of grade must explain, in squares of the noise, to be looked at
SURE = 2.6  # standard errors; on noisy planes fewer than one change in 10 km is that sure (ours, by trial)
MOST_ALIKE = 0.9  # correlation of neighbours; more is ground that bends, not noise
FEWEST_HEIGHTS = 4  # fewer are joined up, not fitted


@dataclass(frozen=True, eq=False)
class Grades:
    """The fitted profile of one line: straight grades between joints.

    `joint_m` (k,) are chainages, rising, from 0 to the line's end; `fitted_m` (k,) the heights there and `sigma_m` (k,)
    their standard error, both NaN where unknown; `known` (k−1,) says which stretches have ground. `change_pct` and
    `change_sigma_pct` (k,) are NaN where no change was fitted.
    """

    joint_m: Floats
    fitted_m: Floats
    sigma_m: Floats
    known: npt.NDArray[np.bool_]
    change_pct: Floats
    change_sigma_pct: Floats

    @cached_property
    def grade_pct(self) -> Floats:
        """Grade of each stretch, NaN where the ground is unknown."""
        return np.asarray(np.where(self.known, 100.0 * np.diff(self.fitted_m) / np.diff(self.joint_m), np.nan))

    @property
    def unknown_m(self) -> list[tuple[float, float]]:
        """From and to of each stretch of unknown ground."""
        return [(float(self.joint_m[place]), float(self.joint_m[place + 1])) for place in np.flatnonzero(~self.known)]

    @cached_property
    def ground_m(self) -> Floats:
        """Distance along the ground of each joint; unknown ground advances by horizontal distance."""
        rise = np.where(self.known, np.diff(self.fitted_m), 0.0)
        return np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(self.joint_m), rise))])

    def fitted_at(self, chainage_m: npt.ArrayLike) -> Floats:
        """Return the fitted height, NaN where the ground is unknown."""
        return self._between_joints(chainage_m, self.fitted_m)

    def sigma_at(self, chainage_m: npt.ArrayLike) -> Floats:
        """Return one standard error of the fitted height."""
        return self._between_joints(chainage_m, self.sigma_m)

    def along_ground(self, chainage_m: npt.ArrayLike) -> Floats:
        """Return the distance along the ground from the line's start to each chainage."""
        return np.asarray(np.interp(np.asarray(chainage_m, dtype=float), self.joint_m, self.ground_m))

    def chainage_at(self, ground_m: npt.ArrayLike) -> Floats:
        """Return the chainage of each distance along the ground."""
        return np.asarray(np.interp(np.asarray(ground_m, dtype=float), self.ground_m, self.joint_m))

    def _between_joints(self, chainage_m: npt.ArrayLike, value: Floats) -> Floats:
        """Interpolate on known ground; a joint at the edge of unknown ground has its own value."""
        chainage = np.atleast_1d(np.asarray(chainage_m, dtype=float))
        place = np.clip(np.searchsorted(self.joint_m, chainage, side="left") - 1, 0, len(self.joint_m) - 2)
        share = (chainage - self.joint_m[place]) / (self.joint_m[place + 1] - self.joint_m[place])
        inside = np.where(self.known[place], value[place] + share * (value[place + 1] - value[place]), np.nan)
        joint = np.clip(np.searchsorted(self.joint_m, chainage - 1e-9), 0, len(self.joint_m) - 1)
        return np.where(np.abs(self.joint_m[joint] - chainage) < 1e-9, value[joint], inside)


def stations_m(length_m: float, cell_m: float) -> Floats:
    """Return chainages to look the ground up at: about one a cell, no finer than a metre, both ends included."""
    return np.linspace(0.0, length_m, max(2, round(length_m / max(1.0, cell_m)) + 1))


def flat(length_m: float) -> Grades:
    """Return the grades of a line of which no height is known."""
    unknown = np.full(2, np.nan)
    return Grades(np.array([0.0, length_m]), unknown, unknown, np.array([False]), unknown, unknown)


def fitted_grades(chainage_m: Floats, ground_m: Floats, *, vertical_error_m: float) -> Grades:
    """Return straight grades through the heights `ground_m` (n,), NaN where unknown, at `chainage_m` (n,), rising."""
    pieces: list[Floats] = []
    known: list[bool] = []
    for piece in _known_pieces(chainage_m, ground_m, vertical_error_m):
        known += ([False] if pieces else []) + [True] * (len(piece) - 1)
        pieces.append(piece)
    if not pieces:
        return flat(float(chainage_m[-1]))
    for end, chainage in ((0, chainage_m[0]), (-1, chainage_m[-1])):
        if abs(pieces[end][end, 0] - chainage) > 1e-9:
            row = np.array([[chainage, np.nan, np.nan, np.nan, np.nan]])
            pieces, known = ([*pieces, row], [*known, False]) if end else ([row, *pieces], [False, *known])
    joint, fitted, sigma, change, change_sigma = np.vstack(pieces).T
    return Grades(joint, fitted, sigma, np.array(known), change, change_sigma)


def _known_pieces(chainage: Floats, ground: Floats, sigma: float) -> list[Floats]:
    """Return for each stretch of known ground its rows of chainage, height, sigma, change and the change's sigma."""
    known = np.concatenate([[False], ~np.isnan(ground), [False]])
    edges = np.flatnonzero(np.diff(known.astype(int))).reshape(-1, 2)
    return [_piece(chainage[begin:end], ground[begin:end], sigma) for begin, end in edges if end - begin >= 2]


def _piece(chainage: Floats, ground: Floats, sigma: float) -> Floats:
    if len(chainage) < FEWEST_HEIGHTS:
        unsaid = np.full(len(chainage), np.nan)
        return np.column_stack([chainage, ground, np.full(len(chainage), sigma), unsaid, unsaid])
    joint, sigma = _candidates_and_noise(chainage, ground, sigma)
    joint, height = _taken(chainage, ground, joint, sigma)
    change, change_sigma = np.full(len(joint), np.nan), np.full(len(joint), np.nan)
    change[1:-1], change_sigma[1:-1] = (100.0 * part for part in _changes(chainage, joint, height, sigma))
    return np.column_stack([joint, height, height_sigma(chainage, joint) * sigma, change, change_sigma])


def _candidates_and_noise(chainage: Floats, ground: Floats, sigma: float) -> tuple[Floats, float]:
    """Return where the grade may change, and the noise of independent heights that would be as unsure as these.

    Likeness that is taken for ground hides; so candidates are looked for a second time with the first answer.
    """
    as_if = sigma
    for _ in range(2):
        joint, height = fit_joints(chainage, ground, _candidates(chainage, ground, as_if))
        off = ground - np.interp(chainage, joint, height)
        alike = np.clip(float(off[1:] @ off[:-1]) / max(float(off @ off), 1e-18), 0.0, MOST_ALIKE)
        as_if = sigma * float(np.sqrt((1.0 + alike) / (1.0 - alike)))
    return joint, as_if


def _taken(chainage: Floats, ground: Floats, joint: Floats, sigma: float) -> tuple[Floats, Floats]:
    """Return the joints and their heights when the faint changes are left out, of neighbours the faintest first."""
    while True:
        joint, height = fit_joints(chainage, ground, joint)
        change, change_sigma = _changes(chainage, joint, height, sigma)
        size = np.abs(change) / change_sigma
        beside = np.pad(size, 1, constant_values=np.inf)
        faint = (size < SURE) & (size <= np.minimum(beside[:-2], beside[2:]))
        if not faint.any():
            return joint, height
        joint = np.concatenate([joint[:1], joint[1:-1][~faint], joint[-1:]])


def _changes(chainage: Floats, joint: Floats, height: Floats, sigma: float) -> tuple[Floats, Floats]:
    """Return the change of grade at each inner joint and its standard error."""
    grade_sigma = _grade_sigma(chainage, joint, sigma)
    return np.diff(np.diff(height) / np.diff(joint)), np.hypot(grade_sigma[:-1], grade_sigma[1:])


def _candidates(chainage: Floats, ground: Floats, sigma: float) -> Floats:
    """Return where the search over bins of a few metres puts the joints, both ends included."""
    step = (chainage[-1] - chainage[0]) / (len(chainage) - 1)
    edges = np.arange(0, len(chainage) - 1, max(1, round(SHORTEST_BIN_M / step)))  # the last bin takes the remainder
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


def _grade_sigma(chainage: Floats, joint: Floats, sigma: float) -> Floats:
    """Return one standard error of each stretch's own grade: σ ÷ √Σ(chainage − mean)², from its own heights."""
    place = np.clip(np.searchsorted(joint, chainage, side="right") - 1, 0, len(joint) - 2)
    stretches = len(joint) - 1
    count = np.maximum(np.bincount(place, minlength=stretches), 1)
    mean = np.bincount(place, weights=chainage, minlength=stretches) / count
    spread = np.bincount(place, weights=(chainage - mean[place]) ** 2, minlength=stretches)
    return np.asarray(sigma / np.sqrt(np.maximum(spread, np.diff(joint) ** 2 / 12.0)))

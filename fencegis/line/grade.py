"""The ground along a line as straight grades, the changes between them, and lengths along the ground.

Model. Heights at steps along the line are the true ground plus noise of `vertical_error_m`; the ground is a chain of
straight grades, joined. Which changes of grade are ground is decided in `line.break_choice`.

Grade is uphill positive, change of grade is grade after less grade before (a crest is negative).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.break_choice import chosen_breaks
from fencegis.line.joint_fit import height_sigma
from fencegis.records.terrain import COARSE

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

FEWEST_HEIGHTS = 4  # fewer are joined up, not fitted


@dataclass(frozen=True, eq=False)
class Grades:
    """The fitted profile of one line: straight grades between joints.

    `joint_m` (k,) are chainages, rising, from 0 to the line's end; `fitted_m` (k,) the heights there and `sigma_m` (k,)
    their standard error, both NaN where unknown; `known` (k−1,) says which stretches have ground. `change_pct`,
    `change_sigma_pct` and `place_sigma_m` (k,), one standard error of the joint's chainage, are NaN where no change was
    fitted. `faint` (j, 3) has chainage, change in percent and its standard error of each candidate left out as noise.
    `step_m` is how far apart the heights were looked up: where a change of grade lies is not known to better.
    """

    joint_m: Floats
    fitted_m: Floats
    sigma_m: Floats
    known: npt.NDArray[np.bool_]
    change_pct: Floats
    change_sigma_pct: Floats
    place_sigma_m: Floats
    faint: Floats
    step_m: float

    @cached_property
    def grade_pct(self) -> Floats:
        """Grade of each stretch, NaN where the ground is unknown."""
        return np.asarray(np.where(self.known, 100.0 * np.diff(self.fitted_m) / np.diff(self.joint_m), np.nan))

    def tells_posts(self, bay_m: float) -> bool:
        """Return whether the ground is known closely enough to tell grades at posts a bay apart.

        Where it is not, no change of grade may ask for a post or a strainer: the walk has to find them.
        """
        return self.step_m <= COARSE * bay_m

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
    ends = np.array([0.0, length_m])
    return Grades(ends, unknown, unknown, np.array([False]), unknown, unknown, unknown, np.zeros((0, 3)), length_m)


def fitted_grades(chainage_m: Floats, ground_m: Floats, *, vertical_error_m: float) -> Grades:
    """Return straight grades through the heights `ground_m` (n,), NaN where unknown, at `chainage_m` (n,), rising."""
    pieces: list[Floats] = []
    faint = [np.zeros((0, 3))]
    known: list[bool] = []
    for piece, left_out in _known_pieces(chainage_m, ground_m, vertical_error_m):
        known += ([False] if pieces else []) + [True] * (len(piece) - 1)
        pieces.append(piece)
        faint.append(left_out)
    if not pieces:
        return flat(float(chainage_m[-1]))
    for end, chainage in ((0, chainage_m[0]), (-1, chainage_m[-1])):
        if abs(pieces[end][end, 0] - chainage) > 1e-9:
            row = np.array([[chainage, *[np.nan] * (pieces[0].shape[1] - 1)]])
            pieces, known = ([*pieces, row], [*known, False]) if end else ([row, *pieces], [False, *known])
    joint, fitted, sigma, change, change_sigma, place_sigma = np.vstack(pieces).T
    step = float(chainage_m[-1] - chainage_m[0]) / (len(chainage_m) - 1)
    return Grades(
        joint, fitted, sigma, np.array(known), change, change_sigma, place_sigma, np.vstack(faint) * (1, 100, 100), step
    )


def _known_pieces(chainage: Floats, ground: Floats, sigma: float) -> list[tuple[Floats, Floats]]:
    """Return for each stretch of known ground its joints, a row each, and the candidates left out."""
    known = np.concatenate([[False], ~np.isnan(ground), [False]])
    edges = np.flatnonzero(np.diff(known.astype(int))).reshape(-1, 2)
    return [_piece(chainage[begin:end], ground[begin:end], sigma) for begin, end in edges if end - begin >= 2]


def _piece(chainage: Floats, ground: Floats, sigma: float) -> tuple[Floats, Floats]:
    if len(chainage) < FEWEST_HEIGHTS:
        unsaid = np.full((len(chainage), 3), np.nan)
        return np.column_stack([chainage, ground, np.full(len(chainage), sigma), unsaid]), np.zeros((0, 3))
    found = chosen_breaks(chainage, ground, sigma=sigma)
    change, change_sigma = (
        np.pad(100.0 * part, 1, constant_values=np.nan) for part in (found.change, found.change_sigma)
    )
    height_error = height_sigma(chainage, found.joint_m) * found.sigma_m
    # between two heights the ground is not seen: a place is no surer than anywhere between them
    place_sigma = np.hypot(found.place_sigma_m, np.diff(chainage).mean() / np.sqrt(12.0))
    rows = np.column_stack([found.joint_m, found.height_m, height_error, change, change_sigma, place_sigma])
    return rows, found.faint

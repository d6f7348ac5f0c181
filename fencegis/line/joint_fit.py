"""Joined straight grades through heights, by least squares: where the joints are and how high."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

STEPS = 8
SETTLED_M = 0.01
FREE = 0.4


def fit_joints(chainage: Floats, height: Floats, first: Floats) -> tuple[Floats, Floats]:
    """Return chainages (k,) and heights (k,) of the joints of the chain of grades that fits best.

    Unknowns are the heights of all joints and the chainages of the inner ones; Gauss–Newton from `first` (k,), a joint
    staying within two fifths of the way to its neighbours' first places, so that no two run together.
    """
    joint = first
    low, high = (first[1:-1] - FREE * np.diff(first)[:-1]), (first[1:-1] + FREE * np.diff(first)[1:])
    for _ in range(STEPS if len(joint) > 2 else 0):
        level = _levels(chainage, height, joint)
        moved = np.clip(joint[1:-1] + _shift(chainage, height, joint, level), low, high)
        settled = np.abs(moved - joint[1:-1]).max() < SETTLED_M
        joint = np.concatenate([first[:1], moved, first[-1:]])
        if settled:
            break
    return joint, _levels(chainage, height, joint)


def height_sigma(chainage: Floats, joint: Floats) -> Floats:
    """Return one standard error of each joint's height for heights of unit error, the joints' places taken as known.

    The normal matrix has three diagonals; the diagonal of its inverse comes from its pivots from both ends.
    """
    middle, beside = _normal(chainage, joint)
    down, up = middle.copy(), middle.copy()
    for place in range(1, len(middle)):
        down[place] -= beside[place - 1] ** 2 / down[place - 1]
    for place in range(len(middle) - 2, -1, -1):
        up[place] -= beside[place] ** 2 / up[place + 1]
    return np.asarray(1.0 / np.sqrt(np.maximum(down + up - middle, 1e-12)))


def _shares(chainage: Floats, joint: Floats) -> tuple[npt.NDArray[np.int_], Floats]:
    """Return each height's stretch and how far along it lies, 0 to 1."""
    stretch = np.clip(np.searchsorted(joint, chainage, side="right") - 1, 0, len(joint) - 2)
    return stretch, (chainage - joint[stretch]) / np.diff(joint)[stretch]


def _normal(chainage: Floats, joint: Floats) -> tuple[Floats, Floats]:
    """Return the main and the side diagonal of the normal matrix of the joints' heights."""
    stretch, share = _shares(chainage, joint)
    count = len(joint)
    middle = np.bincount(stretch, (1 - share) ** 2, count) + np.bincount(stretch + 1, share**2, count)
    beside = np.bincount(stretch, share * (1 - share), count)[:-1]
    # a stretch between joints that holds no height of its own is held by its neighbours, as slack as can be
    return np.asarray(middle + 1e-9), np.asarray(beside)


def _levels(chainage: Floats, height: Floats, joint: Floats) -> Floats:
    from scipy.linalg import solveh_banded

    stretch, share = _shares(chainage, joint)
    middle, beside = _normal(chainage, joint)
    pull = np.bincount(stretch, (1 - share) * height, len(joint)) + np.bincount(stretch + 1, share * height, len(joint))
    return np.asarray(solveh_banded(np.vstack([middle, np.append(beside, 0.0)]), pull, lower=True))


def _shift(chainage: Floats, height: Floats, joint: Floats, level: Floats) -> Floats:
    """Return the Gauss–Newton step of the inner joints' chainages, heights free to follow."""
    from scipy import sparse
    from scipy.sparse.linalg import splu

    stretch, share = _shares(chainage, joint)
    count, rows = len(joint), np.arange(len(chainage))
    slope = (np.diff(level) / np.diff(joint))[stretch]
    row = np.tile(rows, 4)
    column = np.concatenate([stretch, stretch + 1, count + stretch, count + stretch + 1])
    value = np.concatenate([1 - share, share, -(1 - share) * slope, -share * slope])
    jacobian = sparse.csc_array((value, (row, column)), shape=(len(chainage), 2 * count))
    off = height - (level[stretch] * (1 - share) + level[stretch + 1] * share)
    # the two ends keep their chainage; a faint bend has no place of its own and hardly moves
    hold = np.full(2 * count, 1e-6)
    hold[[count, 2 * count - 1]] = 1e12
    normal = (jacobian.T @ jacobian + sparse.diags_array(hold)).tocsc()
    return np.asarray(splu(normal).solve(jacobian.T @ off)[count + 1 : -1])

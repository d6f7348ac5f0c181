"""Joined straight grades through heights: where the joints are, how high, and how surely.

A chain of straights whose joints are free is as many straights as stretches, each joint where two of them cross. So
what the heights tell of one joint, whatever the others do, is told by the heights between its two neighbours. Each
joint is put at the mean of its likelihood there (`line.joint_place`), every second one at a time, until none moves by
more than a small part of its own standard error; the heights of all then come from one least-squares adjustment.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.joint_place import likely_places

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]

SWEEPS = 6
SETTLED = 0.05  # of a joint's standard error
ROOM = 0.7  # of the way to the joint: as far as a neighbour is moved to see what hangs on its place
STEP_ASIDE = 0.45  # of the way to a neighbour: as far as counting its error in may move a joint


def place_joints(
    chainage: Floats,
    height: Floats,
    first: Floats,
    *,
    sigma: float,
    loose: Flags | None = None,
    sweeps: int = SWEEPS,
) -> tuple[Floats, Floats, Floats]:
    """Return the chainages (k,) of the joints of the chain that fits, their standard errors (k,) and their gains (k,).

    An error takes the neighbours' places as known; the gain is what a joint lessens the sum of squares by, in units of
    the noise's variance. Begun at `first` (k,), whose ends stay. `loose` (k,) says which joints may have to move (all
    unless told); those beside one that moves become loose. Ends after `sweeps` in any case. Errors and gains of joints
    never looked at are NaN.
    """
    joint, place_sigma, gain = first.copy(), np.full(len(first), np.nan), np.full(len(first), np.nan)
    loose = np.ones(len(first), dtype=bool) if loose is None else loose.copy()
    loose[[0, -1]] = False
    for _ in range(sweeps):
        for turn in (1, 2):
            some = np.flatnonzero(loose)
            some = some[some % 2 == turn % 2]
            if not len(some):
                continue
            was = joint[some]
            joint[some], place_sigma[some], gain[some] = likely_places(
                chainage, height, joint[some - 1], joint[some + 1], sigma=sigma
            )
            loose[some] = False
            moved = some[np.abs(joint[some] - was) > SETTLED * place_sigma[some]]
            loose[moved - 1] = loose[moved + 1] = True
            loose[[0, -1]] = False
    return joint, place_sigma, gain


def settled_joints(chainage: Floats, height: Floats, joint: Floats, *, sigma: float) -> tuple[Floats, Floats]:
    """Return the joints' chainages (k,) and standard errors (k,) when the neighbours' own errors are counted in.

    Each joint is looked at again with either neighbour one standard error to and fro: the mean of the four answers, and
    the root of their mean variance and the variance of their means. The ends have NaN.
    """
    joint, held, _ = place_joints(chainage, height, joint, sigma=sigma)
    place, place_sigma = joint.copy(), np.full(len(joint), np.nan)
    inner = np.arange(1, len(joint) - 1)
    if len(inner):
        slack = np.nan_to_num(held)
        means, spreads = [], []
        for back, ahead in ((-1, -1), (-1, 1), (1, -1), (1, 1)):
            begin = joint[inner - 1] + back * np.minimum(slack[inner - 1], ROOM * np.diff(joint)[:-1])
            end = joint[inner + 1] + ahead * np.minimum(slack[inner + 1], ROOM * np.diff(joint)[1:])
            mean, spread, _ = likely_places(chainage, height, begin, end, sigma=sigma)
            means.append(mean)
            spreads.append(spread)
        gap = STEP_ASIDE * np.diff(joint)  # two that move towards each other do not pass
        place[inner] = np.clip(np.mean(means, axis=0), joint[inner] - gap[:-1], joint[inner] + gap[1:])
        place_sigma[inner] = np.sqrt(np.mean(np.square(spreads), axis=0) + np.var(means, axis=0))
    return place, place_sigma


def joint_heights(chainage: Floats, height: Floats, joint: Floats) -> Floats:
    """Return the heights (k,) of the joints at `joint` (k,) of the joined grades with the least sum of squares."""
    from scipy.linalg import solveh_banded

    stretch, share = _shares(chainage, joint)
    middle, beside = _normal(stretch, share, len(joint))
    pull = np.bincount(stretch, (1 - share) * height, len(joint)) + np.bincount(stretch + 1, share * height, len(joint))
    return np.asarray(solveh_banded(np.vstack([middle, np.append(beside, 0.0)]), pull, lower=True))


def height_sigma(chainage: Floats, joint: Floats) -> Floats:
    """Return one standard error of each joint's height for heights of unit error, the joints' places taken as known.

    The normal matrix has three diagonals; the diagonal of its inverse comes from its pivots from both ends.
    """
    middle, beside = _normal(*_shares(chainage, joint), len(joint))
    down, up = middle.copy(), middle.copy()
    for place in range(1, len(middle)):
        down[place] -= beside[place - 1] ** 2 / down[place - 1]
    for place in range(len(middle) - 2, -1, -1):
        up[place] -= beside[place] ** 2 / up[place + 1]
    return np.asarray(1.0 / np.sqrt(np.maximum(down + up - middle, 1e-12)))


def stretch_of(chainage: Floats, joint: Floats) -> npt.NDArray[np.int_]:
    """Return the stretch each height lies on; one on a joint is on the stretch that begins there."""
    edge = np.concatenate([[0], np.searchsorted(chainage, joint[1:-1]), [len(chainage)]])
    return np.repeat(np.arange(len(joint) - 1), np.diff(edge))


def _shares(chainage: Floats, joint: Floats) -> tuple[npt.NDArray[np.int_], Floats]:
    """Return each height's stretch and how far along it lies, 0 to 1."""
    stretch = stretch_of(chainage, joint)
    return stretch, (chainage - joint[stretch]) / np.diff(joint)[stretch]


def _normal(stretch: npt.NDArray[np.int_], share: Floats, count: int) -> tuple[Floats, Floats]:
    """Return the main and the side diagonal of the normal matrix of the joints' heights."""
    middle = np.bincount(stretch, (1 - share) ** 2, count) + np.bincount(stretch + 1, share**2, count)
    beside = np.bincount(stretch, share * (1 - share), count)[:-1]
    # a stretch between joints that holds no height of its own is held by its neighbours, as slack as can be
    return np.asarray(middle + 1e-9), np.asarray(beside)

"""How sure the corners are: blocks of the inverse of the normal matrix of their adjustment."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt
    from scipy import sparse

    Floats = npt.NDArray[np.float64]
    Whole = npt.NDArray[np.int_]

AT_ONCE = 256  # columns of the inverse worked out together


def corner_covariance(jacobian: sparse.csr_array, *, closed: bool) -> Floats:
    """Return each corner's own 2 × 2 block, (k, 2, 2), of a line of straights; `jacobian` has two columns a corner.

    A corner is tied to its two neighbours only. So in an open line the block follows from what the corners before it
    and those after it tell of it, each side summed up corner by corner; of a loop the last corner is set apart first.
    """
    from scipy.sparse.linalg import splu

    normal = (jacobian.T @ jacobian).tocsc()
    if not closed:
        return _tied_in_a_row(normal)
    row, apart = normal[:-2, :-2], normal[:-2, -2:].toarray()
    pull = splu(row).solve(apart)
    last = np.linalg.inv(normal[-2:, -2:].toarray() - apart.T @ pull)
    pulls = pull.reshape(-1, 2, 2)
    return np.concatenate([_tied_in_a_row(row) + pulls @ last @ pulls.transpose(0, 2, 1), last[None]])


def _tied_in_a_row(normal: sparse.csc_array) -> Floats:
    main, one, two, three = (normal.diagonal(offset) for offset in range(4))
    own = np.array([[main[0::2], one[0::2]], [one[0::2], main[1::2]]]).transpose(2, 0, 1)
    tie = np.array([[two[0::2], three[0::2]], [one[1::2], two[1::2]]]).transpose(2, 0, 1)
    before, after = own.copy(), own.copy()
    for corner in range(1, len(own)):
        before[corner] -= tie[corner - 1].T @ np.linalg.solve(before[corner - 1], tie[corner - 1])
    for corner in range(len(own) - 2, -1, -1):
        after[corner] -= tie[corner] @ np.linalg.solve(after[corner + 1], tie[corner].T)
    return np.asarray(np.linalg.inv(before + after - own))


def blocks_of_inverse(jacobian: sparse.csr_array, unknowns: Whole) -> Floats:
    """Return the block of the inverse for each row of `unknowns` (m, q): (m, q, q). One solution for each column."""
    from scipy.sparse.linalg import splu

    solved = splu((jacobian.T @ jacobian).tocsc())
    blocks = np.empty((*unknowns.shape, unknowns.shape[1]))
    size = jacobian.shape[1]
    for begin in range(0, unknowns.shape[0], AT_ONCE):
        rows = unknowns[begin : begin + AT_ONCE]
        for place in range(unknowns.shape[1]):
            unit = np.zeros((size, len(rows)))
            unit[rows[:, place], np.arange(len(rows))] = 1.0
            blocks[begin : begin + len(rows), :, place] = solved.solve(unit)[rows.T, np.arange(len(rows))].T
    return blocks

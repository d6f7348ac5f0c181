"""How sure a corner can be: the Cramér–Rao bound of the true corners, from the model alone.

Unknown are the corners and, for each vertex that lies inside a leg, how far along it was meant. A vertex tells of its
leg square to it only: what it could tell along the leg is used up by its own unknown place. A vertex that was clicked
on a corner, and an end of an open line, tell of their corner in both directions. The bound is the inverse of the sum of
this information (e.g. Kay, Fundamentals of Statistical Signal Processing: Estimation Theory, 1993, ch. 3; from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]


def corner_bound(corners: Floats, *, leg: npt.NDArray[np.int_], share: Floats, sigma_m: float) -> Floats:
    """Return (k, 2, 2) least covariance of each corner in square metres.

    Vertex i was meant `share[i]` of the way along leg `leg[i]`, which begins at the corner of that number.
    """
    count = len(corners)
    information = np.zeros((2 * count, 2 * count))
    for place, along in zip(leg, share, strict=True):
        begin, end = int(place), (int(place) + 1) % count
        if along in (0.0, 1.0):
            rows = np.zeros((2, 2 * count))
            corner = begin if along == 0.0 else end
            rows[[0, 1], [2 * corner, 2 * corner + 1]] = 1.0
        else:
            step = corners[end] - corners[begin]
            right = np.array([step[1], -step[0]]) / np.hypot(*step)
            rows = np.zeros((1, 2 * count))
            rows[0, [2 * begin, 2 * begin + 1]] = (1.0 - along) * right
            rows[0, [2 * end, 2 * end + 1]] = along * right
        information += rows.T @ rows / sigma_m**2
    covariance = np.linalg.inv(information)
    return np.array([covariance[2 * corner : 2 * corner + 2, 2 * corner : 2 * corner + 2] for corner in range(count)])

"""A curve hanging between two points under its own load: conductor, fence wire, string line.

The parabola, whose load is even along the span: within 3 % of the catenary's sag while sag is under an eighth of span.
Sag is the greatest drop below the straight chord, at mid span whether the ends are level or not. Tension is its
horizontal part, which is the same all along.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(32)


def sag(span_m: float, *, load_n_m: float, tension_n: float) -> float:
    """Return the sag in metres, w L² / 8 T: span horizontal in m, load in N per m of span, tension in N.

    Raises ValueError when the tension is not positive.
    """
    if tension_n <= 0.0:
        raise ValueError("a hanging curve needs a tension above zero")
    return load_n_m * span_m**2 / (8.0 * tension_n)


def tension(span_m: float, *, load_n_m: float, sag_m: float) -> float:
    """Return the horizontal tension in N that leaves this sag, w L² / 8 s: the inverse of `sag`.

    Raises ValueError when the sag is not positive: no finite tension pulls a loaded curve straight.
    """
    if sag_m <= 0.0:
        raise ValueError("no finite tension takes out all of the sag")
    return load_n_m * span_m**2 / (8.0 * sag_m)


def drop(share: npt.ArrayLike, *, sag_m: float) -> Floats:
    """Return how far the curve hangs below its chord, in metres, at shares of the span from 0 to 1."""
    part = np.asarray(share, dtype=float)
    below: Floats = 4.0 * sag_m * part * (1.0 - part)
    return below


def points_on(share: npt.ArrayLike, *, start: npt.ArrayLike, end: npt.ArrayLike, sag_m: float) -> Floats:
    """Return (n, 3) points, easting, northing and height, at shares of the span between two such points."""
    part = np.atleast_1d(np.asarray(share, dtype=float))
    first, last = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    points: Floats = first + part[:, None] * (last - first)
    points[:, 2] -= drop(part, sag_m=sag_m)
    return points


def curve_length(span_m: float, *, sag_m: float, rise_m: float = 0.0) -> float:
    """Return the length along the curve in metres; `rise_m` is the far end's height over the near end's.

    The slope is integrated (Gauss-Legendre, 32 nodes), so no term of a series is left out.
    """
    slope = (rise_m + 4.0 * sag_m * _NODES) / span_m  # nodes run from −1 at one end to 1 at the other
    return float(span_m / 2.0 * (_WEIGHTS * np.hypot(1.0, slope)).sum())

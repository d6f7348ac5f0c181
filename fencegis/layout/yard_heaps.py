"""Heaps by girth: the sticks of the yard in a few classes, each as alike as can be."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Whole = npt.NDArray[np.intp]


def heaps_by_girth(girth_mm: npt.ArrayLike, *, most: int) -> Whole:
    """Return the heap (n,) of each stick, 1 the thinnest, at most `most` of them, so that the widest heap is narrowest.

    Exact: heaps are stretches of the sorted girths; for a given width, filling each from the thin end takes the fewest,
    and the least width that does with `most` is one of the differences between two girths.
    """
    girth = np.asarray(girth_mm, dtype=float)
    if not len(girth):
        return np.zeros(0, dtype=np.intp)
    sizes = np.unique(girth)
    widths = np.unique(np.abs(sizes[:, None] - sizes[None, :]))
    low, high = 0, len(widths) - 1
    while low < high:
        middle = (low + high) // 2
        if len(_starts(sizes, float(widths[middle]))) <= most:
            high = middle
        else:
            low = middle + 1
    return np.searchsorted(_starts(sizes, float(widths[low])), girth, side="right")


def _starts(sizes: Floats, width_mm: float) -> Floats:
    """Return the thinnest of each heap when no heap may be wider than `width_mm`."""
    starts = [sizes[0]]
    while sizes[-1] - starts[-1] > width_mm:
        starts.append(sizes[np.searchsorted(sizes, starts[-1] + width_mm, side="right")])
    return np.array(starts)

"""Posts that keep clear of what is in the ground or must not be touched: bays shared out round forbidden stretches.

Model. Between two fixed posts, `length_m` apart along the ground, posts divide the way into bays. No bay is over the
greatest or under the least, and no post stands inside a forbidden stretch; its edges are allowed. Of all such rows the
one with the fewest bays is taken, and of those the most even, with the least sum of squared bays.

Why it is exact. With the number of bays fixed, and for each post the free stretch that it stands in, the sum of squares
is convex, so in the best row each post stands either on an edge of a forbidden stretch or half way between its
neighbours. Between two posts on edges (or ends) the bays are therefore equal. So it is enough to try chains of edges
with a number of equal bays between each two of them: a shortest path, edge by edge, by the number of bays so far.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Span = tuple[float, float]

MORE_BAYS = 2  # than the fewest that reach: beyond that a stretch is left in the way, and told
A_HAIR = 1e-9


@dataclass(frozen=True)
class Clear:
    """Where posts stand between the two ends, (bays − 1,) from the first, and the stretches that no row keeps clear."""

    marks_m: Floats
    in_the_way: tuple[Span, ...]


def clear_marks_m(length_m: float, *, greatest_m: float, least_m: float, forbidden: Sequence[Span]) -> Clear:
    """Return the posts of one stretch, clear of the forbidden ones: fewest bays, then most even.

    `greatest_m` and `least_m` are the limits of a bay; where a single bay is shorter than the least it stays one.
    Stretches that cannot be kept clear of are given up one by one, the widest first, and returned.
    """
    spans = _joined(forbidden, length_m)
    given_up: list[Span] = []
    while True:
        marks = _best_row(length_m, greatest_m=greatest_m, least_m=min(least_m, length_m), spans=spans)
        if marks is not None:
            return Clear(marks, tuple(sorted(given_up)))
        widest = max(spans, key=lambda span: span[1] - span[0])
        given_up.append(widest)
        spans = [span for span in spans if span != widest]


def _best_row(length_m: float, *, greatest_m: float, least_m: float, spans: Sequence[Span]) -> Floats | None:
    """Return the best row's posts, None when no row of few enough bays keeps clear."""
    inside = [edge for span in spans for edge in span if A_HAIR < edge < length_m - A_HAIR]
    places = np.array([0.0, *sorted(set(inside)), length_m])
    fewest = max(1, int(np.ceil(length_m / greatest_m - A_HAIR)))
    most = fewest + (MORE_BAYS if len(spans) else 0)
    cost = np.full((len(places), most + 1), np.inf)
    came: dict[tuple[int, int], tuple[int, int]] = {}
    cost[0, 0] = 0.0
    for end in range(1, len(places)):
        for begin in range(end):
            way = float(places[end] - places[begin])
            for bays in range(max(1, int(np.ceil(way / greatest_m - A_HAIR))), most + 1):
                if way / bays < least_m - A_HAIR and (begin, end, bays) != (0, len(places) - 1, 1):
                    break
                if not _stands_clear(places[begin], way, bays, spans):
                    continue
                for before in np.flatnonzero(np.isfinite(cost[begin, : most + 1 - bays])).tolist():
                    total = cost[begin, before] + way**2 / bays
                    if total < cost[end, before + bays] - A_HAIR:
                        cost[end, before + bays] = total
                        came[end, before + bays] = (begin, bays)
    reached = np.flatnonzero(np.isfinite(cost[-1]))
    return _walked(places, came, int(reached[0])) if len(reached) else None


def _walked(places: Floats, came: dict[tuple[int, int], tuple[int, int]], bays: int) -> Floats:
    end, marks = len(places) - 1, []
    while bays:
        begin, here = came[end, bays]
        marks.append(np.linspace(places[begin], places[end], here + 1)[:-1])
        end, bays = begin, bays - here
    return np.concatenate(marks[::-1])[1:]


def _stands_clear(begin_m: float, way_m: float, bays: int, spans: Sequence[Span]) -> bool:
    posts = begin_m + way_m * np.arange(1, bays) / bays
    return not any(((posts > low + A_HAIR) & (posts < high - A_HAIR)).any() for low, high in spans)


def _joined(spans: Sequence[Span], length_m: float) -> list[Span]:
    """Return the stretches within the length in order, those that overlap as one."""
    whole: list[Span] = []
    for low, high in sorted((max(low, 0.0), min(high, length_m)) for low, high in spans):
        if high - low <= A_HAIR:
            continue
        if whole and low < whole[-1][1] - A_HAIR:
            whole[-1] = (whole[-1][0], max(high, whole[-1][1]))
        else:
            whole.append((low, high))
    return whole

"""Stretches of a line on which the machine stands alike: one band each, with the place that is gravest."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from fencegis.hazards.slope_limits import side_value
from fencegis.hazards.slopes import Band, Side, Slopes

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.hazards.found import Floats, Places, Stretch
    from fencegis.hazards.slope_limits import Limits


@dataclass(frozen=True)
class Span:
    """A stretch of one band; the numbers are those of its gravest place, on the side where it is, NaN when unknown."""

    stretch: Stretch
    band: Band
    cannot_plumb: bool
    less_side: Side | None  # the side with the shorter length flagged
    side: Side | None = None
    at_m: float = math.nan
    fall_deg: float = math.nan
    sigma_deg: float = math.nan
    along_deg: float = math.nan
    steepest_deg: float = math.nan
    tips_deg: float = math.nan

    @property
    def flagged(self) -> bool:
        """Whether it is flagged."""
        return self.band >= Band.LEVEL


def spans_of(slopes: Slopes, *, limits: Limits) -> list[Span]:
    """Return the stretches, which tile the line.

    Between two places the graver counts, and a milder gap shorter than 20 m goes with what lies about it: nobody
    changes how he works for less (common practice).
    """
    first = np.flatnonzero((np.diff(slopes.run) == 0) & (np.diff(slopes.chainage_m) > 0.0))
    start_m, end_m = slopes.chainage_m[first], slopes.chainage_m[first + 1]
    gravest, beyond = np.asarray(slopes.band.max(axis=0)), np.asarray(slopes.cannot_plumb.any(axis=0))
    whole = partial(without_gaps, start_m=start_m, end_m=end_m, gap_m=side_value("gap"))
    band = whole(np.maximum(gravest[first], gravest[first + 1]))
    plumbless = whole((beyond[first] | beyond[first + 1]).astype(int))
    spans = []
    for (own, short), group in groupby(range(len(first)), key=lambda place: (int(band[place]), bool(plumbless[place]))):
        at = first[list(group)]
        stretch = float(slopes.chainage_m[at[0]]), float(slopes.chainage_m[at[-1] + 1])
        spans.append(_span(slopes, at, stretch, Band(own), limits, cannot_plumb=short))
    return spans


def without_gaps(band: npt.NDArray[np.int_], *, start_m: Floats, end_m: Floats, gap_m: float) -> npt.NDArray[np.int_]:
    """Return (n,) bands of the intervals, each shorter gap between graver ones raised to the milder of them."""
    band = band.copy()
    while True:
        edges = np.flatnonzero(np.diff(band)) + 1
        starts, ends = np.append(0, edges), np.append(edges, len(band))
        own = band[starts]
        about = np.minimum(np.append(-1, own[:-1]), np.append(own[1:], -1))
        raised = np.flatnonzero((end_m[ends - 1] - start_m[starts] < gap_m) & (about > own))
        if not raised.size:
            return band
        for place in raised:
            band[starts[place] : ends[place]] = about[place]


def _span(slopes: Slopes, first: Places, stretch: Stretch, band: Band, limits: Limits, *, cannot_plumb: bool) -> Span:
    """Return the stretch of the intervals that begin at these places."""
    less = _less_side(slopes, first)
    if band == Band.UNKNOWN:
        return Span(stretch, band, cannot_plumb, less)
    places = np.append(first, first[-1] + 1)
    side, at = np.unravel_index(_graveness(slopes, places, limits).argmax(), (len(slopes.sides), len(places)))
    place = int(side), int(places[at])
    numbers = (slopes.fall_deg, slopes.sigma_deg, slopes.along_deg, slopes.steepest_deg, slopes.tips_deg)
    where = slopes.sides[place[0]], float(slopes.chainage_m[place[1]])
    return Span(stretch, band, cannot_plumb, less, *where, *(float(values[place]) for values in numbers))


def _graveness(slopes: Slopes, places: Places, limits: Limits) -> Floats:
    """Return how much of what flags it each place comes to, by side; −1 where the ground is unknown."""
    may_fall_deg = np.abs(slopes.fall_deg[:, places]) + side_value("sigmas") * slopes.sigma_deg[:, places]
    part = np.maximum(
        may_fall_deg / max(limits.level_deg, 1e-9),
        slopes.steepest_deg[:, places] / np.maximum(limits.share * slopes.tips_deg[:, places], 1e-9),
    )
    return np.where(np.isnan(part), -1.0, part)


def _less_side(slopes: Slopes, first: Places) -> Side | None:
    """Return the side with the shorter length flagged, None where neither is shorter by a place."""
    if len(slopes.sides) < 2:
        return None
    length_m = slopes.chainage_m[first + 1] - slopes.chainage_m[first]
    flagged = np.maximum(slopes.band[:, first], slopes.band[:, first + 1]) >= Band.LEVEL
    left_m, right_m = (flagged * length_m).sum(axis=1)
    if abs(left_m - right_m) < side_value("spacing"):
        return None
    return slopes.sides[0] if left_m < right_m else slopes.sides[1]

"""The envelope swept along a line, and the least distance from it to something overhead.

A distance depends on one point of the disc at a time: it is worked out once for points all over the swept area, and
the stations that are too near are those whose disc holds a point that is.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from fencegis.hazards.near import joined
from fencegis.line.chainage import directions_at, points_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.hazards.envelope import Allowance, Envelope, Overhead
    from fencegis.hazards.found import Floats, Ground, Places, Stretch
    from fencegis.line.chainage import Line

_STEP_M = 0.125  # between points of the swept area
_GRAZE_M = 0.06  # a point this near to being too near is looked at closer
_BIN_M = 1.0  # one candidate a metre for the closer look
_CANDIDATES = 48
_THIN = 16  # one point in so many is enough for a first look
_MOVES = np.stack(np.meshgrid(*[[-1.0, 0.0, 1.0]] * 3, indexing="ij"), axis=-1).reshape(-1, 3)  # along, east, north


@dataclass(frozen=True, eq=False)
class Sweep:
    """Points all over the area that the envelope sweeps along a stretch, with the station each was laid out from."""

    line: Line
    stretch: Stretch
    envelope: Envelope
    station_m: Floats
    points: Floats
    ground_m: Floats


def swept(line: Line, stretch: Stretch, *, envelope: Envelope, ground: Ground) -> Sweep:
    """Lay points over the discs of all stations of the stretch: across each leg, and round its ends and bends."""
    inner = line.chainage_m[(line.chainage_m > stretch[0]) & (line.chainage_m < stretch[1])]
    edges = np.unique(np.concatenate([stretch, inner]))
    strips = [_strip(line, start, end, envelope.reach_m) for start, end in pairwise(edges)]
    rounds = _disc(envelope.reach_m)
    discs = [
        (np.full(len(rounds), edge), points_at(line, edge) + rounds)
        for edge in edges
        if _needs_a_disc(line, edge, stretch, envelope.reach_m)
    ]
    station_m = np.concatenate([station for station, _ in strips + discs])
    points = np.concatenate([where for _, where in strips + discs])
    order = np.argsort(station_m, kind="stable")
    return Sweep(line, stretch, envelope, station_m[order], points[order], ground(points[order]))


def part(sweep: Sweep, stretch: Stretch) -> Sweep:
    """Return the sweep of a stretch of it: the points that a disc of that stretch holds."""
    reach_m = sweep.envelope.reach_m
    first, last = np.searchsorted(sweep.station_m, [stretch[0] - reach_m - _STEP_M, stretch[1] + reach_m + _STEP_M])
    station_m, points, ground_m = sweep.station_m[first:last], sweep.points[first:last], sweep.ground_m[first:last]
    beyond = (station_m < stretch[0]) | (station_m > stretch[1])
    station_m = np.clip(station_m, *stretch)
    away = points[beyond] - points_at(sweep.line, station_m[beyond])
    held = ~beyond
    held[beyond] = np.hypot(away[:, 0], away[:, 1]) <= reach_m
    return Sweep(sweep.line, stretch, sweep.envelope, station_m[held], points[held], ground_m[held])


def too_near(sweep: Sweep, overhead: Overhead, *, off: Allowance, required_m: float, ground: Ground) -> list[Stretch]:
    """Return the stretches whose envelope comes nearer than required, ends to about the step of the sweep."""
    some_m = _distance(sweep, overhead, slice(None, None, _THIN), off=off, below_m=required_m)
    points = sweep.points[::_THIN][some_m < required_m]
    places = _not_inside(sweep, reached(sweep, points))
    below_m = required_m + _GRAZE_M
    distance_m = _distance(sweep, overhead, places, off=off, below_m=below_m)
    points = np.concatenate([points, sweep.points[places[distance_m < required_m]]])
    graze = (distance_m >= required_m) & (distance_m < below_m)
    if graze.any():
        closer_m, _, where = _closer(sweep, overhead, places[graze], distance_m[graze], off=off, ground=ground)
        points = np.concatenate([points, where[closer_m < required_m]])
    return reached(sweep, points)


def least(sweep: Sweep, overhead: Overhead, *, off: Allowance, below_m: float, ground: Ground) -> tuple[float, float]:
    """Return the least distance from the swept envelope, and the station it is measured from.

    Within a few millimetres. Infinite, and NaN for the station, when nothing is nearer than `below_m` or known.
    """
    some_m = _distance(sweep, overhead, slice(None, None, _THIN), off=off, below_m=below_m)
    if (some_m == 0.0).any():
        return 0.0, float(sweep.station_m[::_THIN][some_m == 0.0][0])
    below_m = min(below_m, float(some_m.min(initial=np.inf)) + 2.0 * _GRAZE_M)
    distance_m = _distance(sweep, overhead, slice(None), off=off, below_m=below_m)
    near = np.flatnonzero(distance_m < min(below_m, float(distance_m.min(initial=np.inf)) + 2.0 * _GRAZE_M))
    if not len(near):
        return np.inf, np.nan
    closer_m, station_m, _ = _closer(sweep, overhead, near, distance_m[near], off=off, ground=ground)
    first = int(np.argmin(closer_m))
    return float(closer_m[first]), float(station_m[first])


def reached(sweep: Sweep, points: Floats) -> list[Stretch]:
    """Return the stretches of stations within reach of any of the (n, 2) points, widened by a step."""
    line, reach_m = sweep.line, sweep.envelope.reach_m
    found = []
    first = max(int(np.searchsorted(line.chainage_m, sweep.stretch[0], side="right")) - 1, 0)
    last = min(int(np.searchsorted(line.chainage_m, sweep.stretch[1])), len(line.path) - 1)
    for leg in range(first, last):
        start, length_m = line.path[leg], line.chainage_m[leg + 1] - line.chainage_m[leg]
        if length_m <= 0.0:
            continue
        east, north = (line.path[leg + 1] - start) / length_m
        along = (points - start) @ np.array([east, north])
        across = (points - start) @ np.array([north, -east])
        half = np.sqrt(np.maximum(reach_m**2 - across**2, 0.0)) + _STEP_M
        holds = (np.abs(across) <= reach_m + 1e-6) & (along + half >= 0.0) & (along - half <= length_m)
        ends = line.chainage_m[leg] + np.clip(np.stack([along - half, along + half], axis=1)[holds], 0.0, length_m)
        ends = np.clip(ends, *sweep.stretch)
        found += joined(ends[ends[:, 0] < ends[:, 1]].tolist(), length_m=line.length_m)
    return joined(found, length_m=line.length_m)


def _strip(line: Line, start_m: float, end_m: float, reach_m: float) -> tuple[Floats, Floats]:
    along = np.linspace(start_m, end_m, int(np.ceil((end_m - start_m) / _STEP_M)) + 1)
    across = np.linspace(-reach_m, reach_m, 2 * int(np.ceil(reach_m / _STEP_M)) + 1)
    east, north = directions_at(line, (start_m + end_m) / 2.0)[0]
    points = points_at(line, along)[:, None, :] + across[:, None] * np.array([north, -east])
    return np.repeat(along, len(across)), points.reshape(-1, 2)


def _disc(reach_m: float) -> Floats:
    """Return (n, 2) points all over a disc about 0, 0, its rim among them."""
    rings = [np.zeros((1, 2))]
    for radius_m in np.linspace(0.0, reach_m, int(np.ceil(reach_m / _STEP_M)) + 1)[1:]:
        angle = np.linspace(0.0, 2.0 * np.pi, int(np.ceil(2.0 * np.pi * radius_m / _STEP_M)), endpoint=False)
        rings.append(radius_m * np.column_stack([np.sin(angle), np.cos(angle)]))
    return np.concatenate(rings)


def _needs_a_disc(line: Line, chainage_m: float, stretch: Stretch, reach_m: float) -> bool:
    """Say whether strips leave a gap here: at an end of the stretch, and where the line bends by more than a chord."""
    if chainage_m in stretch:
        return True
    before, after = directions_at(line, [chainage_m - 1e-6, chainage_m])
    return float(np.hypot(*(after - before))) * reach_m > _STEP_M / 2.0


def _distance(sweep: Sweep, overhead: Overhead, places: Places | slice, *, off: Allowance, below_m: float) -> Floats:
    points, height_m = sweep.points[places], sweep.envelope.height_m
    if not len(points):
        return np.empty(0)
    return overhead.distance_m(points, sweep.ground_m[places], working_height_m=height_m, off=off, below_m=below_m)


def _not_inside(sweep: Sweep, stretches: Sequence[Stretch]) -> Places:
    """Return the places of the points that can still reach a station outside the stretches."""
    inside = np.zeros(len(sweep.points), dtype=bool)
    margin_m = 2.0 * sweep.envelope.reach_m  # a point round a bend stands off its station in any direction
    for start, end in stretches:
        low = -np.inf if start <= sweep.stretch[0] else start + margin_m
        high = np.inf if end >= sweep.stretch[1] else end - margin_m
        inside |= (sweep.station_m >= low) & (sweep.station_m <= high)
    return np.flatnonzero(~inside)


def _closer(
    sweep: Sweep, overhead: Overhead, candidates: Places, distance_m: Floats, *, off: Allowance, ground: Ground
) -> tuple[Floats, Floats, Floats]:
    """Move the nearest candidate of every metre about, ever finer, inside the swept area: distance, station, point."""
    chosen = _one_a_metre(sweep.station_m[candidates], distance_m)
    best_m, station_m, point = distance_m[chosen], sweep.station_m[candidates][chosen], sweep.points[candidates][chosen]
    away = point - points_at(sweep.line, station_m)
    each = np.arange(len(chosen))
    for size_m in _STEP_M / 2.0 ** np.arange(1, 6):
        stations = np.clip(station_m[:, None] + size_m * _MOVES[:, 0], *sweep.stretch)
        aways = away[:, None, :] + size_m * _MOVES[:, 1:]
        far = np.hypot(aways[..., 0], aways[..., 1])
        aways *= np.minimum(1.0, sweep.envelope.reach_m / np.maximum(far, 1e-9))[..., None]
        points = points_at(sweep.line, stations.ravel()) + aways.reshape(-1, 2)
        below_m, height_m = float(best_m.max()) + 1e-6, sweep.envelope.height_m
        tried = overhead.distance_m(points, ground(points), working_height_m=height_m, off=off, below_m=below_m)
        tried = tried.reshape(stations.shape)
        move = np.argmin(tried, axis=1)
        better = tried[each, move] < best_m
        row, move = each[better], move[better]
        best_m[row], station_m[row], away[row] = tried[row, move], stations[row, move], aways[row, move]
        point[row] = points.reshape(*stations.shape, 2)[row, move]
    return best_m, station_m, point


def _one_a_metre(station_m: Floats, distance_m: Floats) -> Places:
    """Return the places of the least distance in every metre, the few dozen least of them, along the line."""
    order = np.lexsort([distance_m, np.floor(station_m / _BIN_M)])
    _, first = np.unique(np.floor(station_m / _BIN_M)[order], return_index=True)
    places = order[first]
    return np.sort(places[np.argsort(distance_m[places], kind="stable")][:_CANDIDATES])

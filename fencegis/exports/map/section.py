"""The long section for the map's page: every line as small arrays, which the page draws and reads by chainage.

Chainages and heights are whole centimetres, as steps from one to the next; heights count from the line's `low`, and
are null where the ground is not known.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fencegis.exports.page_text import plain
from fencegis.exports.section.found import found_of
from fencegis.exports.section.marks import standing, to_mind
from fencegis.exports.section.scales import ground_of
from fencegis.exports.words import Places, each, holder, present
from fencegis.layout.rail_rows import bottom_drop_m

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.exports.map.layers import Wgs84
    from fencegis.exports.section.scales import Ground
    from fencegis.records.plan import Plan

    Floats = npt.NDArray[np.float64]
    Rows = list[dict[str, Any]]

GROUND_WITHIN_M = 0.03  # heights of a raster are no better, and a long line stays a small page
FITTED_WITHIN_M = 0.002


def section_lines(plan: Plan, where: Wgs84) -> Rows:
    """Return each line: its course with chainages, ground, fitted grades, posts with tops, and what is marked on it."""
    places = Places(plan)
    place_of = {str(name): place for place, name in enumerate(plan.posts["post_id"])}
    return [_line(plan, where, places, str(line_id), place_of) for line_id in plan.runs["line_id"].drop_duplicates()]


def _line(plan: Plan, where: Wgs84, places: Places, line_id: str, place_of: dict[str, int]) -> dict[str, Any]:
    runs = plan.runs[plan.runs["line_id"] == line_id]
    points, chainage_m = course(runs)
    length_m = float(runs["to_m"].max())
    ground = ground_of(plan.profile[plan.profile["line_id"] == line_id], length_m)
    low = _low(ground)
    found = found_of(plan, line_id)
    return {
        "id": plain(line_id),
        "name": places.line(line_id),
        "wire": holder(plan, line_id) == "strainer",
        "way": {"at": where.of_points(points).tolist(), "m": np.round(chainage_m, 3).tolist()},
        "low": low,
        "ground": _profile(ground.chainage_m, ground.raster_m, low, within_m=GROUND_WITHIN_M),
        "fitted": _profile(ground.chainage_m, ground.fitted_m, low, within_m=FITTED_WITHIN_M),
        "posts": _posts(plan, line_id, low, place_of),
        "drop": round(bottom_drop_m(plan.site.spec.fence), 3),
        "stands": [[_m(mark.from_m), _m(mark.to_m), mark.kind, plain(mark.text)] for mark in standing(plan, line_id)],
        "breaks": [
            [_m(mark.from_m), _m(mark.to_m), mark.kind, plain(mark.text)]
            for mark in to_mind(plan, line_id, ground)
            if mark.kind in {"taken", "crest", "faint", "unknown"}
        ],
        "flags": _flags(plan, line_id),
        "crossings": _crossings(plan, line_id),
        "air": [[_m(from_m), _m(to_m), round(least, 2)] for from_m, to_m, least in found.air],
    }


def course(runs: Any) -> tuple[Floats, Floats]:
    """Return a line's vertices (n, 2), eastings and northings, and their chainages (n,); arcs are in chords."""
    points, chainages = [], []
    for run in each(runs):
        at = shapely.get_coordinates(run.geometry)
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(at, axis=0).T))])
        points.append(at[:, :2])
        chainages.append(run.from_m + along * (run.to_m - run.from_m) / along[-1])
    points_m, chainage_m = np.vstack(points), np.concatenate(chainages)
    kept = np.concatenate([[True], np.diff(chainage_m) > 1e-6])
    return points_m[kept], chainage_m[kept]


def _low(ground: Ground) -> float | None:
    known = np.concatenate([ground.raster_m, ground.fitted_m])
    known = known[np.isfinite(known)]
    return float(np.floor(known.min())) if len(known) else None


def _profile(chainage_m: Floats, height_m: Floats, low: float | None, *, within_m: float) -> dict[str, Any]:
    """Return a profile with no more points than keep it within `within_m` of itself, square to it."""
    if low is None:
        return {"m": [], "h": []}
    kept_m, kept_h = [], []
    finite = np.isfinite(height_m)
    for piece in np.split(np.arange(len(height_m)), np.flatnonzero(np.diff(finite)) + 1):
        if not finite[piece[0]]:
            middle = piece[len(piece) // 2]
            kept_m.append(chainage_m[middle : middle + 1])
            kept_h.append(np.full(1, np.nan))
            continue
        path = np.column_stack([chainage_m[piece], height_m[piece]])
        thin = shapely.get_coordinates(shapely.simplify(shapely.LineString(path), within_m)) if len(path) > 2 else path
        kept_m.append(thin[:, 0])
        kept_h.append(thin[:, 1])
    return {"m": _steps(np.concatenate(kept_m)), "h": _heights(np.concatenate(kept_h), low)}


def _posts(plan: Plan, line_id: str, low: float | None, place_of: dict[str, int]) -> dict[str, Any]:
    """Return the posts along a line, another line's that it ends on among them; `bay` says where a bay follows."""
    bays = plan.bays[plan.bays["line_id"] == line_id]
    ends = [
        zip(bays[end].tolist(), bays[post].astype(str).tolist(), strict=True)
        for end, post in (("from_m", "from_post"), ("to_m", "to_post"))
    ]
    stations = sorted({(at, place_of[name]) for end in ends for at, name in end if name in place_of})
    begun = set(bays["from_m"].tolist())
    rows = np.array([place for _, place in stations], dtype=np.int64)
    level = (plan.posts["ground_m"] + plan.posts["top_m"]).to_numpy(dtype=float)[rows]
    return {
        "row": np.diff(rows, prepend=0).tolist(),
        "m": _steps(np.array([at for at, _ in stations], dtype=float)),
        "top": [] if low is None or not np.isfinite(level).any() else _heights(level, low),
        "bay": "".join("1" if at in begun else "0" for at, _ in stations),
    }


def _flags(plan: Plan, line_id: str) -> Rows:
    rows = plan.hazards[plan.hazards["line_id"] == line_id]
    return [
        {"from": _m(row.from_m), "to": _m(row.to_m), "id": plain(row.hazard_id), "kind": plain(row.kind)}
        for row in each(rows)
    ]


def _crossings(plan: Plan, line_id: str) -> Rows:
    rows = plan.crossings[plan.crossings["line_id"] == line_id]
    return [
        {"from": _m(row.from_m), "to": _m(row.to_m), "id": plain(row.crossing_id)}
        | ({"bed": _m(row.bed_at_m)} if present(row.bed_at_m) else {})
        for row in each(rows)
    ]


def _m(value_m: float) -> float:
    return round(float(value_m), 2)


def _steps(values_m: Floats) -> list[int]:
    whole = np.round(values_m * 100.0).astype(np.int64)
    return [int(step) for step in np.diff(whole, prepend=0)]


def _heights(values_m: Floats, low: float) -> list[int | None]:
    return [round((value - low) * 100.0) if np.isfinite(value) else None for value in values_m.tolist()]

"""Whether the machine finds a way along the line and to it: room beside the line, turning at dead ends, ways in.

Looked at is what the layers hold as it stands, before any clearing: keep-outs, trees, water. A stretch is flagged where
on no side that the machine may work from the room is what it needs, its width and some air on both sides. Room is
measured square to the line every metre, from the line outwards to the first obstacle, less two standard errors of the
drawing. Nothing here says that a way is fit to drive on: soft ground, stumps and holes are seen on the ground only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from fencegis.hazards import checks
from fencegis.hazards.approach import allowance
from fencegis.hazards.checks import Part
from fencegis.hazards.found import Answer, Found, checks_table, flagged_rows, hazards_table
from fencegis.hazards.measure import Flag
from fencegis.hazards.near import LEAST_M, Legs, joined
from fencegis.hazards.needs import needs_of
from fencegis.hazards.obstacles import access_m, obstacles, room_m, turns_within_m
from fencegis.hazards.ways import notes_on_ways
from fencegis.line.chainage import nearest, points_at, rights_at
from fencegis.records.notes import Note
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy.typing as npt

    from fencegis.hazards.found import Floats, Scene, Stretch
    from fencegis.hazards.needs import Needs
    from fencegis.hazards.obstacles import Obstacles
    from fencegis.line.chainage import Line
    from fencegis.line.course import Course

    Flags = npt.NDArray[np.bool_]

KIND = "access"
ADVICE = (
    "Walk it before the machine comes. Where there is no room the stretch is built by hand, from the other side with "
    "its owner's leave, or after clearing; holes, stumps and soft ground are seen on the ground only."
)
STEP_M = 1.0
NAMES = {-1: "left", 1: "right"}
FILES = ("keepout.geojson", "trees.geojson", "watercourses.geojson")


@dataclass(frozen=True)
class _Blocked:
    """One stretch on which the machine has no way on."""

    kind: str
    stretch: Stretch
    free_m: float
    basis: str


def access(scene: Scene) -> Found:
    """Return where the machine finds no room beside the line, where it cannot turn, and what was looked at."""
    needs, found = needs_of(scene.spec), obstacles(scene.site)
    off_m = allowance("allowance_sigmas") * math.sqrt(2.0) * scene.spec.boundary.vertex_sigma_m
    rows, tiles, layer = [], [], []
    notes: list[Note] = []
    for course in scene.courses:
        narrow = _narrow(course.line, found, needs, off_m)
        blocked = [*narrow, *_dead_ends(course, found, needs, scene)]
        layer += [_layer_row(course.line_id, one, needs) for one in blocked]
        for one in blocked:
            flag = Flag(one.stretch, max(0.0, one.free_m - off_m), one.free_m)
            answer = Answer(KIND, off_m / 2.0, needs.asked_m(one.kind), "what the machine needs for itself", ADVICE)
            rows.append(flagged_rows(course.line, [flag], answer=answer, basis=[one.basis]))
        parts = [Part(one.stretch, "flagged", f"flagged: {one.basis}") for one in blocked]
        tiles.append((course.line, KIND, checks.tiled(_rest(course.line, scene, needs), parts)))
        notes += [*_by_hand(course, narrow), *_ways_in(course, scene), *_steepest(course)]
    notes += notes_on_ways(scene)
    table = checked("access", pd.DataFrame(layer)) if layer else empty("access")
    return Found(hazards_table(rows), checks_table(tiles), tuple(notes), layers={"access": table})


def _narrow(line: Line, found: Obstacles, needs: Needs, off_m: float) -> list[_Blocked]:
    """Return the stretches with too little room on every side that the machine may work from."""
    near = [Legs(line).within(shape, distance_m=needs.room_m + off_m) for shape in _near(line, found, needs, off_m)]
    rows = []
    for stretch in joined([one for each in near for one in each], length_m=line.length_m):
        station = np.linspace(*stretch, max(2, int(np.ceil((stretch[1] - stretch[0]) / STEP_M)) + 1))
        free, ends = _best_side(line, station, found, needs)
        short = (free - off_m < needs.room_m) & ~found.in_water(points_at(line, station))
        for part in _stretches(station, short, apart_m=needs.circle_m, length_m=line.length_m):
            inside = (station >= part[0] - 1e-9) & (station <= part[1] + 1e-9) & short
            worst = int(np.flatnonzero(inside)[free[inside].argmin()])
            what = (
                f"{free[worst]:.1f} m of room beside the line on its best side, {needs.room_m:.1f} m needed:"
                f" {found.labels[ends[worst]]}, least at {station[worst]:.1f} m"
            )
            rows.append(_Blocked("narrow", part, float(free[worst]), f"{what}{_as_it_stands(needs)}"))
    return rows


def _near(line: Line, found: Obstacles, needs: Needs, off_m: float) -> list[shapely.Geometry]:
    path = shapely.LineString(line.path)
    return [found.shapes[place] for place in found.near(path, needs.room_m + off_m)]


def _best_side(line: Line, station: Floats, found: Obstacles, needs: Needs) -> tuple[Floats, list[int]]:
    """Return the most room that any permitted side has at each station, and what ends it there."""
    points, right = points_at(line, station), rights_at(line, station)
    free, ends = np.full(len(station), -1.0), [-1] * len(station)
    for side in needs.sides:
        here, thing = room_m(points, side * right, found, look_m=access_m("look"))
        for place in np.flatnonzero(here > free).tolist():
            free[place], ends[place] = here[place], thing[place]
    return free, ends


def _stretches(station: Floats, short: Flags, *, apart_m: float, length_m: float) -> list[Stretch]:
    """Return the stretches short of room; between two so near that nobody could turn there is no way either."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], short, [False]]).astype(int))).reshape(-1, 2)
    whole: list[Stretch] = []
    for begin_m, end_m in ((float(station[begin]), float(station[end - 1])) for begin, end in edges.tolist()):
        if whole and begin_m - whole[-1][1] < apart_m:
            whole[-1] = (whole[-1][0], end_m)
        else:
            whole.append((begin_m, end_m))
    return joined(whole, length_m=length_m)


def _as_it_stands(needs: Needs) -> str:
    return "; as the layers have it, before any clearing" + (f"; assumed: {needs.assumed}" if needs.assumed else "")


def _layer_row(line_id: str, one: _Blocked, needs: Needs) -> dict[str, object]:
    return {
        "line_id": line_id,
        "from_m": one.stretch[0],
        "to_m": one.stretch[1],
        "kind": one.kind,
        "free_m": one.free_m,
        "needed_m": needs.asked_m(one.kind),
        "side": "both" if len(needs.sides) > 1 else NAMES[needs.sides[0]],
        "basis": one.basis,
    }


def _dead_ends(course: Course, found: Obstacles, needs: Needs, scene: Scene) -> list[_Blocked]:
    """Return the ends of an open line at which the machine has to back out because nowhere near is room to turn."""
    line, rows = course.line, list[_Blocked]()
    if line.closed or not found.shapes:
        return rows
    for at_end in (False, True):
        end_m = line.length_m if at_end else 0.0
        if any(abs(node - end_m) < 1.0 for node in course.nodes) or _leads_on(points_at(line, end_m), scene):
            continue
        back_m = turns_within_m(line, at_end=at_end, found=found, circle_m=needs.circle_m, sides=needs.sides)
        if back_m > needs.circle_m:
            back_m = min(back_m, line.length_m)
            stretch = (line.length_m - back_m, line.length_m) if at_end else (0.0, back_m)
            what = f"no circle of {needs.circle_m:.1f} m to turn in at this end: back out {back_m:.0f} m"
            rows.append(_Blocked("dead end", stretch, 0.0, f"{what}{_as_it_stands(needs)}"))
    return rows


def _leads_on(point: Floats, scene: Scene) -> bool:
    """Return whether a track goes on from an end of the line."""
    tracks = scene.site.tracks
    if tracks is None or not len(tracks):
        return False
    return bool((shapely.distance(tracks.geometry.to_numpy(), shapely.Point(point[0])) < access_m("look")).any())


def _rest(line: Line, scene: Scene, needs: Needs) -> Part:
    """Return the answer where there is room by the layers: only all of them, a machine and a walk make it one."""
    site = scene.site
    layers = dict(zip(FILES, (site.keepout, site.trees, site.watercourses), strict=True))
    lacking = [f"no {file}" for file, layer in layers.items() if layer is None]
    if needs.assumed:
        lacking.append(f"assumed: {needs.assumed}")
    count = sum(len(layer) for layer in layers.values() if layer is not None)
    files = ", ".join(file for file, layer in layers.items() if layer is not None) or "no layer"
    return checks.rest_as_walked(line, features=count, file=files, walked=scene.spec.walked.ground, lacking=lacking)


def _by_hand(course: Course, narrow: Sequence[_Blocked]) -> Iterator[Note]:
    metres = sum(one.stretch[1] - one.stretch[0] for one in narrow)
    if metres > LEAST_M:
        text = f"{metres:.0f} m of {course.line_id} have no room for the machine: by hand, or after clearing"
        yield Note("doubt", text, course.line_id)


def _ways_in(course: Course, scene: Scene) -> Iterator[Note]:
    """Say which parts of a line, cut where water crosses it, no drawn track comes near."""
    tracks, line = scene.site.tracks, course.line
    if tracks is None:
        yield Note("doubt", "no tracks.geojson: how the machine gets to the line is not checked", course.line_id)
        return
    within = [one for track in tracks.geometry for one in Legs(line).within(track, distance_m=access_m("way in"))]
    for from_m, to_m in _between_water(line, scene):
        if not any(start < to_m and end > from_m for start, end in within):
            text = f"no drawn track comes within {access_m('way in'):.0f} m of this part: find the machine's way in"
            yield Note("doubt", f"{text} (to {to_m:.0f} m)", course.line_id, from_m)


def _between_water(line: Line, scene: Scene) -> list[Stretch]:
    water = scene.site.watercourses
    cuts: set[float] = set()
    if water is not None and len(water):
        path = shapely.LineString(line.path)
        for shape in water.geometry:
            met = shapely.get_coordinates(shapely.intersection(path, shapely.force_2d(shape)))
            cuts |= {float(chainage) for chainage in nearest(line, met)[0]} if len(met) else set()
    edges = [0.0, *sorted(cuts), line.length_m]
    return [(begin, end) for begin, end in pairwise(edges) if end - begin > STEP_M]


def _steepest(course: Course) -> Iterator[Note]:
    """Say where the way along the line is steepest; no printed limit for a tractor with a driver on was found."""
    grades = course.grades
    if not grades.known.any():
        return
    worst = int(np.nanargmax(np.abs(np.where(grades.known, grades.grade_pct, np.nan))))
    grade, at = float(grades.grade_pct[worst]), float(grades.joint_m[worst])
    text = (
        f"steepest along the line: {abs(grade):.0f} % ({math.degrees(math.atan(abs(grade) / 100.0)):.0f}°)"
        f" {'up' if grade > 0.0 else 'down'} from {at:.0f} to {grades.joint_m[worst + 1]:.0f} m; no limit is printed"
        " for a tractor with a driver on it"
    )
    yield Note("default", text, course.line_id, at)

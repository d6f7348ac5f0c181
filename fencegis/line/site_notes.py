"""What to know on site that the tables do not say: unknown ground, pegs, what was seen on the walk, defaults taken."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.line.chainage import nearest_line
from fencegis.line.zones import WALK_NEAR_M, against_zone, soils_at
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import geopandas as gpd
    import numpy.typing as npt

    from fencegis.line.course import Course
    from fencegis.line.zones import SoilSpan
    from fencegis.records.site import Site

    Floats = npt.NDArray[np.float64]

MARK_CLEAR_M = 0.5  # kept between a post and a survey mark (common practice)
OFF_M = 0.5  # of the ground from the fitted grades, worth a look (common practice)
HELD_M = 0.005
BESIDE_M = 1.0  # nearer than this it was seen on the line
BAND_M = (1.0, 5.0, 10.0)  # steps at which the length along the ground is held against the fitted grades
FAR_M = 60.0  # a thing seen on the walk further off than this is not told against a chainage


def notes_on_ground(courses: Sequence[Course], *, site: Site) -> list[Note]:
    """Return what to know of the ground along each line.

    Unknown ground, ditches and banks too short to fit, what the length along the ground would be if heights were joined
    up, and a raster too coarse to tell the ground at a post.
    """
    if site.terrain is None:
        return []  # said once, when the site was read
    notes = [
        Note(
            "doubt",
            f"no ground height from {begin:.1f} m to {end:.1f} m: grades not checked, length counted as level",
            course.line_id,
            begin,
        )
        for course in courses
        for begin, end in course.grades.unknown_m
    ]
    for course in courses:
        ground = course.ground_at(course.station_m)
        limit_m = max(OFF_M, 3.0 * site.spec.elevation.vertical_error_m)
        notes += _off_the_grades(course, ground, more_than_m=limit_m)
        notes += _length_band(course, ground)
    cell, bay = site.terrain.cell_m, site.spec.fence.post_spacing_m
    if not site.terrain.tells_posts(bay):
        notes.append(
            Note(
                "doubt",
                f"cells of {cell:.0f} m are coarser than the posts ({bay:.1f} m): where the grade changes is not known"
                " to better than a cell. Lift, gaps under the fence, and the ground and its grade at any one post"
                " cannot be told and are held back; look for dips and crests on the walk. The length along the"
                " ground is at least what is given",
            )
        )
    return notes


def _length_band(course: Course, ground: Floats) -> list[Note]:
    """Return a note with the length along the ground by the fitted grades beside that of the heights joined up."""
    grades = course.grades
    on = np.flatnonzero(grades.known)
    if not len(on):
        return []
    fitted_m = np.diff(grades.ground_m)[on].sum()
    edges = np.flatnonzero(np.diff(np.concatenate([[False], grades.known, [False]]).astype(int))).reshape(-1, 2)
    stretches = [(float(grades.joint_m[begin]), float(grades.joint_m[end])) for begin, end in edges]
    joined = [sum(_joined_up(course, ground, *stretch, step_m=step) for stretch in stretches) for step in BAND_M]
    left_out = sum(end - begin for begin, end in grades.unknown_m)
    text = (
        f"length along the ground {fitted_m:.1f} m by the fitted grades; heights joined up every"
        f" {' / '.join(f'{step:.0f}' for step in BAND_M)} m give {' / '.join(f'{length:.1f}' for length in joined)} m:"
        " finer steps add the noise of the heights, not fence"
        f"{f'; {left_out:.0f} m of unknown ground left out' if left_out else ''}"
    )
    return [Note("default", text, course.line_id)]


def _joined_up(course: Course, ground: Floats, begin_m: float, end_m: float, *, step_m: float) -> float:
    """Return the length of the ground's heights joined up about every `step_m`, of known ground from end to end.

    Heights at the profile's stations are taken again; only where those stand too far apart is the ground looked up.
    """
    station = course.station_m
    here = np.flatnonzero((station >= begin_m - HELD_M) & (station <= end_m + HELD_M))
    apart = float(station[1] - station[0])
    if apart <= 1.5 * step_m:
        some = np.append(here[: -1 : max(1, round(step_m / apart))], here[-1])
        return float(np.hypot(np.diff(station[some]), np.diff(ground[some])).sum())
    chainage = np.linspace(begin_m, end_m, max(1, round((end_m - begin_m) / step_m)) + 1)
    return float(np.hypot(np.diff(chainage), np.diff(course.ground_at(chainage))).sum())


def _off_the_grades(course: Course, ground: Floats, *, more_than_m: float) -> list[Note]:
    """Return a note where the ground lies far from the fitted grades: a ditch or bank too short to fit."""
    off = ground - course.grades.fitted_at(course.station_m)
    far = np.concatenate([[False], np.nan_to_num(np.abs(off)) > more_than_m, [False]])
    notes = []
    for begin, end in np.flatnonzero(np.diff(far.astype(int))).reshape(-1, 2):
        place = begin + int(np.abs(off[begin:end]).argmax())
        what = "below the fitted grades: look for a drain" if off[place] < 0 else "above the fitted grades: a bank"
        text = f"ground {abs(off[place]):.1f} m {what}"
        notes.append(Note("doubt", text, course.line_id, float(course.station_m[place])))
    return notes


def notes_on_pegs(courses: Sequence[Course], posts: pd.DataFrame, *, pegs: gpd.GeoDataFrame | None) -> list[Note]:
    """Return a note for each peg: held, and which post would stand on it."""
    if pegs is None or pegs.empty:
        return []
    notes = []
    for kind, feature, line, chainage, offset in zip(
        pegs["kind"], pegs["feature"], *_on_lines(courses, pegs), strict=True
    ):
        line_id = courses[line].line_id
        held = "held" if abs(offset) < HELD_M else f"{_aside(offset, 2)} of the planned line"
        on_it = posts[(posts["line_id"] == line_id) & ((posts["chainage_m"] - chainage).abs() < MARK_CLEAR_M)]
        beside = ""
        if kind != "agreed" and len(on_it) and abs(offset) < MARK_CLEAR_M:
            beside = (
                f"; post {on_it['post_id'].iloc[0]} would stand on it: keep the mark, set the post {MARK_CLEAR_M} m"
                " off it and note the offset"
            )
        text = f"pegs.geojson, {feature}: {kind} peg, {held}{beside}"
        notes.append(Note("doubt" if beside else "seen", text, line_id, chainage))
    return notes


def walked_notes(
    courses: Sequence[Course], *, walk: gpd.GeoDataFrame | None, zones: Mapping[str, Sequence[SoilSpan]] | None = None
) -> list[Note]:
    """Return what was seen on the walk, each at the chainage it lies nearest to.

    Beside the line it is held against the soil zone there, and the note says where the two do not agree.
    """
    if walk is None or walk.empty:
        return []
    notes = []
    on_line, along, aside_m = _on_lines(courses, walk)
    stations = {"line_id": [courses[line].line_id for line in on_line], "chainage_m": along}
    soils = soils_at(pd.DataFrame(stations), zones or {})
    for kind, text, line, chainage, offset, soil in zip(
        walk["kind"], walk["text"], on_line, along, aside_m, soils, strict=True
    ):
        said = f"{kind}: {text}" if isinstance(text, str) and text else str(kind)
        aside = f" ({_aside(offset, 0)})" if abs(offset) >= BESIDE_M else ""
        where = chainage if abs(offset) <= FAR_M else None
        against = against_zone(kind, text, soil) if zones and abs(offset) <= WALK_NEAR_M else ""
        notes.append(Note("seen", f"{said}{aside}{' – ' if against else ''}{against}", courses[line].line_id, where))
    return notes


def _on_lines(courses: Sequence[Course], layer: gpd.GeoDataFrame) -> tuple[list[int], list[float], list[float]]:
    """Return for each point of the layer the nearest line, the chainage there and the offset."""
    points = np.column_stack([layer.geometry.x, layer.geometry.y])
    line, chainage, offset = nearest_line([course.line for course in courses], points)
    return line.tolist(), chainage.tolist(), offset.tolist()


def _aside(offset_m: float, digits: int) -> str:
    return f"{abs(offset_m):.{digits}f} m {'right' if offset_m > 0 else 'left'}"

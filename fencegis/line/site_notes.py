"""What to know on site that the tables do not say: unknown ground, pegs, what was seen on the walk, defaults taken."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.chainage import nearest_line
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Sequence

    import geopandas as gpd
    import pandas as pd

    from fencegis.line.course import Course
    from fencegis.records.site import Site

MARK_CLEAR_M = 0.5  # kept between a post and a survey mark (common practice)
OFF_M = 0.5  # of the ground from the fitted grades, worth a look (common practice)
HELD_M = 0.005
BESIDE_M = 1.0  # nearer than this it was seen on the line
FAR_M = 60.0  # a thing seen on the walk further off than this is not told against a chainage


def notes_on_ground(courses: Sequence[Course], *, site: Site) -> list[Note]:
    """Return a note for unknown ground, ditches and banks too short to fit, and a raster too coarse to place posts."""
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
        notes += _off_the_grades(course, more_than_m=max(OFF_M, 3.0 * site.spec.elevation.vertical_error_m))
    cell, bay = site.terrain.cell_m, site.spec.fence.post_spacing_m
    if cell > 1.1 * bay:
        notes.append(
            Note(
                "doubt",
                f"cells of {cell:.0f} m are coarser than the posts ({bay:.1f} m): what the ground does between"
                " cells, and every grade at a post, is for the walk to find out",
            )
        )
    return notes


def _off_the_grades(course: Course, *, more_than_m: float) -> list[Note]:
    """Return a note where the ground lies far from the fitted grades: a ditch or bank too short to fit."""
    off = course.ground_at(course.station_m) - course.grades.fitted_at(course.station_m)
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
                " clear and note the offset"
            )
        text = f"pegs.geojson, {feature}: {kind} peg, {held}{beside}"
        notes.append(Note("doubt" if beside else "seen", text, line_id, chainage))
    return notes


def walked_notes(courses: Sequence[Course], *, walk: gpd.GeoDataFrame | None) -> list[Note]:
    """Return what was seen on the walk, each at the chainage it lies nearest to."""
    if walk is None or walk.empty:
        return []
    notes = []
    for kind, text, line, chainage, offset in zip(walk["kind"], walk["text"], *_on_lines(courses, walk), strict=True):
        said = f"{kind}: {text}" if isinstance(text, str) and text else str(kind)
        aside = f" ({_aside(offset, 0)})" if abs(offset) >= BESIDE_M else ""
        where = chainage if abs(offset) <= FAR_M else None
        notes.append(Note("seen", f"{said}{aside}", courses[line].line_id, where))
    return notes


def _on_lines(courses: Sequence[Course], layer: gpd.GeoDataFrame) -> tuple[list[int], list[float], list[float]]:
    """Return for each point of the layer the nearest line, the chainage there and the offset."""
    points = np.column_stack([layer.geometry.x, layer.geometry.y])
    line, chainage, offset = nearest_line([course.line for course in courses], points)
    return line.tolist(), chainage.tolist(), offset.tolist()


def _aside(offset_m: float, digits: int) -> str:
    return f"{abs(offset_m):.{digits}f} m {'right' if offset_m > 0 else 'left'}"

"""What to know on site that the tables do not say: unknown ground, pegs, what was seen on the walk, defaults taken."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.chainage import nearest
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Sequence

    import geopandas as gpd
    import pandas as pd

    from fencegis.line.course import Course
    from fencegis.records.site import Site

MARK_CLEAR_M = 0.5  # kept between a post and a survey mark (common practice)
FAR_M = 60.0  # a thing seen on the walk further off than this is not told against a chainage


def notes_on_ground(courses: Sequence[Course], *, site: Site) -> list[Note]:
    """Return a note for each stretch whose ground is unknown, and for a raster too coarse to place posts."""
    if site.terrain is None:
        return []  # said once, when the site was read
    notes = []
    for course in courses:
        joint = course.grades.joint_m
        for place in np.flatnonzero(~course.grades.known):
            notes.append(
                Note(
                    "doubt",
                    f"no ground height from {joint[place]:.1f} m to {joint[place + 1]:.1f} m: grades not checked,"
                    " length counted as level",
                    course.line_id,
                    float(joint[place]),
                )
            )
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


def notes_on_pegs(courses: Sequence[Course], posts: pd.DataFrame, *, pegs: gpd.GeoDataFrame | None) -> list[Note]:
    """Return a note for each peg: held, and which post would stand on it."""
    if pegs is None or pegs.empty:
        return []
    points = np.column_stack([pegs.geometry.x, pegs.geometry.y])
    on_line = [nearest(course.line, points) for course in courses]
    notes = []
    for row, (kind, feature) in enumerate(zip(pegs["kind"], pegs["feature"], strict=True)):
        line = int(np.argmin([abs(offset[row]) for _, offset in on_line]))
        chainage, offset = (float(values[row]) for values in on_line[line])
        line_id = courses[line].line_id
        held = (
            "held"
            if abs(offset) < 0.005
            else f"{abs(offset):.2f} m {'right' if offset > 0 else 'left'} of the planned line"
        )
        on_it = posts[(posts["line_id"] == line_id) & ((posts["chainage_m"] - chainage).abs() < MARK_CLEAR_M)]
        beside = ""
        if kind != "agreed" and len(on_it) and abs(offset) < MARK_CLEAR_M:
            beside = f"; post {on_it['post_id'].iloc[0]} would stand on it: keep the mark, set the post {MARK_CLEAR_M} m clear and note the offset"
        notes.append(
            Note(
                "doubt" if beside else "seen", f"pegs.geojson, {feature}: {kind} peg, {held}{beside}", line_id, chainage
            )
        )
    return notes


def walked_notes(courses: Sequence[Course], *, walk: gpd.GeoDataFrame | None) -> list[Note]:
    """Return what was seen on the walk, each at the chainage it lies nearest to."""
    if walk is None or walk.empty:
        return []
    points = np.column_stack([walk.geometry.x, walk.geometry.y])
    on_line = [nearest(course.line, points) for course in courses]
    notes = []
    for row, (kind, text) in enumerate(zip(walk["kind"], walk["text"], strict=True)):
        line = int(np.argmin([abs(offset[row]) for _, offset in on_line]))
        chainage, offset = (float(values[row]) for values in on_line[line])
        said = f"{kind}: {text}" if isinstance(text, str) and text else str(kind)
        if abs(offset) > FAR_M:
            notes.append(Note("seen", f"{said} ({abs(offset):.0f} m off the line)", courses[line].line_id))
        else:
            side = f" ({abs(offset):.0f} m {'right' if offset > 0 else 'left'})" if abs(offset) >= 1.0 else ""
            notes.append(Note("seen", f"{said}{side}", courses[line].line_id, chainage))
    return notes

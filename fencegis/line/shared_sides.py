"""A side drawn twice is built once: where a later line runs along an earlier one, only the earlier is planned."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.records.site import DrawnLine

    Floats = npt.NDArray[np.float64]

SHORTEST_SHARED = 8.0  # times the touching distance: a joining or a crossing stays near for less


def planned_once(drawn: Sequence[DrawnLine], *, touch_m: float) -> tuple[list[DrawnLine], list[Note]]:
    """Return the lines to be planned and notes; a later line is cut into open ones `B.1`, `B.2`, … on the earlier.

    A side is shared where the later line stays within `touch_m` of the earlier one for more than eight times that.
    """
    kept: list[DrawnLine] = []
    notes: list[Note] = []
    for line in drawn:
        path = drawn_path(line)
        shared = [(other, part) for other in kept for part in _alongside(path, drawn_path(other), touch_m)]
        if not shared:
            kept.append(line)
            continue
        rest = shapely.line_merge(shapely.difference(path, shapely.union_all([part for _, part in shared])))
        pieces = [piece for piece in shapely.get_parts(rest) if piece.length > 2.0 * touch_m]
        metres = path.length - sum(piece.length for piece in pieces)
        with_lines = ", ".join(dict.fromkeys(other.line_id for other, _ in shared))
        notes.append(
            Note(
                "doubt",
                f"{line.line_id}: {metres:.1f} m run along {with_lines} and are planned there, once",
                line.line_id,
            )
        )
        earlier = shapely.multilinestrings([drawn_path(other) for other in kept])
        for number, piece in enumerate(pieces, start=1):
            vertices = _ending_on(shapely.get_coordinates(piece), earlier, touch_m)
            kept.append(replace(line, line_id=f"{line.line_id}.{number}", closed=False, vertices=vertices))
    return kept, notes


def drawn_path(line: DrawnLine) -> shapely.LineString:
    """Return the line as drawn, a loop's first vertex repeated."""
    return shapely.LineString(np.vstack([line.vertices, line.vertices[:1]]) if line.closed else line.vertices)


def _alongside(path: shapely.LineString, other: shapely.LineString, touch_m: float) -> list[shapely.Geometry]:
    if shapely.distance(path, other) > touch_m:
        return []
    # a flat cap: beyond the other line's end nothing is alongside
    near = shapely.intersection(path, shapely.buffer(other, touch_m, cap_style="flat"))
    parts = (
        shapely.get_parts(shapely.line_merge(near)) if near.geom_type.startswith("Multi") else shapely.get_parts(near)
    )
    return [part for part in parts if part.length > SHORTEST_SHARED * touch_m]


def _ending_on(vertices: Floats, earlier: shapely.Geometry, touch_m: float) -> Floats:
    """Put each end that was cut off onto the earlier line; an end that was drawn free stays."""
    vertices = vertices.copy()
    for end in (0, -1):
        point = shapely.points(vertices[end])
        if shapely.distance(point, earlier) <= 1.01 * touch_m:
            vertices[end] = shapely.get_coordinates(shapely.shortest_line(earlier, point))[0]
    return vertices

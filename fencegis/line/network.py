"""All lines of a site together: what is planned once, which ends touch, and the nodes where lines meet."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.line import arc
from fencegis.line.chainage import Line, nearest
from fencegis.line.noise_limit import limit_in_sigmas
from fencegis.line.runs import FittedLine, fitted_line
from fencegis.line.shared_sides import drawn_path, planned_once
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.records.site import DrawnLine
    from fencegis.records.spec import Spec

    Floats = npt.NDArray[np.float64]

PASSES = 3  # moving an end turns the run it ends, which moves what ends on that run: three rounds settle a millimetre
ONE_PLACE_M = 0.005
BEYOND = 1.02  # of what noise allows
EXTENDED = 3.0  # times the touching distance that a run may be drawn on or cut back to meet the line it ends on


@dataclass(frozen=True, eq=False)
class PlannedLine:
    """One line of the plan: its geometry, what it was drawn as, and how well the drawing holds it.

    `corners` (k, 2) and `rise_m` (r,) are those of the fence, which may stand beside the drawn line.
    """

    drawn: DrawnLine
    fit: FittedLine
    corners: Floats
    rise_m: Floats

    @cached_property
    def line(self) -> Line:
        """The line with its chainage."""
        return Line(self.drawn.line_id, self.drawn.closed, self.corners, self.rise_m)


@dataclass(frozen=True)
class Meeting:
    """One line at one node."""

    node_id: str
    line_id: str
    chainage_m: float


@dataclass(frozen=True)
class Network:
    """Lines in file order; `meetings` has a row for each line at each node, the owning line's first."""

    lines: tuple[PlannedLine, ...]
    meetings: tuple[Meeting, ...]
    notes: tuple[Note, ...]


def network(drawn: Sequence[DrawnLine], *, pegs: Floats, spec: Spec) -> Network:
    """Return the planned lines and their nodes. `pegs` is (p, 2); a peg belongs to every line it is near to."""
    touch = spec.boundary.touch_m
    pieces, notes = planned_once(drawn, touch_m=touch)
    survey = spec.boundary.drawn_from == "survey"
    lines = []
    for piece in pieces:
        fit = fitted_line(
            piece.line_id,
            piece.vertices,
            closed=piece.closed,
            sigma_m=piece.sigma_m,
            pegs=_pegs_of(piece, pegs),
            survey=survey,
        )
        lines.append(PlannedLine(piece, fit, *_beside(fit, spec.fence.offset_m)))
    notes += [note for line in lines for note in _beyond_noise(line)]
    joins = _joins(lines, touch)
    for _ in range(PASSES):
        for join in joins:
            lines[join.stem] = _joined(lines, join, touch)
    notes += [_moved_note(lines, join, touch) for join in joins]
    return Network(tuple(lines), tuple(_meetings(lines, joins, touch)), tuple(notes))


def _beyond_noise(line: PlannedLine) -> list[Note]:
    """Return a note where the planned line leaves a drawn vertex further off than noise of the told size puts one."""
    allowed = limit_in_sigmas(len(line.drawn.vertices))
    if line.fit.furthest <= BEYOND * allowed:
        return []
    sigma = line.drawn.sigma_m
    text = (
        f"{line.drawn.line_id}: a drawn vertex lies {line.fit.furthest * sigma:.1f} m off the planned line, and noise"
        f" of {sigma:.2f} m puts one no further than {allowed * sigma:.1f} m off: look at the drawing, or at"
        " position_error_m"
    )
    return [Note("doubt", text, line.drawn.line_id)]


def _pegs_of(piece: DrawnLine, pegs: Floats) -> Floats:
    if not len(pegs):
        return pegs
    away = shapely.distance(shapely.points(pegs), drawn_path(piece))
    return pegs[away <= max(3.0, 3.0 * piece.sigma_m)]


def _beside(fit: FittedLine, offset_m: float) -> tuple[Floats, Floats]:
    """Return the corners and rises of the line `offset_m` to the right, runs staying parallel.

    An arc keeps its centre. A corner goes along the bisector, further out the sharper the turn: where an arc meets its
    neighbour at a corner this is its tangent's bisector, which is right to the second order of the offset.
    """
    if offset_m == 0.0:
        return fit.corners, fit.rise_m
    line = Line(fit.line_id, fit.closed, fit.corners, fit.rise_m)
    begin, end = line.ends
    chord, half = np.arctan2(*(end - begin).T), line.run_turn_rad / 2.0
    at_begin, at_end = (np.column_stack([np.cos(way), -np.sin(way)]) for way in (chord - half, chord + half))
    if fit.closed:
        before, after = np.roll(at_end, 1, axis=0), at_begin
    else:
        before, after = np.vstack([at_begin[:1], at_end]), np.vstack([at_begin, at_end[-1:]])
    out = offset_m * (before + after) / (1.0 + (before * after).sum(axis=1))[:, None]
    corners = fit.corners + out
    rise = fit.rise_m.copy()
    begin, end = Line(fit.line_id, fit.closed, corners).ends
    for run in np.flatnonzero(rise):
        radius = float(arc.radius_m(line.ends[0][run], line.ends[1][run], rise[run])) - offset_m
        rise[run] = arc.rise_of(begin[run], end[run], radius, float(line.run_turn_rad[run]))
    return corners, rise


@dataclass(frozen=True)
class _Join:
    stem: int
    end: int  # 0 or −1
    through: int
    at_end: int | None  # of the through line, when both end here


def _joins(lines: list[PlannedLine], touch: float) -> list[_Join]:
    """Return which drawn ends touch which other line, an end before the side, an earlier line before a later."""
    joins = []
    for stem, line in enumerate(lines):
        if line.drawn.closed:
            continue
        for end in (0, -1):
            point = line.drawn.vertices[end]
            at_ends = [
                _Join(stem, end, other, other_end)
                for other, through in enumerate(lines)
                if other < stem and not through.drawn.closed
                for other_end in (0, -1)
                if np.hypot(*(through.drawn.vertices[other_end] - point)) <= touch
            ]
            at_sides = [
                _Join(stem, end, other, None)
                for other, through in enumerate(lines)
                if other != stem
                and shapely.distance(drawn_path(through.drawn), shapely.points(point)) <= 1.01 * touch
                and not _ends_near(through, point, touch)
            ]
            joins += (at_ends or at_sides)[:1]
    return joins


def _ends_near(line: PlannedLine, point: Floats, touch: float) -> bool:
    return not line.drawn.closed and any(np.hypot(*(line.drawn.vertices[end] - point)) <= touch for end in (0, -1))


def _joined(lines: list[PlannedLine], join: _Join, touch: float) -> PlannedLine:
    """Return the stem with its end on the through line, on that line's corner where one is near."""
    stem, through = lines[join.stem], lines[join.through]
    if join.at_end is not None:
        place = through.corners[join.at_end]
    else:
        place = _met(stem, join.end, through, touch)
        gap = np.hypot(*(through.corners - place).T)
        if gap.min() <= touch:
            place = through.corners[int(gap.argmin())]
    corners = stem.corners.copy()
    corners[join.end] = place
    return replace(stem, corners=corners)


def _met(stem: PlannedLine, end: int, through: PlannedLine, touch: float) -> Floats:
    """Return where the stem's end run, drawn on or cut back, meets the through line; else the nearest place on it."""
    tip, inner = stem.corners[end], stem.corners[1 if end == 0 else -2]
    length = float(np.hypot(*(tip - inner)))
    reach = EXTENDED * touch
    ahead = (tip - inner) / max(length, 1e-9)
    path = shapely.linestrings(through.line.path)
    feeler = shapely.linestrings([tip - ahead * min(reach, length / 2.0), tip + ahead * reach])
    met = shapely.get_coordinates(shapely.intersection(feeler, path))
    if len(met):
        return np.asarray(met[int(np.hypot(*(met - tip).T).argmin())])
    return np.asarray(shapely.get_coordinates(shapely.shortest_line(path, shapely.points(tip)))[0])


def _moved_note(lines: list[PlannedLine], join: _Join, touch: float) -> Note:
    stem, through = lines[join.stem], lines[join.through]
    moved = float(np.hypot(*(stem.corners[join.end] - stem.drawn.vertices[join.end])))
    chainage = 0.0 if join.end == 0 else stem.line.length_m
    where = "the end of" if join.at_end is not None else "line"
    return Note(
        "repair",
        f"end drawn {moved:.2f} m away taken to meet {where} {through.drawn.line_id} (within {touch:.2f} m)",
        stem.drawn.line_id,
        chainage,
    )


def _meetings(lines: list[PlannedLine], joins: list[_Join], touch: float) -> list[Meeting]:
    """Return a row for each line at each node, nodes named in walking order of the line that owns them."""
    places: list[tuple[Floats, set[int]]] = []

    def meet(place: Floats, who: set[int]) -> None:
        for known, members in places:
            if np.hypot(*(known - place)) <= ONE_PLACE_M:
                members.update(who)
                return
        places.append((place, set(who)))

    for join in joins:
        meet(lines[join.stem].corners[join.end], {join.stem, join.through})
    for one, two, place in _crossings(lines):
        if all(np.hypot(*(known - place)) > touch for known, members in places if {one, two} <= members):
            meet(place, {one, two})
    rows = []
    for place, members in places:
        at = [(member, float(nearest(lines[member].line, place[None])[0][0])) for member in sorted(members)]
        rows.append([(lines[member], _seamless(lines[member].line, chainage)) for member, chainage in at])
    order = {line.drawn.line_id: rank for rank, line in enumerate(lines)}
    rows.sort(key=lambda row: (order[row[0][0].drawn.line_id], row[0][1]))
    return [
        Meeting(f"N{number:02d}", line.drawn.line_id, chainage)
        for number, row in enumerate(rows, start=1)
        for line, chainage in row
    ]


def _seamless(line: Line, chainage: float) -> float:
    """Return the chainage, a loop's end being its start."""
    return 0.0 if line.closed and line.length_m - chainage < ONE_PLACE_M else chainage


def _crossings(lines: list[PlannedLine]) -> list[tuple[int, int, Floats]]:
    paths = [shapely.linestrings(line.line.path) for line in lines]
    found = []
    for one in range(len(lines)):
        for two in range(one + 1, len(lines)):
            met = shapely.intersection(paths[one], paths[two])
            found += [(one, two, place) for place in shapely.get_coordinates(shapely.extract_unique_points(met))]
    return found

"""Reference pegs: two for each corner, end, junction and gate post, so that its mark can be put back by two tapes.

They stand off all fence lines by what the machine takes up. Lines produced come first, then square, then half way
between: the first pair that meets at the post at no less than 45° counts, so that two tapes cross well.
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd
import shapely

from fencegis.line.chainage import directions_at, points_at
from fencegis.line.counting import A_MILLIMETRE
from fencegis.records.notes import Note
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy.typing as npt

    from fencegis.line.chainage import Line
    from fencegis.records.spec import Machine

    Floats = npt.NDArray[np.float64]

REASONS = ("end", "junction", "corner", "gate")
BEYOND_REACH_M, USUAL_M = 1.0, 3.0  # past the machine's reach; where that is not given (common practice)
CROSSING_DEG = 45.0  # two tapes that cross at less put a mark back badly (common practice)
TAPE_STEP_M = 0.1  # a round length is remembered
FURTHEST = 2.0  # times the clearance: a peg further off is no use to a tape
A_HAIR_M = 1e-6
NAMED = 12


class Peg(NamedTuple):
    """A place for a reference peg: its bearing from the post in radians, distance, point, and which way that is."""

    bearing_rad: float
    away_m: float
    point: Floats
    way: str


def stand_off_m(machine: Machine | None) -> float:
    """Return how far pegs stand from every fence line: a metre past the machine's reach, 3 m when it is not given."""
    if machine is None or machine.reach_m is None:
        return USUAL_M
    return machine.reach_m + BEYOND_REACH_M


def reference_peg_table(
    strainers: pd.DataFrame,
    posts: pd.DataFrame,
    gates: pd.DataFrame,
    *,
    lines: Sequence[Line],
    machine: Machine | None,
) -> pd.DataFrame:
    """Return the layer `reference_pegs`: up to two for each end, corner, junction and gate post.

    A post that has no room for two that cross well has fewer; `notes_on_reference_pegs` names it.
    """
    off = stand_off_m(machine)
    of_line = {line.line_id: line for line in lines}
    fences = shapely.union_all(np.array([shapely.LineString(line.path) for line in lines], dtype=object))
    shapely.prepare(fences)
    openings = _openings(gates, of_line, off)
    rows = []
    for line_id, at, post_id in _posts_to_hold(strainers, posts):
        line = of_line[line_id]
        pegs = _free(_places(line, at, off), fences, openings, off)
        ahead = directions_at(line, at)[0]
        for number, peg in enumerate(_best_pair(pegs), start=1):
            step = peg.point - points_at(line, at)[0]
            rows.append(
                {
                    "line_id": line_id,
                    "post_id": post_id,
                    "peg": number,
                    "way": peg.way,
                    "along_m": float(step @ ahead),
                    "offset_m": float(step @ (ahead[1], -ahead[0])),
                    "tape_mm": 1000.0 * peg.away_m,
                }
            )
    return checked("reference_pegs", pd.DataFrame(rows)) if rows else empty("reference_pegs")


def _posts_to_hold(strainers: pd.DataFrame, posts: pd.DataFrame) -> list[tuple[str, float, str]]:
    posts = posts[posts["kind"] != "line"]
    names = {
        (line, round(at, 6)): post
        for line, at, post in zip(posts["line_id"], posts["chainage_m"], posts["post_id"], strict=True)
    }
    found = []
    also = strainers["also"].fillna("")
    second = strainers["reason"].eq("corner") & strainers["turn_deg"].isna()  # beside the corner's first post
    for line, at, reason, more, beside in zip(
        strainers["line_id"], strainers["chainage_m"], strainers["reason"], also, second, strict=True
    ):
        if not beside and {reason, *more.split(", ")} & {*REASONS} and (line, round(at, 6)) in names:
            found.append((str(line), float(at), str(names[line, round(at, 6)])))
    return found


def _arms(line: Line, at_m: float) -> list[Floats]:
    """Return unit vectors along the fence away from a post: one at an end, two elsewhere."""
    length = line.length_m
    ahead = directions_at(line, at_m)[0]
    if line.closed:
        return [-directions_at(line, (at_m - 2.0 * A_HAIR_M) % length)[0], ahead]
    arms = []
    if at_m > A_HAIR_M:
        arms.append(-directions_at(line, at_m - 2.0 * A_HAIR_M)[0])
    if at_m < length - A_HAIR_M:
        arms.append(ahead)
    return arms


def _places(line: Line, at_m: float, off_m: float) -> Iterator[Peg]:
    """Yield where a peg might stand, best first: lines produced, square to them, half way between."""
    foot = points_at(line, at_m)[0]
    headings = [float(np.arctan2(*arm)) for arm in _arms(line, at_m)]
    for way, turn_deg in (("line produced", (180.0,)), ("square", (90.0, -90.0)), ("diagonal", (135.0, -135.0))):
        for heading in headings:
            for turn in turn_deg:
                bearing = heading + np.radians(turn)
                apart = min(abs((bearing - other + np.pi) % (2.0 * np.pi) - np.pi) for other in headings)
                if np.sin(min(apart, np.pi / 2.0)) < 1.0 / FURTHEST:
                    continue  # too near that way along the fence
                away = np.ceil(off_m / np.sin(min(apart, np.pi / 2.0)) / TAPE_STEP_M - A_HAIR_M) * TAPE_STEP_M
                yield Peg(bearing, away, foot + away * np.array([np.sin(bearing), np.cos(bearing)]), way)


def _free(places: Iterator[Peg], fences: shapely.Geometry, openings: shapely.Geometry, off_m: float) -> list[Peg]:
    """Return the places that keep off every fence line and every gate's way."""
    pegs = list(places)
    if not pegs:
        return []
    points = shapely.points([peg.point for peg in pegs])
    shut = np.asarray(
        shapely.dwithin(fences, points, off_m - A_MILLIMETRE) | shapely.dwithin(openings, points, A_HAIR_M)
    )
    return [pegs[place] for place in np.flatnonzero(~shut)]


def _openings(gates: pd.DataFrame, lines: dict[str, Line], off_m: float) -> shapely.Geometry:
    """Return the ways through the gates: each opening, as far to either side as any peg may stand."""
    ways = []
    for line_id, begin, end in zip(gates["line_id"], gates["from_m"], gates["to_m"], strict=True):
        opening = shapely.LineString(points_at(lines[line_id], [begin, end]))
        ways.append(opening.buffer(FURTHEST * off_m, cap_style="flat"))
    return shapely.MultiPolygon(ways)


def _best_pair(pegs: list[Peg]) -> tuple[Peg, ...]:
    """Return the first two that cross at the post at 45° or more, in order of preference; else the first, if any."""
    for one, two in combinations(pegs, 2):
        if abs(np.sin(one.bearing_rad - two.bearing_rad)) >= np.sin(np.radians(CROSSING_DEG)) - 1e-9:
            return one, two
    return tuple(pegs[:1])


def notes_on_reference_pegs(
    pegs: pd.DataFrame, strainers: pd.DataFrame, posts: pd.DataFrame, *, machine: Machine | None
) -> list[Note]:
    """Return how to use the pegs, their colour, and each line's posts that have no room for two."""
    asked = _posts_to_hold(strainers, posts)
    if not asked:
        return []
    reach = "the machine's reach and a metre" if machine and machine.reach_m is not None else "common practice"
    notes = [
        Note(
            "default",
            f"reference pegs stand {stand_off_m(machine):.1f} m off every fence line ({reach}), two for each corner,"
            " end, junction and gate post: pull the tapes level and swing them together, and the mark is where they"
            " cross. Never paint them white: white is the common usage of boundary pegs. Ask before one is driven on a"
            " neighbour's land",
        )
    ]
    count = pegs.groupby("post_id").size().to_dict()
    short: dict[str, list[str]] = {}
    for line_id, _, post in asked:
        if count.get(post, 0) < 2:
            short.setdefault(line_id, []).append(post)
    for line_id, names in short.items():
        more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
        text = f"no room for two reference pegs at {', '.join(names[:NAMED])}{more}"
        notes.append(Note("doubt", f"{text}: tie the mark to something that stays", line_id))
    return notes

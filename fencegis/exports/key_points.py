"""The places that a handheld, a rover or a globe viewer is given: which they are and what they are called.

Names survive old handhelds: A-Z and 0-9 only, told apart by their first six characters, and a unit that sorts by name
lists them in walking order. Long words go beside them.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fencegis.exports.page_text import plain
from fencegis.exports.positions import lon_lat_deg
from fencegis.exports.words import each

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    import numpy.typing as npt
    import pandas as pd

    from fencegis.records.plan import Plan

    Floats = npt.NDArray[np.float64]

SAME_PLACE_M = 0.05
LETTERS = {"end": "E", "junction": "J", "corner": "C", "peg": "M", "gate": "G", "crossing": "X", "hazard": "H"}
MOST_SLOPES = 10  # stretches of side slope in a handheld; all of them are in the register
WARNING = {"hazard", "crossing"}  # kinds that are no post to build
STRAINER = "strainer"  # the kind of those that stand in the run
WORDS = {
    "crossing": "strainer on the bank of a crossing",
    "gate": "gate post",
    "grade": "strainer at a change of grade",
    "length": STRAINER,
    "turning": STRAINER,
}


@dataclass(frozen=True)
class Place:
    """One key point. `short` is what it is in a few words, `words` all that is known of it.

    `ground_m` is NaN where the ground is unknown; `lon_deg` and `lat_deg` are WGS 84 as printed.
    """

    name: str
    line_id: str
    chainage_m: float
    kind: str
    short: str
    words: str
    easting_m: float
    northing_m: float
    ground_m: float
    lon_deg: float
    lat_deg: float


@dataclass(frozen=True)
class Track:
    """One line from end to end; `lon_lat` is (n, 2), WGS 84 as printed."""

    name: str
    line_id: str
    words: str
    lon_lat: Floats


@dataclass(frozen=True)
class _Mark:
    line_id: str
    chainage_m: float
    kind: str
    words: str
    easting_m: float
    northing_m: float
    ground_m: float = float("nan")
    short: str = ""


def key_points(plan: Plan) -> list[Place]:
    """Return ends, corners, strainers, gate posts, crossings and the ends of hazards, by line and chainage.

    What stands at one place is one point; a hazard's end is always a point of its own.
    """
    standing = sorted(_standing(plan), key=lambda mark: mark.chainage_m)
    return _named(plan, [*_merged(standing), *_hazard_ends(plan)])


def post_points(plan: Plan) -> list[Place]:
    """Return every post, by line and chainage."""
    posts = plan.posts
    return _named(
        plan,
        [
            _Mark(
                row.line_id, row.chainage_m, "post", f"{row.kind} post {plain(row.post_id)}", *_place(row), row.ground_m
            )
            for row in rows(posts)
        ],
    )


def hazards_first(places: Iterable[Place]) -> list[Place]:
    """Return the places with hazards and crossings before all others, each part in walking order as it was.

    That is the order in a file: a unit that fills up keeps what came first. Names rise in walking order over all of
    them, so that a unit's own list shows a hazard where it is met.
    """
    return sorted(places, key=lambda place: place.kind not in WARNING)


def tracks(plan: Plan) -> list[Track]:
    """Return every line as the corners it runs through."""
    codes = line_codes(lines_of(plan))
    found = []
    for line_id in codes:
        runs = plan.runs[plan.runs["line_id"] == line_id]
        points = shapely.get_coordinates(runs.geometry.to_numpy())
        moved = np.hypot(*np.diff(points, axis=0).T) > 1e-6
        points = points[np.concatenate([[True], moved])]
        length = f"{runs['ground_length_m'].sum():.1f} m along the ground, {runs['length_m'].sum():.1f} m in plan"
        words = f"line {plain(line_id)}, {length}"
        found.append(Track(f"{codes[line_id]}LINE", line_id, words, lon_lat_deg(plan, points)))
    return found


def lines_of(plan: Plan) -> list[str]:
    """Return the planned lines in their order."""
    return [str(line_id) for line_id in plan.runs["line_id"].unique()]


def line_codes(line_ids: Iterable[str]) -> dict[str, str]:
    """Return a short code for each line, all of one width and in the given order.

    Single letters that rise are kept as they are; anything else is counted, 01 first.
    """
    names = list(line_ids)
    if names == sorted(names) and all(re.fullmatch("[A-Z]", name) for name in names):
        return {name: name for name in names}
    width = max(2, len(str(len(names))))
    return {name: f"{number:0{width}d}" for number, name in enumerate(names, start=1)}


def rows(frame: pd.DataFrame) -> Iterator[Any]:
    """Yield the table's rows, cells as attributes: their types are those of `records.tables`, which mypy cannot see."""
    return each(frame)


def _standing(plan: Plan) -> Iterator[_Mark]:
    for row in rows(plan.strainers):
        if row.reason == "corner" and np.isnan(row.turn_deg):
            continue  # a corner's second post, a pace from the first
        also = f" ({plain(row.also)})" if isinstance(row.also, str) and row.also else ""
        words = WORDS.get(row.reason, row.reason) + also
        kind = row.reason if row.reason in LETTERS else STRAINER
        yield _Mark(row.line_id, row.chainage_m, kind, words, *_place(row), row.ground_m)
    for row in rows(plan.corners):
        side = "right" if row.turn_deg > 0 else "left"
        words = f"corner, turn {abs(row.turn_deg):.1f} deg {side}"
        yield _Mark(row.line_id, row.chainage_m, "corner", words, *_place(row))
    for row in rows(plan.gates):
        words = f"gate {plain(row.gate_id)}, {row.opening_m:.2f} m clear between post faces"
        yield from (_Mark(*end, "gate", words, *place) for end, place in _ends(row))


def _merged(marks: list[_Mark]) -> list[_Mark]:
    """One mark a place: the first's kind, the words of all."""
    kept: list[_Mark] = []
    last: dict[str, int] = {}
    for mark in marks:
        at = last.get(mark.line_id)
        if at is None or mark.chainage_m - kept[at].chainage_m > SAME_PLACE_M:
            last[mark.line_id] = len(kept)
            kept.append(mark)
            continue
        before = kept[at]
        words = mark.words if mark.words.startswith(before.words) else f"{before.words}; {mark.words}"
        ground = before.ground_m if np.isfinite(before.ground_m) else mark.ground_m
        place = (before.easting_m, before.northing_m)
        kept[at] = _Mark(before.line_id, before.chainage_m, before.kind, words, *place, ground)
    return kept


def handheld_hazards(plan: Plan) -> pd.DataFrame:
    """Return the flags whose ends are worth a point in the hand.

    Survey marks are points of their own. Of stretches of side slope only the longest: a hilly line has hundreds.
    """
    kinds = plan.hazards["kind"]
    long_m = (plan.hazards["to_m"] - plan.hazards["from_m"])[kinds == "side slope"]
    left_out = long_m.sort_values(kind="stable", ascending=False).index[MOST_SLOPES:]
    return plan.hazards[(kinds != "survey mark") & ~plan.hazards.index.isin(left_out)]


def not_in_hand(plan: Plan) -> str:
    """Return in words which flags a handheld is not given; empty when it has all."""
    left = plan.hazards.drop(handheld_hazards(plan).index)["kind"].value_counts(sort=False)
    said = [f"{count} of {kind}" for kind, count in left.items()]
    return f"flags not in this file but in the register: {', '.join(said)}" if said else ""


def _hazard_ends(plan: Plan) -> Iterator[_Mark]:
    """Where hazards begin and end; not where one goes on past a corner or a loop's seam under the same name."""
    extent = plan.runs.groupby("line_id").agg({"from_m": "min", "to_m": "max"}).to_dict("index")
    hazards, waters = handheld_hazards(plan), _waters(plan)
    ends = [(row, *end) for row in rows(hazards) for end in zip(_ends(row), ("begins", "ends"), strict=True)]
    seen = Counter(_spot(row, place) for row, (_, place), _ in ends)
    for row, ((line_id, chainage_m), place), word in ends:
        if seen[_spot(row, place)] > 1:
            continue
        left_m = min(chainage_m - extent[line_id]["from_m"], extent[line_id]["to_m"] - chainage_m)
        # Where the fence ends nobody looked further: the hazard does not end there.
        water = waters.get((row.line_id, round(row.from_m, 3)), "") if row.kind == "crossing" else ""
        short = f"{plain(row.hazard_id)} {water}{row.kind} {'at line end' if left_m < SAME_PLACE_M else word}"
        words = f"{short}. {plain(row.advice)} {plain(row.basis)}"
        kind = "crossing" if row.kind == "crossing" else "hazard"
        yield _Mark(line_id, chainage_m, kind, words, *place, short=short)


def _waters(plan: Plan) -> dict[tuple[str, float], str]:
    """Return the name of each crossing by its line and where it begins."""
    return {(row.line_id, round(row.from_m, 3)): f"{plain(row.crossing_id)} " for row in rows(plan.crossings)}


def _spot(row: Any, place: tuple[float, float]) -> tuple[str, int, int]:
    return row.hazard_id, round(place[0] * 100.0), round(place[1] * 100.0)


def _place(row: Any) -> tuple[float, float]:
    return row.geometry.x, row.geometry.y


def _ends(row: Any) -> tuple[tuple[tuple[str, float], tuple[float, float]], ...]:
    coordinates = shapely.get_coordinates(row.geometry)
    first, last = tuple(coordinates[0].tolist()), tuple(coordinates[-1].tolist())
    return ((row.line_id, row.from_m), first), ((row.line_id, row.to_m), last)


def _named(plan: Plan, marks: list[_Mark]) -> list[Place]:
    lines = lines_of(plan)
    order = {line_id: rank for rank, line_id in enumerate(lines)}
    marks = sorted(marks, key=lambda mark: (order[mark.line_id], mark.chainage_m))
    if not marks:
        return []
    codes, counts = line_codes(lines), dict.fromkeys(lines, 0)
    most = max(sum(mark.line_id == line for mark in marks) for line in lines)
    width = max(2, len(str(most)))
    places = lon_lat_deg(plan, np.array([(mark.easting_m, mark.northing_m) for mark in marks]))
    ground = _ground_of(plan)
    named = []
    for mark, (lon_deg, lat_deg) in zip(marks, places.tolist(), strict=True):
        counts[mark.line_id] += 1
        number = f"{codes[mark.line_id]}{counts[mark.line_id]:0{width}d}"
        height = mark.ground_m
        if not np.isfinite(height):
            height = ground_at(ground, mark.line_id, mark.chainage_m)
        named.append(
            Place(
                number + LETTERS.get(mark.kind, "P" if mark.kind == "post" else "S"),
                mark.line_id,
                mark.chainage_m,
                mark.kind,
                mark.short or mark.kind,
                mark.words,
                mark.easting_m,
                mark.northing_m,
                height,
                lon_deg,
                lat_deg,
            )
        )
    return named


def _ground_of(plan: Plan) -> dict[str, tuple[Floats, Floats]]:
    return {
        str(line_id): (stations["chainage_m"].to_numpy(), stations["ground_m"].to_numpy())
        for line_id, stations in plan.profile.groupby("line_id", sort=False)
    }


def ground_at(ground: dict[str, tuple[Floats, Floats]], line_id: str, chainage_m: float) -> float:
    """Return the profile's ground at a chainage; NaN where a station beside it has none, or outside the profile."""
    if line_id not in ground:
        return float("nan")
    chainage, height = ground[line_id]
    return float(np.interp(chainage_m, chainage, height, left=np.nan, right=np.nan))

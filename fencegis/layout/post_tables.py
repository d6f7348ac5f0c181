"""The tables `strainers`, `posts`, `bays` and `divide` of all lines; a node's post stands once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.layout.standing import ONE_POST_M
from fencegis.line.chainage import points_at
from fencegis.line.counting import A_MILLIMETRE
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy.typing as npt

    from fencegis.layout.posts import Row
    from fencegis.layout.standing import Fixed
    from fencegis.line.chainage import Line
    from fencegis.line.course import Course

    Floats = npt.NDArray[np.float64]
    Lift = Callable[[Floats, Floats], Floats]
    Bend = Callable[[Floats], Floats]

STRAIGHT_DEG = 1e-6  # headings from coordinates of a hundred kilometres are no better


@dataclass(frozen=True, eq=False)
class LaidOut:
    """One line with its posts and their names: `post_id` (n,) has for a node's post the name it has on its own line."""

    course: Course
    fixed: Fixed
    row: Row
    node_id: tuple[str | None, ...]
    post_id: tuple[str, ...]
    stands_here: npt.NDArray[np.bool_]

    @property
    def paired(self) -> npt.NDArray[np.bool_]:
        """Which posts (n,) are one of two at a corner."""
        return np.asarray((self.row.fixed >= 0) & self.fixed.paired[self.row.fixed])


def named(lines: Sequence[tuple[Course, Fixed, Row]]) -> list[LaidOut]:
    """Return the lines with every post named `line-number`, a node's post once, by the line that owns the node."""
    nodes = [tuple(_node_at(course, chainage) for chainage in row.chainage_m) for course, _, row in lines]
    of_node: dict[str, str] = {}
    laid_out = []
    for (course, fixed, row), node_ids in zip(lines, nodes, strict=True):
        here = np.array([node is None or node in course.owned for node in node_ids], dtype=bool)
        width = max(3, len(str(int(here.sum()))))
        number = np.cumsum(here)
        names = [f"{course.line_id}-{number[place]:0{width}d}" if here[place] else "" for place in range(len(here))]
        of_node |= {node: name for node, name in zip(node_ids, names, strict=True) if node and name}
        laid_out.append(LaidOut(course, fixed, row, node_ids, tuple(names), here))
    return [
        LaidOut(
            one.course,
            one.fixed,
            one.row,
            one.node_id,
            tuple(name or of_node[str(node)] for name, node in zip(one.post_id, one.node_id, strict=True)),
            one.stands_here,
        )
        for one in laid_out
    ]


def strainer_table(lines: Sequence[LaidOut]) -> pd.DataFrame:
    """Return the layer `strainers`: pull and depth are not computed here."""
    rows = []
    for one in lines:
        fixed, grades = one.fixed, one.course.grades
        number = 0
        for place in np.flatnonzero(one.stands_here & (one.row.fixed >= 0)):
            post = int(one.row.fixed[place])
            if not fixed.reasons[post]:
                continue
            number += 1
            joint, chainage = int(fixed.joint[post]), float(fixed.chainage_m[post])
            rows.append(
                {
                    "line_id": one.course.line_id,
                    "chainage_m": chainage,
                    "strainer_id": f"{one.course.line_id}-S{number:02d}",
                    "node_id": one.node_id[place],
                    "reason": fixed.reasons[post][0],
                    "also": ", ".join(fixed.reasons[post][1:]) or None,
                    "turn_deg": _turn_at(one.course, chainage),
                    "change_pct": grades.change_pct[joint] if joint >= 0 else np.nan,
                    "ground_m": float(one.course.ground_at(np.array([chainage]))[0]),
                }
            )
    return checked("strainers", pd.DataFrame(rows)) if rows else empty("strainers")  # an arena in rail has none


def post_table(lines: Sequence[LaidOut], *, lift: Lift, bend: Bend) -> pd.DataFrame:
    """Return the layer `posts`.

    `lift` gives the wires' lift in kN for grades before and after a post, `bend` their sideways pull for turns in
    degrees. What the ground holds of that is not computed here.
    """
    frames = []
    for one in lines:
        course, chainage = one.course, one.row.chainage_m
        uplift, side = np.full((2, len(chainage)), np.nan)
        if course.kind == "wire":
            uplift, side = _uplift(one, lift), _side_pull(one, bend)
        frames.append(
            pd.DataFrame(
                {
                    "line_id": course.line_id,
                    "chainage_m": chainage,
                    "post_id": one.post_id,
                    "node_id": one.node_id,
                    "kind": _kinds(one),
                    "ground_chainage_m": course.grades.along_ground(chainage),
                    "tape_m": _tape(one),
                    "ground_m": course.ground_at(chainage),
                    "uplift_kn": uplift,
                    "side_pull_kn": side,
                }
            )[one.stands_here]
        )
    return checked("posts", pd.concat(frames, ignore_index=True))


def bay_table(lines: Sequence[LaidOut]) -> pd.DataFrame:
    """Return the layer `bays`: from post to post, left out where a gate opens and between two posts of a corner."""
    frames = []
    for one in lines:
        begin, end, names = _ends(one)
        grades = one.course.grades
        rise = grades.fitted_at(end) - grades.fitted_at(begin)
        bend, versine = _on_arcs(one.course.line, begin, end)
        bays = pd.DataFrame(
            {
                "line_id": one.course.line_id,
                "from_m": begin,
                "to_m": end,
                "from_post": one.post_id[: len(begin)],
                "to_post": names,
                "length_m": end - begin,
                "ground_length_m": grades.along_ground(end) - grades.along_ground(begin),
                "grade_pct": 100.0 * rise / (end - begin),
                "bend_deg": bend,
                "versine_mm": versine,
            }
        )[~one.row.opens[: len(begin)]]
        bays.insert(3, "bay_id", [f"{one.course.line_id}-B{number:03d}" for number in range(1, len(bays) + 1)])
        frames.append(bays)
    return checked("bays", pd.concat(frames, ignore_index=True))


def _on_arcs(line: Line, begin: Floats, end: Floats) -> tuple[Floats, Floats]:
    """Return by how much each bay on an arc bends, right positive, and how far its middle stands off its chord, in mm.

    The middle is left of the chord where the line turns right; NaN on straights. Versine: R (1 − cos(bend ÷ 2)).
    """
    run = np.clip(np.searchsorted(line.run_m, (begin + end) / 2.0, side="right") - 1, 0, len(line.run_length_m) - 1)
    turn = np.where(line.rises_m[run] != 0.0, line.run_turn_rad[run] * (end - begin) / line.run_length_m[run], np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        radius = (end - begin) / turn
    return np.degrees(turn), 1000.0 * np.abs(radius) * (1.0 - np.cos(turn / 2.0))


def divide_table(lines: Sequence[LaidOut], runs: pd.DataFrame) -> pd.DataFrame:
    """Return the layer `divide` for rail lines: how many bays a string takes as measured, between post centres.

    One row for one bay fewer than planned, the planned number and one more, of each string of the plan.
    """
    rows = []
    for one in lines:
        if one.course.kind == "wire":
            continue
        on_line = runs[runs["line_id"] == one.course.line_id]
        place_of = {int(fixed): place for place, fixed in enumerate(one.row.fixed) if fixed >= 0}
        for stretch in one.row.stretches:
            if stretch.bays == 0 or stretch.moved:  # moved posts are marked from their table, not by dividing
                continue
            middle = (stretch.from_m + stretch.to_m) / 2.0
            run_id = on_line.loc[(on_line["from_m"] <= middle) & (on_line["to_m"] >= middle), "run_id"].iloc[0]
            posts = [one.post_id[place_of[end]] for end in (stretch.begin, stretch.end)]
            rows += [
                {
                    "run_id": run_id,
                    "from_post": posts[0],
                    "to_post": posts[1],
                    "bays": bays,
                    "from_m": (bays - 1) * stretch.greatest_m,
                    "to_m": bays * stretch.greatest_m,
                }
                for bays in range(max(1, stretch.bays - 1), stretch.bays + 2)
            ]
    return checked("divide", pd.DataFrame(rows)) if rows else empty("divide")


def _node_at(course: Course, chainage: float) -> str | None:
    return next((name for place, name in course.nodes.items() if abs(place - chainage) < ONE_POST_M), None)


def _turn_at(course: Course, chainage: float) -> float:
    near = np.flatnonzero(np.abs(course.corner_m - chainage) < ONE_POST_M)
    return float(course.turn_deg[near[0]]) if len(near) else np.nan


def _kinds(one: LaidOut) -> npt.NDArray[np.object_]:
    """Return each post's kind: in wire whatever ends a strain is a strainer, in rail gate posts are gate posts."""
    kinds = np.full(len(one.row.chainage_m), "line", dtype=object)
    kinds[one.row.key] = "key"
    for place in np.flatnonzero(one.row.fixed >= 0):
        reasons = one.fixed.reasons[int(one.row.fixed[place])]
        if not reasons:
            kinds[place] = "key"
        elif one.course.kind == "wire" or reasons[0] in ("end", "corner", "peg"):
            kinds[place] = "strainer"
        else:
            kinds[place] = "gate" if "gate" in reasons else "junction"
    return kinds


def _ends(one: LaidOut) -> tuple[Floats, Floats, tuple[str, ...]]:
    """Return the chainages where each step from post to post begins and ends, and the post it ends at."""
    chainage = one.row.chainage_m
    if one.course.line.closed:
        return chainage, np.append(chainage[1:], one.course.line.length_m), (*one.post_id[1:], one.post_id[0])
    return chainage[:-1], chainage[1:], one.post_id[1:]


def _uplift(one: LaidOut, lift: Lift) -> Floats:
    """Return the lift at each post from the grades of the chords either side; none at a free end or beside a gate."""
    begin, end, _ = _ends(one)
    grades = one.course.grades
    chord = 100.0 * (grades.fitted_at(end) - grades.fitted_at(begin)) / (end - begin)
    return lift(*_either_side(one, chord))


def _side_pull(one: LaidOut, bend: Bend) -> Floats:
    """Return the sideways pull at each post from the headings of the chords either side; none where one is missing."""
    begin, end, _ = _ends(one)
    east, north = (points_at(one.course.line, end) - points_at(one.course.line, begin)).T
    before, after = _either_side(one, np.degrees(np.arctan2(east, north)))
    turn = (after - before + 180.0) % 360.0 - 180.0
    return bend(np.where(np.abs(turn) < STRAIGHT_DEG, 0.0, turn))


def _either_side(one: LaidOut, chord: Floats) -> tuple[Floats, Floats]:
    """Return what the chords before and after each post have, NaN at an open end and for a gate's opening."""
    chord = np.where(one.row.opens[: len(chord)], np.nan, chord)
    before = np.roll(chord, 1) if one.course.line.closed else np.append(np.nan, chord)
    return before, chord if one.course.line.closed else np.append(chord, np.nan)


def _tape(one: LaidOut) -> Floats:
    """Return the running tape along the ground: afresh from each run's first post, and after each gate.

    The post at which a run ends and none begins (an open end, the first post of a gate) has the whole length. At a
    corner with two posts the run that arrives ends at the first, and the one that leaves begins at the second.
    """
    course, row = one.course, one.row
    along = course.grades.along_ground(row.chainage_m)
    starts = np.zeros(len(along), dtype=bool)
    starts[0] = True
    starts[1:] |= row.opens[:-1]
    bent = np.concatenate([course.corner_m, course.tangent_m])
    starts |= (np.abs(row.chainage_m[:, None] - bent[None, :]) < ONE_POST_M).any(axis=1) & ~row.opens
    begin = np.maximum.accumulate(np.where(starts, np.arange(len(along)), 0))
    return np.asarray(along - along[begin])


def shortest_saving(lines: Sequence[LaidOut], *, less_than_m: float) -> list[tuple[Course, float, float]]:
    """Return (line, chainage of the stretch's start, metres) where a little less length would save a post."""
    found = []
    for one in lines:
        for stretch in one.row.stretches:
            if stretch.bays > 1 and not stretch.moved:
                over = stretch.ground_length_m - (stretch.bays - 1) * stretch.greatest_m
                if A_MILLIMETRE < over < less_than_m:
                    found.append((one.course, stretch.from_m, over))
    return found


def breaks_taken(breaks: pd.DataFrame, lines: Sequence[LaidOut], strainers: pd.DataFrame) -> pd.DataFrame:
    """Return the layer `breaks` with the strainer that takes each, where one does."""
    by_place = {
        (line_id, chainage): name
        for line_id, chainage, name in zip(
            strainers["line_id"], strainers["chainage_m"], strainers["strainer_id"], strict=True
        )
    }
    taken = {
        (one.course.line_id, float(one.course.grades.joint_m[joint])): by_place[one.course.line_id, float(chainage)]
        for one in lines
        for chainage, joint in zip(one.fixed.chainage_m, one.fixed.joint, strict=True)
        if joint >= 0 and (one.course.line_id, float(chainage)) in by_place
    }
    places = zip(breaks["line_id"], breaks["chainage_m"], strict=True)
    return checked(
        "breaks",
        breaks.assign(strainer_id=pd.Series([taken.get((line, float(place))) for line, place in places], dtype="str")),
    )

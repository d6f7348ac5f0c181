"""What hazard steps found, for the map: crossings, trees, ground to clear, air under limbs, ways, and not checked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fencegis.catalogue import rows as catalogue_rows
from fencegis.exports.answers import SHORTEST_M, lines_of_plan, title_of, unlooked
from fencegis.exports.courses import Courses
from fencegis.exports.page_text import plain
from fencegis.exports.post_places import PostPlaces
from fencegis.exports.words import beside, each, metres, number, present
from fencegis.hazards.given import label

if TYPE_CHECKING:
    from fencegis.exports.map.layers import Wgs84
    from fencegis.records.plan import Plan

    Rows = list[dict[str, Any]]

TREES = {"to go": "go", "to limb": "limb", "to keep": "keep", "to look at": "look"}
LENGTHS = {"Height": "height_m", "Lowest limb": "limb_m", "To limb up to": "limb_to_m", "Across": "spread_m"}
TREE_LEAD = "A proposal from the data: somebody competent looks at it, and its owner agrees, before it is touched."
AIR_LEAD = "Of limbs only: look up before every post. It says nothing of wires."
CLEARING_LEAD = "Ground under leaves, as the data has it; scrub may be in no layer."
UNCHECKED_LEAD = "Nobody and nothing has looked here for what is listed below."


def found_data(plan: Plan, where: Wgs84) -> dict[str, Any]:
    """Return what the page draws of each of these layers, ready to be written as JSON."""
    courses, posts = Courses(plan), PostPlaces(plan)
    return {
        "crossings": crossing_rows(plan, where, courses, posts),
        "trees": tree_rows(plan, where, courses, posts),
        "clearing": clearing_rows(plan, where),
        "headroom": headroom_rows(plan, where, posts),
        "access": access_rows(plan, where, posts),
        "unchecked": unchecked_rows(plan, where, courses),
    }


def crossing_rows(plan: Plan, where: Wgs84, courses: Courses, posts: PostPlaces) -> Rows:
    """Return each crossing from bank to bank, with its bed where the ground shows one."""
    words = {row["treatment"]: row["words"] for row in catalogue_rows("crossings")}
    numbers = (
        ("Span, bank to bank", "span_m", metres),
        ("Drop of the bed below the line", "drop_m", metres),
        ("Angle to the flow", "angle_deg", lambda angle: f"{round(angle)}°"),
        ("Ground at the first bank", "from_bank_m", metres),
        ("Ground at the second bank", "to_bank_m", metres),
        ("Bed", "bed_m", metres),
        ("Flood level over the bed", "flood_m", metres),
    )
    rows: Rows = []
    for one, at in zip(each(plan.crossings), where.of_shapes(plan.crossings.geometry), strict=True):
        facts = [("Fenced by", plain(words.get(one.treatment, one.treatment)))]
        for name, of, say in numbers:
            if present(getattr(one, of)):
                facts.append((name, say(getattr(one, of))))
            elif of != "flood_m":  # nobody has to give one
                facts.append((name, "not known"))
        facts.append(("Fence ends on its banks", "on assemblies of its own" if one.own_ends else "no: it goes on"))
        facts.append(("Rests on", one.basis))
        lead = f"{_capital(one.feature)}, line {one.line_id}, {posts.words(one.line_id, one.from_m, one.to_m)}."
        row = {"id": plain(one.crossing_id), "at": at, "say": _say(f"{one.crossing_id} · {one.kind}", lead, facts)}
        if present(one.bed_at_m):
            row["bed"] = where.of_points(courses.points(one.line_id, [one.bed_at_m])).tolist()[0]
        rows.append(row)
    return rows


def tree_rows(plan: Plan, where: Wgs84, courses: Courses, posts: PostPlaces) -> Rows:
    """Return each tree at its true place: as the data has it, else as far off the line as the plan says."""
    if not len(plan.trees):
        return []
    rows: Rows = []
    for one, at in zip(each(plan.trees), where.of_points(_tree_places(plan, courses)).tolist(), strict=True):
        post = posts.near(one.line_id, one.chainage_m)
        near = f"by post {post}, " if post else ""
        where_it_is = f"line {one.line_id}, {near}{metres(one.chainage_m)}, {beside(one.offset_m)} of it"
        lead = f"{_capital(one.feature)}, {where_it_is}."
        facts = [("Why", one.why)]
        facts += [(name, metres(getattr(one, of))) for name, of in LENGTHS.items() if present(getattr(one, of))]
        if one.dead:
            facts.append(("State", "dead"))
        say = _say(f"Tree {one.tree_id}: {one.what}", lead, facts) | {"advice": TREE_LEAD}
        rows.append({"id": plain(one.tree_id), "what": TREES.get(one.what, "look"), "at": at, "say": say})
    return rows


def _tree_places(plan: Plan, courses: Courses) -> np.ndarray:
    """Return eastings and northings (n, 2) of the stems; of a stand its edge nearest to the line."""
    trees = plan.trees
    places = np.full((len(trees), 2), np.nan)
    for line_id in trees["line_id"].unique():
        here = np.flatnonzero(trees["line_id"].to_numpy() == line_id)
        own = trees.iloc[here]
        places[here] = courses.beside(str(line_id), own["chainage_m"].to_numpy(), own["offset_m"].to_numpy())
    # beyond a corner the station alone does not tell which way the stem is
    given, names = _given_trees(plan), trees["feature"].value_counts()
    for place, (name, station) in enumerate(zip(trees["feature"], trees.geometry, strict=True)):
        if name in given and names[name] == 1:
            places[place] = shapely.get_coordinates(shapely.shortest_line(given[name], station))[0]
    return places


def _given_trees(plan: Plan) -> dict[str, shapely.Geometry]:
    """Return the shapes of the trees that the site's files give, by what they are called; none of a name used twice."""
    layer = plan.site.trees
    if layer is None:
        return {}
    names = [label(row) for row in layer.drop(columns="geometry").to_dict("records")]
    return {name: shape for name, shape in zip(names, layer.geometry, strict=True) if names.count(name) == 1}


def clearing_rows(plan: Plan, where: Wgs84) -> Rows:
    """Return the strips of ground to clear, as outlines beside the line."""
    strips = plan.clearing
    if not len(strips):
        return []
    left_m = strips["width_m"].to_numpy(dtype=float) * np.where(strips["side"] == "right", -1.0, 1.0)
    shapes = shapely.buffer(strips.geometry.to_numpy(), left_m, single_sided=True, join_style="mitre")
    rows: Rows = []
    for one, shape in zip(each(strips), shapes, strict=True):
        stretch = f"line {one.line_id}, {metres(one.from_m)} to {metres(one.to_m)}"
        facts = [("Density", one.density), ("Wide", metres(one.width_m)), ("Covered", f"{number(one.area_m2, 0)} m²")]
        facts.append(("Rests on", one.basis))
        say = _say(f"Clearing, {one.side} of the line", f"{stretch}. {CLEARING_LEAD}", facts)
        outlines = [part.exterior for part in shapely.get_parts(shape) if isinstance(part, shapely.Polygon)]
        rows += [{"at": at, "density": plain(one.density), "say": say} for at in where.of_shapes(outlines)]
    return rows


def headroom_rows(plan: Plan, where: Wgs84, posts: PostPlaces) -> Rows:
    """Return the stretches under limbs with the least air that is told."""
    rows: Rows = []
    for one, at in zip(each(plan.headroom), where.of_shapes(plan.headroom.geometry), strict=True):
        least = metres(one.least_m) if present(one.least_m) else "not known"
        facts = [("Least air under limbs", least)]
        if present(one.least_at_m):
            facts.append(("At", metres(one.least_at_m)))
        machines = one.machines if present(one.machines) else "none told"
        facts += [("By these heights under it", machines), ("Rests on", one.basis)]
        lead = f"Line {one.line_id}, {posts.words(one.line_id, one.from_m, one.to_m)}. {AIR_LEAD}"
        rows.append(
            {"id": least if present(one.least_m) else "?", "at": at, "say": _say("Air under limbs", lead, facts)}
        )
    return rows


def access_rows(plan: Plan, where: Wgs84, posts: PostPlaces) -> Rows:
    """Return where the machine finds no way."""
    rows: Rows = []
    for one, at in zip(each(plan.access), where.of_shapes(plan.access.geometry), strict=True):
        facts = [("Room left", metres(one.free_m) if present(one.free_m) else "not known")]
        facts.append(("Room needed", metres(one.needed_m) if present(one.needed_m) else "not known"))
        if present(one.side):
            facts.append(("Side of the line", one.side))
        facts.append(("Rests on", one.basis))
        lead = f"Line {one.line_id}, {posts.words(one.line_id, one.from_m, one.to_m)}."
        rows.append({"id": plain(one.kind), "at": at, "say": _say(f"Way for the machine: {one.kind}", lead, facts)})
    return rows


def unchecked_rows(plan: Plan, where: Wgs84, courses: Courses) -> dict[str, Any]:
    """Return the stretches on which something was not checked; each names its `answers` by their places in the list."""
    told: dict[tuple[str, str], int] = {}
    stretches: dict[str, list[tuple[float, float, int]]] = {}
    for kind, basis, (line_id, begin, end) in unlooked(plan):
        place = told.setdefault((title_of(kind), plain(basis)), len(told))
        stretches.setdefault(line_id, []).append((begin, end, place))
    rows: Rows = []
    shapes: list[shapely.Geometry] = []
    for line_id in lines_of_plan(plan):
        for begin, end, has in _pieces(stretches.get(line_id, [])):
            shapes.append(courses.piece(line_id, begin, end))
            rows.append({"has": has, "where": plain(f"Line {line_id}, {metres(begin)} to {metres(end)}.")})
    places = where.of_shapes(shapes)
    return {
        "lead": UNCHECKED_LEAD,
        "answers": [list(answer) for answer in told],
        "rows": [row | {"at": at} for row, at in zip(rows, places, strict=True)],
    }


def _pieces(stretches: list[tuple[float, float, int]]) -> list[tuple[float, float, list[int]]]:
    """Return a line's stretches cut where any begins or ends, each piece with all that holds there."""
    edges = np.unique([edge for begin, end, _ in stretches for edge in (begin, end)])
    edges = edges[np.concatenate([[True], np.diff(edges) > SHORTEST_M])] if len(edges) else edges
    pieces: list[tuple[float, float, list[int]]] = []
    for begin, end in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        middle = (begin + end) / 2.0
        has = sorted({place for start, stop, place in stretches if start <= middle <= stop})
        if has and pieces and pieces[-1][2] == has and pieces[-1][1] == begin:
            pieces[-1] = (pieces[-1][0], end, has)
        elif has:
            pieces.append((begin, end, has))
    return pieces


def _say(title: str, lead: str, facts: list[tuple[str, str]]) -> dict[str, Any]:
    return {"title": plain(title), "lead": plain(lead), "facts": [[name, plain(str(text))] for name, text in facts]}


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]

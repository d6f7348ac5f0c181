"""A plan as the map's own data: small tables of places in WGS 84 and of what a popup says about each.

A place is [latitude, longitude] to seven decimals. What is said is text only: the page sets it as text, never as
markup.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pyproj
import shapely

from fencegis.exports.map.found import found_data
from fencegis.exports.map.given import given_data
from fencegis.exports.map.grid import official_fit
from fencegis.exports.map.section import section_lines
from fencegis.exports.page_text import plain
from fencegis.exports.positions import WGS84, doubt_m
from fencegis.exports.words import (
    RUN_LABELS,
    Places,
    degrees,
    each,
    holder,
    metres,
    number,
    present,
    runs_of,
    turn,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fencegis.records.plan import Plan

    Rows = list[dict[str, Any]]

DIGITS = 7
OWNER_SETS = "to be set by the line's owner"
POST_MARKS = {"strainer": "s", "gate": "g", "junction": "j", "brace": "b", "key": "k", "line": "l"}


class Wgs84:
    """Turns shapes of the working grid into places on the map, with one operation of PROJ for all of them."""

    def __init__(self, grid_wkt: str, middle_lon_deg: float) -> None:
        """Ask PROJ for the way from the working grid to WGS 84 once."""
        self._to = pyproj.Transformer.from_crs(grid_wkt, WGS84, always_xy=True)
        self._middle = middle_lon_deg

    def of_points(self, points: np.ndarray) -> np.ndarray:
        """Return (n, 2) latitudes and longitudes of (n, 2) eastings and northings.

        Longitudes are those next to the middle's, so that a site on the 180th meridian stays in one piece.
        """
        return np.round(self.exact(points), DIGITS)

    def exact(self, points: np.ndarray) -> np.ndarray:
        """Return the same with every digit that PROJ gives."""
        longitude, latitude = self._to.transform(points[:, 0], points[:, 1])
        longitude = (longitude - self._middle + 180.0) % 360.0 - 180.0 + self._middle
        return np.column_stack([latitude, longitude])

    def of_shapes(self, shapes: Iterable[shapely.Geometry]) -> list[list[list[float]]]:
        """Return for each shape its places in order; only an outline of a polygon."""
        coordinates, row = shapely.get_coordinates(shapes := list(shapes), return_index=True)
        places = self.of_points(coordinates[:, :2])
        return [places[row == each].tolist() for each in range(len(shapes))]


def map_data(plan: Plan) -> dict[str, Any]:
    """Return what the page draws, ready to be written as JSON: no NaN, every text on one line."""
    where, places = Wgs84(plan.crs, plan.site.grid.centre_lon_deg), Places(plan)
    return {
        "runs": run_rows(plan, where, places),
        "gates": gate_rows(plan, where, places),
        "hazards": hazard_rows(plan, where, places),
        "corners": corner_rows(plan, where),
        "strainers": strainer_rows(plan, where, places),
        "nodes": node_rows(plan, where, places),
        "posts": post_columns(plan, where),
        "given": given_data(plan, where),
        "lines": section_lines(plan, where),
        "grid": official_fit(plan, where),
        "holder": holder(plan).capitalize(),
        "doubt_m": round(doubt_m(plan.site), 2),
        **found_data(plan, where),
    }


def run_rows(plan: Plan, where: Wgs84, places: Places) -> Rows:
    """Return each run: its course, the label along it, and what it says."""
    rows: Rows = []
    for run, at in zip(each(plan.runs), where.of_shapes(plan.runs.geometry), strict=True):
        ends = f"From {places.at(run.line_id, run.from_m)} to {places.at(run.line_id, run.to_m)}."
        facts = [
            ("Horizontal", metres(run.length_m)),
            ("Along the ground", metres(run.ground_length_m)),
            ("Bearing, true", degrees(run.bearing_true_deg) if present(run.bearing_true_deg) else "not known"),
        ]
        if present(run.bearing_magnetic_deg):
            facts.append(("Bearing, magnetic", degrees(run.bearing_magnetic_deg)))
        if run.kind == "arc" and present(run.radius_m):
            side = "right" if run.radius_m > 0 else "left"
            facts.append(("Arc", f"radius {metres(abs(run.radius_m))}, bending {side}"))
        facts.append(("It is", RUN_LABELS.get(run.label, "nobody has said: ask")))
        rows.append(
            {
                "id": plain(run.run_id),
                "at": at,
                "metres": metres(run.length_m),
                "label": run.label if run.label in RUN_LABELS else "unsaid",
                "say": _say(f"Run {run.run_id}", f"{_sentence(places.line(run.line_id))}. {ends}", facts),
            }
        )
    return rows


def gate_rows(plan: Plan, where: Wgs84, places: Places) -> Rows:
    """Return each gate from post centre to post centre."""
    rows: Rows = []
    for gate, at in zip(each(plan.gates), where.of_shapes(plan.gates.geometry), strict=True):
        facts = [
            ("Clear opening", f"{metres(gate.opening_m, 2)} between post faces"),
            ("Post centres", f"{metres(gate.to_m - gate.from_m, 2)} apart"),
            ("On", f"{places.line(gate.line_id)}, {metres(gate.from_m)} to {metres(gate.to_m)}"),
        ]
        if present(gate.leaf_m):
            leaves = f"{int(gate.leaves)} × " if present(gate.leaves) else ""
            facts.append(("Leaf", f"{leaves}{metres(gate.leaf_m, 2)}"))
        if present(gate.hinge):
            facts.append(("Hung on", "the first post" if gate.hinge == "from" else "the second post"))
        if present(gate.swing_side):
            facts.append(("Swings to", f"the {plain(gate.swing_side)}, walking with the chainage"))
        if present(gate.setback_m) and gate.setback_m > 0:
            facts.append(("Set back", metres(gate.setback_m)))
        rows.append(
            {
                "id": plain(gate.gate_id),
                "name": plain(gate.name) if present(gate.name) else "",
                "at": at,
                "say": _say(f"Gate {gate.gate_id}", plain(gate.name) if present(gate.name) else "", facts),
            }
        )
    return rows


def hazard_rows(plan: Plan, where: Wgs84, places: Places) -> Rows:
    """Return each hazard's stretch of the line, what is asked for, and what to do."""
    rows: Rows = []
    for hazard, at in zip(each(plan.hazards), where.of_shapes(plan.hazards.geometry), strict=True):
        stretch = f"{metres(hazard.from_m)} to {metres(hazard.to_m)}"
        rows.append(
            {
                "id": plain(hazard.hazard_id),
                "kind": plain(hazard.kind),
                "at": at,
                "say": _say(
                    f"{hazard.hazard_id} · {_sentence(hazard.kind)}",
                    f"{_sentence(places.line(hazard.line_id))}, {stretch}.",
                    hazard_facts(hazard),
                    advice=hazard.advice,
                ),
            }
        )
    return rows


def hazard_facts(hazard: Any) -> list[tuple[str, str]]:
    """Return the least distance as given and after allowances, the distance asked for, the rule, and the basis."""
    facts = []
    measured = hazard.kind in {"overhead power", "overhead phone", "tree limb"}
    if present(hazard.clearance_m):
        facts.append(("Least distance, after allowances", metres(hazard.clearance_m)))
        if present(hazard.clearance_given_m):
            facts.append(("The same, as the data has it", metres(hazard.clearance_given_m)))
    elif measured:
        facts.append(("Least distance", "not known"))
    if present(hazard.required_m):
        facts.append(("Distance asked for", metres(hazard.required_m)))
    elif hazard.kind == "overhead power":
        facts.append(("Distance asked for", OWNER_SETS))
    if present(hazard.rule):
        facts.append(("Rule", hazard.rule))
    return [*facts, ("Rests on", hazard.basis)]


def corner_rows(plan: Plan, where: Wgs84) -> Rows:
    """Return each corner."""
    rows: Rows = []
    for corner, at in zip(each(plan.corners), where.of_shapes(plan.corners.geometry), strict=True):
        facts = [
            ("Turn", turn(corner.turn_deg)),
            ("Inside angle", f"{round(corner.interior_deg)}°"),
            ("At", f"{metres(corner.chainage_m)} of line {corner.line_id}"),
            ("Set by", "a peg that is held" if corner.held else "the drawing"),
        ]
        if present(corner.sigma_m) and not corner.held:
            facts.append(("Drawn to about", f"± {metres(corner.sigma_m)}, and the shift of the imagery besides"))
        rows.append({"id": plain(corner.corner_id), "at": at[0], "say": _say(f"Corner {corner.corner_id}", "", facts)})
    return rows


def strainer_rows(plan: Plan, where: Wgs84, places: Places) -> Rows:
    """Return each strainer with the reason it stands there."""
    rows: Rows = []
    for strainer, at in zip(each(plan.strainers), where.of_shapes(plan.strainers.geometry), strict=True):
        also = f"; also {plain(strainer.also)}" if present(strainer.also) else ""
        facts = [
            ("Why here", f"{plain(strainer.reason)}{also}"),
            ("At", f"{metres(strainer.chainage_m)} of {places.line(strainer.line_id)}"),
        ]
        if present(strainer.turn_deg) and round(strainer.turn_deg):
            facts.append(("Turn", turn(strainer.turn_deg)))
        if present(strainer.change_pct):
            facts.append(("Change of grade", f"{number(strainer.change_pct)} %"))
        if present(strainer.pull_kn):
            facts.append(("Pull of the wires", f"{number(strainer.pull_kn)} kN; not an engineer's certificate"))
        if present(strainer.embed_m):
            facts.append(("In the ground", metres(strainer.embed_m, 2)))
        say = _say(f"{holder(plan, strainer.line_id).capitalize()} {strainer.strainer_id}", "", facts)
        rows.append({"id": plain(strainer.strainer_id), "at": at[0], "say": say})
    return rows


def node_rows(plan: Plan, where: Wgs84, places: Places) -> Rows:
    """Return each place where lines meet, once."""
    rows: dict[str, dict[str, Any]] = {}
    for node, at in zip(each(plan.nodes), where.of_shapes(plan.nodes.geometry), strict=True):
        row = rows.setdefault(node.node_id, {"id": plain(node.node_id), "at": at[0], "lines": []})
        row["lines"].append((_sentence(places.line(node.line_id)), f"at {metres(node.chainage_m)}"))
    return [
        {"id": row["id"], "at": row["at"], "say": _say(f"Junction {row['id']}", "One post for all.", row["lines"])}
        for row in rows.values()
    ]


def post_columns(plan: Plan, where: Wgs84) -> dict[str, Any]:
    """Return the posts as columns: places as steps of 1e-7 degree from post to post, tape in centimetres.

    `grade` is tenths of a percent to the next post, null where it is not known or no bay begins; `deep` is centimetres
    in the ground, `soil` a place in `soils`.
    """
    posts = plan.posts
    places = where.of_points(shapely.get_coordinates(posts.geometry.to_numpy())[:, :2].reshape(-1, 2))
    steps = np.diff(np.round(places * 10**DIGITS).astype(np.int64), axis=0, prepend=np.zeros((1, 2), dtype=np.int64))
    grades = plan.bays.drop_duplicates("from_post").set_index("from_post")["grade_pct"]
    grade = posts["post_id"].map(grades).to_numpy(dtype=float)
    soils = [name for name in dict.fromkeys(posts["soil"]) if present(name)]
    return {
        "id": [plain(name) for name in posts["post_id"]],
        "kind": "".join(POST_MARKS.get(kind, "l") for kind in posts["kind"]),
        "lat": steps[:, 0].tolist(),
        "lon": steps[:, 1].tolist(),
        "run": runs_of(plan, posts).tolist(),
        "tape": np.round(posts["tape_m"].to_numpy(dtype=float) * 100).astype(np.int64).tolist(),
        "grade": [round(tenth) if np.isfinite(tenth) else None for tenth in grade * 10],
        "deep": [round(cm) if np.isfinite(cm) else None for cm in posts["embed_m"].to_numpy(dtype=float) * 100],
        "soil": [soils.index(name) if present(name) else None for name in posts["soil"]],
        "soils": [plain(name) for name in soils],
        "bay_m": round(float(plan.bays["length_m"].median()), 2) if len(plan.bays) else 0.0,
    }


def _say(title: str, lead: str, facts: Sequence[tuple[str, str]], *, advice: str = "") -> dict[str, Any]:
    said = {"title": plain(title), "lead": lead, "facts": [[name, plain(text)] for name, text in facts]}
    return said | {"advice": plain(advice)} if advice else said


def _sentence(text: str) -> str:
    return plain(text[:1].upper() + text[1:])

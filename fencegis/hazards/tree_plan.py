"""Which trees near the line have to go, which to be limbed, which stay, and trunks that stand in the line's way.

A proposal from the layer, for somebody competent to look at: nothing here says that a tree is sound, or that anybody
may touch it. In order, the first that holds: the trunk stands on the line; dead and over the work, or tall enough to
reach it; limbs over the machine; inside what is cleared; roots under the line; else it stays. A tree that its owner
wants kept and that cannot stay is to be looked at: then the line or the way of working has to change.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely

from fencegis.hazards import checks
from fencegis.hazards.approach import allowance
from fencegis.hazards.checks import Part
from fencegis.hazards.envelope import envelope_of
from fencegis.hazards.found import Answer, Ban, Found, checks_table, flagged_rows, flat, hazards_table
from fencegis.hazards.measure import Flag
from fencegis.hazards.near import Legs, least_apart
from fencegis.hazards.needs import needs_of
from fencegis.hazards.trees import Tree, tree_number, trees
from fencegis.line.chainage import nearest_line
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.hazards.found import Scene

KIND = "tree trunk"
FILE = "trees.geojson"
ADVICE = (
    "A trunk and a post cannot share a place, and roots break and are broken. Shift the line, or have the tree dealt"
    " with by a competent person with its owner's leave; protected trees need more leave than that."
)
WHATS = ("to go", "to limb", "to look at", "to keep")


@dataclass(frozen=True)
class _Work:
    """What the work asks of trees, in metres."""

    height_m: float  # of the machine at work, with the margin to limbs
    reach_m: float  # from the line outwards, with the margin and what the drawing may be off
    half_post_m: float
    off_m: float  # two standard errors of the drawing
    limb_off_m: float  # two standard errors of a limb's height
    cleared_m: dict[int, float]  # by side, −1 left, 1 right


def tree_plan(scene: Scene) -> Found:
    """Return what becomes of each tree near the line, and where trunks stand in its way."""
    layer = scene.site.trees
    if layer is None:
        absent = [(line, KIND, [checks.absent(line, file=FILE)]) for line in scene.lines]
        return Found(hazards_table([]), checks_table(absent), ())
    work, drawn = _work(scene), trees(layer, ground=scene.ground or flat)
    rows, tiles, bans = [], [], []
    for line in scene.lines:
        legs, parts = Legs(line), list[Part]()
        clear_m = tree_number("beside stem") + work.half_post_m
        within_m = np.full(len(drawn), clear_m + work.off_m)
        for tree in (drawn[place] for place in legs.passing([tree.stem for tree in drawn], within_m=within_m)):
            flags = _in_the_way(legs, tree, clear_m, work)
            basis = [f"{FILE}, {tree.label}: trunk on the line or beside it; {tree.about}"] * len(flags)
            answer = Answer(KIND, work.off_m / 2.0, tree_number("beside stem"), "room beside a stem", ADVICE)
            rows.append(flagged_rows(line, flags, answer=answer, basis=basis))
            parts += [Part(flag.stretch, "flagged", f"flagged: {tree.label}, trunk in the way") for flag in flags]
            if tree.keep:
                clear = legs.within(tree.stem, distance_m=clear_m)
                bans += [Ban(line.line_id, stretch, KIND, "posts") for stretch in clear]
        rest = checks.rest_as_walked(line, features=len(layer), file=FILE, walked=scene.spec.walked.trees)
        tiles.append((line, KIND, checks.tiled(rest, parts)))
    table = _table(drawn, scene, work)
    return Found(hazards_table(rows), checks_table(tiles), (), layers={"trees": table}, bans=tuple(bans))


def _in_the_way(legs: Legs, tree: Tree, clear_m: float, work: _Work) -> list[Flag]:
    """Return the stretches on which a trunk leaves too little room for a post, with the least room."""
    flags = []
    for stretch in legs.within(tree.stem, distance_m=clear_m + work.off_m):
        away_m, at_m = least_apart(legs.line, stretch, tree.stem)
        given_m = max(0.0, away_m - work.half_post_m)
        flags.append(Flag(stretch, max(0.0, given_m - work.off_m), given_m, at_m))
    return flags


def _work(scene: Scene) -> _Work:
    spec = scene.spec
    envelope, needs = envelope_of(spec), needs_of(spec)
    sigmas = allowance("allowance_sigmas")
    off_m = sigmas * math.hypot(spec.boundary.vertex_sigma_m, spec.boundary.shift_sigma_m)
    given = {-1: spec.clearing.left_m, 1: spec.clearing.right_m}
    own = {side: needs.room_m if side in needs.sides else 0.0 for side in (-1, 1)}
    return _Work(
        height_m=envelope.height_m + allowance("limb_m"),
        reach_m=envelope.reach_m + allowance("limb_m") + off_m,
        half_post_m=spec.fence.post_mm / 2000.0,
        off_m=off_m,
        limb_off_m=sigmas * allowance("limb_error_m"),
        cleared_m={side: own[side] if width is None else width for side, width in given.items()},
    )


def _table(drawn: Sequence[Tree], scene: Scene, work: _Work) -> pd.DataFrame:
    """Return the layer `trees`: those near enough to the line to matter, numbered along it."""
    rows: list[dict[str, Any]] = []
    for tree in drawn:
        line, chainage_m, offset_m = _place(tree, scene)
        what, why = decided(tree, offset_m=offset_m, work=work)
        if what == "to keep" and abs(offset_m) > _matters_m(tree, work):
            continue
        limbs = tree.may_be
        rows.append(
            {
                "line_id": scene.courses[line].line_id,
                "chainage_m": chainage_m,
                "feature": tree.label,
                "what": what,
                "why": why,
                "offset_m": offset_m,
                "height_m": limbs.top_m if math.isfinite(limbs.top_m) else np.nan,
                "limb_m": tree.limb_m,
                "spread_m": 2.0 * limbs.radius_m if limbs.radius_m and tree.spread_known else np.nan,
                "limb_to_m": work.height_m if what == "to limb" else np.nan,
                "dead": tree.dead,
            }
        )
    if not rows:
        return empty("trees")
    order = [course.line_id for course in scene.courses]
    rows.sort(key=lambda row: (order.index(row["line_id"]), row["chainage_m"]))
    return checked("trees", pd.DataFrame(rows).assign(tree_id=[f"T{number:02d}" for number in range(1, len(rows) + 1)]))


def _matters_m(tree: Tree, work: _Work) -> float:
    """Return how far from the line a tree that stays is still listed: its crown over the work, or its roots."""
    roots = 0.0 if math.isnan(tree.roots_m) else tree.roots_m
    return max(work.reach_m + tree.may_be.radius_m, roots, *work.cleared_m.values())


def _place(tree: Tree, scene: Scene) -> tuple[int, float, float]:
    """Return the nearest line, the chainage there, and the offset of the stem or a stand's nearest edge."""
    paths = [shapely.LineString(line.path) for line in scene.lines]
    nearest = int(np.argmin([path.distance(tree.may_be.cover) for path in paths]))
    edge = shapely.get_coordinates(shapely.shortest_line(tree.may_be.cover, paths[nearest]))[:1]
    _, chainage, offset = nearest_line([scene.lines[nearest]], edge)
    return nearest, float(chainage[0]), float(offset[0])


def decided(tree: Tree, *, offset_m: float, work: _Work) -> tuple[str, str]:
    """Return what becomes of a tree, one of `WHATS`, and why; `offset_m` is of its stem from the line."""
    away_m, limbs = abs(offset_m), tree.may_be
    stem_m = 0.0 if not limbs.radius_m and not isinstance(limbs.cover, shapely.Point) else _half_trunk_m(tree)
    over_the_work = away_m <= limbs.radius_m + work.reach_m
    if away_m - stem_m < work.half_post_m + tree_number("beside stem"):
        return _unless_kept(tree, "to go", "it stands on the line")
    if away_m - stem_m < work.half_post_m + tree_number("beside stem") + work.off_m:
        return "to look at", f"by the drawing's error it may stand on the line ({away_m:.1f} m off as drawn)"
    if tree.dead and over_the_work:
        return _unless_kept(tree, "to go", "dead and over the work: driving shakes limbs down")
    if tree.dead and limbs.top_m >= away_m:
        return "to look at", "dead, and tall enough to reach the line when it falls"
    if over_the_work and (tree.doubt or tree.limb_m - work.limb_off_m < work.height_m):
        return _limbed(tree, work)
    side = 1 if offset_m > 0.0 else -1
    if away_m - stem_m < work.cleared_m[side]:
        return _unless_kept(tree, "to go", f"inside the {work.cleared_m[side]:.1f} m that are cleared on this side")
    if away_m < tree.roots_m:
        return "to keep", f"its roots reach {tree.roots_m:.1f} m: holes within that are dug by hand, no root is torn"
    return "to keep", "off the line and the machine as the layer has it; look up all the same"


def _limbed(tree: Tree, work: _Work) -> tuple[str, str]:
    if tree.doubt:
        return "to look at", "over the machine, and nobody measured its lowest limb"
    why = f"lowest limb {tree.limb_m:g} m, {work.height_m:.1f} m wanted over the machine"
    if tree.limb_m >= work.height_m:
        return "to look at", f"{why}: enough as measured, not for a height judged by eye"
    if work.height_m >= tree_number("limb most") * tree.may_be.top_m:
        return _unless_kept(tree, "to go", f"{why}: limbed so high little of its {tree.may_be.top_m:g} m is left")
    return "to limb", why


def _unless_kept(tree: Tree, what: str, why: str) -> tuple[str, str]:
    return ("to look at", f"{why}, and its owner wants it kept: shift the line") if tree.keep else (what, why)


def _half_trunk_m(tree: Tree) -> float:
    return (tree_number("stem") if math.isnan(tree.trunk_m) else tree.trunk_m) / 2.0

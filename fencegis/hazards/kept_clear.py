"""Buried services, keep-outs and survey marks: where the line comes too near, and where no post should stand.

A stretch is flagged where the fence, as wide as its posts, may come nearer than is asked: the plan distance from the
line less half a post, less what the thing's own place is uncertain by and two standard errors of the drawing. Posts
are kept from the thing as it is drawn, at the distance asked and its own uncertainty: the drawing's errors are common
to all and are settled when it is located on the ground.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.hazards import checks
from fencegis.hazards.approach import allowance
from fencegis.hazards.checks import Part
from fencegis.hazards.found import Answer, Ban, Found, checks_table, flagged_rows, hazards_table
from fencegis.hazards.kept_things import ADVICE, FILES, PRIVATE, Thing, kept_m, things
from fencegis.hazards.measure import Flag
from fencegis.hazards.near import Legs, least_apart
from fencegis.line.chainage import cut, nearest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.hazards.found import Floats, Scene, Stretch
    from fencegis.hazards.kept_things import KeptKind
    from fencegis.line.chainage import Line
    from fencegis.records.spec import Spec


def kept_clear(scene: Scene) -> Found:
    """Return where the line comes too near to what has to be kept clear of, and the stretches without posts."""
    rows, tiles, bans = [], [], []
    plan_sigma_m = _plan_sigma_m(scene.spec)
    half_m = scene.spec.fence.post_mm / 2000.0
    legs = [Legs(line) for line in scene.lines]
    for kind in FILES:
        all_of_kind = things(scene.site, kind)
        for one in legs:
            parts: list[Part] = []
            for thing in _near(one, all_of_kind, half_m=half_m, sigma_m=plan_sigma_m):
                flags, basis = _flags(one, thing, half_m=half_m, sigma_m=plan_sigma_m)
                answer = Answer(kind, plan_sigma_m, thing.required_m, thing.rule, ADVICE[kind])
                rows.append(flagged_rows(one.line, flags, answer=answer, basis=basis))
                parts += [Part(flag.stretch, "flagged", f"flagged: {thing.label}, {thing.about}") for flag in flags]
                clear_m = thing.required_m + thing.uncertain_m + half_m
                bans += [
                    Ban(one.line.line_id, stretch, kind, "posts") for stretch in _within(one, thing.shape, clear_m)
                ]
            tiles.append((one.line, kind, checks.tiled(_rest(one.line, kind, scene), parts)))
    return Found(hazards_table(rows), checks_table(tiles), (), bans=tuple(bans))


def _plan_sigma_m(spec: Spec) -> float:
    return math.hypot(spec.boundary.vertex_sigma_m, spec.boundary.shift_sigma_m)


def _near(legs: Legs, of_kind: Sequence[Thing], *, half_m: float, sigma_m: float) -> list[Thing]:
    within = np.array([_look_m(thing, half_m=half_m, sigma_m=sigma_m) for thing in of_kind])
    return [of_kind[place] for place in legs.passing([thing.shape for thing in of_kind], within_m=within)]


def _look_m(thing: Thing, *, half_m: float, sigma_m: float) -> float:
    return thing.required_m + thing.uncertain_m + half_m + allowance("allowance_sigmas") * sigma_m


def _flags(legs: Legs, thing: Thing, *, half_m: float, sigma_m: float) -> tuple[list[Flag], list[str]]:
    """Return each stretch near one thing with its least distance, and what it rests on."""
    off_m = thing.uncertain_m + allowance("allowance_sigmas") * sigma_m
    flags, basis = [], []
    for stretch in legs.within(thing.shape, distance_m=_look_m(thing, half_m=half_m, sigma_m=sigma_m)):
        away_m, at_m = least_apart(legs.line, stretch, thing.shape)
        given_m = max(0.0, away_m - half_m)
        flags.append(Flag(stretch, max(0.0, given_m - off_m), given_m, at_m))
        basis.append(
            f"{FILES[thing.kind]}, {thing.label}: {thing.about}; {_how(legs.line, stretch, thing)};"
            f" taken off: {off_m:.2f} m in plan; least at {at_m:.1f} m"
        )
    return flags, basis


def _how(line: Line, stretch: Stretch, thing: Thing) -> str:
    """Return in words whether a thing crosses the line, runs along it or lies beside it."""
    piece = shapely.linestrings(cut(line, *stretch))
    meets = shapely.intersection(piece, thing.shape)
    none = bool(shapely.is_empty(meets))
    if thing.kind == "survey mark":
        return "on the line or beside it"
    if isinstance(thing.shape, shapely.Polygon | shapely.MultiPolygon):
        return "beside the line" if none else "the line runs through it"
    beside = stretch[1] - stretch[0] > kept_m("long")
    if none:
        return "runs along the line" if beside else "beside the line"
    at = nearest(line, shapely.get_coordinates(meets)[:1])[0][0]
    return f"crosses the line at {at:.1f} m" + (" and runs along it" if beside else "")


def _within(legs: Legs, shape: shapely.Geometry, distance_m: float) -> list[Stretch]:
    return legs.within(shape, distance_m=distance_m) if distance_m > 0.0 else []


def _rest(line: Line, kind: KeptKind, scene: Scene) -> Part:
    """Return the answer where nothing is near: only what was walked, or located, counts as looked for."""
    layer = {"buried service": scene.site.services, "keep-out": scene.site.keepout, "survey mark": scene.site.pegs}
    walked = {"buried service": scene.spec.walked.services, "keep-out": scene.spec.walked.keepouts}.get(kind)
    given = layer[kind]
    if given is None:
        part = checks.absent(line, file=FILES[kind])
    else:
        part = checks.rest_as_walked(line, features=len(given), file=FILES[kind], walked=walked)
    if kind != "buried service":
        return part
    return Part(part.stretch, part.status, f"{part.basis}; {PRIVATE}")


def distances_m(points: Floats, shape: shapely.Geometry) -> Floats:
    """Return the plan distance from each of (n, 2) points to a shape, 0 inside an area."""
    return np.asarray(shapely.distance(shapely.points(points), shape), dtype=float)

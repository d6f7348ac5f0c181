"""Air under limbs along the line, and which machines work under it. For limbs only: a power line is its owner's.

Height is from the ground under the machine's reach up to the lowest limb that reaches over it, less two standard
errors of a limb's height, looked up every metre at the middle of the reach and round its rim. A stretch that a power
line is flagged on names no machine.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from fencegis.hazards.approach import allowance
from fencegis.hazards.envelope import envelope_of
from fencegis.hazards.found import Found, checks_table, hazards_table
from fencegis.hazards.machine import kinds, machine_of
from fencegis.hazards.near import LEAST_M, Legs, joined
from fencegis.hazards.trees import Tree, trees
from fencegis.line.chainage import points_at
from fencegis.records.spec import Machine as Given
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fencegis.hazards.found import Floats, Scene, Stretch
    from fencegis.line.chainage import Line
    from fencegis.records.spec import Spec

STEP_M = 1.0
ROUND = 8  # looks round the rim of the reach


def headroom(scene: Scene) -> Found:
    """Return the layer `headroom`: stretches under limbs with the least air over the ground."""
    nothing = hazards_table([]), checks_table([]), ()
    layer = scene.site.trees
    if layer is None or scene.ground is None:
        return Found(*nothing)
    spec, drawn = scene.spec, trees(layer, ground=scene.ground)
    machines = working_heights_m(spec)
    beyond_m = envelope_of(spec).reach_m + _off_m(spec)
    rows = []
    for line in scene.lines:
        legs = Legs(line)
        over = {
            place: legs.within(drawn[place].may_be.cover, distance_m=drawn[place].may_be.radius_m + beyond_m)
            for place in legs.passing([tree.shape for tree in drawn], within_m=np.full(len(drawn), beyond_m))
        }
        owner = _power(legs, scene)
        for stretch, places in _tiles(over):
            rows.append(_row(line, stretch, [drawn[place] for place in places], scene, machines, owner))
    return Found(*nothing, layers={"headroom": checked("headroom", pd.DataFrame(rows)) if rows else empty("headroom")})


def working_heights_m(spec: Spec) -> dict[str, float]:
    """Return the height at work of each kind of machine; the site's own is `your machine`, as taped."""
    heights = {}
    for kind in kinds():
        height = machine_of(spec.model_copy(update={"machine": Given(kind=kind)})).working_height_m
        if height is not None:
            heights[kind] = height
    if spec.machine and spec.machine.working_height_m:
        heights["your machine"] = spec.machine.working_height_m
    return heights


def machines_under(least_m: float, heights_m: Mapping[str, float]) -> list[str]:
    """Return the kinds that work under limbs so high with the margin to limbs, in the catalogue's order."""
    return [kind for kind, height in heights_m.items() if height + allowance("limb_m") <= least_m]


def _off_m(spec: Spec) -> float:
    return allowance("allowance_sigmas") * float(np.hypot(spec.boundary.vertex_sigma_m, spec.boundary.shift_sigma_m))


def _power(legs: Legs, scene: Scene) -> list[Stretch]:
    """Return the stretches near a power line, by the distance at which its owner is asked in any case."""
    layer = scene.site.overhead
    if layer is None:
        return []
    near_m = allowance("owner_tower_m")
    return joined(
        [one for shape in layer.geometry for one in legs.within(shape, distance_m=near_m)],
        length_m=legs.line.length_m,
    )


def _tiles(over: Mapping[int, Sequence[Stretch]]) -> list[tuple[Stretch, list[int]]]:
    """Return stretches over which the same trees reach, in order."""
    edges = sorted({edge for stretches in over.values() for stretch in stretches for edge in stretch})
    tiles = []
    for low, high in pairwise(edges):
        places = [place for place, each in over.items() if any(a <= low and high <= b for a, b in each)]
        if places and high - low >= LEAST_M:
            tiles.append(((low, high), places))
    return tiles


def _row(
    line: Line,
    stretch: Stretch,
    over: Sequence[Tree],
    scene: Scene,
    machines: Mapping[str, float],
    owner: Sequence[Stretch],
) -> dict[str, object]:
    named = ", ".join(tree.label for tree in over)
    under_power = any(low < stretch[1] and high > stretch[0] for low, high in owner)
    unknown = any(tree.doubt or tree.dead for tree in over)
    least_m, at_m = (np.nan, np.nan) if unknown else _least(line, stretch, over, scene)
    under = [] if unknown or under_power or np.isnan(least_m) else machines_under(least_m, machines)
    why = "a power line is near: its owner says" if under_power else ""
    why = why or ("a dead tree, or a limb that nobody measured" if unknown else "less two standard errors of a height")
    return {
        "line_id": line.line_id,
        "from_m": stretch[0],
        "to_m": stretch[1],
        "least_m": least_m,
        "least_at_m": at_m,
        "machines": "; ".join(under) or None,
        "basis": f"trees.geojson, {named}; {why}; of limbs only: look up before every post",
    }


def _least(line: Line, stretch: Stretch, over: Sequence[Tree], scene: Scene) -> tuple[float, float]:
    """Return the least air over the ground, and the chainage where it is; NaN where the ground is unknown."""
    assert scene.ground is not None  # noqa: S101
    station = np.linspace(*stretch, max(2, int(np.ceil((stretch[1] - stretch[0]) / STEP_M)) + 1))
    turn = np.arange(ROUND) * 2.0 * np.pi / ROUND
    rim = envelope_of(scene.spec).reach_m * np.column_stack([np.sin(turn), np.cos(turn)])
    points = points_at(line, station)[:, None, :] + np.vstack([np.zeros((1, 2)), rim])[None, :, :]
    under_m = scene.ground(points.reshape(-1, 2)).reshape(len(station), -1)
    off_m = allowance("allowance_sigmas") * allowance("limb_error_m")
    air = np.full(len(station), np.inf)
    for tree in over:
        foot_m = float(scene.ground(_foot(tree))[0])
        air = np.minimum(air, (foot_m + tree.limb_m - off_m - under_m).min(axis=1))
    if np.isnan(air).all():
        return np.nan, np.nan
    first = int(np.nanargmin(air))
    return float(air[first]), float(station[first])


def _foot(tree: Tree) -> Floats:
    return shapely.get_coordinates(shapely.point_on_surface(tree.may_be.cover))[:1]

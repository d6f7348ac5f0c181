"""The way to the line along drawn tracks: power lines over it at travelling height, and where it is steepest.

A track is swept like the line itself, with the machine as it travels: its travelling height where it was given, else
its height at work, over half its width. What comes too near is a note with the track's metres; the fence's own
stretches are told by the overhead step.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.hazards.approach import allowance
from fencegis.hazards.given import label
from fencegis.hazards.machine import machine_of
from fencegis.hazards.needs import needs_of
from fencegis.hazards.obstacles import access_m
from fencegis.hazards.overhead import overhead
from fencegis.line.chainage import Line, points_at
from fencegis.records.notes import Note
from fencegis.records.spec import Machine as Given

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fencegis.hazards.found import Floats, Scene
    from fencegis.records.spec import Spec

FILE = "tracks.geojson"
STEP_M = 1.0


def notes_on_ways(scene: Scene) -> list[Note]:
    """Return what is over each drawn track, and where it is steepest; nothing when there is no such layer."""
    return [note for name, way in _ways(scene) for note in (*_overhead(name, way, scene), *_steepest(name, way, scene))]


def _ways(scene: Scene) -> Iterator[tuple[str, Line]]:
    layer = scene.site.tracks
    if layer is None:
        return
    rows = layer.drop(columns=layer.geometry.name).to_dict("records")
    for row, shape in zip(rows, layer.geometry, strict=True):
        for part in shapely.get_parts(shapely.force_2d(shape)):
            if isinstance(part, shapely.LineString) and part.length > STEP_M:
                yield label(row), Line(label(row), closed=False, corners=shapely.get_coordinates(part))


def _overhead(name: str, way: Line, scene: Scene) -> Iterator[Note]:
    spec, height_m, told = _travelling(scene.spec)
    found = overhead([way], ground=scene.ground, layer=scene.site.overhead, spec=spec, kinds=["wire"])
    for row in found.hazards.to_dict("records"):
        if str(row["basis"]).startswith("nearer than the machine"):
            continue  # nobody strains wire on the way in
        unknown = math.isnan(row["clearance_m"])
        left = "height unknown" if unknown else f"{row['clearance_m']:.1f} m left after allowances"
        asked = "" if math.isnan(row["required_m"]) else f", {row['required_m']:g} m asked for"
        yield Note(
            "doubt",
            f"{FILE}, {name}, {row['from_m']:.0f} to {row['to_m']:.0f} m along it: {row['kind']} over the way in,"
            f" {left} for a machine of {height_m:g} m{told}{asked}; ask the line's owner before the machine or a truck"
            " comes",
        )


def _travelling(spec: Spec) -> tuple[Spec, float, str]:
    """Return the specification with the machine as it travels, its height, and whether that was given."""
    machine = machine_of(spec)
    given_m = spec.machine.travel_height_m if spec.machine else None
    height_m = given_m or machine.working_height_m or allowance("machine_height_m") + allowance("mast_height_m")
    half_m = (needs_of(spec).room_m - 2.0 * access_m("beside")) / 2.0
    own = (spec.machine or Given()).model_copy(update={"working_height_m": height_m, "reach_m": half_m, "kind": None})
    told = " at its travelling height" if given_m else " as it works, its travelling height not given"
    return spec.model_copy(update={"machine": own}), height_m, told


def _steepest(name: str, way: Line, scene: Scene) -> Iterator[Note]:
    """Say where a track is steepest over the baseline, as far as there are heights."""
    if scene.ground is None:
        return
    base_m = min(access_m("baseline"), way.length_m)
    begin: Floats = np.arange(0.0, way.length_m - base_m + STEP_M / 2.0, STEP_M)
    rise = scene.ground(points_at(way, begin + base_m)) - scene.ground(points_at(way, begin))
    if np.isnan(rise).all():
        yield Note("doubt", f"{FILE}, {name}: no ground heights along it: its steepness is not checked")
        return
    worst = int(np.nanargmax(np.abs(rise)))
    pct = 100.0 * float(rise[worst]) / base_m
    known = "" if not np.isnan(rise).any() else "; part of it has no ground heights"
    yield Note(
        "default",
        f"{FILE}, {name}: steepest {abs(pct):.0f} % over {base_m:.0f} m, from {begin[worst]:.0f} m along it{known}",
    )

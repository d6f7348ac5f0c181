"""Moves that help: a small shift of the line within what the drawing is worth, or under limbs another machine.

Nothing here is about power lines: there no shift and no machine is enough by itself, and their owner is asked in any
case. A shift is tried by looking again at the stretch beside its place, with the same steps that flagged it: it helps
where the kind that was flagged is flagged no more and no other kind newly is. Shifts go no further than two standard
errors of a drawn vertex, either way, the least that helps is told, to 0.05 m.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from fencegis.hazards.approach import allowance
from fencegis.hazards.found import Scene
from fencegis.hazards.kept_clear import kept_clear
from fencegis.hazards.limbs import limbs
from fencegis.hazards.overhead import overhead
from fencegis.hazards.tree_plan import tree_plan
from fencegis.line.chainage import Line, cut
from fencegis.records.notes import Note
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fencegis.hazards.found import Stretch
    from fencegis.line.course import Course

SHIFTED = ("tree limb", "tree trunk", "buried service", "keep-out")
FINE_M = 0.05
LEAST_M = 0.1  # a drawing worth less than this leaves nothing to shift
MOST = 20  # stretches looked at: each is looked at anew several times
ABOUT_M = 60.0  # of the stretch: nothing further off is flagged on it, nor after a shift
LAYERS = ("overhead", "trees", "services", "keepout", "pegs")
AROUND_M = 3.0  # of line before and after the flagged stretch that shifts with it


@dataclass(frozen=True, eq=False)
class _Piece:
    """A piece of line beside its place, as the steps look at it."""

    line: Line
    line_id: str
    kind: str


def move_table(hazards: pd.DataFrame, headroom: pd.DataFrame, *, scene: Scene) -> tuple[pd.DataFrame, list[Note]]:
    """Return the layer `moves` for the flagged stretches, and a note where there were too many to look at."""
    flagged = hazards[hazards["kind"].isin(SHIFTED)]
    rows = [row for place, one in enumerate(_records(flagged)) if place < MOST for row in _shift(one, scene)]
    rows += [row for one in _records(flagged[flagged["kind"] == "tree limb"]) for row in _machine(one, headroom)]
    notes = []
    if len(flagged) > MOST:
        text = f"shifts of the line were looked for at the first {MOST} of {len(flagged)} flagged stretches only"
        notes.append(Note("doubt", text))
    return (checked("moves", pd.DataFrame(rows)) if rows else empty("moves")), notes


def _records(table: pd.DataFrame) -> list[dict[str, object]]:
    return [{str(name): cell for name, cell in row.items()} for row in table.to_dict("records")]


def _shift(one: dict[str, object], scene: Scene) -> Iterator[dict[str, object]]:
    """Yield the least shift that helps, if any within the drawing's worth does."""
    most_m = allowance("allowance_sigmas") * scene.spec.boundary.vertex_sigma_m
    course = next(course for course in scene.courses if course.line_id == one["line_id"])
    if most_m < LEAST_M:
        return
    stretch = float(one["from_m"]), float(one["to_m"])  # type: ignore[arg-type]
    scene = _about(scene, _beside(course, stretch, 0.0).line)
    before = _flagged(course, stretch, 0.0, scene)
    found = [
        shift
        for side in (-1.0, 1.0)
        if (shift := _least(course, stretch, side, most_m, scene, str(one["kind"]), before)) is not None
    ]
    if found:
        shift = min(found, key=abs)
        side = "right" if shift > 0.0 else "left"
        text = f"{abs(shift):.2f} m to the {side}, within what the drawing is worth, and the data flags it no more"
        drawn = course.planned.drawn if hasattr(course, "planned") else None
        if drawn is not None and drawn.label in {"boundary", "agreed"}:
            text += "; the line is a boundary or an agreed one, so its neighbours have a say"
        yield {**_where(one), "how": "shift the line", "shift_m": shift, "says": text}


def _about(scene: Scene, line: Line) -> Scene:
    """Return the scene with no more of each layer than lies about a piece of line: each shift looks at all of it."""
    path = shapely.LineString(line.path)
    near = {}
    for name in LAYERS:
        layer = getattr(scene.site, name)
        near[name] = None if layer is None else layer[shapely.dwithin(layer.geometry.to_numpy(), path, ABOUT_M)]
    site = SimpleNamespace(**{**vars(scene.site), **near})
    return Scene(scene.courses, site, scene.ground)  # type: ignore[arg-type]  # a site with less in it


def _least(
    course: Course, stretch: Stretch, side: float, most_m: float, scene: Scene, kind: str, before: set[str]
) -> float | None:
    """Return the least shift to one side that helps, None when the greatest does not."""

    def helps(shift_m: float) -> bool:
        after = _flagged(course, stretch, shift_m, scene)
        return kind not in after and after <= before

    if not helps(side * most_m):
        return None
    low, high = 0, int(np.ceil(most_m / FINE_M))
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if helps(side * min(middle * FINE_M, most_m)) else (middle, high)
    return side * min(high * FINE_M, most_m)


def _flagged(course: Course, stretch: Stretch, shift_m: float, scene: Scene) -> set[str]:
    """Return the kinds flagged on a stretch that stands so far beside its place, right positive."""
    piece = _beside(course, stretch, shift_m)
    there = Scene([piece], scene.site, scene.ground)  # type: ignore[list-item]  # what the steps ask of a course
    site, spec = scene.site, scene.spec
    found = [
        overhead([piece.line], ground=scene.ground, layer=site.overhead, spec=spec),
        limbs([piece.line], ground=scene.ground, layer=site.trees, spec=spec, site=site),
        tree_plan(there),
        kept_clear(there),
    ]
    return {str(kind) for one in found for kind in one.hazards["kind"].unique()}


def _beside(course: Course, stretch: Stretch, shift_m: float) -> _Piece:
    length_m = course.line.length_m
    path = cut(course.line, max(0.0, stretch[0] - AROUND_M), min(length_m, stretch[1] + AROUND_M))
    curve: shapely.Geometry = shapely.LineString(path)
    if shift_m:
        curve = shapely.offset_curve(curve, -shift_m, join_style="mitre")
    return _Piece(Line(course.line_id, False, shapely.get_coordinates(curve)), course.line_id, course.kind)


def _machine(one: dict[str, object], headroom: pd.DataFrame) -> Iterator[dict[str, object]]:
    """Yield the machines that work under the limbs of a flagged stretch all along it, if any does."""
    over = headroom[
        (headroom["line_id"] == one["line_id"])
        & (headroom["from_m"] < one["to_m"])
        & (headroom["to_m"] > one["from_m"])
    ]
    if not len(over) or over["machines"].isna().any():
        return
    each = [set(str(names).split("; ")) for names in over["machines"]]
    under = [name for name in str(over["machines"].iloc[0]).split("; ") if all(name in names for names in each)]
    under = [name for name in under if name != "your machine"]
    if under:
        least = float(over["least_m"].min())
        text = f"{least:.1f} m of air under the limbs, less two standard errors: by their heights {', '.join(under)}"
        yield {**_where(one), "how": "another machine", "shift_m": np.nan, "says": f"{text}; look up all the same"}


def _where(one: dict[str, object]) -> dict[str, object]:
    return {name: one[name] for name in ("line_id", "from_m", "to_m", "hazard_id", "kind")}

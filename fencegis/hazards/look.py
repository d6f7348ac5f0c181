"""Every hazard step, in the order in which they are numbered: a new kind of hazard is one line here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.hazards.access import access
from fencegis.hazards.clearing import clearing
from fencegis.hazards.crossings import crossings
from fencegis.hazards.headroom import headroom
from fencegis.hazards.kept_clear import kept_clear
from fencegis.hazards.limbs import limbs
from fencegis.hazards.overhead import overhead
from fencegis.hazards.parallel import parallel
from fencegis.hazards.side_slope import side_slope
from fencegis.hazards.tree_plan import tree_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from fencegis.hazards.found import Found, Scene


def _overhead(scene: Scene) -> Found:
    kinds, gates = [course.kind for course in scene.courses], scene.site.gates
    return overhead(
        scene.lines, ground=scene.ground, layer=scene.site.overhead, spec=scene.spec, kinds=kinds, gates=gates
    )


def _parallel(scene: Scene) -> Found:
    kinds = [course.kind for course in scene.courses]
    return parallel(scene.lines, layer=scene.site.overhead, spec=scene.spec, kinds=kinds)


def _limbs(scene: Scene) -> Found:
    return limbs(scene.lines, ground=scene.ground, layer=scene.site.trees, spec=scene.spec, site=scene.site)


STEPS: tuple[Callable[[Scene], Found], ...] = (
    _overhead,
    _parallel,
    _limbs,
    tree_plan,
    headroom,
    clearing,
    kept_clear,
    side_slope,
    access,
    crossings,
)


def what_can_hurt(scene: Scene) -> list[Found]:
    """Return what each step found along the planned lines."""
    return [step(scene) for step in STEPS]

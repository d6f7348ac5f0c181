"""Every hazard step, in the order in which they are numbered: a new kind of hazard is one line here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.hazards.access import access
from fencegis.hazards.kept_clear import kept_clear
from fencegis.hazards.limbs import limbs
from fencegis.hazards.overhead import overhead

if TYPE_CHECKING:
    from collections.abc import Callable

    from fencegis.hazards.found import Found, Scene


def _overhead(scene: Scene) -> Found:
    return overhead(scene.lines, ground=scene.ground, layer=scene.site.overhead, spec=scene.spec)


def _limbs(scene: Scene) -> Found:
    return limbs(scene.lines, ground=scene.ground, layer=scene.site.trees, spec=scene.spec)


STEPS: tuple[Callable[[Scene], Found], ...] = (
    _overhead,
    _limbs,
    kept_clear,
    access,
)


def what_can_hurt(scene: Scene) -> list[Found]:
    """Return what each step found along the planned lines."""
    return [step(scene) for step in STEPS]

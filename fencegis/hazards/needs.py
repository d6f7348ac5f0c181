"""The room that the machine needs for itself beside the line, and the circle that it turns in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.hazards.machine import Machine, machine_of
from fencegis.hazards.obstacles import access_m
from fencegis.records.spec import Machine as Given

if TYPE_CHECKING:
    from fencegis.records.spec import Spec

SIDES = {"left": (-1,), "right": (1,), "both": (-1, 1)}
USUAL = "mast driver on a small tractor, in front"  # whose width and circle are assumed, to raise flags only


@dataclass(frozen=True)
class Needs:
    """What the machine needs beside the line, the sides it may work from (−1 left, 1 right), and what was assumed."""

    room_m: float
    circle_m: float
    sides: tuple[int, ...]
    assumed: str

    def asked_m(self, kind: str) -> float:
        """Return the width that is needed, or the circle at a dead end."""
        return self.circle_m if kind == "dead end" else self.room_m


def needs_of(spec: Spec) -> Needs:
    """Return what the machine of a site needs; what nobody gave is that of a small tractor, to raise flags only."""
    machine = machine_of(spec)
    usual = _usual(spec) if machine.width_m is None or machine.turning_m is None else machine
    width_m, circle_m = machine.width_m or usual.width_m or 0.0, machine.turning_m or usual.turning_m or 0.0
    told = [machine.told("width_m", "turning_m")] if machine.told("width_m", "turning_m") else []
    told += [f"width {width_m:g} m"] * (machine.width_m is None)
    told += [f"turning circle {circle_m:g} m"] * (machine.turning_m is None)
    room = width_m + 2.0 * access_m("beside")
    return Needs(room, circle_m, SIDES[machine.work_side], " and ".join(told))


def _usual(spec: Spec) -> Machine:
    return machine_of(spec.model_copy(update={"machine": Given(kind=USUAL)}))

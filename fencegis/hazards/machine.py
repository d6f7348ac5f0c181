"""The machine at work: the site's own numbers, and for what the site does not give those of its kind."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Literal

from fencegis.catalogue import rows
from fencegis.errors import InputError, Problem

if TYPE_CHECKING:
    from fencegis.records.spec import Spec

_CALLED = {
    "machine_height_m": "machine's height",
    "mast_m": "air over the machine",
    "over_post_m": "hammer over the post",
    "working_height_m": "working height",
    "reach_m": "reach",
    "travel_height_m": "travelling height",
    "width_m": "width",
    "turning_m": "turning circle",
    "track_m": "rear track",
    "wheelbase_m": "wheelbase",
    "pivot_m": "front axle's pivot over the ground",
    "mass_kg": "mass",
    "ahead_m": "centre ahead of the rear axle",
    "height_m": "centre over the ground",
    "driver_kg": "driver's mass",
    "driver_ahead_m": "driver's centre ahead of the rear axle",
    "driver_height_m": "driver's centre over the ground",
}


@dataclass(frozen=True)
class Machine:
    """What is known of the machine: None where neither `site.toml` nor the row of its kind has it.

    Heights are above the ground; `ahead_m` and `driver_ahead_m` are of the centres of mass ahead of the rear axle, and
    `height_m` and `driver_height_m` theirs above the ground. `working_height_m` is of the hammer at its highest.
    What a row gave raises flags and never lowers one: `assumed` has its names.
    """

    kind: str | None = None
    machine_height_m: float | None = None
    mast_m: float | None = None
    over_post_m: float | None = None
    working_height_m: float | None = None
    reach_m: float | None = None
    travel_height_m: float | None = None
    width_m: float | None = None
    turning_m: float | None = None
    track_m: float | None = None
    wheelbase_m: float | None = None
    pivot_m: float | None = None
    mass_kg: float | None = None
    ahead_m: float | None = None
    height_m: float | None = None
    driver_kg: float | None = None
    driver_ahead_m: float | None = None
    driver_height_m: float | None = None
    tilt_side_deg: float | None = None
    tilt_fore_deg: float | None = None
    side_shift_m: float | None = None
    work_side: Literal["left", "right", "both"] = "both"
    assumed: tuple[str, ...] = ()

    def told(self, *names: str) -> str:
        """Return what was assumed among the names, or of all, as printed: `rear track 1.3 m and wheelbase 1.8 m`."""
        wanted = [name for name in self.assumed if not names or name in names]
        texts = [f"{_CALLED[name]} {getattr(self, name):g} {name.rpartition('_')[2]}" for name in wanted]
        return " and ".join(part for part in (", ".join(texts[:-1]), *texts[-1:]) if part)


def called(name: str) -> str:
    """Return what a number of the machine is called in print."""
    return _CALLED[name]


def kinds() -> list[str]:
    """Return the kinds of machine that the catalogue knows, in its order."""
    return list(dict.fromkeys(row["machine"] for row in rows("machines")))


def machine_of(spec: Spec) -> Machine:
    """Return the machine of `[machine]`: the site's own numbers win over those of the row of its kind.

    Without `[machine]` nothing is known and nothing assumed; with no `kind`, only what the site gives. Raises
    InputError for a kind that the catalogue does not have, naming the nearest.
    """
    given = {} if spec.machine is None else {k: v for k, v in spec.machine.model_dump().items() if v is not None}
    kind = given.get("kind")
    row = {} if kind is None else _row(kind)
    if kind is not None:
        given["kind"] = row.pop("kind")
    names = {field.name for field in fields(Machine)}
    own = {name: value for name, value in given.items() if name in names}
    assumed = {name: value for name, value in row.items() if name not in own}
    return Machine(**{**assumed, **own}, assumed=tuple(name for name in _CALLED if name in assumed))


def _row(kind: str) -> dict[str, object]:
    """Return the numbers of a kind, and its name as the catalogue has it."""
    known = {name.casefold(): name for name in kinds()}
    name = known.get(" ".join(kind.split()).casefold())
    if name is None:
        raise InputError([_unknown(kind)])
    row: dict[str, object] = {one["name"]: float(one["value"]) for one in rows("machines") if one["machine"] == name}
    machine, mast = row.get("machine_height_m"), row.get("mast_m")
    if "working_height_m" not in row and isinstance(machine, float) and isinstance(mast, float):
        row["working_height_m"] = machine + mast
    return {"kind": name, **row}


def _unknown(kind: str) -> Problem:
    near = difflib.get_close_matches(kind.casefold(), kinds(), n=1, cutoff=0.0)[0]
    return Problem(
        "site.toml",
        "[machine] kind",
        f"no machine is called {kind!r}.",
        f"Write {near!r} if that is meant; the kinds known are: {'; '.join(kinds())}.",
    )

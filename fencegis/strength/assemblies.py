"""Brace assemblies: what keeps a strainer upright, with the sizes that agencies print, and the forces in its members.

Each is taken as posts hinged at the ground, so the ground is asked for nothing but its share of pull and lift: the
usual sketch of a brace (statics). Pulls and forces in kN, sizes in m and mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fencegis.catalogue import rows


@dataclass(frozen=True)
class Assembly:
    """One type of assembly as printed: its posts, their least sizes, and its rail or stay.

    `rail_height_m` is where the rail, or the stay, meets the strainer; `rail_mm` is None where no size was seen.
    """

    name: str
    posts: int
    post_m: float
    post_mm: float
    in_ground_m: float
    rail_m: float
    rail_mm: float | None
    rail_height_m: float

    @property
    def panels(self) -> int:
        """Rails in a row: each panel is a rail between two posts with a wire across; 0 for a stay to the ground."""
        return self.posts - 1


@dataclass(frozen=True)
class BraceForces:
    """Forces in the first panel: press in the rail or stay, pull in the wire across, lift of the strainer, in kN.

    `wire_kn` is all strands of the brace wire together, 0 for a stay.
    """

    rail_kn: float
    wire_kn: float
    lift_kn: float


def assemblies() -> tuple[Assembly, ...]:
    """Return every type of `catalogue/assemblies.csv`, in file order."""
    return tuple(
        Assembly(
            name=row["assembly"],
            posts=int(row["posts"]),
            rail_mm=float(row["rail_mm"]) if row["rail_mm"] else None,
            **{part: float(row[part]) for part in ("post_m", "post_mm", "in_ground_m", "rail_m", "rail_height_m")},
        )
        for row in rows("assemblies")
    )


def assembly_named(name: str) -> Assembly:
    """Return one type by its name. Raises ValueError, which names those there are, for any other."""
    found = {one.name: one for one in assemblies()}
    if name not in found:
        raise ValueError(f"assembly {name!r} is none of {', '.join(found)}")
    return found[name]


def brace_lift_kn(pull_kn: float, *, name: str, height_m: float) -> float:
    """Return the lift of a strainer in an assembly of that name, in kN, for wires that pull at `height_m`."""
    return brace_forces(pull_kn, height_m=height_m, assembly=assembly_named(name)).lift_kn


def brace_forces(pull_kn: float, *, height_m: float, assembly: Assembly) -> BraceForces:
    """Return the forces when wires pull level with `pull_kn` at `height_m`, by moments about the strainer's foot.

    Stay: a timber prop of `rail_m` from the post to the ground. Braces: a level rail that presses the next post, whose
    top a wire ties back to the strainer's foot; panels in a row share the pull alike. A longer rail means less lift.
    """
    level = pull_kn * height_m / assembly.rail_height_m
    if assembly.panels == 0:
        lead = math.sqrt(assembly.rail_m**2 - assembly.rail_height_m**2)
        return BraceForces(level * assembly.rail_m / lead, 0.0, level * assembly.rail_height_m / lead)
    across = math.hypot(assembly.rail_m, assembly.rail_height_m)
    tied = level / assembly.panels  # the wire of the first panel takes this much of what its rail presses
    return BraceForces(level, tied * across / assembly.rail_m, tied * assembly.rail_height_m / assembly.rail_m)

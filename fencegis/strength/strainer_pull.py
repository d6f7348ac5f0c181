"""The pull and the depth of each strainer of a wire fence, and the depth of the posts that end the work in rail.

The pull is the greater of two: all wires strained on one side while the other has none yet, which is how every strain
is built and what every end and gate carries for good; and, at a corner, the resultant of both sides. At a straight
strainer both sides cancel once they stand, so there the first decides.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.records.notes import Note
from fencegis.records.tables import checked
from fencegis.strength.footing import brace_depth_m, unbraced_depth_m
from fencegis.strength.in_ground import end_depth_m, of_each
from fencegis.strength.values import value_of
from fencegis.strength.wire import resultant_kn

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt
    import pandas as pd

    from fencegis.records.spec import Fence, FenceKind

    Floats = npt.NDArray[np.float64]
    Names = npt.NDArray[np.object_]

NOT_A_CERTIFICATE = "not an engineer's certificate; the code table behind it is for buildings"


def design_pull_kn(turn_deg: npt.ArrayLike, *, wires: int, tension_kn: float) -> Floats:
    """Return the pull that a strainer is built for, in kN: one side alone, or both at a corner of more than 60°.

    A turn that is NaN counts as none.
    """
    both = resultant_kn(np.nan_to_num(np.asarray(turn_deg, dtype=float)), wires=wires, tension_kn=tension_kn)
    return np.maximum(both, wires * tension_kn)


def wires_height_m(heights_m: npt.ArrayLike | None = None) -> float:
    """Return the height at which wires strained alike pull together: the mean of theirs.

    Without heights the wires are shared out evenly between the top and bottom wire of `catalogue/footing.csv`.
    """
    if heights_m is None:
        return (value_of("footing", "top wire") + value_of("footing", "bottom wire")) / 2.0
    return float(np.mean(np.asarray(heights_m, dtype=float)))


def strainer_pull(
    strainers: pd.DataFrame,
    *,
    kind_of_line: Mapping[str, FenceKind],
    fence: Fence,
    soil: str | Sequence[str] | Names,
    braced: bool = True,
) -> pd.DataFrame:
    """Return the layer `strainers` with `pull_kn`, empty on lines of rail, and `embed_m`.

    `soil` is one for all or one for each strainer. `braced`: each has a stay or a brace, which holds it above the
    ground, so the depth is the brace rule's for the soil; without one the building code's depth for the pull at the
    height of the wires, or the rule's if that is more (NaN in a soil that the code presumes no bearing in). Nothing
    pulls at a rail fence: its ends and corners stand as deep as agencies print for corner posts of that height. A gate
    post is at least as deep as `gate_embed_m`.
    Raises ValueError for a soil that is not in the catalogue.
    """
    soils = _each_soil(soil, len(strainers))
    wire = strainers["line_id"].map(dict(kind_of_line)).eq("wire").to_numpy()
    gate = at_gate(strainers)
    pull = design_pull_kn(strainers["turn_deg"], wires=fence.wires, tension_kn=fence.tension_kn)
    held = of_each(brace_depth_m, soils) if braced else _alone_m(pull, gate=gate, fence=fence, soils=soils)
    rail_m = of_each(lambda name: end_depth_m(name, height_m=fence.height_m), soils)
    depth = np.where(wire, held, rail_m)
    depth = np.where(gate, np.maximum(depth, fence.gate_embed_m), depth)
    return checked("strainers", strainers.assign(pull_kn=np.where(wire, pull, np.nan), embed_m=depth))


def notes_on_pull(strainers: pd.DataFrame, *, fence: Fence, soil: str | Sequence[str] | Names) -> list[Note]:
    """Return what to know about the pulls and depths of `strainer_pull`: what they rest on, what they are not.

    `soil` as there. One note for all, none without a strainer in wire.
    """
    wire = strainers["pull_kn"].notna().to_numpy()
    if not wire.any():
        return []
    soils, pulls = _each_soil(soil, len(strainers))[wire], strainers["pull_kn"].to_numpy(dtype=float)[wire]
    alone = _alone_m(pulls, gate=np.zeros(len(pulls), dtype=bool), fence=fence, soils=soils)
    without = (
        f"; without one the greatest pull, {pulls.max():.1f} kN, would ask for up to {np.nanmax(alone):.1f} m of a"
        f" {fence.post_mm:.0f} mm post"
        if np.isfinite(alone).any()
        else ""
    )
    named = ", ".join(f"{name} ({brace_depth_m(name):.2f} m)" for name in sorted(set(soils)))
    return [
        Note(
            "doubt",
            f"strainers: depths are a published brace rule's for {named}, each with a stay or a brace{without}."
            f" Wire heights, and soil where no zone covers it, are assumed; {NOT_A_CERTIFICATE}",
        )
    ]


def at_gate(strainers: pd.DataFrame) -> npt.NDArray[np.bool_]:
    """Return which strainers are a gate's post, whatever else they are."""
    reasons = strainers["reason"].str.cat(strainers["also"].fillna(""), sep=", ")
    return np.array(["gate" in text.split(", ") for text in reasons], dtype=bool)


def _each_soil(soil: str | Sequence[str] | Names, count: int) -> Names:
    return np.full(count, soil, dtype=object) if isinstance(soil, str) else np.asarray(soil, dtype=object)


def _alone_m(pull: Floats, *, gate: npt.NDArray[np.bool_], fence: Fence, soils: Names) -> npt.NDArray[np.float64]:
    """Return the code's depth of each post that has neither stay nor brace."""
    depth = np.full(len(pull), np.nan)
    for name in set(soils):
        for wide, post_mm in ((gate, fence.gate_post_mm), (~gate, fence.post_mm)):
            here = wide & (soils == name)
            depth[here] = unbraced_depth_m(
                pull[here], height_m=wires_height_m(), width_m=post_mm / 1000.0, soil=name, post_set=fence.post_set
            )
    return depth

"""The pull and the depth of each strainer of a wire fence.

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
from fencegis.strength.values import value_of
from fencegis.strength.wire import resultant_kn

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt
    import pandas as pd

    from fencegis.records.spec import Fence, FenceKind

    Floats = npt.NDArray[np.float64]

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
    strainers: pd.DataFrame, *, kind_of_line: Mapping[str, FenceKind], fence: Fence, soil: str, braced: bool = True
) -> pd.DataFrame:
    """Return the layer `strainers` with `pull_kn` and `embed_m` on lines of wire, empty on lines of rail.

    `braced`: each has a stay or a brace, which holds it above the ground, so the depth is the brace rule's for the
    soil; without one the building code's depth for the pull at the height of the wires, or the rule's if that is more.
    A gate post is at least as deep as `gate_embed_m`.
    Raises ValueError for a soil that is not in the catalogue.
    """
    wire = strainers["line_id"].map(dict(kind_of_line)).eq("wire").to_numpy()
    gate = _at_gate(strainers)
    pull = design_pull_kn(strainers["turn_deg"], wires=fence.wires, tension_kn=fence.tension_kn)
    if braced:
        depth = np.full(len(strainers), brace_depth_m(soil))
    else:
        depth = np.where(
            gate,
            _alone_m(pull, post_mm=fence.gate_post_mm, fence=fence, soil=soil),
            _alone_m(pull, post_mm=fence.post_mm, fence=fence, soil=soil),
        )
    depth = np.where(gate, np.maximum(depth, fence.gate_embed_m), depth)
    filled = {"pull_kn": np.where(wire, pull, np.nan), "embed_m": np.where(wire, depth, np.nan)}
    return checked("strainers", strainers.assign(**filled))


def notes_on_pull(strainers: pd.DataFrame, *, fence: Fence, soil: str) -> list[Note]:
    """Return what to know about the pulls and depths of `strainer_pull`: what they rest on, what they are not.

    One note for all, none without a strainer in wire.
    """
    pulls = strainers["pull_kn"].dropna()
    if pulls.empty:
        return []
    greatest = float(pulls.max())
    alone = float(_alone_m(np.asarray(greatest), post_mm=fence.post_mm, fence=fence, soil=soil))
    return [
        Note(
            "doubt",
            f"strainers: depths are a published brace rule's for {soil}, each with a stay or a brace; without one the"
            f" greatest pull, {greatest:.1f} kN, would ask for {alone:.1f} m of a {fence.post_mm:.0f} mm post. Soil and"
            f" wire heights are assumed; {NOT_A_CERTIFICATE}",
        )
    ]


def _at_gate(strainers: pd.DataFrame) -> npt.NDArray[np.bool_]:
    reasons = strainers["reason"].str.cat(strainers["also"].fillna(""), sep=", ")
    return np.array(["gate" in text.split(", ") for text in reasons], dtype=bool)


def _alone_m(pull: Floats, *, post_mm: float, fence: Fence, soil: str) -> Floats:
    return unbraced_depth_m(
        pull, height_m=wires_height_m(), width_m=post_mm / 1000.0, soil=soil, post_set=fence.post_set
    )

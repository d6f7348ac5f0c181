"""All that is marked on the ground before a post stands: strings, sights, reference pegs, and what to know of them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from fencegis.setout.odd_corners import notes_on_odd_corners
from fencegis.setout.reference_pegs import notes_on_reference_pegs, reference_peg_table
from fencegis.setout.sights import notes_on_sights, notes_on_unknown_canopy, sight_table
from fencegis.setout.strings import notes_on_strings, string_table

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import numpy as np
    import numpy.typing as npt
    import pandas as pd

    from fencegis.line.chainage import Line
    from fencegis.records.notes import Note
    from fencegis.records.spec import FenceKind, Spec

    Floats = npt.NDArray[np.float64]
    CanopyAbout = Callable[[Line, Floats], Floats]


@dataclass(frozen=True, eq=False)
class Marking:
    """The layers `strings`, `sights` and `reference_pegs`, and their notes."""

    tables: dict[str, pd.DataFrame]
    notes: list[Note]


def marking(
    tables: Mapping[str, pd.DataFrame],
    *,
    lines: Sequence[Line],
    kind_of_line: Mapping[str, FenceKind],
    spec: Spec,
    tells_posts: bool,
    canopy: CanopyAbout | None = None,
) -> Marking:
    """Return how the plan's lines are marked, from its tables runs, profile, corners, strainers, posts, bays and gates.

    `tells_posts` is false where cells of the raster are too coarse to tell the ground between posts. `canopy`
    gives its height about chainages of a line, (n,) → (n,); None where there is no canopy raster.
    """
    posts, strainers, runs, profile = (tables[name] for name in ("posts", "strainers", "runs", "profile"))
    strings = string_table(
        tables["bays"], posts, runs=runs, profile=profile, kind_of_line=kind_of_line, spec=spec, fine=tells_posts
    )
    leaves = None if canopy is None else {line.line_id: partial(canopy, line) for line in lines}
    sights = sight_table(runs, profile=profile, sight=spec.sight, fine=tells_posts, canopy=leaves)
    pegs = reference_peg_table(strainers, posts, tables["gates"], lines=lines, machine=spec.machine)
    notes = [
        *notes_on_strings(strings, kind_of_line=kind_of_line, spec=spec),
        *notes_on_sights(sights, sight=spec.sight, canopy=canopy is not None),
        *(() if leaves is None else notes_on_unknown_canopy(leaves, profile)),
        *notes_on_reference_pegs(pegs, strainers, posts, machine=spec.machine),
        *notes_on_odd_corners(tables["corners"]),
    ]
    return Marking({"strings": strings, "sights": sights, "reference_pegs": pegs}, notes)

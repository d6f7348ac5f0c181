"""How high and how long: the top line, the lengths of posts, the rails, in one step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.errors import InputError
from fencegis.layout.cap_notes import notes_on_caps
from fencegis.layout.caps import with_caps
from fencegis.layout.gap_tables import gap_table, spot_table
from fencegis.layout.post_lengths import gate_post_mm, notes_on_lengths, too_low, with_lengths
from fencegis.layout.rail_notes import notes_on_rails
from fencegis.layout.rail_rows import faults_of_housing, faults_of_rows
from fencegis.layout.railed import railed
from fencegis.layout.rails import rail_table

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from fencegis.layout.post_tables import LaidOut
    from fencegis.records.notes import Note
    from fencegis.records.spec import FenceKind, Spec


@dataclass(frozen=True, eq=False)
class Railing:
    """The layers `posts`, `rails`, `gaps` and `spots` by name, and what to know."""

    tables: dict[str, pd.DataFrame]
    notes: list[Note]


def railing(
    lines: Sequence[LaidOut],
    *,
    tables: Mapping[str, pd.DataFrame],
    kind_of_line: Mapping[str, FenceKind],
    wire_m: float,
    tells_posts: bool,
    spec: Spec,
) -> Railing:
    """Return heights, lengths and rails of lines whose posts have their depth.

    `tables` holds the layers `posts`, `strainers` and `bays`; `wire_m` is how high posts stand in wire. Without
    `tells_posts` the ground is too coarse to say anything about one post, and counts as unknown.
    Raises InputError for rows that find no room in the fence's height or in its posts, and for a machine that is said
    to be lower than the post it drives.
    """
    fence, posts, strainers = spec.fence, tables["posts"], tables["strainers"]
    if "post and rail" in kind_of_line.values() and (problems := [*faults_of_rows(fence), *faults_of_housing(fence)]):
        raise InputError(problems)
    embed_m = dict(zip(posts["post_id"], posts["embed_m"], strict=True))
    on_rails = railed(lines, embed_m=embed_m, fence=fence, tells_posts=tells_posts)
    thick = gate_post_mm(posts, strainers, fence=fence)
    posts = with_lengths(posts, on_rails, kind_of_line=kind_of_line, wire_m=wire_m, post_mm=thick, fence=fence)
    if problems := too_low(posts, spec=spec):
        raise InputError(problems)
    rails, spots = with_caps(rail_table(on_rails, fence=fence), on_rails, fence=fence), spot_table(on_rails)
    gaps = gap_table(on_rails, bays=tables["bays"])
    notes = [
        *notes_on_lengths(posts, on_rails, fence=fence),
        *notes_on_rails(on_rails, rails, spots, fence=fence),
        *notes_on_caps(on_rails, fence=fence),
    ]
    return Railing({"posts": posts, "rails": rails, "gaps": gaps, "spots": spots}, notes)

"""What a raster with cells coarser than the bays cannot tell of a single post is left empty, not guessed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.records.tables import checked

if TYPE_CHECKING:
    import pandas as pd

    from fencegis.records.terrain import Terrain

# By layer: what hangs on the ground at one post, or between two.
HANGS_ON_A_POST = {
    "posts": ("ground_m", "uplift_kn"),
    "bays": ("grade_pct",),
    "strainers": ("ground_m", "change_pct"),
}


def held_back(layer: str, table: pd.DataFrame, *, terrain: Terrain | None, bay_m: float) -> pd.DataFrame:
    """Return `posts`, `bays` or `strainers`, emptied of what cells coarser than the bay cannot tell; else as it came.

    A post square to the ground loses its lean too; a plumb one is plumb on any ground.
    """
    if terrain is None or terrain.tells_posts(bay_m):
        return table
    table = table.drop(columns=list(HANGS_ON_A_POST[layer]))
    if layer == "posts":
        table = table.assign(lean_deg=table["lean_deg"].where(table["lean_deg"] == 0.0))
    return checked(layer, table)

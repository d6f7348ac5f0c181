"""Holes for the sticks that were chosen from the yard, in place of those for the post of site.toml."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.records.notes import Note
from fencegis.records.tables import checked
from fencegis.strength.holes import hole_mm, water_l
from fencegis.strength.post_holes import NOT_CHECKED

if TYPE_CHECKING:
    import pandas as pd


def holes_for_sticks(posts: pd.DataFrame, *, assumed: str) -> pd.DataFrame:
    """Return the layer `posts` with `hole_mm` and `water_l` by the butt of each stick chosen, others as they were.

    The butt is what has to go down the hole. Where soil is not checked `assumed` is taken.
    """
    chosen = posts["butt_mm"].notna().to_numpy(dtype=bool)
    if not chosen.any():
        return posts
    soils = np.where(posts["soil"].eq(NOT_CHECKED), assumed, posts["soil"].to_numpy(dtype=object))[chosen]
    butt, depth = (posts[name].to_numpy(dtype=float)[chosen] for name in ("butt_mm", "embed_m"))
    hole, water = posts["hole_mm"].to_numpy(dtype=float, copy=True), posts["water_l"].to_numpy(dtype=float, copy=True)
    hole[chosen] = hole_mm(soils, posts["set_by"].to_numpy(dtype=object)[chosen], post_mm=butt)
    water[chosen] = water_l(soils, hole_mm=hole[chosen], post_mm=butt, embed_m=depth)
    return checked("posts", posts.assign(hole_mm=hole, water_l=water))


def notes_on_stick_holes(posts: pd.DataFrame) -> list[Note]:
    """Return what the holes and the water come to with the sticks chosen; none where every post is driven."""
    bored = posts[posts["butt_mm"].notna() & posts["hole_mm"].notna()]
    if bored.empty:
        return []
    return [
        Note(
            "default",
            f"holes of {len(bored)} posts are for the sticks chosen, {bored['hole_mm'].min():.0f} to"
            f" {bored['hole_mm'].max():.0f} mm by the butt of each; with them {posts['water_l'].sum():.0f} L of water"
            " in all",
        )
    ]

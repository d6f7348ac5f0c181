"""A plan: one table a layer, and the site it came from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    import geopandas as gpd
    import pandas as pd

    from fencegis.records.site import Site


@dataclass(frozen=True, eq=False)
class Plan:
    """What `plan_site` returns. Every layer of `records.tables.LAYERS` is an attribute of its own name.

    Stations are Points and spans LineStrings in the working grid `crs` (WKT); a table has no geometry. What is not
    computed is an empty table or an empty column, and `not_computed` names it with the reason.
    """

    site: Site
    crs: str
    runs: gpd.GeoDataFrame
    corners: gpd.GeoDataFrame
    breaks: gpd.GeoDataFrame
    faint_breaks: gpd.GeoDataFrame
    nodes: gpd.GeoDataFrame
    strainers: gpd.GeoDataFrame
    posts: gpd.GeoDataFrame
    bays: gpd.GeoDataFrame
    profile: gpd.GeoDataFrame
    soils: gpd.GeoDataFrame
    rails: gpd.GeoDataFrame
    cuts: pd.DataFrame
    gaps: gpd.GeoDataFrame
    spots: gpd.GeoDataFrame
    divide: pd.DataFrame
    strings: gpd.GeoDataFrame
    sights: gpd.GeoDataFrame
    reference_pegs: pd.DataFrame
    gates: gpd.GeoDataFrame
    hazards: gpd.GeoDataFrame
    checks: gpd.GeoDataFrame
    crossings: gpd.GeoDataFrame
    trees: gpd.GeoDataFrame
    clearing: gpd.GeoDataFrame
    headroom: gpd.GeoDataFrame
    side_slopes: gpd.GeoDataFrame
    access: gpd.GeoDataFrame
    moves: gpd.GeoDataFrame
    clearances: pd.DataFrame
    yard: pd.DataFrame
    quantities: pd.DataFrame
    drops: gpd.GeoDataFrame
    days: pd.DataFrame
    price: pd.DataFrame
    how_sure: pd.DataFrame
    drivers: pd.DataFrame
    title: pd.DataFrame
    notes: pd.DataFrame
    not_computed: tuple[str, ...]

    def layers(self) -> Iterator[tuple[str, pd.DataFrame]]:
        """Yield each layer's name and table, in the order of the contract."""
        from fencegis.records.tables import LAYERS

        for name in LAYERS:
            yield name, getattr(self, name)

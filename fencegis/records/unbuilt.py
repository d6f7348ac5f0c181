"""What a plan does not hold, and why: what the data of this site cannot fill."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.records.tables import LAYERS

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from fencegis.records.site import Site


def not_computed(site: Site, tables: Mapping[str, pd.DataFrame]) -> tuple[str, ...]:
    """Return what is empty in the plan, each with the reason, in the order of the layers.

    An empty column may also mean that nothing of the kind is there; only columns empty in every row are named.
    """
    found = [] if site.rates is not None else ["price: no rates.csv, so nothing is priced and no quote.csv is written"]
    for name, table in tables.items():
        for column in LAYERS[name].own:
            path = f"{name}.{column.name}"
            if len(table) and path in _REASONS and table[column.name].isna().all():
                found.append(f"{path}: {_reason(path, site)}")
    return tuple(found)


_NO_WIRE = "no wire to strain"
_REASONS = {
    "runs.bearing_magnetic_deg": "no date in site.toml, or one outside the magnetic model",
    "corners.rule_class": "no bend rule chosen in site.toml",
    "profile.ground_m": "no ground heights",
    "bays.grade_pct": "no ground heights",
    "posts.ground_m": "no ground heights",
    "strainers.ground_m": "no ground heights",
    "posts.uplift_kn": "no ground heights",
    "posts.side_pull_kn": "no wire to pull a post sideways",
    "posts.wind_kn": "no [wind] speed_m_s in site.toml, so wind is not checked",
    "strainers.pull_kn": _NO_WIRE,
    "posts.hole_mm": "no hole: every post is driven without a pilot",
    "posts.lean_deg": "no ground heights",
    "posts.timber_id": "no posts.csv",
    "posts.heap": "no posts.csv",
    "strings.low_m": "no cord is strung (wire), or the ground between posts cannot be told",
    "sights.next_low_m": "the ground between pegs cannot be told",
    "posts.top_m": "no ground heights",
    "drops.above_m": "no ground heights",
    "gaps.least_m": "no ground heights",
    "gaps.greatest_m": "no ground heights",
    "rails.plumb_from_deg": "no ground heights",
    "rails.plumb_to_deg": "no ground heights",
}
_TOLD_BY_FINE_CELLS = (
    *("bays.grade_pct", "posts.ground_m", "posts.uplift_kn", "posts.lean_deg", "strainers.ground_m"),
    *("posts.top_m", "gaps.least_m", "gaps.greatest_m", "rails.plumb_from_deg", "rails.plumb_to_deg"),
)


def _reason(path: str, site: Site) -> str:
    if path == "posts.uplift_kn" and all(line.kind != "wire" for line in site.drawn):
        return "no wire to lift a post"
    if path == "posts.top_m" and all(line.kind == "wire" for line in site.drawn):
        return "no rails"
    if path in ("posts.timber_id", "posts.heap") and site.timber is not None:
        return "posts.csv names no stick" if path == "posts.timber_id" else "no stick of posts.csv fits a place"
    if path in _TOLD_BY_FINE_CELLS and site.terrain and not site.terrain.tells_posts(site.spec.fence.post_spacing_m):
        return f"held back: cells of {site.terrain.cell_m:.0f} m are coarser than the posts"
    return _REASONS[path]

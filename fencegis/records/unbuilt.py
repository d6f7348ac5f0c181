"""What a plan does not hold, and why: columns that no step fills yet, and those that this site's data cannot fill."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.records.tables import LAYERS

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from fencegis.records.site import Site

# No step of this version fills these.
UNBUILT = {
    "rails": "cutting and joints",
    "posts.top_m": "the top line",
    "posts.length_m": "the top line",
    "posts.embed_m": "footings",
    "posts.mass_kg": "post lengths",
    "posts.offset_mm": "hole marks",
    "posts.timber_id": "choice of posts from the yard",
    "machine.working_height_m against the longest post": "post lengths",
    "machine.travel_height_m on the way there": "access",
    "setout.pdf": "sheets for the crew",
    "client.pdf": "pages for the client",
    "quote.csv": "prices",
    "schedule.csv": "days",
}


def not_computed(site: Site, tables: Mapping[str, pd.DataFrame]) -> tuple[str, ...]:
    """Return what is empty in the plan, each with the reason, in the order of the layers.

    An empty column may also mean that nothing of the kind is there; only columns empty in every row are named.
    """
    found = [f"{name}: not built yet ({what})" for name, what in UNBUILT.items()]
    for name, table in tables.items():
        for column in LAYERS[name].own:
            path = f"{name}.{column.name}"
            if len(table) and path not in UNBUILT and path in _REASONS and table[column.name].isna().all():
                found.append(f"{path}: {_reason(path, site)}")
    return tuple(found)


_NO_WIRE = "no wire to strain; footings of rail fences are not built yet"
_REASONS = {
    "runs.bearing_magnetic_deg": "no date in site.toml, or one outside the magnetic model",
    "corners.rule_class": "no bend rule chosen in site.toml",
    "profile.ground_m": "no ground heights",
    "bays.grade_pct": "no ground heights",
    "posts.ground_m": "no ground heights",
    "strainers.ground_m": "no ground heights",
    "posts.uplift_kn": "no ground heights",
    "strainers.pull_kn": _NO_WIRE,
    "strainers.embed_m": _NO_WIRE,
}


def _reason(path: str, site: Site) -> str:
    if path == "posts.uplift_kn" and all(line.kind != "wire" for line in site.drawn):
        return "no wire to lift a post"
    return _REASONS[path]

"""Proof that posts keep clear: for each buried service, keep-out and survey mark the nearest post, and how near."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from fencegis.hazards.kept_things import FILES, things
from fencegis.line.chainage import points_at
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.line.chainage import Line
    from fencegis.records.site import Site

    Floats = npt.NDArray[np.float64]

A_HAIR_M = 1e-6


def clearance_table(posts: pd.DataFrame, *, lines: Sequence[Line], site: Site) -> pd.DataFrame:
    """Return the layer `clearances`: plan distance from the face of the nearest post to each thing as it is drawn.

    Distances are between the plan and the drawing: what either is off on the ground is not in them.
    """
    centre, half_m = post_places(posts, lines=lines), posts["face_mm"].to_numpy(dtype=float) / 2000.0
    found = [thing for kind in FILES for thing in things(site, kind)]
    if not found or not len(posts):
        return empty("clearances")
    tree = shapely.STRtree(np.asarray(shapely.points(centre)))
    rows = []
    for thing in found:
        # the nearest face belongs to one of the posts within the nearest centre and the thickest post's half
        near_m = float(shapely.distance(tree.geometries[tree.nearest(thing.shape)], thing.shape)) + float(half_m.max())
        about = tree.query(thing.shape, predicate="dwithin", distance=near_m + A_HAIR_M)
        face_m = shapely.distance(tree.geometries[about], thing.shape) - half_m[about]
        first = int(face_m.argmin())
        least_m = max(0.0, float(face_m[first]))
        rows.append(
            {
                "thing": f"{FILES[thing.kind]}, {thing.label}",
                "kind": thing.kind,
                "required_m": thing.required_m,
                "post_id": posts["post_id"].iloc[int(about[first])],
                "least_m": least_m,
                "kept": bool(face_m[first] > 0.0 and least_m >= thing.required_m + thing.uncertain_m - A_HAIR_M),
                "basis": f"{thing.about}; asked: {thing.rule}"
                + (f", and {thing.uncertain_m:g} m for where it may lie" if thing.uncertain_m else ""),
            }
        )
    return checked("clearances", pd.DataFrame(rows))


def post_places(posts: pd.DataFrame, *, lines: Sequence[Line]) -> Floats:
    """Return easting and northing (n, 2) of posts by their line and chainage."""
    places = np.full((len(posts), 2), np.nan)
    for line in lines:
        here = np.flatnonzero(posts["line_id"].to_numpy() == line.line_id)
        if len(here):
            places[here] = points_at(line, posts["chainage_m"].to_numpy(dtype=float)[here])
    return places

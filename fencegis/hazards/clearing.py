"""What has to be cleared, each side of the line for itself: ground under leaves, by how dense they stand.

Cover is looked up every half metre over the strip that is cleared, from `canopy.tif` where it is given, else from the
crowns of `trees.geojson`, which know nothing of scrub. It is told in pieces of ten metres, neighbours of one density
joined.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from fencegis.hazards.found import Found, checks_table, hazards_table
from fencegis.hazards.needs import needs_of
from fencegis.hazards.trees import tree_number, trees
from fencegis.line.canopy import canopy_at
from fencegis.line.chainage import points_at, rights_at
from fencegis.records.notes import Note
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Callable

    from fencegis.hazards.found import Floats, Scene
    from fencegis.line.chainage import Line

    Cover = Callable[[Floats], Floats]

STEP_M = 0.5
DENSITIES = ("open", "sparse", "loose", "dense")
NAMES = {-1: "left", 1: "right"}


def clearing(scene: Scene) -> Found:
    """Return the layer `clearing`; what no layer tells is a note, never nothing to clear."""
    covered, basis = _cover(scene)
    nothing = hazards_table([]), checks_table([])
    if covered is None:
        return Found(*nothing, (Note("doubt", "neither canopy.tif nor trees.geojson: clearing is not told"),))
    needs, given = needs_of(scene.spec), scene.spec.clearing
    rows, unknown_m2 = [], 0.0
    for line in scene.lines:
        for side, width_m in ((-1, given.left_m), (1, given.right_m)):
            own_m = needs.room_m if side in needs.sides else 0.0
            wide_m = own_m if width_m is None else width_m
            if wide_m > 0.0:
                pieces, lost_m2 = _of_side(line, side, wide_m, covered)
                unknown_m2 += lost_m2
                rows += [{**piece, "line_id": line.line_id, "basis": basis} for piece in pieces]
    notes = []
    if unknown_m2 > 1.0:
        notes.append(Note("doubt", f"canopy.tif says nothing of {unknown_m2:.0f} m² beside the line: look there"))
    if given.left_m is None and given.right_m is None and rows:
        notes.append(
            Note(
                "default",
                f"cleared as wide as the machine needs ({needs.room_m:.1f} m beside the line): the law of the place"
                " may limit it, and [clearing] left_m and right_m set it",
            )
        )
    table = checked("clearing", pd.DataFrame(rows)) if rows else empty("clearing")
    return Found(*nothing, tuple(notes), layers={"clearing": table})


def _cover(scene: Scene) -> tuple[Cover | None, str]:
    """Return how covered each of (n, 2) points is, 1, 0 or NaN for unknown, and where that is from."""
    site = scene.site
    canopy, layer = site.canopy, site.trees
    if canopy is not None:
        low = tree_number("covered")

        def under_canopy(points: Floats) -> Floats:
            high = canopy_at(canopy, site.grid.wkt, points)
            return np.where(np.isnan(high), np.nan, (high >= low).astype(float))

        return under_canopy, f"canopy.tif, leaves of {low:g} m and more"
    if layer is not None:
        crowns = shapely.union_all([tree.shape for tree in trees(layer, ground=lambda points: np.zeros(len(points)))])
        shapely.prepare(crowns)
        basis = "trees.geojson, crowns; scrub is in no layer"
        return lambda points: shapely.intersects_xy(crowns, points).astype(float), basis
    return None, ""


def _of_side(line: Line, side: int, width_m: float, covered: Cover) -> tuple[list[dict[str, object]], float]:
    """Return the pieces of one side that hold cover, neighbours of one density joined, and what area is unknown."""
    along = _middles(line.length_m, STEP_M)
    across = _middles(width_m, STEP_M)
    points, right = points_at(line, along), rights_at(line, along)
    cells = points[:, None, :] + side * across[None, :, None] * right[:, None, :]
    cover = covered(cells.reshape(-1, 2)).reshape(len(along), len(across))
    area_m2 = line.length_m / len(along) * width_m / len(across)
    edges = np.linspace(0.0, line.length_m, max(1, round(line.length_m / tree_number("piece"))) + 1)
    pieces: list[dict[str, object]] = []
    of_piece = np.searchsorted(edges, along, side="right") - 1
    sums = np.bincount(of_piece, np.nansum(cover, axis=1), minlength=len(edges) - 1)
    known = np.bincount(of_piece, (~np.isnan(cover)).sum(axis=1), minlength=len(edges) - 1)
    for piece in np.flatnonzero(sums).tolist():
        density = density_of(float(sums[piece] / known[piece]))
        from_m, to_m, here_m2 = float(edges[piece]), float(edges[piece + 1]), float(sums[piece] * area_m2)
        last = pieces[-1] if pieces else None
        if last is not None and last["density"] == density and last["to_m"] == from_m:
            last["to_m"], last["area_m2"] = to_m, last["area_m2"] + here_m2  # type: ignore[operator]
        else:
            pieces.append(
                {
                    "from_m": from_m,
                    "to_m": to_m,
                    "side": NAMES[side],
                    "density": density,
                    "width_m": width_m,
                    "area_m2": here_m2,
                }
            )
    return pieces, float(np.isnan(cover).sum() * area_m2)


def density_of(share: float) -> str:
    """Return the class of a share of covered ground, from 0 to 1."""
    return next(name for name in DENSITIES if share <= tree_number(name) + 1e-9)


def _middles(length_m: float, step_m: float) -> Floats:
    count = max(1, int(np.ceil(length_m / step_m)))
    return (np.arange(count) + 0.5) * length_m / count

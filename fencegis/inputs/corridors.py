"""Where rasters are read: beside the drawn lines, under conductors, and along tracks that come near the lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

import shapely

from fencegis.inputs.between_files import path_of
from fencegis.inputs.boundary import drawn_lines
from fencegis.inputs.features import on_grid

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
    import numpy.typing as npt

    from fencegis.inputs.boundary import BoundaryLine
    from fencegis.inputs.features import LayerRead
    from fencegis.records.site import Grid
    from fencegis.records.spec import Spec

    Floats = npt.NDArray[np.float64]

LINE_M = 30.0  # ground beside the line: the machine, the side slope, limbs
CONDUCTOR_M = 60.0
TRACK_M = 3.0
NEAR_M = 200.0  # of a track what is nearer than this to a line


def corridors_of(
    lines: tuple[BoundaryLine, ...], layers: Mapping[str, list[LayerRead]], *, spec: Spec, grid: Grid
) -> list[tuple[Floats, float]]:
    """Return (n, 2) polylines of the working grid, each with how far to either side it is read."""
    sigma_m = spec.boundary.vertex_sigma_m
    drawn = [path_of(line) for line in drawn_lines(lines, grid, sigma_m=sigma_m)]
    found = [(path, LINE_M + 3.0 * sigma_m) for path in drawn]
    if "overhead" in layers:
        overhead = on_grid(layers["overhead"], "overhead", grid).geometry
        found += [(shapely.get_coordinates(line), CONDUCTOR_M) for line in overhead]
    if "tracks" in layers:
        tracks = on_grid(layers["tracks"], "tracks", grid).geometry.to_numpy()
        about = shapely.buffer(shapely.union_all([shapely.LineString(path) for path in drawn]), NEAR_M)
        parts = shapely.get_parts(shapely.get_parts(shapely.intersection(shapely.force_2d(tracks), about)))
        found += [(shapely.get_coordinates(part), TRACK_M) for part in parts if shapely.length(part) > 0.0]
    return found

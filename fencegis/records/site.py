"""A site as read: the drawn lines, the ground, the layers, all in one working grid of metres."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    import geopandas as gpd
    import numpy as np
    import numpy.typing as npt

    from fencegis.records.backdrop import Backdrop
    from fencegis.records.notes import Note
    from fencegis.records.rates import Rate
    from fencegis.records.spec import FenceKind, RunLabel, Spec
    from fencegis.records.terrain import Canopy, Operation, Terrain
    from fencegis.records.timber import Timber
    from fencegis.records.title import TitleLeg


@dataclass(frozen=True)
class Grid:
    """The working grid: metres east and north, scaled so that grid distance is ground distance.

    `wkt` is the projected CRS, `datum` the geographic one below it as WKT (that of the drawing).
    """

    wkt: str
    datum: str
    centre_lon_deg: float
    centre_lat_deg: float
    height_m: float  # mean ground height that the scale is set for
    scale: float


@dataclass(frozen=True, eq=False)
class DrawnLine:
    """One line as drawn.

    `vertices` is (n, 2), easting and northing in the working grid, a loop's first not repeated at its end;
    `sigma_m` is one standard deviation of a vertex in east and in north, each.
    """

    line_id: str
    name: str
    feature: str  # how faults and notes call it: "feature 2 (North side)"
    kind: FenceKind
    label: RunLabel | None
    closed: bool
    vertices: npt.NDArray[np.float64]
    sigma_m: float


@dataclass(frozen=True, eq=False)
class Site:
    """All that was read of one site. A layer is None when its file is absent: not checked, never clear.

    Layers are GeoDataFrames in the working grid with normalised columns (see `inputs.layers`); heights of 3-D
    conductors are in the raster's own height datum. `backdrop` is called only when a map is drawn.
    """

    folder_name: str
    name: str
    spec: Spec
    grid: Grid
    drawn: tuple[DrawnLine, ...]
    terrain: Terrain | None = None
    canopy: Canopy | None = None
    pegs: gpd.GeoDataFrame | None = None
    gates: gpd.GeoDataFrame | None = None
    overhead: gpd.GeoDataFrame | None = None
    trees: gpd.GeoDataFrame | None = None
    soils: gpd.GeoDataFrame | None = None
    walk: gpd.GeoDataFrame | None = None
    watercourses: gpd.GeoDataFrame | None = None
    services: gpd.GeoDataFrame | None = None
    keepout: gpd.GeoDataFrame | None = None
    tracks: gpd.GeoDataFrame | None = None
    existing: gpd.GeoDataFrame | None = None
    title: tuple[TitleLeg, ...] | None = None
    timber: tuple[Timber, ...] | None = None
    rates: tuple[Rate, ...] | None = None
    notes: tuple[Note, ...] = ()
    inputs: dict[str, dict[str, str]] = field(default_factory=dict)  # file name → sha256, size, …
    operations: tuple[Operation, ...] = ()
    unread: tuple[str, ...] = ()  # files of the contract that this version does not read yet
    backdrop: Callable[[], Backdrop] | None = None

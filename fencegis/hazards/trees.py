"""Trees as the room their limbs take up: what was given, what is assumed, and how far the envelope is from them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fencegis.catalogue import rows as catalogue_rows
from fencegis.hazards.approach import allowance
from fencegis.hazards.given import flag_or_none, label, number

if TYPE_CHECKING:
    import geopandas as gpd

    from fencegis.hazards.envelope import Allowance
    from fencegis.hazards.found import Floats, Ground, Places


@cache
def tree_number(name: str) -> float:
    """Return a number of `catalogue/trees.csv`; KeyError when there is none."""
    return {row["name"]: float(row["value"]) for row in catalogue_rows("trees")}[name]


@dataclass(frozen=True, eq=False)
class Limbs:
    """The room from the lowest limb to the top of a tree, or of a stand of them, over what it covers in plan.

    A tree stands at one point and its heights are above the ground there. In a stand they are above the ground under
    the limb. Heights in metres; `top_m` is infinite when the height of the tree is unknown.
    """

    cover: shapely.Geometry  # of a tree its stem, of a stand its outline
    radius_m: float  # of a tree's crown; 0 for a stand
    ground: Ground
    lowest_m: float
    top_m: float

    def distance_m(
        self, points: Floats, ground_m: Floats, *, working_height_m: float, off: Allowance, below_m: float
    ) -> Floats:
        """Return (n,) least distances from columns of the working height on the ground at (n, 2) points.

        Exact where less than `below_m`, infinite elsewhere. Where the ground is unknown it is taken as flat.
        """
        found = np.full(len(points), np.inf)
        within_m = self.radius_m + off.plan_m + below_m
        near, plan_m, foot_m = self._near(points, within_m)
        if len(near):
            plan_m = np.maximum(plan_m - self.radius_m - off.plan_m, 0.0)
            rise_m = np.nan_to_num(foot_m - ground_m[near], nan=0.0)
            over_m = rise_m + self.lowest_m - off.height_m - working_height_m
            under_m = -(rise_m + self.top_m + off.height_m)  # a top that stays below the ground we stand on
            found[near] = np.hypot(plan_m, np.maximum(0.0, np.maximum(over_m, under_m)))
        return found

    def _near(self, points: Floats, within_m: float) -> tuple[Places, Floats, Floats]:
        """Return which points are within a distance, how far each is, and the ground that the limb is measured from."""
        if self.radius_m:
            stem, stem_ground_m = self._stem
            away_m = np.hypot(points[:, 0] - stem[0], points[:, 1] - stem[1])
            near = np.flatnonzero(away_m <= within_m)
            return near, away_m[near], np.full(len(near), stem_ground_m)
        cover = self._cover_about(points, within_m=within_m)
        shapely.prepare(cover)
        near = np.flatnonzero(shapely.dwithin(cover, shapely.points(points), within_m))
        return near, *self._foot(cover, points[near])

    @cached_property
    def _stem(self) -> tuple[Floats, float]:
        """Where a tree stands, and the ground there."""
        stem = shapely.get_coordinates(self.cover)
        return stem[0], float(self.ground(stem)[0])

    def _cover_about(self, points: Floats, *, within_m: float) -> shapely.Geometry:
        """Return the part of a stand that lies about the points; a wood may be large."""
        low, high = points.min(axis=0) - within_m - 1.0, points.max(axis=0) + within_m + 1.0
        about: shapely.Geometry = shapely.intersection(self.cover, shapely.box(*low, *high))
        return about

    def _foot(self, cover: shapely.Geometry, points: Floats) -> tuple[Floats, Floats]:
        """Return the plan distance to a stand, and the ground under its nearest limb."""
        nearest = points.copy()
        outside = np.flatnonzero(~shapely.intersects_xy(cover, points)) if len(points) else np.zeros(0, dtype=int)
        if len(outside):
            nearest[outside] = shapely.get_coordinates(shapely.shortest_line(cover, shapely.points(points[outside])))[
                ::2
            ]
        return np.hypot(*(points - nearest).T), self.ground(nearest)


@dataclass(frozen=True, eq=False)
class Tree:
    """One tree, or stand of them, as given (`given` is None where something it needs is unknown) and as it may be."""

    row: int
    label: str
    dead: bool
    spread_known: bool
    given: Limbs | None
    may_be: Limbs
    shape: shapely.Geometry  # what it covers in plan
    about: str
    assumed: tuple[str, ...]
    doubt: str
    limb_m: float = math.nan  # of the lowest limb, as given
    keep: bool | None = None  # whether the client wants it kept, None when nobody said
    trunk_m: float = math.nan  # across
    root_m: float = math.nan  # radius of the zone in which roots are kept

    @property
    def stem(self) -> shapely.Geometry:
        """What the trunk takes up in plan; of a stand its whole outline."""
        if isinstance(self.may_be.cover, shapely.Point):
            across_m = tree_number("stem") if math.isnan(self.trunk_m) else self.trunk_m
            return shapely.buffer(self.may_be.cover, across_m / 2.0)
        return self.may_be.cover

    @property
    def roots_m(self) -> float:
        """Radius of the zone in which roots are kept, from the stem; NaN where nothing tells it."""
        return self.root_m if not math.isnan(self.root_m) else tree_number("root share") * self.trunk_m


def trees(layer: gpd.GeoDataFrame, *, ground: Ground) -> list[Tree]:
    """Return the trees of the layer, one for each point or polygon."""
    rows = layer.drop(columns=layer.geometry.name).to_dict("records")
    return [
        _tree(place, row, part, ground)
        for place, (row, geometry) in enumerate(zip(rows, layer.geometry, strict=True))
        for part in (shapely.get_parts(geometry) if geometry is not None else ())
        if isinstance(part, shapely.Point | shapely.Polygon) and not part.is_empty
    ]


def _tree(place: int, row: dict[Any, Any], part: shapely.Geometry, ground: Ground) -> Tree:
    limb_m, height_m = number(row, "limb_m"), number(row, "height_m")
    dead = flag_or_none(row, "dead") or False
    cover = shapely.force_2d(part if shapely.is_valid(part) else shapely.make_valid(part))
    spread_m, assumed = (0.0, "") if isinstance(part, shapely.Polygon) else _spread_m(row)
    radius_m, top_m = spread_m / 2.0, math.inf if math.isnan(height_m) else height_m
    known = not math.isnan(limb_m) and not assumed
    return Tree(
        row=place,
        label=label(row),
        dead=dead,
        spread_known=not assumed,
        given=Limbs(cover, radius_m, ground, limb_m, top_m) if known else None,
        # What falls off a dead tree, and a limb that nobody measured, may be at any height.
        may_be=Limbs(cover, radius_m, ground, 0.0 if dead or math.isnan(limb_m) else limb_m, top_m),
        shape=shapely.buffer(cover, radius_m) if radius_m else cover,
        about=_about(limb_m, height_m, spread_m, dead=dead),
        assumed=(assumed,) if assumed else (),
        doubt="height unknown" if math.isnan(limb_m) else "",
        limb_m=limb_m,
        keep=flag_or_none(row, "keep"),
        trunk_m=number(row, "trunk_m"),
        root_m=number(row, "root_m"),
    )


def _spread_m(row: dict[Any, Any]) -> tuple[float, str]:
    given_m, height_m = number(row, "spread_m"), number(row, "height_m")
    if given_m > 0.0:
        return given_m, ""
    assumed_m = allowance("spread_m") if math.isnan(height_m) else allowance("spread_share") * height_m
    return assumed_m, f"spread {assumed_m:g} m across"


def _about(limb_m: float, height_m: float, spread_m: float, *, dead: bool) -> str:
    parts = ["dead tree" if dead else "tree"]
    if not math.isnan(limb_m):
        parts.append(f"lowest limb {limb_m:g} m above ground")
    if not math.isnan(height_m):
        parts.append(f"{height_m:g} m high")
    if spread_m:
        parts.append(f"{spread_m:g} m across")
    return ", ".join(parts)

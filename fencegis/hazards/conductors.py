"""Overhead conductors as curves in space: what was given, what is assumed, and how far the envelope is from them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import shapely

from fencegis.hazards.approach import allowance
from fencegis.hazards.curve import Curve, curve_of, distance_m, representatives
from fencegis.hazards.given import flag_or_none, label, number, text_or_none
from fencegis.line import hanging

if TYPE_CHECKING:
    from collections.abc import Iterator

    import geopandas as gpd

    from fencegis.hazards.envelope import Allowance
    from fencegis.hazards.found import Floats, Ground

_STEP_M = 0.25  # between points of a curve
_FOLLOWING_M = 0.1  # the same where the curve follows the bumps of the ground


@dataclass(frozen=True, eq=False)
class Conductor:
    """One drawn line overhead.

    `height_m` is the lowest conductor above the ground everywhere; `attached` says that the vertices' own heights are
    attachments, with `sag_m` between them; where both are known the lower counts. `doubt` says why no height is
    known, and is empty when one is.
    """

    row: int  # place in the layer
    label: str
    kind: Literal["power", "phone"]
    line: shapely.LineString
    ground: Ground
    voltage_kv: float
    insulated: bool | None
    tower: bool
    height_m: float
    height_from: str | None
    attached: bool
    sag_m: float
    half_width_m: float
    height_error_m: float
    assumed: tuple[str, ...]
    doubt: str

    @property
    def about(self) -> str:
        """How the line is called in print."""
        if self.kind == "phone":
            return f"{self.label}, phone line"
        return f"{self.label}, " + ("voltage unknown" if math.isnan(self.voltage_kv) else f"{self.voltage_kv:g} kV")

    @property
    def height_as_given(self) -> str:
        """The heights that the curve is made of, in words."""
        parts = [] if math.isnan(self.height_m) else [f"{self.height_m:g} m above ground"]
        if self.attached:
            parts.append(f"heights of its ends, sag {self.sag_m:g} m")
        return " and ".join(parts) + f" ({self.height_from or 'nobody said who measured it'})"

    def distance_m(
        self, points: Floats, ground_m: Floats, *, working_height_m: float, off: Allowance, below_m: float
    ) -> Floats:
        """Return (n,) least distances from columns of the working height on the ground at (n, 2) points.

        Exact where less than `below_m`. Where the ground is unknown it is taken as flat below a height above ground;
        below heights of attachments the distance is then infinite.
        """
        columns = np.column_stack([points, ground_m + working_height_m])
        first, stands, moved_m = representatives(columns)
        within_m = off.plan_m + below_m + float(moved_m[np.isfinite(moved_m)].max(initial=0.0))
        curve = self._curve(points, within_m=within_m)
        flat_m = self.height_m - working_height_m
        rough_m = distance_m(curve, columns[first], flat_m=flat_m, off=off, within_m=within_m)
        known = np.isfinite(moved_m)
        open_ = ~known
        open_[known] = rough_m[stands[known]] - moved_m[known] < below_m + 0.02
        found = np.full(len(points), np.inf)
        found[open_] = distance_m(curve, columns[open_], flat_m=flat_m, off=off, within_m=within_m)
        return found

    def _curve(self, points: Floats, *, within_m: float) -> Curve:
        """Return the curve where it passes the surroundings of the points."""
        low, high = points.min(axis=0) - within_m - _STEP_M, points.max(axis=0) + within_m + _STEP_M
        step_m = _STEP_M if math.isnan(self.height_m) else _FOLLOWING_M
        pieces = list(self._spans(low, high, step_m=step_m))
        if not math.isnan(self.height_m):
            for piece in pieces:
                above_m = self.ground(np.ascontiguousarray(piece[:, :2])) + self.height_m
                piece[:, 2] = np.fmin(piece[:, 2], above_m) if self.attached else above_m
        return curve_of(pieces)

    def _spans(self, low: Floats, high: Floats, *, step_m: float) -> Iterator[Floats]:
        """Yield (n, 3) points of each span inside the box; heights only where the vertices are attachments."""
        vertices = shapely.get_coordinates(self.line, include_z=True)
        for start, end in pairwise(vertices):
            if (np.maximum(start, end)[:2] < low).any() or (np.minimum(start, end)[:2] > high).any():
                continue
            share = np.linspace(0.0, 1.0, int(np.ceil(np.hypot(*(end - start)[:2]) / step_m)) + 1)
            piece = hanging.points_on(share, start=start, end=end, sag_m=self.sag_m if self.attached else math.nan)
            inside = ((piece[:, :2] >= low) & (piece[:, :2] <= high)).all(axis=1)
            if inside.any():
                yield piece[inside]


def conductors(layer: gpd.GeoDataFrame, *, ground: Ground, elevation: bool) -> list[Conductor]:
    """Return the drawn lines of the layer, one for each part; `elevation` says whether ground heights exist at all."""
    rows = layer.drop(columns=layer.geometry.name).to_dict("records")
    return [
        _conductor(place, row, line, ground=ground, elevation=elevation)
        for place, (row, geometry) in enumerate(zip(rows, layer.geometry, strict=True))
        for line in (shapely.get_parts(geometry) if geometry is not None else ())
        if isinstance(line, shapely.LineString) and not line.is_empty
    ]


def _conductor(
    place: int, row: dict[Any, Any], line: shapely.LineString, *, ground: Ground, elevation: bool
) -> Conductor:
    kind: Literal["power", "phone"] = "phone" if row.get("kind") == "phone" else "power"
    voltage_kv, height_m, sag_m = (number(row, name) for name in ("voltage_kv", "height_m", "sag_m"))
    half_width_m, wide = _half_width_m(row, voltage_kv)
    height_error_m, rough = _height_error_m(row)
    heights = line.has_z and bool(np.isfinite(shapely.get_coordinates(line, include_z=True)[:, 2]).all())
    attached = heights and elevation and not math.isnan(sag_m)
    doubt = "" if attached or not math.isnan(height_m) else "height unknown"
    if doubt and heights and elevation:
        doubt = "sag unknown"
    return Conductor(
        row=place,
        label=label(row),
        kind=kind,
        line=line,
        ground=ground,
        voltage_kv=math.nan if kind == "phone" else voltage_kv,
        insulated=flag_or_none(row, "insulated"),
        tower=row.get("support") == "tower",
        height_m=height_m,
        height_from=text_or_none(row, "height_from"),
        attached=attached,
        sag_m=sag_m,
        half_width_m=half_width_m,
        height_error_m=height_error_m,
        assumed=tuple(one for one in (wide, rough) if one),
        doubt=doubt,
    )


def _half_width_m(row: dict[Any, Any], voltage_kv: float) -> tuple[float, str]:
    given_m = number(row, "half_width_m")
    if not math.isnan(given_m):
        return given_m, ""
    low = row.get("kind") == "phone" or voltage_kv <= allowance("half_width_split_kv")
    assumed_m = allowance("half_width_low_m" if low else "half_width_high_m")
    return assumed_m, f"outer conductor {assumed_m:g} m off the drawn line"


def _height_error_m(row: dict[Any, Any]) -> tuple[float, str]:
    given_m, assumed_m = number(row, "height_error_m"), allowance("height_error_m")
    if row.get("height_from") == "eye" and not given_m >= assumed_m:
        return assumed_m, f"height judged by eye, good to {assumed_m:g} m at best"
    return (assumed_m, f"height good to {assumed_m:g} m") if math.isnan(given_m) else (given_m, "")

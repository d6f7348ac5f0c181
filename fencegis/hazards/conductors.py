"""Overhead conductors as curves in space: what was given, what is assumed, and how far the envelope is from them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import shapely

from fencegis.hazards.approach import allowance
from fencegis.hazards.curve import Curve, curve_of, distance_m, representatives
from fencegis.hazards.given import flag_or_none, number, text_or_none
from fencegis.hazards.poles import strung
from fencegis.line import hanging

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import geopandas as gpd

    from fencegis.hazards.envelope import Allowance
    from fencegis.hazards.found import Floats, Ground
    from fencegis.hazards.poles import Strung

SAG_UNKNOWN = "sag unknown"
_STEP_M = 0.25  # between points of a curve
_FOLLOWING_M = 0.1  # the same where the curve follows the bumps of the ground


@dataclass(frozen=True, eq=False)
class Conductor:
    """One line overhead, or a pole that no line leads to.

    `height_m` is the lowest conductor above the ground everywhere; `attached` says that the vertices' own heights are
    attachments, with `sag_m` between them; where both are known the lower counts. `doubt` says why no height is
    known, and is empty when one is. `swing_m` is how far wind moves it sideways in mid span, NaN where nobody gave it:
    then it swings by its sag, and where that is unknown by the sag that a span of such a length has. `joined` is how
    many poles we hung it between ourselves.
    """

    rows: tuple[int, ...]  # places in the layer
    label: str
    kind: Literal["power", "phone"]
    line: shapely.LineString | shapely.Point
    ground: Ground
    voltage_kv: float
    insulated: bool | None
    tower: bool
    height_m: float
    height_from: str | None
    attached: bool
    sag_m: float
    swing_m: float
    half_width_m: float
    height_error_m: float
    joined: int
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

    @property
    def pole(self) -> bool:
        """Whether it is a pole that no line leads to."""
        return isinstance(self.line, shapely.Point)

    @property
    def longest_span_m(self) -> float:
        """The longest span that is taken where the drawing has no support for further."""
        high = self.tower or (self.kind == "power" and self.voltage_kv > allowance("half_width_split_kv"))
        return allowance("span_tower_m" if high else "span_pole_m")

    @cached_property
    def most_swing_m(self) -> float:
        """The most that wind moves any of it sideways."""
        spans_m = np.hypot(*np.diff(shapely.get_coordinates(self.line), axis=0).T)
        return max((self.mid_swing_m(length_m) for length_m in spans_m.tolist()), default=0.0)

    def mid_sag_m(self, span_m: float) -> float:
        """Return the greatest sag of a span of such a length: the one given, else the allowance."""
        if not math.isnan(self.sag_m):
            return self.sag_m
        return allowance("sag_share") * (span_m if self.attached else min(span_m, self.longest_span_m))

    def mid_swing_m(self, span_m: float) -> float:
        """Return how far wind moves the middle of such a span sideways."""
        if not math.isnan(self.swing_m):
            return self.swing_m
        return self.mid_sag_m(span_m) * math.sin(math.radians(allowance("swing_deg")))

    @property
    def sway(self) -> str:
        """How far it swings, in words; empty where it does not."""
        if not math.isnan(self.swing_m):
            return f"swing {self.swing_m:g} m in mid span, as given" if self.swing_m else ""
        if self.pole:
            return ""
        sag = f"{allowance('sag_share'):.0%} of each span" if math.isnan(self.sag_m) else f"{self.sag_m:g} m"
        return f"swing up to {self.most_swing_m:.1f} m sideways in wind, {allowance('swing_deg'):g}° at a sag of {sag}"

    def with_usual_sag(self) -> Conductor:
        """Return it hung from its vertices with the sag that spans of such a length have: nobody gave that."""
        return replace(self, attached=True, doubt="")

    def distance_m(
        self, points: Floats, ground_m: Floats, *, working_height_m: float, off: Allowance, below_m: float
    ) -> Floats:
        """Return (n,) least distances from columns of the working height on the ground at (n, 2) points.

        Exact where less than `below_m`. Where the ground is unknown it is taken as flat below a height above ground;
        below heights of attachments the distance is then infinite.
        """
        columns = np.column_stack([points, ground_m + working_height_m])
        first, stands, moved_m = representatives(columns)
        sideways_m = off.plan_m + (self.most_swing_m if off.swings else 0.0)
        within_m = sideways_m + below_m + float(moved_m[np.isfinite(moved_m)].max(initial=0.0))
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
        pieces = list(self._within(low, high))
        if not math.isnan(self.height_m):
            for piece in pieces:
                above_m = self.ground(np.ascontiguousarray(piece[:, :2])) + self.height_m
                piece[:, 2] = np.fmin(piece[:, 2], above_m) if self.attached else above_m
        return curve_of(pieces)

    def _within(self, low: Floats, high: Floats) -> Iterator[Floats]:
        """Yield (n, 4) points of each span inside the box and their swing; heights only where vertices have them."""
        for piece in self._spans:
            ends = piece[[0, -1], :2]
            if (ends.max(axis=0) < low).any() or (ends.min(axis=0) > high).any():
                continue
            inside = ((piece[:, :2] >= low) & (piece[:, :2] <= high)).all(axis=1)
            if inside.any():
                yield piece[inside]

    @cached_property
    def _spans(self) -> list[Floats]:
        """Each span as (n, 4) points and their swing, laid out once: it is asked for again and again."""
        step_m = _STEP_M if math.isnan(self.height_m) else _FOLLOWING_M
        spans = []
        for start, end in pairwise(shapely.get_coordinates(self.line, include_z=True)):
            span_m = float(np.hypot(*(end - start)[:2]))
            share = np.linspace(0.0, 1.0, int(np.ceil(span_m / step_m)) + 1)
            sag_m = self.mid_sag_m(span_m) if self.attached else math.nan
            piece = hanging.points_on(share, start=start, end=end, sag_m=sag_m)
            spans.append(np.column_stack([piece, self._swing_at(share, span_m)]))
        return spans

    def _swing_at(self, share: Floats, span_m: float) -> Floats:
        """Return how far each share of a span swings; between vertices too far apart to be supports, all the same."""
        if not self.attached and span_m > self.longest_span_m:
            return np.full(len(share), self.mid_swing_m(span_m))
        return hanging.drop(share, sag_m=self.mid_swing_m(span_m))


def conductors(layer: gpd.GeoDataFrame, *, ground: Ground, elevation: bool) -> list[Conductor]:
    """Return the lines of the layer, one for each part, those that we hung between poles, and poles by themselves.

    `elevation` says whether ground heights exist at all.
    """
    return [_conductor(one, ground=ground, elevation=elevation) for one in strung(layer)]


def _conductor(one: Strung, *, ground: Ground, elevation: bool) -> Conductor:
    row = one.cells
    kind: Literal["power", "phone"] = "phone" if row.get("kind") == "phone" else "power"
    voltage_kv, height_m, sag_m, swing_m = (
        number(row, name) for name in ("voltage_kv", "height_m", "sag_m", "swing_m")
    )
    half_width_m, wide = _half_width_m(row, voltage_kv)
    height_error_m, rough = _height_error_m(row)
    heights = one.shape.has_z and bool(np.isfinite(shapely.get_coordinates(one.shape, include_z=True)[:, 2]).all())
    attached = heights and elevation and not math.isnan(sag_m)
    joined = f"poles joined by us: {one.joined}, each to those next to it" if one.joined else ""
    return Conductor(
        rows=one.rows,
        label=one.label,
        kind=kind,
        line=one.shape,
        ground=ground,
        voltage_kv=math.nan if kind == "phone" else voltage_kv,
        insulated=flag_or_none(row, "insulated"),
        tower=row.get("support") == "tower",
        height_m=height_m,
        height_from=text_or_none(row, "height_from"),
        attached=attached,
        sag_m=sag_m,
        swing_m=swing_m,
        half_width_m=half_width_m,
        height_error_m=height_error_m,
        joined=one.joined,
        assumed=tuple(text for text in (joined, wide, rough) if text),
        doubt=_doubt(one, height_m=height_m, attached=attached, hung_up=heights and elevation),
    )


def _doubt(one: Strung, *, height_m: float, attached: bool, hung_up: bool) -> str:
    """Return why no height is known, empty when one is."""
    if isinstance(one.shape, shapely.Point):
        return "a pole, and no line to it"
    if attached or not math.isnan(height_m):
        return ""
    return SAG_UNKNOWN if hung_up else "height unknown"


def _half_width_m(row: Mapping[Any, Any], voltage_kv: float) -> tuple[float, str]:
    given_m = number(row, "half_width_m")
    if not math.isnan(given_m):
        return given_m, ""
    low = row.get("kind") == "phone" or voltage_kv <= allowance("half_width_split_kv")
    assumed_m = allowance("half_width_low_m" if low else "half_width_high_m")
    return assumed_m, f"outer conductor {assumed_m:g} m off the drawn line"


def _height_error_m(row: Mapping[Any, Any]) -> tuple[float, str]:
    given_m, assumed_m = number(row, "height_error_m"), allowance("height_error_m")
    if row.get("height_from") == "eye" and not given_m >= assumed_m:
        return assumed_m, f"height judged by eye, good to {assumed_m:g} m at best"
    return (assumed_m, f"height good to {assumed_m:g} m") if math.isnan(given_m) else (given_m, "")

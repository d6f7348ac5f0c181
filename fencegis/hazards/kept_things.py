"""What posts and holes have to keep clear of: buried services, keep-outs, survey marks, and how far from each."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import shapely

from fencegis.catalogue import rows
from fencegis.hazards.given import flag_or_none, label, number, text_or_none

if TYPE_CHECKING:
    from collections.abc import Iterator

    import geopandas as gpd

    from fencegis.records.site import Site

KeptKind = Literal["buried service", "keep-out", "survey mark"]
FILES: dict[KeptKind, str] = {
    "buried service": "services.geojson",
    "keep-out": "keepout.geojson",
    "survey mark": "pegs.geojson",
}
PRIVATE = "private lines are not on public plans"
ADVICE: dict[KeptKind, str] = {
    "buried service": (
        "Have it located by a licensed locator and exposed by hand, with its owner's leave, before anything is driven"
        " or bored near it: a driven post goes a metre down with no warning. Outside the buffer is not a permit to"
        " drive or bore. Private lines are not on public plans: ask whoever lives there where pipes and cables run."
    ),
    "keep-out": "Nothing is dug, driven, parked or stacked in it. Ask whoever set it before its edge is touched.",
    "survey mark": (
        "Moving or covering a survey mark is an offence in most places. Tie it to two pegs off the machine's way before"
        " work starts, set posts beside it and write the offset down; only a licensed surveyor puts a mark back."
    ),
}


@cache
def kept_m(item: str) -> float:
    """Return a number of `catalogue/kept_clear.csv` in metres; KeyError when there is none."""
    return {row["item"]: float(row["value"]) for row in rows("kept_clear")}[item]


@dataclass(frozen=True, eq=False)
class Thing:
    """Something that the faces of posts keep `required_m` from, in plan.

    `shape` is as drawn. `uncertain_m` is how far the thing may lie from there for reasons of its own (a service's
    quality level), on top of the drawing's errors.
    """

    kind: KeptKind
    label: str
    shape: shapely.Geometry
    required_m: float
    uncertain_m: float
    about: str
    rule: str


def things(site: Site, kind: KeptKind) -> list[Thing]:
    """Return what of one kind the site's layer holds; nothing when its file is absent."""
    layer = {"buried service": site.services, "keep-out": site.keepout, "survey mark": site.pegs}[kind]
    made = {"buried service": _service, "keep-out": _keepout, "survey mark": _mark}[kind]
    return [] if layer is None else [thing for row, shape in _features(layer) if (thing := made(row, shape))]


def _features(layer: gpd.GeoDataFrame) -> Iterator[tuple[dict[Any, Any], shapely.Geometry]]:
    records = layer.drop(columns=layer.geometry.name).to_dict("records")
    for row, shape in zip(records, layer.geometry, strict=True):
        if shape is not None and not shape.is_empty:
            flat = shapely.force_2d(shape)
            yield row, flat if shapely.is_valid(flat) else shapely.make_valid(flat)


def _service(row: dict[Any, Any], shape: shapely.Geometry) -> Thing:
    owner, kind = text_or_none(row, "owner"), text_or_none(row, "kind") or "kind unknown"
    exposed = flag_or_none(row, "exposed") or False
    given = text_or_none(row, "quality")
    quality = "A" if exposed else given or "D"
    own_m, dig_m = number(row, "buffer_m"), kept_m("hand dig")
    asked_m = dig_m if np.isnan(own_m) else max(own_m, dig_m)
    told = "exposed by hand and seen" if exposed else f"quality level {given}" if given else "quality level not given"
    rule = (
        f"{own_m:g} m, its owner's own rule"
        if own_m > dig_m
        else f"{dig_m:.2f} m, hand tools only (state one-call centre, 24 in)"
    )
    error = f"shown to ± {kept_m(f'error {quality}'):g} m ({'AS 5488' if quality in 'AB' else 'common practice'})"
    about = ", ".join(part for part in (kind, f"owner {owner}" if owner else "owner unknown", told, error) if part)
    return Thing("buried service", label(row), shape, asked_m, kept_m(f"error {quality}"), about, rule)


def _keepout(row: dict[Any, Any], shape: shapely.Geometry) -> Thing:
    radius_m = float(np.nan_to_num(number(row, "radius_m"), nan=0.0))
    reason = text_or_none(row, "reason") or "no reason given"
    return Thing("keep-out", label(row), shape, radius_m, 0.0, reason, f"{radius_m:g} m from its edge, as drawn")


def _mark(row: dict[Any, Any], shape: shapely.Geometry) -> Thing | None:
    """Return a mark that must not be touched; an agreed corner is where a post goes, not a mark."""
    kind = text_or_none(row, "kind") or "survey"
    if kind == "agreed":
        return None
    rule = f"{kept_m('mark'):g} m (common practice; the law of the place may ask for more)"
    return Thing("survey mark", label(row), shape, kept_m("mark"), 0.0, f"{kind} peg", rule)

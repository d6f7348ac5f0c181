"""GeoJSON read with suspicion: every feature's coordinates as longitude and latitude on the datum of the drawing.

The usual readers take metres for degrees, swapped axes and unknown systems in silence, and one unclosed ring fails
the whole file; here each is a fault of its feature, or is repaired and said so.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from fencegis.inputs.crs import UnknownSystemError, datum_of, doubts, moved, named
from fencegis.inputs.findings import words
from fencegis.inputs.positions import Part, read_part, wrong_degrees

if TYPE_CHECKING:
    from pyproj import CRS

    from fencegis.inputs.findings import Findings
    from fencegis.inputs.positions import Role
    from fencegis.inputs.text_file import TextFile
    from fencegis.records.terrain import Operation

_ROLES: dict[str, tuple[Role, int]] = {  # what a geometry's parts are, and how deep in lists a part lies
    "Point": ("point", 0),
    "MultiPoint": ("point", 1),
    "LineString": ("line", 0),
    "MultiLineString": ("line", 1),
    "Polygon": ("ring", 1),
    "MultiPolygon": ("ring", 2),
}


@dataclass(frozen=True, eq=False)
class Feature:
    """One feature; `label` is how faults and notes call it: "feature 2 (North side)"."""

    label: str
    properties: dict[str, Any]
    parts: tuple[Part, ...]


@dataclass(frozen=True, eq=False)
class Collection:
    """The sound features of a file, on the datum `datum`; `stated` when the file says its own system."""

    features: tuple[Feature, ...]
    datum: CRS
    operations: tuple[Operation, ...] = ()
    stated: bool = False


def read_features(
    source: TextFile,
    found: Findings,
    *,
    assumed: CRS,
    target: CRS | None,
    wanted: tuple[str, ...],
    empty_allowed: bool,
) -> Collection | None:
    """Return the features of a GeoJSON text, or None when the file as a whole cannot be used.

    A file without a `crs` member is taken to be in `assumed`. Coordinates come on the geographic CRS `target`; when
    that is None, on the file's own. `wanted` are the geometry types the layer takes. Faults and notes go to `found`; a
    faulty feature is left out.
    """
    document = _document(source.text, found)
    if document is None:
        return None
    members = _members(document, found, empty_allowed=empty_allowed)
    own = _own_system(document, found)
    if members is None or (own is None and "crs" in document):
        return None
    return features_of(members, found, own=own, assumed=assumed, target=target, wanted=wanted)


def features_of(
    members: list[Any], found: Findings, *, own: CRS | None, assumed: CRS, target: CRS | None, wanted: tuple[str, ...]
) -> Collection:
    """Return the sound ones of GeoJSON features as read; `own` is the system that their file states, if any."""
    raw = [feature for number, member in enumerate(members, 1) if (feature := _feature(member, number, wanted, found))]
    layer = _on_datum(raw, own or assumed, target or datum_of(own or assumed), found)
    return replace(layer, stated=own is not None)


def _document(text: str, found: Findings) -> dict[str, Any] | None:
    try:
        document = json.loads(text)  # NaN and Infinity pass here and are faults of the vertex that has them
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        found.fault(place, f"it is not JSON here ({error.msg}).", fix="export the layer again as GeoJSON.")
        return None
    except RecursionError:
        found.fault("", "it is nested too deeply to be GeoJSON.", fix="export the layer again as GeoJSON.")
        return None
    except ValueError as error:  # a whole number of thousands of digits
        found.fault("", f"it holds a number that cannot be read ({words(error)}).", fix="export the layer again.")
        return None
    if not isinstance(document, dict):
        found.fault("", "it is JSON but not GeoJSON.", fix="export the layer again as GeoJSON.")
        return None
    return document


def _members(document: dict[str, Any], found: Findings, *, empty_allowed: bool) -> list[Any] | None:
    """Return the features, also of a file that is a single feature or a bare geometry."""
    kind = document.get("type")
    if kind == "Feature":
        return [document]
    if isinstance(kind, str) and kind in {*_ROLES, "GeometryCollection"}:
        return [{"type": "Feature", "properties": {}, "geometry": document}]
    members = document.get("features")
    if kind != "FeatureCollection" or not isinstance(members, list):
        found.fault("", "it is JSON but not a GeoJSON FeatureCollection.", fix="export the layer again as GeoJSON.")
        return None
    if not members and not empty_allowed:
        found.fault("", "it holds no feature.", fix="draw the line, then export the layer again.")
        return None
    return members


def _own_system(document: dict[str, Any], found: Findings) -> CRS | None:
    """Return the system that the older `crs` member names."""
    if "crs" not in document:
        return None
    member = document["crs"]
    properties = member.get("properties") if isinstance(member, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    if not isinstance(name, str):
        fix = 'give its name, as {"type": "name", "properties": {"name": "EPSG:7855"}}, or take the member out.'
        found.fault("crs", "the crs member names no coordinate system.", fix=fix)
        return None
    try:
        system = named(name).to_2d()
        datum_of(system)
    except UnknownSystemError as error:
        found.fault("crs", f"{error}.", fix="export as longitude/latitude, or give an EPSG code.")
        return None
    found.note("repair", "", f"the older crs member is honoured: coordinates are read as {system.name}.")
    return system


def _feature(member: Any, number: int, wanted: tuple[str, ...], found: Findings) -> Feature | None:
    label = f"feature {number}"
    if not isinstance(member, dict) or member.get("type") != "Feature":
        found.fault(label, "it is not a GeoJSON Feature.", fix="export the layer again as GeoJSON.")
        return None
    properties = member.get("properties")
    if properties is not None and not isinstance(properties, dict):
        found.fault(label, "its properties are not a table of keys.", fix="export the layer again as GeoJSON.")
        return None
    properties = properties or {}
    if isinstance(name := properties.get("name"), str | int) and words(name):
        label += f" ({words(name, most=40)})"
    before = len(found.faults)
    parts = _parts(member.get("geometry"), label, wanted, found)
    return None if len(found.faults) > before else Feature(label, properties, parts)


def _parts(geometry: Any, label: str, wanted: tuple[str, ...], found: Findings) -> tuple[Part, ...]:
    redraw = f"draw it as {' or '.join(wanted)}."
    if geometry is None:
        found.fault(label, "it has no geometry.", fix=f"delete the row, or {redraw}")
        return ()
    kind = geometry.get("type") if isinstance(geometry, dict) else None
    if kind not in wanted:
        split = "split it into single features: " if kind == "GeometryCollection" else ""
        found.fault(label, f"its geometry is {words(kind) or 'unnamed'}.", fix=split + redraw)
        return ()
    role, depth = _ROLES[kind]
    raw = geometry.get("coordinates")
    polygons = [raw] if depth < 2 else raw
    if not isinstance(polygons, list) or not polygons:
        found.fault(label, "its coordinates are empty or no list.", fix=redraw)
        return ()
    parts = []
    for polygon, nested in enumerate(polygons):
        lists = [nested] if depth == 0 else nested
        if not isinstance(lists, list) or not lists:
            found.fault(label, "its coordinates are empty or no list.", fix=redraw)
            continue
        for part_number, positions in enumerate(lists, 1):
            where = f"{label}, part {part_number}" if len(lists) > 1 else label
            part = read_part([positions] if role == "point" else positions, role, polygon, label=where, found=found)
            if part is not None:
                parts.append(part)
    return tuple(parts)


def _on_datum(raw: list[Feature], own: CRS, target: CRS, found: Findings) -> Collection:
    """Check that the numbers can be what they are taken for, and bring all of them from `own` to `target` at once."""
    if own.is_geographic:
        raw = [feature for feature in raw if _is_lonlat(feature, found)]
    parts = [part for feature in raw for part in feature.parts]
    if own == target or not parts:
        return Collection(tuple(raw), target)
    try:
        step = moved(np.vstack([part.lonlat_deg for part in parts]), source=own, target=target)
    except UnknownSystemError as error:
        found.fault("crs", f"{error}.", fix="export it as longitude/latitude on the site's datum.")
        return Collection((), target)
    if datum_of(own) != target:
        found.notes.extend(doubts(step.operation, source=own, target=target))
    ends = np.cumsum([len(part.lonlat_deg) for part in parts])[:-1]
    pieces = iter(np.split(step.points, ends))
    features = []
    for feature in raw:
        inside = tuple(Part(p.role, next(pieces), p.heights_m, p.polygon) for p in feature.parts)
        if all(np.isfinite(part.lonlat_deg).all() for part in inside):
            features.append(Feature(feature.label, feature.properties, inside))
        else:
            fix = "give the coordinate system that the layer was exported in."
            found.fault(feature.label, f"its coordinates lie outside {own.name}.", fix=fix)
    return Collection(tuple(features), target, (step.operation,))


def _is_lonlat(feature: Feature, found: Findings) -> bool:
    wrong = wrong_degrees(np.vstack([part.lonlat_deg for part in feature.parts]))
    if wrong is None:
        return True
    fault, fix = wrong
    found.fault(feature.label, fault, fix=fix)
    return False

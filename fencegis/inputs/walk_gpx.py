"""`walk.gpx` → what was seen on site: a handheld's waypoints, kind in `<type>`, words in `<desc>` or `<name>`."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import numpy as np

from fencegis.inputs.crs import WGS84, doubts, moved
from fencegis.inputs.findings import words
from fencegis.inputs.geojson import Collection, Feature
from fencegis.inputs.positions import Part

if TYPE_CHECKING:
    import numpy.typing as npt
    from pyproj import CRS

    from fencegis.inputs.findings import Findings
    from fencegis.inputs.text_file import TextFile

    Floats = npt.NDArray[np.float64]

_AGAIN = "export the waypoints again as GPX."
_DECIMAL = re.compile(r"\s*[+-]?(\d+\.?\d*|\.\d+)\s*", re.ASCII)  # of XML Schema: no exponent, no NaN, no underscore


def read_waypoints(source: TextFile, found: Findings, *, datum: CRS) -> Collection | None:
    """Return the waypoints of a GPX text on `datum`, or None when the file as a whole cannot be used.

    GPX is on WGS 84 by its own definition. A faulty waypoint goes to `found` and is left out.
    """
    if "<!DOCTYPE" in source.text or "<!ENTITY" in source.text:  # no GPX has them; they can blow up in a parser
        found.fault("", "it declares a document type or entities, which no GPX needs.", fix=_AGAIN)
        return None
    try:
        root = ET.fromstring(source.text)
    except (ET.ParseError, ValueError) as error:
        found.fault("", f"it is not XML ({words(error)}).", fix=_AGAIN)
        return None
    if _bare(root) != "gpx":
        found.fault("", f"it is XML but not GPX (its root is {words(_bare(root))}).", fix=_AGAIN)
        return None
    waypoints = [element for element in root if _bare(element) == "wpt"]
    features = [f for number, wpt in enumerate(waypoints, 1) if (f := _feature(wpt, number, found))]
    return _on_datum(features, datum, found)


def _feature(waypoint: ET.Element, number: int, found: Findings) -> Feature | None:
    given = {_bare(child): child.text for child in waypoint if child.text and child.text.strip()}
    name = given.get("name")
    label = f"waypoint {number}" + (f" ({words(name, most=40)})" if name else "")
    lonlat = []
    for attribute, limit in (("lon", 180.0), ("lat", 90.0)):
        text = waypoint.get(attribute, "")
        if not _DECIMAL.fullmatch(text) or abs(float(text)) > limit:
            fault = f"its {attribute} is “{words(text)}”, not a number within {limit:g}°."
            found.fault(label, fault, fix="correct or delete the waypoint.")
            return None
        lonlat.append(float(text))
    properties = {"name": name, "kind": given.get("type"), "text": given.get("desc")}
    return Feature(label, properties, (_point(np.array([lonlat])),))


def _on_datum(features: list[Feature], datum: CRS, found: Findings) -> Collection:
    if not features or datum == WGS84:
        return Collection(tuple(features), datum)
    step = moved(np.vstack([f.parts[0].lonlat_deg for f in features]), source=WGS84, target=datum)
    found.notes.extend(doubts(step.operation, source=WGS84, target=datum))
    made = []
    for feature, lonlat in zip(features, step.points, strict=True):
        if np.isfinite(lonlat).all():
            made.append(Feature(feature.label, feature.properties, (_point(lonlat[None]),)))
        else:
            found.fault(feature.label, f"it lies outside {datum.name}.", fix="correct or delete the waypoint.")
    return Collection(tuple(made), datum, (step.operation,))


def _point(lonlat_deg: Floats) -> Part:
    return Part("point", lonlat_deg, np.full(1, np.nan))


def _bare(element: ET.Element) -> str:
    """Return the tag without its namespace: GPX 1.0 and 1.1 alike."""
    return element.tag.rpartition("}")[2]

"""The same key points and lines for a globe viewer: OGC KML 2.2, nothing fetched from anywhere."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING

from fencegis.exports.file_text import unmarked
from fencegis.exports.gpx import PURPOSE, about, place_words, purpose, xml_file
from fencegis.exports.key_points import hazards_first, key_points, tracks
from fencegis.exports.plan_hash import SHORT, plan_sha256

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

NAMESPACE = "http://www.opengis.net/kml/2.2"
LINE_COLOUR = "ff00a5ff"  # opacity, blue, green, red: orange


def waypoints(plan: Plan) -> bytes:
    """Return the KML file: a folder of key points, hazards first, and one of lines, on the ground as the viewer has it.

    No icon, picture or style of elsewhere. Viewers show descriptions as pages, so none holds an angle bracket.
    """
    digits = plan_sha256(plan)[:SHORT]
    root = ET.Element("kml", {"xmlns": NAMESPACE})
    document = ET.SubElement(root, "Document")
    _described(document, plan.site.name, about(plan, purpose(plan)))
    style = ET.SubElement(ET.SubElement(document, "Style", {"id": "line"}), "LineStyle")
    ET.SubElement(style, "color").text = LINE_COLOUR
    ET.SubElement(style, "width").text = "3"
    points = ET.SubElement(document, "Folder")
    ET.SubElement(points, "name").text = "Key points"
    for place in hazards_first(key_points(plan)):
        mark = ET.SubElement(points, "Placemark")
        _described(mark, f"{place.name} {place.kind}", place_words(plan, place, digits=digits))
        shape = ET.SubElement(mark, "Point")
        ET.SubElement(shape, "coordinates").text = f"{place.lon_deg:.7f},{place.lat_deg:.7f}"
    lines = ET.SubElement(document, "Folder")
    ET.SubElement(lines, "name").text = "Lines"
    for line in tracks(plan):
        mark = ET.SubElement(lines, "Placemark")
        _described(mark, line.name, f"{line.words}; {PURPOSE}; plan {digits}")
        ET.SubElement(mark, "styleUrl").text = "#line"
        shape = ET.SubElement(mark, "LineString")
        ET.SubElement(shape, "tessellate").text = "1"
        corners = [f"{lon_deg:.7f},{lat_deg:.7f}" for lon_deg, lat_deg in line.lon_lat.tolist()]
        ET.SubElement(shape, "coordinates").text = " ".join(corners)
    return xml_file(root)


def _described(element: ET.Element, name: str, description: str) -> None:
    ET.SubElement(element, "name").text = unmarked(name)
    ET.SubElement(element, "description").text = unmarked(description)

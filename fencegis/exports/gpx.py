"""Key points and lines for a handheld: GPX 1.1, WGS 84, elements in the order of its schema."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.exports.file_text import unmarked
from fencegis.exports.hand.budget import budget, budget_words
from fencegis.exports.hand.limits import SYMBOLS
from fencegis.exports.key_points import Place, Track, hazards_first, key_points, not_in_hand, post_points, tracks
from fencegis.exports.plan_hash import SHORT, plan_sha256
from fencegis.exports.positions import WGS84, accuracy_words, doubt_m, doubt_short, doubt_words, operation

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fencegis.records.plan import Plan

NAMESPACE = "http://www.topografix.com/GPX/1/1"
PURPOSE = "a desk drawing: for finding, not for marking; not a boundary"
NOT_FOR_SET_OUT = "NOT FOR SET-OUT"
POSTS_HEADING = f"{NOT_FOR_SET_OUT}: posts stand closer together than these marks are good for; {PURPOSE}"


@dataclass(frozen=True)
class Route:
    """One way through places that are waypoints too, under the same names."""

    name: str
    line_id: str
    places: Sequence[Place]


def waypoints(plan: Plan) -> bytes:
    """Return one GPX file of all key points and lines: ends, corners, strainers, gate posts, crossings, hazard ends.

    Hazards first. Positions are WGS 84 to seven decimals; `ele` only where the ground is known, in the raster's own
    height datum. Each `desc` carries the first digits of the plan's hash, so that marks of an older plan are known when
    they come back.
    """
    return gpx_file(plan, name=plan.site.name, heading=purpose(plan), places=key_points(plan), lines=tracks(plan))


def posts(plan: Plan) -> bytes:
    """Return one GPX file of every post, headed as not for set-out: marks metres off, closer together than that."""
    return gpx_file(plan, name=posts_name(plan), heading=POSTS_HEADING, places=post_points(plan))


def posts_name(plan: Plan) -> str:
    """Return the name of a file of posts: it says first what the file is not for."""
    return f"{NOT_FOR_SET_OUT}: posts of {plan.site.name}"


def purpose(plan: Plan) -> str:
    """Return what a file of key points is for, and which flags it leaves to the register."""
    return "; ".join(text for text in (PURPOSE, not_in_hand(plan)) if text)


def about(plan: Plan, heading: str) -> str:
    """Return what the file's reader must know: what it is, how far off, heights, the datum change, the plan."""
    used = operation(plan, WGS84, name="WGS 84")
    return "; ".join(
        [
            heading,
            doubt_words(doubt_m(plan.site)),
            budget_words(budget(plan, used=used)),
            "heights are the elevation file's own, their datum not checked",
            f"to WGS 84 by {used.operation}, accuracy {accuracy_words(used)}",
            f"plan {plan_sha256(plan)[:SHORT]}",
        ]
    )


def place_words(plan: Plan, place: Place, *, digits: str) -> str:
    """Return all that is known of a place, on one line; `digits` are the first of the plan's hash."""
    at = f"line {place.line_id} at {place.chainage_m:.1f} m"
    doubt = doubt_short(doubt_m(plan.site, place.line_id))
    return unmarked(f"{place.words}; {at}; {doubt}; for finding, not for marking; plan {digits}")


def gpx_file(
    plan: Plan,
    *,
    name: str,
    heading: str,
    places: Iterable[Place],
    lines: Iterable[Track] = (),
    routes: Iterable[Route] = (),
    symbols: bool = True,
) -> bytes:
    """Return a GPX file of places (hazards first), routes and tracks, with what its reader must know of the plan.

    `symbols` gives each point the word of its kind in `SYMBOLS`.
    """
    root = ET.Element("gpx", {"version": "1.1", "creator": "fencegis", "xmlns": NAMESPACE})
    metadata = ET.SubElement(root, "metadata")
    _texts(metadata, name=unmarked(name), desc=unmarked(about(plan, heading)))
    digits = plan_sha256(plan)[:SHORT]
    for place in hazards_first(places):
        _point(root, "wpt", place, desc=place_words(plan, place, digits=digits), symbols=symbols)
    for way in routes:
        route = ET.SubElement(root, "rte")
        _texts(route, name=way.name, cmt=unmarked(f"line {way.line_id}"), desc=f"{PURPOSE}; plan {digits}")
        for place in way.places:
            _point(route, "rtept", place, desc=place_words(plan, place, digits=digits), symbols=symbols)
    for line in lines:
        track = ET.SubElement(root, "trk")
        _texts(
            track,
            name=line.name,
            cmt=unmarked(f"line {line.line_id}"),
            desc=unmarked(f"{line.words}; {PURPOSE}; plan {digits}"),
            type="fence line",
        )
        segment = ET.SubElement(track, "trkseg")
        for lon_deg, lat_deg in line.lon_lat.tolist():
            ET.SubElement(segment, "trkpt", _position(lon_deg, lat_deg))
    return xml_file(root)


def _point(parent: ET.Element, tag: str, place: Place, *, desc: str, symbols: bool) -> None:
    point = ET.SubElement(parent, tag, _position(place.lon_deg, place.lat_deg))
    if math.isfinite(place.ground_m):
        _texts(point, ele=f"{place.ground_m:.3f}")
    cmt = unmarked(f"{place.line_id} {place.chainage_m:.1f} m {place.short}")
    _texts(point, name=place.name, cmt=cmt, desc=desc)
    if symbols and place.kind in SYMBOLS:
        _texts(point, sym=SYMBOLS[place.kind])
    _texts(point, type=place.kind)


def xml_file(root: ET.Element) -> bytes:
    """Return the element and all below it as a file: indented, UTF-8, no byte order mark."""
    ET.indent(root)
    text: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return text + b"\n"


def _position(lon_deg: float, lat_deg: float) -> dict[str, str]:
    return {"lat": f"{lat_deg:.7f}", "lon": f"{lon_deg:.7f}"}


def _texts(parent: ET.Element, **texts: str) -> None:
    for tag, text in texts.items():
        ET.SubElement(parent, tag).text = text

"""Waypoint files within a unit's limits: whole runs to a file, lines and routes in pieces."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fencegis.exports.gpx import POSTS_HEADING, Route, gpx_file, posts_name, purpose
from fencegis.exports.hand.limits import Limits, limits_of
from fencegis.exports.hand.names import piece_names, short_names
from fencegis.exports.hand.parts import loads, pieces, split
from fencegis.exports.hand.run_places import RunPlaces
from fencegis.exports.key_points import WARNING, handheld_hazards, key_points, lines_of, post_points, rows, tracks
from fencegis.exports.page_text import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.exports.key_points import Place, Track
    from fencegis.records.plan import Plan

    Pair = tuple[str, Place]  # the name as it is, the place under its name in the unit

LINES = "lines.gpx"
DIGITS = 4  # of the largest number that a file's name may have


@dataclass(frozen=True)
class HandFile:
    """One file of waypoints: its name, its bytes, its places under the names that they have there, and their long ones.

    `load` counts from 1: files of one load go into the unit together, the next after those are taken out.
    """

    name: str
    content: bytes
    long_names: tuple[str, ...]
    places: tuple[Place, ...]
    load: int


def waypoint_files(plan: Plan) -> list[HandFile]:
    """Return the GPX files of key points, routes and tracks within the site's `[handheld]` limits.

    One `waypoints.gpx` where all goes into it; else `waypoints_1.gpx` and so on by whole runs, and `lines.gpx` with the
    tracks and routes. Hazards stand first in each; names rise in walking order over all of them.
    """
    limits = limits_of(plan.site.spec.handheld)
    pairs = _named(key_points(plan), limits)
    lines, routes = _tracks(plan, limits), _routes(plan, [place for _, place in pairs], limits)
    parts = split(_by_run(plan, pairs), limit=limits.file_points)
    name, heading = plan.site.name, purpose(plan)
    if len(parts) == 1:
        places = [place for _, place in parts[0]]
        content = gpx_file(
            plan, name=name, heading=heading, places=places, lines=lines, routes=routes, symbols=limits.symbols
        )
        return [_hand_file("waypoints.gpx", content, parts[0])]
    headings = [f"{heading}; {_reaching(plan, [place for _, place in part])}".rstrip("; ") for part in parts]
    files = _numbered(plan, "waypoints", parts, name=name, headings=headings, limits=limits)
    heading = f"the lines of the fence, its points in files of their own; {heading}"
    content = gpx_file(plan, name=name, heading=heading, places=(), lines=lines, routes=routes, symbols=limits.symbols)
    return [_hand_file(LINES, content, []), *files]


def post_files(plan: Plan) -> list[HandFile]:
    """Return the GPX files of every post within the same limits, each headed as not for set-out."""
    limits = limits_of(plan.site.spec.handheld)
    parts = split(_by_run(plan, _named(post_points(plan), limits)), limit=limits.file_points)
    name, headings = posts_name(plan), [POSTS_HEADING] * len(parts)
    return _numbered(plan, "posts", parts, name=name, headings=headings, limits=limits)


def every_name() -> frozenset[str]:
    """Return every file name that the two functions above may give, for any plan and any limits."""
    stems = ("waypoints", "posts")
    numbered = {
        f"{stem}_{number:0{width}d}.gpx"
        for stem in stems
        for width in range(1, DIGITS + 1)
        for number in range(1, 10**width)
    }
    return frozenset(numbered | {f"{stem}.gpx" for stem in stems} | {LINES})


def _hand_file(name: str, content: bytes, part: Sequence[Pair], load: int = 1) -> HandFile:
    return HandFile(name, content, tuple(long for long, _ in part), tuple(place for _, place in part), load)


def _numbered(
    plan: Plan, stem: str, parts: Sequence[Sequence[Pair]], *, name: str, headings: Sequence[str], limits: Limits
) -> list[HandFile]:
    """Return a file for each part, numbered where there are several."""
    width = len(str(len(parts)))
    belong = loads([len(part) for part in parts], limit=limits.points_in_all)
    files = []
    for number, (part, heading, load) in enumerate(zip(parts, headings, belong, strict=True), start=1):
        alone = len(parts) == 1
        about = heading if alone else f"{heading}; file {number} of {len(parts)}"
        places = [place for _, place in part]
        content = gpx_file(plan, name=name, heading=about, places=places, symbols=limits.symbols)
        files.append(_hand_file(f"{stem}.gpx" if alone else f"{stem}_{number:0{width}d}.gpx", content, part, load))
    return files


def _named(places: Sequence[Place], limits: Limits) -> list[Pair]:
    names = short_names(places, length=limits.names)
    return [(place.name, replace(place, name=name)) for place, name in zip(places, names, strict=True)]


def _by_run(plan: Plan, pairs: Sequence[Pair]) -> list[list[Pair]]:
    runs = RunPlaces(plan)
    groups: dict[tuple[str, str], list[Pair]] = {}
    for long_name, place in pairs:
        groups.setdefault((place.line_id, runs.at(place)), []).append((long_name, place))
    return list(groups.values())


def _reaching(plan: Plan, places: Sequence[Place]) -> str:
    """Return in words which flags begin before or end behind the file's stretches: their ends are in other files."""
    hazards, found = handheld_hazards(plan), []
    for line_id in dict.fromkeys(place.line_id for place in places):
        at = [place.chainage_m for place in places if place.line_id == line_id]
        flags = hazards[hazards["line_id"] == line_id]
        over = flags[(flags["from_m"] <= max(at)) & (flags["to_m"] >= min(at))]
        over = over[(over["from_m"] < min(at)) | (over["to_m"] > max(at))]
        found += [f"{plain(row.hazard_id)} {row.kind}" for row in rows(over)]
    return f"flags that reach past the points of this file: {', '.join(dict.fromkeys(found))}" if found else ""


def _tracks(plan: Plan, limits: Limits) -> list[Track]:
    """Return every line as tracks of no more points than the unit takes."""
    whole = tracks(plan)
    cuts = {track.line_id: pieces(len(track.lon_lat), limit=limits.track_points) for track in whole}
    counts = {line_id: len(parts) for line_id, parts in cuts.items()}
    names = piece_names(counts, letter="T", word="LINE", length=limits.names)
    return [
        replace(track, name=name, lon_lat=track.lon_lat[part])
        for track in whole
        for name, part in zip(names[track.line_id], cuts[track.line_id], strict=True)
    ]


def _routes(plan: Plan, places: Sequence[Place], limits: Limits) -> list[Route]:
    """Return routes through what stands on each line, hazards left to their own marks; none without a limit."""
    if limits.route_points is None:
        return []
    on = {
        line: [place for place in places if place.line_id == line and place.kind not in WARNING]
        for line in lines_of(plan)
    }
    cuts = {line: pieces(len(on[line]), limit=limits.route_points) for line in on}
    counts = {line: len(parts) for line, parts in cuts.items()}
    names = piece_names(counts, letter="R", word="ROUTE", length=limits.names)
    return [
        Route(name, line, on[line][part])
        for line in on
        for name, part in zip(names[line], cuts[line], strict=True)
        if len(on[line][part]) > 1  # one point is no way
    ]

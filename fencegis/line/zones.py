"""The soil that a line runs through: zones drawn as polygons, cut exactly where the line crosses their edges.

`catalogue/soils.csv` lists soils from the firmest to the softest. Where zones overlap the softer is taken, since posts
stand deeper in it. A stretch that no zone covers has no soil: not checked, never the neighbour's.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.catalogue import rows
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import geopandas as gpd
    import numpy.typing as npt
    import pandas as pd

    from fencegis.line.chainage import Line

    Floats = npt.NDArray[np.float64]
    Zones = Mapping[str, Sequence["SoilSpan"]]

FILE = "soils.geojson"
EDGE_M = 1e-6
SHORTEST_M = 0.1  # a shorter sliver goes to its softer neighbour
WALK_NEAR_M = 15.0  # what was seen on the walk speaks of the line when it is this near
ROCKS = ("crystalline rock", "rock")
LISTED = 3


@dataclass(frozen=True)
class SoilSpan:
    """A stretch of one line in one soil; `soil` is None where no zone covers it."""

    from_m: float
    to_m: float
    soil: str | None


def soil_names() -> tuple[str, ...]:
    """Return the soils of the catalogue, from the firmest to the softest."""
    return tuple(row["soil"] for row in rows("soils"))


def soil_spans(line: Line, *, soils: gpd.GeoDataFrame | None) -> tuple[SoilSpan, ...]:
    """Return the whole line as stretches of one soil each, in walking order.

    `soils` has Polygons in the working grid and the column `soil`; None when nobody gave any.
    """
    whole = (SoilSpan(0.0, line.length_m, None),)
    if soils is None or soils.empty:
        return whole
    names = soil_names()
    begin, end, zone = _inside(line, soils.geometry.to_numpy())
    if not len(zone):
        return whole
    edge_m = np.unique(np.concatenate([[0.0, line.length_m], begin, end]))
    kind = np.full(len(edge_m) - 1, -1)
    softness = np.array([names.index(soil) for soil in soils["soil"]])[zone]
    for place in np.argsort(softness, kind="stable"):  # the softest is painted last and stays
        first, last = np.searchsorted(edge_m, [begin[place], end[place]])
        kind[first:last] = softness[place]
    return tuple(
        SoilSpan(from_m, to_m, names[soil] if soil >= 0 else None) for from_m, to_m, soil in _merged(edge_m, kind)
    )


def soils_at(table: pd.DataFrame, zones: Zones) -> npt.NDArray[np.object_]:
    """Return the soil of each station of a table, None where no zone covers it.

    On the edge of two zones the softer one; on the edge of a zone and of nothing, None.
    """
    names = np.array([*soil_names(), None], dtype=object)  # −1 is None
    found = np.full(len(table), -1)
    line_ids, chainage = table["line_id"].to_numpy(), table["chainage_m"].to_numpy(dtype=float)
    for line_id, spans in zones.items():
        here = np.flatnonzero(line_ids == line_id)
        kind = np.array([-1 if span.soil is None else names.tolist().index(span.soil) for span in spans])
        last = np.searchsorted([span.from_m for span in spans], chainage[here] + EDGE_M, side="right") - 1
        first = np.searchsorted([span.to_m for span in spans], chainage[here] - EDGE_M, side="left")
        pair = kind[np.clip([first, last], 0, len(spans) - 1)]
        found[here] = np.where((pair < 0).any(axis=0), -1, pair.max(axis=0))
    return np.asarray(names[found], dtype=object)


def notes_on_soils(zones: Zones, *, given: bool, assumed: str) -> list[Note]:
    """Return what is not known of the soil, with the metres; `given` when the site has a file of zones at all."""
    rests = f"depths, holes and water there rest on {assumed}, the deeper assumption; dig a test hole"
    gaps = {line: [span for span in spans if span.soil is None] for line, spans in zones.items()}
    if not given:
        length_m = sum(_length_m(spans) for spans in gaps.values())
        return [Note("doubt", f"no {FILE}: soil is not checked along {length_m:.0f} m; {rests}")]
    notes = []
    for line, spans in gaps.items():
        if not spans:
            continue
        where = ", ".join(f"{span.from_m:.0f} to {span.to_m:.0f} m" for span in spans[:LISTED])
        more = f" and {len(spans) - LISTED} more" if len(spans) > LISTED else ""
        length_m = _length_m(spans)
        notes.append(
            Note("doubt", f"{FILE} covers no soil along {length_m:.0f} m ({where}{more}): not checked; {rests}", line)
        )
    return notes


def against_zone(kind: str, text: str | None, soil: str | None) -> str:
    """Return what a thing seen on the ground says against the zone drawn there; empty when the two agree.

    `kind` is that of the walk (soil, rock, wet; others say nothing of soil), `soil` the zone's, None without one.
    """
    if kind not in {"soil", "rock", "wet"}:
        return ""
    if soil is None:
        return "no soil zone covers this place"
    said = _named_in(text or "")
    agrees = {"rock": soil in ROCKS, "wet": soil == "bog", "soil": not said or soil in said}[kind]
    return "" if agrees else f"{FILE} has {soil} here: the ground counts, dig a test hole and set the depth by it"


def _inside(line: Line, zones: npt.NDArray[np.object_]) -> tuple[Floats, Floats, npt.NDArray[np.int_]]:
    """Return for each piece of the line inside a zone the chainages of its two ends and the zone's place."""
    legs = np.asarray(shapely.linestrings(np.stack([line.path[:-1], line.path[1:]], axis=1)))
    leg, zone = shapely.STRtree(zones).query(legs, predicate="intersects")
    parts, pair = shapely.get_parts(shapely.intersection(legs[leg], zones[zone]), return_index=True)
    along = shapely.get_dimensions(parts) == 1  # a touch at a point is no stretch
    parts, pair = parts[along], pair[along]
    start, step = line.path[:-1][leg[pair]], np.diff(line.path, axis=0)[leg[pair]]
    ends = [_share(shapely.get_coordinates(shapely.get_point(parts, end)), start, step) for end in (0, -1)]
    chainage = line.chainage_m[leg[pair]] + np.sort(ends, axis=0) * np.diff(line.chainage_m)[leg[pair]]
    return chainage[0], chainage[1], zone[pair]


def _share(points: Floats, start: Floats, step: Floats) -> Floats:
    return np.asarray(((points - start) * step).sum(axis=1) / np.maximum((step**2).sum(axis=1), 1e-18))


def _merged(edge_m: Floats, kind: npt.NDArray[np.int_]) -> list[tuple[float, float, int]]:
    """Return (from, to, kind) with equal neighbours as one and slivers given to the softer neighbour."""
    spans: list[tuple[float, float, int]] = []
    for (begin, end), soil in zip(pairwise(edge_m.tolist()), kind.tolist(), strict=True):
        if spans and spans[-1][2] == soil:
            spans[-1] = (spans[-1][0], end, soil)
        else:
            spans.append((begin, end, soil))
    while len(spans) > 1 and min(to_m - from_m for from_m, to_m, _ in spans) < SHORTEST_M:
        place = min(range(len(spans)), key=lambda row: spans[row][1] - spans[row][0])
        beside = [row for row in (place - 1, place + 1) if 0 <= row < len(spans)]
        taker = max(beside, key=lambda row: spans[row][2])
        pair = sorted((place, taker))
        spans[pair[0] : pair[1] + 1] = [(spans[pair[0]][0], spans[pair[1]][1], spans[taker][2])]
    return _joined(spans)


def _joined(spans: list[tuple[float, float, int]]) -> list[tuple[float, float, int]]:
    joined = spans[:1]
    for span in spans[1:]:
        if span[2] == joined[-1][2]:
            joined[-1] = (joined[-1][0], span[1], span[2])
        else:
            joined.append(span)
    return joined


def _length_m(spans: Sequence[SoilSpan]) -> float:
    return sum(span.to_m - span.from_m for span in spans)


def _named_in(text: str) -> set[str]:
    """Return the soils of the catalogue that a text names as whole words: sandstone is no sand."""
    return {name for name in soil_names() if re.search(rf"\b{re.escape(name)}\b", text.lower())}

"""Numbers and letters beside what they name, where they lie over nothing else; a thin line leads to what is far."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import shapely

from fencegis.exports.client.scene import Area, Path, Words
from fencegis.exports.sheets.paper import POINT_MM, wide_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.exports.client.scene import Mark, Point

    Spot = tuple[float, float, float, float]  # left, top, right, foot

AWAY_MM = (3.6, 5.5, 8.0, 11.0, 15.0, 20.0)
WAYS = 16
EDGE_MM = 0.8
BAR_WORDS_MM, BAR_TALL_MM = 19.0, 6.4
LOOKS = {  # fill of the plate, shade of its words, width of its line
    "run": (0.0, 1.0, 0.5),
    "gate": (1.0, 0.0, 0.5),
    "tree": (1.0, 0.0, 0.0),
    "flag": (1.0, 0.0, 1.3),
}


class Labels:
    """What is written on one map so far, and the lines that no words should cover."""

    def __init__(self, box_mm: tuple[float, float], lines: Sequence[Sequence[Point]], *, size: float) -> None:
        """Take the map's box, from 0, and the lines on it; words are `size` points high."""
        self._box, self._size = box_mm, size
        self._lines = shapely.STRtree([shapely.LineString(line) for line in lines if len(line) > 1])
        self._taken: list[Spot] = []
        self._leads: list[Mark] = []
        self._plates: list[Mark] = []

    def keep(self, spot: Spot) -> None:
        """Keep words away from a place."""
        self._taken.append(spot)

    def marks(self) -> tuple[Mark, ...]:
        """Return all that was put, thin lines first so that none crosses words."""
        return (*self._leads, *self._plates)

    def put(self, text: str, at: Point, look: str, *, must: bool = False) -> None:
        """Write a label beside a place; not where there is no room, unless it `must` stand."""
        spot = self._spot(text, at, must=must)
        if spot is None:
            return
        self._taken.append(spot)
        left, top, right, foot = spot
        fill, shade, width = LOOKS[look]
        middle = ((left + right) / 2.0, (top + foot) / 2.0)
        plate = Area(((left, top), (right, top), (right, foot), (left, foot)), fill, width)
        base = (middle[0], middle[1] + self._size * POINT_MM * 0.36)
        if math.dist(middle, at) > max(right - left, foot - top) / 2.0 + 2.2:
            self._leads += (Path((at, middle), 1.6, shade=1.0), Path((at, middle), 0.5))
        self._plates += (plate, Words(text, base, self._size, bold=True, align="center", shade=shade))

    def _spot(self, text: str, at: Point, *, must: bool) -> Spot | None:
        wide = wide_mm(text, self._size, "bold") / 2.0 + EDGE_MM
        tall = self._size * POINT_MM / 2.0 + EDGE_MM * 0.6
        second: Spot | None = None
        for away in AWAY_MM:
            for turn in range(WAYS):
                angle = math.pi * (2 * turn + 1) / WAYS
                right, down = at[0] + (away + wide * 0.5) * math.cos(angle), at[1] - away * math.sin(angle)
                spot = (right - wide, down - tall, right + wide, down + tall)
                if not self._inside(spot) or any(_over(spot, other) for other in self._taken):
                    continue
                if not len(self._lines.query(shapely.box(*spot), predicate="intersects")):
                    return spot
                second = second or spot
        if second is None and must:
            return (at[0] - wide, at[1] - tall, at[0] + wide, at[1] + tall)
        return second

    def _inside(self, spot: Spot) -> bool:
        return spot[0] > 0.5 and spot[1] > 0.5 and spot[2] < self._box[0] - 0.5 and spot[3] < self._box[1] - 0.5


def bar_corner(box: tuple[float, float], lines: Sequence[Sequence[Point]], long_mm: float) -> Spot:
    """Return the corner in which a scale bar of this length covers least of the lines: left, top, right, foot."""
    wide, tall = long_mm + BAR_WORDS_MM, BAR_TALL_MM
    fence = shapely.MultiLineString([line for line in lines if len(line) > 1])
    right, foot = box[0] - 0.5, box[1] - 0.5
    spots = ((0.5, box[1] - tall, wide, foot), (box[0] - wide, box[1] - tall, right, foot), (0.5, 0.5, wide, tall))
    return min(spots, key=lambda spot: fence.intersection(shapely.box(*spot)).length)


def _over(one: Spot, other: Spot) -> bool:
    gap = 0.3
    return one[0] < other[2] + gap and other[0] < one[2] + gap and one[1] < other[3] + gap and other[1] < one[3] + gap

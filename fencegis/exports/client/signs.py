"""How each thing looks on the client's maps: by dashes, hatching and shape, in black and white, never by colour."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import shapely

from fencegis.exports.client.scene import Area, Path, Ring, Sign, Words
from fencegis.exports.words import number

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fencegis.exports.client.scene import Mark, Point

CROSS_MM, CROSS_EVERY_MM = 0.9, 4.0
HATCH_MM = 1.8
TREE_MM = 1.5
TIE_MM, TIE_EVERY_MM, TIE_SIDE_MM = 1.5, 1.3, 2.6
DASHED = {
    "overhead": (1.1, (7.0, 2.0, 1.0, 2.0)),
    "services": (1.2, (1.3, 1.8)),
    "watercourses": (0.9, (5.0, 1.6, 1.2, 1.6, 1.2, 1.6)),
    "keep": (0.9, (4.0, 2.5)),
}
ARROW_MM = 9.0


def cased(points: Sequence[Point], width: float, *, dashes: tuple[float, ...] = ()) -> tuple[Mark, ...]:
    """Return a black line with white on both sides, so that it is seen on any picture."""
    line = tuple(points)
    return (Path(line, width + 1.8, shade=1.0), Path(line, width, dashes))


def dashed(points: Sequence[Point], what: str) -> tuple[Mark, ...]:
    """Return the line of something that is there: a power line, a pipe, water, an old fence that stays."""
    width, dashes = DASHED[what]
    return cased(points, width, dashes=dashes)


def track(points: Sequence[Point]) -> tuple[Mark, ...]:
    """Return two lines side by side."""
    line = tuple(points)
    return (Path(line, 5.0, shade=1.0), Path(line, 3.8), Path(line, 2.0, shade=1.0))


def pulled(points: Sequence[Point]) -> tuple[Mark, ...]:
    """Return a thin line crossed out along its length: what comes down."""
    path = shapely.LineString(points)
    marks: list[Mark] = list(cased(points, 0.6))
    count = max(1, int(path.length / CROSS_EVERY_MM))
    for place in range(count):
        middle = path.interpolate((place + 0.5) / count, normalized=True)
        marks += crossed((middle.x, middle.y), CROSS_MM)
    return tuple(marks)


def crossed(at: Point, reach: float) -> tuple[Mark, ...]:
    """Return an x."""
    right, down = at
    ways = (((-1, -1), (1, 1)), ((-1, 1), (1, -1)))
    return tuple(
        Path(tuple((right + reach * across, down + reach * along) for across, along in way), 0.9) for way in ways
    )


def tree(at: Point, what: str, radius: float = TREE_MM) -> tuple[Mark, ...]:
    """Return a ring: crossed out to go, halved to limb, with a dot to keep, empty where nobody has said."""
    ring = (Ring(at, radius + 0.35, 1.0, 0.0), Ring(at, radius, 1.0, 0.7))
    right, down = at
    if what == "to go":
        return (*ring, *crossed(at, radius * 0.7))
    if what == "to limb":
        half = [(right + radius * math.cos(turn), down - radius * math.sin(turn)) for turn in _half_turn()]
        return (*ring, Area(tuple(half), 0.0, 0.4))
    if what == "to keep":
        return (*ring, Ring(at, radius * 0.35, 0.0, 0.4))
    return ring


def _half_turn() -> Iterator[float]:
    return (math.pi * step / 8.0 for step in range(9))


def gate(begin: Point, end: Point) -> tuple[Mark, ...]:
    """Return a gap in the fence between two posts."""
    posts = tuple(Area(_square(at, 0.9), 0.0, 0.3) for at in (begin, end))
    return (Path((begin, end), 3.6, shade=1.0), Path((begin, end), 0.5, (1.5, 1.2)), *posts)


def mark_of_survey(at: Point) -> tuple[Mark, ...]:
    """Return a small triangle."""
    right, down = at
    return (Area(((right, down - 1.5), (right + 1.4, down + 1.0), (right - 1.4, down + 1.0)), 1.0, 0.7),)


def _square(at: Point, reach: float) -> tuple[Point, ...]:
    right, down = at
    return (
        (right - reach, down - reach), (right + reach, down - reach),
        (right + reach, down + reach), (right - reach, down + reach),
    )  # fmt: skip


def ties(points: Sequence[Point], reach: float = 1.0) -> tuple[Mark, ...]:
    """Return short strokes across both sides of a flagged stretch, like the ties of a railway."""
    path = shapely.LineString(points)
    count = max(2, int(path.length / TIE_EVERY_MM) + 1)
    marks: list[Mark] = []
    for place in range(count):
        share = place / (count - 1)
        at = path.interpolate(share, normalized=True)
        before, after = (path.interpolate(min(max(share + step, 0.0), 1.0), normalized=True) for step in (-0.02, 0.02))
        long = math.hypot(after.x - before.x, after.y - before.y)
        if long < 1e-9:
            across, along = 0.0, 1.0
        else:
            across, along = -(after.y - before.y) / long, (after.x - before.x) / long
        for side in (-1.0, 1.0):
            near, far = side * reach * (TIE_SIDE_MM - TIE_MM), side * reach * TIE_SIDE_MM
            ends = tuple((at.x + across * off, at.y + along * off) for off in (near, far))
            marks += [Path(ends, 2.0, shade=1.0), Path(ends, 0.8)]
    return tuple(marks)


def hatched(points: Sequence[Point]) -> tuple[Mark, ...]:
    """Return an outline filled with slanting lines."""
    outline = shapely.Polygon(points)
    if not outline.is_valid or outline.area < 1e-6:
        return (Path(tuple(points), 0.8),)
    left, top, right, foot = outline.bounds
    marks: list[Mark] = [Area(tuple(points), 1.0, 0.0)]
    offset = left - (foot - top)
    while offset < right:
        slant = shapely.LineString([(offset, foot), (offset + foot - top, top)]).intersection(outline)
        parts = [
            part for part in shapely.get_parts(slant) if isinstance(part, shapely.LineString) and part.length > 0.0
        ]
        marks += [Path(tuple((right, down) for right, down in part.coords), 0.5) for part in parts]
        offset += HATCH_MM
    return (*marks, Area(tuple(points), None, 0.8))


def north(at: Point) -> tuple[Mark, ...]:
    """Return an arrow up: the map's top is true north at the site's middle."""
    right, down = at
    tip, tail = (right, down - ARROW_MM / 2.0), (right, down + ARROW_MM / 2.0)
    plate = Area(tuple((right + x, down + y) for x, y in ((-3, -6), (3, -6), (3, 8.6), (-3, 8.6))), 1.0, 0.4)
    head = Area((tip, (right + 1.4, tip[1] + 3.2), (right - 1.4, tip[1] + 3.2)), 0.0, 0.3)
    return (plate, Path((tail, tip), 1.0), head, Words("N", (right, tail[1] + 3.4), 8.5, bold=True, align="center"))


def bar(scale: float, at: Point, *, longest_mm: float, size: float) -> tuple[Mark, ...]:
    """Return a bar of a round length, from its left end, with the length beside it."""
    longest_m = longest_mm * scale / 1000.0
    tens = 10.0 ** math.floor(math.log10(longest_m))
    length_m = tens * max(step for step in (1.0, 2.0, 5.0) if step * tens <= longest_m * (1.0 + 1e-9))
    long, (left, foot) = length_m * 1000.0 / scale, at
    plate = Area(
        ((left - 1.5, foot - 3.8), (left + long + 16.0, foot - 3.8), (left + long + 16.0, foot + 1.4),
         (left - 1.5, foot + 1.4)), 1.0, 0.4,
    )  # fmt: skip
    halves = (
        Area(_upright(left, foot - 1.8, long / 2.0, 1.8), 0.0, 0.5),
        Area(_upright(left + long / 2.0, foot - 1.8, long / 2.0, 1.8), 1.0, 0.5),
    )
    return (plate, *halves, Words(f"{number(length_m, 0 if length_m >= 1 else 1)} m", (left + long + 1.8, foot), size))


def _upright(left: float, top: float, wide: float, tall: float) -> tuple[Point, ...]:
    return ((left, top), (left + wide, top), (left + wide, top + tall), (left, top + tall))


def key(shown: set[str]) -> tuple[Sign, ...]:
    """Return the key to what is on the maps, in a fixed order."""
    flat = ((0.8, 2.5), (10.2, 2.5))
    square = _upright(2.0, 0.6, 7.0, 3.8)
    box = _upright(3.2, 0.6, 4.6, 3.8)
    signs = {
        "fence": Sign(
            (*cased(flat, 2.2), Area(box, 0.0, 0.5), Words("1", (5.5, 3.5), 7.5, bold=True, align="center", shade=1.0)),
            "new fence, with the run's number",
        ),
        "gate": Sign((*cased(flat, 2.2), *gate((3.2, 2.5), (7.8, 2.5))), "gate"),
        "flag": Sign((*cased(flat, 1.6), *ties(flat, 0.7)), "something to mind: see its letter"),
        "pull": Sign(pulled(flat), "old fence, comes down"),
        "keep": Sign(dashed(flat, "keep"), "old fence, stays or not decided"),
        "to go": Sign(tree((5.5, 2.5), "to go"), "tree to go"),
        "to limb": Sign(tree((5.5, 2.5), "to limb"), "tree to limb"),
        "to look at": Sign(tree((5.5, 2.5), ""), "tree to look at"),
        "to keep": Sign(tree((5.5, 2.5), "to keep"), "tree to keep"),
        "stand": Sign((Path((*_upright(2.5, 0.8, 6.0, 3.4), (2.5, 0.8)), 0.6, (1.0, 1.0)),), "stand of trees"),
        "tree": Sign(tree((5.5, 2.5), ""), "tree as it stands"),
        "tracks": Sign(track(flat), "way in for the machine"),
        "overhead": Sign(dashed(flat, "overhead"), "power or phone line overhead"),
        "services": Sign(dashed(flat, "services"), "pipe or cable in the ground"),
        "watercourses": Sign(dashed(flat, "watercourses"), "creek, drain, water"),
        "keepout": Sign(hatched(square), "nobody digs or drives here"),
        "pegs": Sign(mark_of_survey((5.5, 2.7)), "survey mark or peg"),
    }
    return tuple(sign for name, sign in signs.items() if name in shown)

"""The client's maps of one plan: the whole of it over the picture, and as it is beside as it will be, at one scale."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fencegis.exports.client import signs
from fencegis.exports.client.labels import Labels, bar_corner
from fencegis.exports.client.run_numbers import RunNumbers
from fencegis.exports.client.scene import Path, Scene
from fencegis.exports.client.stems import stems
from fencegis.exports.client.underlay import chosen, underlay
from fencegis.exports.courses import Courses
from fencegis.exports.page_text import plain
from fencegis.exports.sheets.sketch import View, scale_for
from fencegis.exports.words import each

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from fencegis.exports.client.risks import Flagged
    from fencegis.exports.client.scene import Mark, Point, Sign
    from fencegis.records.backdrop import Picture
    from fencegis.records.plan import Plan

    Bounds = tuple[float, float, float, float]  # west, south, east, north

MAIN_MM, NARROW_MM, PAIR_MM = 186.0, 100.0, 91.0  # how wide each map is on paper
TALL = {"main": (64.0, 108.0), "narrow": (76.0, 110.0), "pair": (34.0, 54.0)}  # least and most
BESIDE_M, BESIDE = 12.0, 0.06  # ground shown round the fence: metres, and a share of its longer side
EDGE_MM = 5.0
SIZE = 8.0
FENCE = {"main": 2.2, "narrow": 2.0, "pair": 1.8}
MOST_LABELS = 120  # of one kind on one map


@dataclass(frozen=True, eq=False)
class Maps:
    """The maps, their key, the scale of the large one and of the pair on paper, and the picture's name."""

    main: Scene
    narrow: Scene  # the same for a narrow screen
    before: Scene
    after: Scene
    key: tuple[Sign, ...]
    scale: float
    pair_scale: float
    picture: str | None


def maps_of(plan: Plan, hazards: Sequence[Flagged]) -> Maps:
    """Return the maps of a plan; `hazards` are what is flagged, with letters."""
    picture = chosen(plan.site.backdrop() if plan.site.backdrop else None)
    ground = _Ground(plan, hazards)
    views = {name: view_of(ground.bounds, wide, TALL[name], usual=name != "narrow")
             for name, wide in (("main", MAIN_MM), ("narrow", NARROW_MM), ("pair", PAIR_MM))}  # fmt: skip
    under = {name: _under(picture, plan.crs, view, box) for name, (view, box) in views.items()}

    def scene(name: str, about: str, marks: Callable[[View, tuple[float, float], float], Iterator[Mark]]) -> Scene:
        view, box = views[name]
        return Scene(*box, about, under[name], tuple(marks(view, box, FENCE[name])))

    site = plain(plan.site.name)
    return Maps(
        main=scene("main", f"Map of the new fence, {site}", ground.whole),
        narrow=scene("narrow", f"Map of the new fence, {site}", ground.whole),
        before=scene("pair", f"As it is now, {site}", ground.before),
        after=scene("pair", f"As it will be, {site}", ground.after),
        key=signs.key(ground.shown),
        scale=views["main"][0].scale,
        pair_scale=views["pair"][0].scale,
        picture=None if picture is None else picture.name,
    )


def view_of(
    bounds: Bounds, wide_mm: float, tall_mm: tuple[float, float], *, usual: bool = True
) -> tuple[View, tuple[float, float]]:
    """Return the view of these bounds, north up, and its box (width, height): as tall as they ask, within limits.

    `usual` takes the next usual scale of a map, else all of the box is used.
    """
    west, south, east, north = bounds
    aside = max(BESIDE_M, BESIDE * max(east - west, north - south))
    across, along = east - west + 2.0 * aside, north - south + 2.0 * aside
    needed = across * 1000.0 / wide_mm
    tall = min(max(along * 1000.0 / (scale_for(needed) if usual else needed), tall_mm[0]), tall_mm[1])
    needed = max(needed, along * 1000.0 / tall)
    scale = scale_for(needed) if usual else needed
    middle = ((west + east) / 2.0, (south + north) / 2.0)
    return View(middle, math.pi / 2.0, scale, (wide_mm / 2.0, tall / 2.0)), (wide_mm, tall)


def _under(picture: Picture | None, crs: str, view: View, box: tuple[float, float]) -> Any:
    return None if picture is None else underlay(picture, crs, view, box)


class _Ground:
    """What is on the ground of one site, drawn in any view; `shown` gathers what the key has to tell."""

    def __init__(self, plan: Plan, hazards: Sequence[Flagged]) -> None:
        self.plan, self.hazards = plan, hazards
        self.shown: set[str] = set()
        west, south, east, north = plan.runs.total_bounds.tolist()
        self.bounds: Bounds = (west, south, east, north)
        self.courses = Courses(plan)
        places = stems(plan, self.courses)
        self.trees = [(str(row.tree_id), str(row.what), at) for row, at in zip(each(plan.trees), places, strict=True)]

    def whole(self, view: View, box: tuple[float, float], width: float) -> Iterator[Mark]:
        """Yield all there is, with numbers and letters."""
        yield from self._given(view, box)
        yield from self._old(view, box)
        yield from self._flags(view)
        yield from self._fence(view, width)
        yield from self._trees(view)
        yield from self._labels(view, box)
        yield from self._frame(view, box)

    def before(self, view: View, box: tuple[float, float], _: float) -> Iterator[Mark]:
        """Yield what is there now: the old fence, and every tree as the data has it."""
        yield from self._given(view, box)
        yield from self._old(view, box)
        for at in self._trees_now(view):
            self.shown.add("tree")
            yield from signs.tree(at, "", 1.2)
        yield from self._frame(view, box, arrow=False)

    def after(self, view: View, box: tuple[float, float], width: float) -> Iterator[Mark]:
        """Yield the new fence, what of the old one stays, and the trees that stay."""
        yield from self._given(view, box)
        yield from self._old(view, box, only_kept=True)
        yield from self._fence(view, width)
        yield from self._trees(view, without="to go")
        yield from self._frame(view, box, arrow=False)

    def _given(self, view: View, box: tuple[float, float]) -> Iterator[Mark]:
        for name in ("watercourses", "tracks", "services", "overhead", "keepout", "pegs"):
            for shape, radius_m in _shapes(getattr(self.plan.site, name), "radius_m"):
                points = _seen(shape, view, box)
                if points:
                    self.shown.add(name)
                for piece in points:
                    yield from _drawn(name, piece, shape, radius_m * 1000.0 / view.scale)
        for shape, _ in _shapes(self.plan.site.trees, "spread_m"):
            if isinstance(shape, shapely.Polygon):
                for piece in _seen(shape, view, box):
                    self.shown.add("stand")
                    yield Path((*piece, piece[0]), 2.2, shade=1.0)
                    yield Path((*piece, piece[0]), 0.6, (1.0, 1.0))

    def _old(self, view: View, box: tuple[float, float], *, only_kept: bool = False) -> Iterator[Mark]:
        layer = self.plan.site.existing
        for row in () if layer is None else each(layer):
            pull = row.kind == "pull"
            if pull and only_kept:
                continue
            for part in shapely.get_parts(row.geometry):
                for piece in _seen(part, view, box):
                    self.shown.add("pull" if pull else "keep")
                    yield from signs.pulled(piece) if pull else signs.dashed(piece, "keep")

    def _fence(self, view: View, width: float) -> Iterator[Mark]:
        self.shown.add("fence")
        for run in each(self.plan.runs):
            yield from signs.cased(_paper(run.geometry, view), width)
        for gate in each(self.plan.gates):
            self.shown.add("gate")
            points = _paper(gate.geometry, view)
            yield from signs.gate(*_at_least(points[0], points[-1], 2.4))

    def _flags(self, view: View) -> Iterator[Mark]:
        for hazard in self.hazards:
            self.shown.add("flag")
            for line_id, begin, end in hazard.stretches:
                yield from signs.ties(_paper(self.courses.piece(line_id, begin, end), view))

    def _trees(self, view: View, *, without: str = "") -> Iterator[Mark]:
        for _, what, at in self.trees:
            if what != without:
                self.shown.add(what)
                yield from signs.tree(_points(view.of([at]))[0], what)

    def _trees_now(self, view: View) -> Iterator[Point]:
        for shape, _ in _shapes(self.plan.site.trees, "spread_m"):
            if isinstance(shape, shapely.Point):
                yield _points(view.of(shapely.get_coordinates(shape)))[0]

    def _labels(self, view: View, box: tuple[float, float]) -> Iterator[Mark]:
        lines = [_paper(run.geometry, view) for run in each(self.plan.runs)]
        labels = Labels(box, lines, size=SIZE)
        labels.keep((box[0] - 9.0, 0.0, box[0], 17.0))
        labels.keep(self._bar_spot(view, box))
        for _, _, at in self.trees:
            right, down = _points(view.of([at]))[0]
            labels.keep((right - 1.5, down - 1.5, right + 1.5, down + 1.5))
        for gate in each(self.plan.gates):
            right, down = _middle(gate.geometry, view)
            labels.keep((right - 2.0, down - 2.0, right + 2.0, down + 2.0))
        for place, run in enumerate(each(self.plan.runs), start=1):
            labels.put(str(place), _middle(run.geometry, view), "run", must=place <= MOST_LABELS)
        for place, gate in enumerate(each(self.plan.gates), start=1):
            labels.put(f"G{place}", _middle(gate.geometry, view), "gate", must=place <= MOST_LABELS)
        self._letters(labels, view)
        for name, _, at in self.trees[:MOST_LABELS]:
            labels.put(plain(name), _points(view.of([at]))[0], "tree")
        yield from labels.marks()

    def _bar_spot(self, view: View, box: tuple[float, float]) -> tuple[float, float, float, float]:
        """Return the corner in which a scale bar covers least of the fence: left, top, right, foot."""
        lines = [_paper(run.geometry, view) for run in each(self.plan.runs)]
        return bar_corner(box, lines, _longest_mm(box))

    def _frame(self, view: View, box: tuple[float, float], *, arrow: bool = True) -> Iterator[Mark]:
        if arrow:
            yield from signs.north((box[0] - 4.5, 7.5))
        left, _, _, foot = self._bar_spot(view, box)
        yield from signs.bar(view.scale, (left + 2.2, foot - 1.8), longest_mm=_longest_mm(box), size=SIZE)

    def _letters(self, labels: Labels, view: View) -> None:
        """Write a letter for each kind on each run that it is flagged on, at the longest stretch there."""
        numbers = RunNumbers(self.plan)
        for hazard in self.hazards:
            longest: dict[int, tuple[str, float, float]] = {}
            for stretch in hazard.stretches:
                run = numbers.at(stretch[0], (stretch[1] + stretch[2]) / 2.0)
                if run not in longest or stretch[2] - stretch[1] > longest[run][2] - longest[run][1]:
                    longest[run] = stretch
            for stretch in list(longest.values())[:MOST_LABELS]:
                labels.put(hazard.letter, _middle(self.courses.piece(*stretch), view), "flag")


def _drawn(name: str, piece: list[Point], shape: Any, radius: float) -> tuple[Mark, ...]:
    if name == "pegs":
        return signs.mark_of_survey(piece[0])
    if name == "keepout":
        if len(piece) > 2 and isinstance(shape, shapely.Polygon):
            return signs.hatched(piece)
        round_it = shapely.Point(piece[0]) if len(piece) == 1 else shapely.LineString(piece)
        return signs.hatched([(x, y) for x, y in round_it.buffer(max(radius, 1.5), quad_segs=8).exterior.coords])
    if len(piece) == 1:
        return signs.mark_of_survey(piece[0]) if name == "pegs" else signs.crossed(piece[0], 1.0)
    line = [*piece, piece[0]] if isinstance(shape, shapely.Polygon) else piece
    return signs.track(line) if name == "tracks" else signs.dashed(line, name)


def _shapes(layer: Any, size: str) -> Iterator[tuple[Any, float]]:
    """Yield each single shape of a layer with its size in metres, 0 when it has none."""
    if layer is None:
        return
    for row in layer.to_dict("records"):
        value = row.get(size)
        size_m = float(value) if isinstance(value, int | float) and math.isfinite(value) else 0.0
        for part in shapely.get_parts(row["geometry"]):
            if not part.is_empty:
                yield part, size_m


def _seen(shape: Any, view: View, box: tuple[float, float]) -> list[list[Point]]:
    """Return what of a shape lies in the box, as pieces on paper."""
    flat = shapely.transform(shapely.force_2d(shape), view.of)
    inside = flat.intersection(shapely.box(0.0, 0.0, *box)) if flat.is_valid else flat
    pieces = []
    for part in shapely.get_parts(inside):
        outline = part.exterior if isinstance(part, shapely.Polygon) else part
        points = _points(shapely.get_coordinates(outline))
        if isinstance(part, shapely.Polygon):
            points = points[:-1]
        if points and (len(points) > 1 or not isinstance(shape, shapely.LineString)):
            pieces.append(points)
    return pieces


def _paper(shape: Any, view: View) -> list[Point]:
    return _points(view.of(shapely.get_coordinates(shape)))


def _points(points: Any) -> list[Point]:
    return [(float(right), float(down)) for right, down in np.asarray(points, dtype=float).reshape(-1, 2)]


def _middle(shape: Any, view: View) -> Point:
    at = shape.interpolate(0.5, normalized=True)
    return _points(view.of([(at.x, at.y)]))[0]


def _at_least(begin: Point, end: Point, long: float) -> tuple[Point, Point]:
    """Return two points drawn apart to at least this many millimetres, about their middle."""
    now = math.dist(begin, end)
    if now >= long or now < 1e-9:
        return begin, end
    middle = ((begin[0] + end[0]) / 2.0, (begin[1] + end[1]) / 2.0)
    share = long / now
    first, last = (
        (middle[0] + (at[0] - middle[0]) * share, middle[1] + (at[1] - middle[1]) * share) for at in (begin, end)
    )
    return first, last


def _longest_mm(box: tuple[float, float]) -> float:
    return min(34.0, box[0] * 0.24)

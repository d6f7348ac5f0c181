"""The posts of each run in walking order, stretch by stretch, with the marks to read off one running tape."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fencegis.exports.words import each
from fencegis.quantities.takeoff import fence_kinds

if TYPE_CHECKING:
    import numpy.typing as npt
    import pandas as pd

    from fencegis.records.plan import Plan

    Floats = npt.NDArray[np.float64]

SAME_M = 0.005
DRAWN = {"strainer": 2, "gate": 2, "junction": 2, "key": 1}
WHOLE = {"bays", "rails"}  # these lie within one run


@dataclass(frozen=True, eq=False)
class Stretch:
    """Posts that one string or tape passes: from corner or gate to corner or gate.

    `posts` are rows of the layer `posts`, a first or last one may stand under another line; `station_m` is each
    post's chainage on this run's line, `tape_m` runs from the first post's centre, `bay_m` is to the next post.
    """

    posts: tuple[Any, ...]
    station_m: Floats
    tape_m: Floats
    bay_m: Floats

    @cached_property
    def names(self) -> list[str]:
        """Every post's name."""
        return [str(post.post_id) for post in self.posts]

    @cached_property
    def weight(self) -> npt.NDArray[np.int_]:
        """How each post is drawn (n,): 2 holds an end, 1 is a key post, 0 any other."""
        return np.array([DRAWN.get(str(post.kind), 0) for post in self.posts])

    @cached_property
    def top_m(self) -> Floats:
        """Height of the top line above the ground at each post (n,), NaN where there is none."""
        return np.array([post.top_m for post in self.posts], dtype=float)

    @cached_property
    def points(self) -> Floats:
        """Every post's easting and northing, (n, 2)."""
        return shapely.get_coordinates([post.geometry for post in self.posts])


@dataclass(frozen=True, eq=False)
class Walk:
    """One run and what stands along it."""

    run: Any  # row of the layer `runs`
    fence: str  # "wire" or "post and rail"
    stretches: tuple[Stretch, ...]
    # Rows of the layers of these names that lie on it or reach onto it; `seen` is what the walk brought back.
    hazards: tuple[Any, ...] = ()
    gates: tuple[Any, ...] = ()
    corners: tuple[Any, ...] = ()
    rails: tuple[Any, ...] = ()
    seen: tuple[Any, ...] = ()

    @cached_property
    def posts(self) -> dict[str, Any]:
        """Every post along it once, by its name, in walking order."""
        return {str(post.post_id): post for stretch in self.stretches for post in stretch.posts}

    def numbers(self, column: str) -> Floats:
        """Return a column of its posts, those without a number left out."""
        values = np.array([getattr(post, column) for post in self.posts.values()], dtype=float)
        known: Floats = values[np.isfinite(values)]
        return known

    @property
    def post_count(self) -> int:
        """How many posts stand along it, those at its ends included."""
        return len(self.posts)

    def span_of_posts(self, from_m: float, to_m: float) -> tuple[str, str] | None:
        """Return the posts between which a span lies, never nearer than it is; None where the run has no posts."""
        if not self.stretches:
            return None
        names = [name for stretch in self.stretches for name in stretch.names]
        stations = np.concatenate([stretch.station_m for stretch in self.stretches])
        begin = np.flatnonzero(stations <= from_m + 0.005)
        end = np.flatnonzero(stations >= to_m - 0.005)
        return names[begin[-1] if len(begin) else 0], names[end[0] if len(end) else -1]


def walks(plan: Plan) -> list[Walk]:
    """Return every run with its posts, in the order of the runs."""
    post_of = {str(post.post_id): post for post in rows_of(plan.posts)}
    layers = {name: _by_line(getattr(plan, name)) for name in ("bays", "hazards", "gates", "corners", "rails")}
    layers["seen"] = _by_line(plan.notes[(plan.notes["severity"] == "seen") & plan.notes["chainage_m"].notna()])
    fences = fence_kinds(plan.site, plan.runs["line_id"])
    found = []
    for run, fence in zip(rows_of(plan.runs), fences, strict=True):
        here = {name: _along(run, rows.get(run.line_id), across=name not in WHOLE) for name, rows in layers.items()}
        found.append(Walk(run, str(fence), tuple(_stretches(here.pop("bays"), post_of)), **here))
    return found


def rows_of(frame: pd.DataFrame) -> list[Any]:
    """Return the rows as named tuples."""
    return list(each(frame))


@dataclass(frozen=True, eq=False)
class _OnLine:
    """One line's rows of a layer, with where they begin and end."""

    rows: list[Any]
    from_m: Floats
    to_m: Floats


def _by_line(frame: pd.DataFrame) -> dict[str, _OnLine]:
    lines: dict[str, list[Any]] = {}
    for row in rows_of(frame):
        lines.setdefault(row.line_id, []).append(row)
    begin, end = ("from_m", "to_m") if "from_m" in frame.columns else ("chainage_m", "chainage_m")
    return {
        line_id: _OnLine(
            rows, np.array([getattr(row, begin) for row in rows]), np.array([getattr(row, end) for row in rows])
        )
        for line_id, rows in lines.items()
    }


def _along(run: Any, on_line: _OnLine | None, *, across: bool) -> tuple[Any, ...]:
    """Return the stations and spans on a run, its ends included; spans that reach over an end only when `across`."""
    if on_line is None:
        return ()
    if across:
        here = (on_line.from_m <= run.to_m + SAME_M) & (on_line.to_m >= run.from_m - SAME_M)
    else:
        middle = (on_line.from_m + on_line.to_m) / 2.0
        here = (middle > run.from_m) & (middle < run.to_m)
    return tuple(on_line.rows[place] for place in np.flatnonzero(here))


def _stretches(bays: tuple[Any, ...], post_of: dict[str, Any]) -> list[Stretch]:
    """Cut the bays where one does not begin at the post that the one before ends at: a gate stands there."""
    pieces: list[list[Any]] = []
    for bay in bays:
        if pieces and pieces[-1][-1].to_post == bay.from_post:
            pieces[-1].append(bay)
        else:
            pieces.append([bay])
    return [_stretch(piece, post_of) for piece in pieces]


def _stretch(bays: list[Any], post_of: dict[str, Any]) -> Stretch:
    names = [bays[0].from_post, *(bay.to_post for bay in bays)]
    posts = tuple(post_of[str(name)] for name in names)
    bay_m = np.array([bay.ground_length_m for bay in bays])
    tape_m = np.concatenate([[0.0], np.cumsum(bay_m)])
    # The layer's own marks; those of the two ends belong to the run or line that the end post is listed under.
    tape_m[1:-1] = [post.tape_m for post in posts[1:-1]]
    if len(posts) > 2:
        tape_m[-1] = tape_m[-2] + bay_m[-1]
    station_m = np.array([*(bay.from_m for bay in bays), bays[-1].to_m])
    return Stretch(posts, station_m, tape_m, bay_m)

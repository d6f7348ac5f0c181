"""The pieces of work that a plan asks for: each activity post by post, bay by bay, wire by wire, and where.

Counts are those of the plan's layers; nothing is measured again. A piece is the least that a day is cut at.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import numpy.typing as npt

    from fencegis.records.site import Site

    Floats = npt.NDArray[np.float64]
    Tables = Mapping[str, pd.DataFrame]

HOLDING = ("strainer", "gate", "junction", "brace")  # kinds of posts that stand before a string is tied
FIRST = (*HOLDING, "key")
# Assemblies that a strainer takes, one for each way that it is pulled; a line brace holds both ways (common practice).
ASSEMBLIES = {"corner": 2, "peg": 2}
WIRE, RAIL = "wire", "post and rail"
SITE = ""  # the line of what is about the whole site
SAME_M = 0.01


@dataclass(frozen=True, eq=False)
class Work:
    """Pieces of one activity, (n,) each: where they begin and end, how much, how steep the ground, how it is done.

    `place_m` puts in order what is done place by place or stretch by stretch. `post` is a row of `posts`, −1 for none.
    """

    activity: str
    line: npt.NDArray[np.object_]
    from_m: Floats
    to_m: Floats
    quantity: Floats
    place_m: Floats
    grade_pct: Floats
    method: npt.NDArray[np.object_]
    soil: npt.NDArray[np.object_]
    post: npt.NDArray[np.int_]
    carried: bool = False


def work(
    activity: str,
    line: Any,
    from_m: npt.ArrayLike,
    to_m: npt.ArrayLike | None = None,
    *,
    quantity: npt.ArrayLike = 1.0,
    place_m: npt.ArrayLike = 0.0,
    grade_pct: npt.ArrayLike = 0.0,
    method: npt.ArrayLike = "",
    soil: npt.ArrayLike = "",
    post: npt.ArrayLike = -1,
    carried: bool = False,
) -> Work:
    """Return pieces of one activity; what is one for all, the name of a line too, may be given once."""
    line, begin = np.asarray(line, dtype=object), np.asarray(from_m, dtype=float)
    count = len(begin)

    def each(value: npt.ArrayLike, kind: type) -> Any:
        return np.broadcast_to(np.asarray(value, dtype=kind), (count,))

    return Work(
        activity, np.broadcast_to(line, (count,)), begin, each(from_m if to_m is None else to_m, float),
        each(quantity, float), each(place_m, float), each(grade_pct, float),
        each(method, object), each(soil, object), each(post, int), carried,
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Ground:
    """What the pieces lie on, line by line: its bays in walking order with their grades, and where its posts hold."""

    bays: Tables
    holds_m: dict[str, Floats]
    kind: Mapping[str, str]

    def grade_pct(self, line_id: str, at_m: Floats) -> Floats:
        """Return the steeper size of the grades beside stations of one line; NaN where nobody knows one."""
        bays = self.bays[line_id]
        begin, end = bays["from_m"].to_numpy(), bays["to_m"].to_numpy()
        steep = np.abs(bays["grade_pct"].to_numpy(dtype=float))
        before = np.clip(np.searchsorted(begin, at_m - SAME_M, side="right") - 1, 0, None)
        behind = np.clip(np.searchsorted(end, at_m + SAME_M, side="left"), None, len(end) - 1)
        return np.asarray(np.fmax(steep[before], steep[behind]), dtype=float)

    def stretch_m(self, line_id: str, at_m: Floats) -> Floats:
        """Return where the stretch that each station lies in begins; a post that holds is in the one before it."""
        holds = self.holds_m[line_id]
        return np.asarray(holds[np.clip(np.searchsorted(holds, at_m - SAME_M, side="right") - 1, 0, None)], dtype=float)


def ground_under(tables: Tables, *, kind_of_line: Mapping[str, str]) -> Ground:
    """Return the bays of each line and the stations that its stretches begin and end at."""
    bays = {str(line): rows.sort_values("from_m") for line, rows in tables["bays"].groupby("line_id", sort=False)}
    holds = {}
    posts = tables["posts"]
    held = posts[posts["kind"].isin(HOLDING)]
    own = {str(line): rows["chainage_m"].to_numpy() for line, rows in held.groupby("line_id", sort=False)}
    node = {str(line): rows["chainage_m"].to_numpy() for line, rows in tables["nodes"].groupby("line_id", sort=False)}
    for line, rows in bays.items():
        ends = [rows["from_m"].iloc[0], rows["to_m"].iloc[-1]]
        holds[line] = np.unique(np.concatenate([own.get(line, []), node.get(line, []), ends]).round(4))
    return Ground(bays, holds, kind_of_line)


def all_work(site: Site, tables: Tables, *, ground: Ground) -> Iterator[Work]:
    """Yield the pieces of every activity that the line itself asks for: no old fence, deliveries, machine."""
    yield from _before(tables)
    yield from _posts(site, tables, ground)
    yield from _strings(ground)
    for line, bays in ground.bays.items():
        if ground.kind[line] == WIRE:
            yield from _wires(site, line, bays, ground)
        if site.spec.fence.mesh_solidity is not None:
            yield _by_bay("mesh", line, bays, ground, quantity=bays["ground_length_m"].to_numpy())
    yield from _rails(tables, ground)
    yield from _last(tables)


def _before(tables: Tables) -> Iterator[Work]:
    """Yield what is done before a post goes in."""
    marks = tables["strainers"]
    yield work("set out", marks["line_id"], marks["chainage_m"])
    hazards = tables["hazards"]
    buried = hazards[hazards["kind"] == "buried service"]
    yield work("services", buried["line_id"], buried["from_m"], buried["to_m"])
    cleared = tables["clearing"]
    yield work("clearing", cleared["line_id"], cleared["from_m"], cleared["to_m"], quantity=cleared["area_m2"])
    for activity, what in (("trees", "to go"), ("limbs", "to limb")):
        trees = tables["trees"][tables["trees"]["what"] == what]
        yield work(activity, trees["line_id"], trees["chainage_m"])
    spots = tables["spots"]
    yield work("ground", spots["line_id"], spots["from_m"], spots["to_m"], quantity=spots["volume_m3"])


def _posts(site: Site, tables: Tables, ground: Ground) -> Iterator[Work]:
    posts = tables["posts"]
    by_hand = stands_by_hand(site, tables)
    for line, rows in posts.groupby("line_id", sort=False):
        if line not in ground.bays:
            continue
        at, kind = rows["chainage_m"].to_numpy(), rows["kind"].to_numpy()
        method = np.where(by_hand[rows.index], "dug", rows["set_by"].fillna(site.spec.fence.post_set).to_numpy())
        soil = rows["soil"].fillna("").to_numpy()
        grade, stretch = ground.grade_pct(str(line), at), ground.stretch_m(str(line), at)
        holding = np.isin(kind, HOLDING)
        key = kind == "key"
        for activity, here, place in (
            ("ends", holding, at), ("key posts", key, stretch), ("line posts", ~holding & ~key, stretch)
        ):  # fmt: skip
            yield work(
                activity, line, at[here], place_m=place[here], grade_pct=grade[here],
                method=method[here], soil=soil[here], post=rows.index.to_numpy()[here],
            )  # fmt: skip
        laid = ~holding & ~key
        yield work(
            "lay out", line, at[laid], place_m=stretch[laid], grade_pct=grade[laid],
            post=rows.index.to_numpy()[laid], carried=True,
        )  # fmt: skip
        tied = rows["tie_down"].notna().to_numpy()
        yield work("tie-downs", line, at[tied], place_m=stretch[tied], grade_pct=grade[tied])
        if ground.kind[str(line)] == RAIL:
            yield work("trim tops", line, at, place_m=stretch, post=rows.index.to_numpy())
    yield from _braced(tables, ground)


def stands_by_hand(site: Site, tables: Tables) -> npt.NDArray[np.bool_]:
    """Return which posts (n,) are dug by hand: where the machine finds no way, and inside a buried service's buffer."""
    posts = tables["posts"]
    hazards = tables["hazards"]
    spans = pd.concat([tables["access"], hazards[hazards["kind"] == "buried service"]])
    if site.spec.machine is not None and (site.spec.machine.kind or "").strip().casefold() == "by hand":
        return np.ones(len(posts), dtype=bool)
    found = np.zeros(len(posts), dtype=bool)
    line, at = posts["line_id"].to_numpy(), posts["chainage_m"].to_numpy()
    for name, begin, end in zip(spans["line_id"], spans["from_m"], spans["to_m"], strict=True):
        found |= (line == name) & (at >= begin - SAME_M) & (at <= end + SAME_M)
    return found


def _braced(tables: Tables, ground: Ground) -> Iterator[Work]:
    """Yield the assemblies of strainers in wire, and the look over what holds."""
    strainers = tables["strainers"]
    for line, rows in strainers.groupby("line_id", sort=False):
        if line not in ground.bays:
            continue
        at = rows["chainage_m"].to_numpy()
        if ground.kind[str(line)] == WIRE:
            count = rows["reason"].map(ASSEMBLIES).fillna(1.0).to_numpy(dtype=float)
            grade = ground.grade_pct(str(line), at)
            yield work("braces", line, at, quantity=count, place_m=at, grade_pct=grade)
        yield work("check", line, at, place_m=at)


def _strings(ground: Ground) -> Iterator[Work]:
    """Yield a string for every stretch between posts that hold."""
    for line, bays in ground.bays.items():
        stretch = ground.stretch_m(line, (bays["from_m"] + bays["to_m"]).to_numpy() / 2.0)
        spans = bays.assign(stretch=stretch).groupby("stretch")
        begin, end = spans["from_m"].min().to_numpy(), spans["to_m"].max().to_numpy()
        length = spans["ground_length_m"].sum()
        yield work("strings", line, begin, end, quantity=length, place_m=length.index.to_numpy())


def _wires(site: Site, line: str, bays: pd.DataFrame, ground: Ground) -> Iterator[Work]:
    """Yield wire by wire over each strain, the ties of it, then staples and droppers bay by bay."""
    fence = site.spec.fence
    stretch = ground.stretch_m(line, (bays["from_m"] + bays["to_m"]).to_numpy() / 2.0)
    strains = bays.assign(stretch=stretch, steep=bays["grade_pct"].abs()).groupby("stretch")
    begin, end = strains["from_m"].min().to_numpy(), strains["to_m"].max().to_numpy()
    length, steep = strains["ground_length_m"].sum().to_numpy(), strains["steep"].mean().to_numpy()
    again = np.repeat(np.arange(len(begin)), fence.wires)
    spans, place = (begin[again], end[again]), strains["from_m"].min().index.to_numpy()[again]
    yield work("wires", line, *spans, quantity=length[again], place_m=place, grade_pct=steep[again])
    yield work("strain", line, *spans, place_m=place)
    yield _by_bay("staples", line, bays, ground, quantity=float(fence.wires))
    if fence.droppers_per_bay:
        yield _by_bay("droppers", line, bays, ground, quantity=float(fence.droppers_per_bay))


def _by_bay(activity: str, line: str, bays: pd.DataFrame, ground: Ground, *, quantity: npt.ArrayLike) -> Work:
    begin, end = bays["from_m"].to_numpy(), bays["to_m"].to_numpy()
    place = ground.stretch_m(line, (begin + end) / 2.0)
    grade = np.abs(bays["grade_pct"].to_numpy(dtype=float))
    return work(activity, line, begin, end, quantity=quantity, place_m=place, grade_pct=grade)


def _rails(tables: Tables, ground: Ground) -> Iterator[Work]:
    pieces = tables["rails"][tables["rails"]["cut_m"].notna()]
    for (line, cap), rows in pieces.groupby(["line_id", pieces["row"] == 0], sort=False):
        begin, end = rows["from_m"].to_numpy(), rows["to_m"].to_numpy()
        middle = (begin + end) / 2.0
        place, grade = ground.stretch_m(str(line), middle), ground.grade_pct(str(line), middle)
        yield work("caps" if cap else "rails", line, begin, end, place_m=place, grade_pct=grade, carried=True)


def _last(tables: Tables) -> Iterator[Work]:
    gates, crossings, runs = tables["gates"], tables["crossings"], tables["runs"]
    leaves = gates["leaves"].fillna(1).astype(float)
    yield work("gates", gates["line_id"], gates["from_m"], gates["to_m"], quantity=leaves)
    yield work("crossings", crossings["line_id"], crossings["from_m"], crossings["to_m"])
    yield work("tidy", runs["line_id"], runs["from_m"], runs["to_m"], quantity=runs["ground_length_m"])

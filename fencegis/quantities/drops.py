"""Where posts, rails and droppers are set down along the line, and what goes to each place."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.catalogue import rows
from fencegis.quantities.drop_points import fewest
from fencegis.quantities.materials import materials, numbers
from fencegis.records.notes import Note
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import numpy.typing as npt

    from fencegis.line.chainage import Line
    from fencegis.quantities.assembly_parts import Take

    Floats = npt.NDArray[np.float64]
    Whole = npt.NDArray[np.intp]
    Flags = npt.NDArray[np.bool_]
    Row = dict[str, object]

# Nothing is stacked under a power line, in a keep-out, over a buried service or between the banks of a creek.
KEPT_FREE = ("overhead power", "keep-out", "buried service", "crossing")
LENGTH_AFTER = " mm x "  # of a piece in words: its section stands before, its length behind
FORCED = (
    "from here on posts are out of reach of every place where a stack may lie (power line, keep-out, buried service,"
    " creek): stacks are listed there all the same, so carry further (carry_m) or settle it on site"
)


def drop_table(
    taken: Sequence[Take], tables: Mapping[str, pd.DataFrame], *, lines: Sequence[Line], carry_m: float
) -> tuple[pd.DataFrame, list[Note]]:
    """Return the layer `drops` and what to know of it: the fewest stacks with no carry over `carry_m`.

    A crossing whose banks have ends of their own is not carried across. Of as few, the stacks are those with the least
    work, uphill of the posts that they serve where the ground is known. A thing goes to the stack that serves the post
    where it begins.
    """
    carried = [take for take in taken if take.material.carried]
    found: list[Row] = []
    short: list[Note] = []
    for line in lines:
        mine: list[Row] = []
        for part in _parts(line, tables):
            stacks, forced = part.stacks(carry_m)
            if forced:
                short.append(Note("doubt", FORCED, line.line_id, float(part.chainage_m[0])))
            mine += part.served(stacks)
        found += _loaded(line, mine, carried)
    if not found:
        return empty("drops"), []
    table = checked("drops", pd.DataFrame(found))
    return table, [*short, _note(table, carry_m)]


def _note(drops: pd.DataFrame, carry_m: float) -> Note:
    text = (
        f"things are set down at {len(drops)} places, the fewest with no carry over {carry_m:.0f} m (carry_m): on"
        " bearers, off the line, nothing under a power line; whether a truck gets there is not checked"
    )
    return Note("default", text)


@dataclass(frozen=True, eq=False)
class _Part:
    """A stretch of one line that can be walked from end to end: its posts (n,) in order, `at_m` along the ground.

    `loop_m` is the way round where the stretch is a whole loop, else None.
    """

    line_id: str
    post_id: npt.NDArray[np.object_]
    chainage_m: Floats
    at_m: Floats
    ground_m: Floats
    water_l: Floats
    kept_free: Flags
    loop_m: float | None

    def stacks(self, carry_m: float) -> tuple[Whole, bool]:
        """Return which posts have a stack beside them, and whether some lie where none should."""
        climb = next(float(row["value"]) for row in rows("carrying") if row["item"] == "climb")
        for may in (~self.kept_free, None):
            found = fewest(self.at_m, carry_m=carry_m, ground_m=self.ground_m, climb=climb, may=may, loop_m=self.loop_m)
            if found is not None:
                return np.array(found, dtype=int), may is None
        raise AssertionError("every post is in reach of itself")

    def served(self, stacks: Whole) -> list[Row]:
        """Return a row for each stack: the posts nearest to it are its own, a post half way the one before's."""
        stack_m = self.at_m[stacks]
        own = np.searchsorted((stack_m[1:] + stack_m[:-1]) / 2.0, self.at_m, side="left")
        on_m = self.at_m.copy()
        if self.loop_m is not None:  # the half way between last and first lies before the start, or after it
            seam = (stack_m[-1] + stack_m[0] + self.loop_m) / 2.0
            late, early = self.at_m > seam, self.at_m <= seam - self.loop_m
            own = np.where(late, 0, np.where(early, len(stacks) - 1, own))
            on_m += np.where(late, -self.loop_m, np.where(early, self.loop_m, 0.0))
        order = np.lexsort((on_m, own))
        begins = np.searchsorted(own[order], np.arange(len(stacks)))
        ends = np.append(begins[1:], len(order)) - 1
        count = ends - begins + 1
        off_m = np.abs(on_m[order] - stack_m[own[order]])
        high_m = np.add.reduceat(self.ground_m[order], begins) / count
        columns = {
            "chainage_m": self.chainage_m[stacks],
            "post_id": self.post_id[stacks],
            "serves_from_m": self.chainage_m[order[begins]],
            "serves_to_m": self.chainage_m[order[ends]],
            "posts": count,
            "water_l": np.add.reduceat(self.water_l[order], begins),
            "carry_m": np.maximum.reduceat(off_m, begins),
            "above_m": self.ground_m[stacks] - high_m,
        }
        return [
            {"line_id": self.line_id, **dict(zip(columns, values, strict=True))}
            for values in zip(*columns.values(), strict=True)
        ]


def _parts(line: Line, tables: Mapping[str, pd.DataFrame]) -> Iterator[_Part]:
    """Yield the stretches of a line between crossings that are not carried across; a loop without one is whole."""
    own = _Own(line.line_id, tables)
    if not len(own.at_m):
        return
    if line.closed and not len(own.cuts_m):
        yield own.part(np.arange(len(own.at_m)), own.at_m, own.round_m)
        return
    which, at_m = np.searchsorted(own.cuts_m, own.column("chainage_m")), own.at_m
    if line.closed:  # what is after the last crossing goes on before the first
        on = which == len(own.cuts_m)
        which, at_m = np.where(on, 0, which), np.where(on, at_m - own.round_m, at_m)
    for number in np.unique(which):
        here = np.flatnonzero(which == number)
        here = here[np.argsort(at_m[here], kind="stable")]
        yield own.part(here, at_m[here], None)


class _Own:
    """What the tables say of one line."""

    def __init__(self, line_id: str, tables: Mapping[str, pd.DataFrame]) -> None:
        self.line_id = line_id
        self.posts = {name: tables["posts"][name].to_numpy() for name in ("line_id", *_OF_POSTS)}
        self.here = np.flatnonzero(self.posts["line_id"] == line_id)
        self.at_m = self.column("ground_chainage_m")
        crossings, runs, hazards = tables["crossings"], tables["runs"], tables["hazards"]
        mine = crossings[(crossings["line_id"] == line_id) & crossings["own_ends"]]
        self.cuts_m = np.sort((mine["from_m"] + mine["to_m"]).to_numpy(dtype=float) / 2.0)
        self.round_m = float(runs.loc[runs["line_id"] == line_id, "ground_length_m"].sum())
        self.free = hazards[hazards["kind"].isin(KEPT_FREE) & (hazards["line_id"] == line_id)]

    def column(self, name: str) -> Floats:
        """Return a column of the line's posts as numbers."""
        return np.asarray(self.posts[name][self.here], dtype=float)

    @cached_property
    def kept_free(self) -> Flags:
        """At which posts nothing is stacked."""
        at = self.column("chainage_m")
        free = np.zeros(len(at), dtype=bool)
        for from_m, to_m in self.free[["from_m", "to_m"]].itertuples(index=False):
            free |= (at >= from_m) & (at <= to_m)
        return free

    def part(self, here: Whole, at_m: Floats, loop_m: float | None) -> _Part:
        """Return some of the line's posts, in the order given."""
        names = np.asarray(self.posts["post_id"][self.here[here]], dtype=object)
        numbers_ = (self.column(name)[here] for name in ("chainage_m", "ground_m", "water_l"))
        chainage_m, ground_m, water_l = numbers_
        water_l = np.nan_to_num(water_l)
        return _Part(self.line_id, names, chainage_m, at_m, ground_m, water_l, self.kept_free[here], loop_m)


_OF_POSTS = ("post_id", "chainage_m", "ground_chainage_m", "ground_m", "water_l")


def _loaded(line: Line, mine: list[Row], carried: Sequence[Take]) -> list[Row]:
    """Return the rows of one line in walking order, named, with what goes to each."""
    if not mine:
        return []
    begins = np.array([row["serves_from_m"] for row in mine], dtype=float)
    order = np.argsort(begins, kind="stable")
    loads: list[list[tuple[str, str, float]]] = [[] for _ in mine]
    mass_kg = np.zeros(len(mine))
    for take in carried:
        here = take.line_id == line.line_id
        before = np.searchsorted(begins[order], take.chainage_m[here], side="right") - 1
        place = order[before if line.closed else np.maximum(before, 0)]  # a loop's last stack serves past its start too
        mass_kg += np.bincount(place, np.nan_to_num(take.mass_kg[here]), minlength=len(mine))
        size = take.size[here]
        counts = np.bincount(place * len(take.sizes) + size, take.amount[here], minlength=len(mine) * len(take.sizes))
        for at in np.flatnonzero(counts):
            loads[at // len(take.sizes)].append((take.rule.material, take.sizes[at % len(take.sizes)], counts[at]))
    walking = np.argsort(np.array([row["chainage_m"] for row in mine], dtype=float), kind="stable")
    digits = max(2, len(str(len(mine))))
    return [
        {
            **mine[row],
            "drop_id": f"{line.line_id}-D{number:0{digits}d}",
            "load": _in_words(loads[row]),
            "mass_kg": mass_kg[row],
        }
        for number, row in enumerate(walking.tolist(), start=1)
    ]


def _in_words(pieces: Sequence[tuple[str, str, float]]) -> str:
    order = {name: place for place, name in enumerate(materials())}
    ranked = sorted(pieces, key=lambda piece: (order[piece[0]], numbers(piece[1]), piece[1]))
    alike: dict[str, list[str]] = {}
    for material, size, amount in ranked:
        section, _, length = materials()[material].words(size).partition(LENGTH_AFTER)
        name = f"{section} mm" if length else section
        alike.setdefault(name, []).append(f"{amount:.0f} × {length}" if length else f"{amount:.0f}")
    return "; ".join(f"{name}: {', '.join(counts)}" for name, counts in alike.items()) or "nothing to carry"

"""What a plan's figures come to when something turns out otherwise: lengths, rock, waste, outputs, spacing.

Runs, profile and strainers stand as planned. Amounts go with what they follow (`catalogue/how_sure.csv`); packs, posts
and rails stay whole. Everything is reckoned for many cases at once, (k,) of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from fencegis.catalogue import rows
from fencegis.quantities.day_rows import NOT_WORK
from fencegis.quantities.output import hours_h, output_of
from fencegis.quantities.stretches import stretches

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt
    import pandas as pd

    from fencegis.quantities.stretches import Stretches
    from fencegis.records.site import Site

    Floats = npt.NDArray[np.float64]

A_HAIR = 1e-9
WIRES = ("wire", "barbed wire")
NOT_CHECKED = "not checked"


@dataclass(frozen=True, eq=False)
class Case:
    """What turns out otherwise, in k cases; as planned where nothing is said.

    `longer_m` (k, stretches) along the ground, `line_m` (k,) the whole of it, gates too; `wider_m` (k, 1) of the
    greatest bay; `rock_holes` (k,); `waste` (k, rows of quantities) and `slower` (k, activities) are factors;
    `more_h` (k,) further hours of the crew.
    """

    longer_m: Floats
    line_m: Floats
    wider_m: Floats
    rock_holes: Floats
    waste: Floats
    slower: Floats
    more_h: Floats


@dataclass(frozen=True, eq=False)
class Outcome:
    """What k cases come to, (k,) each; `posts`, `rails`, `wire_m` are what is to be ordered, spares and waste in them.

    `ordered` (k, rows of quantities) and `worked_h`, `pieces` (k, activities; pieces a factor) are what money rests on.
    """

    length_m: Floats
    posts: Floats
    rails: Floats
    wire_m: Floats
    hours_h: Floats
    days: Floats
    ordered: Floats
    worked_h: Floats
    pieces: Floats
    machine_share: Floats
    rock_holes: Floats


def numbers(about: str) -> dict[str, dict[str, str]]:
    """Return the rows of `catalogue/how_sure.csv` about one thing, by their item."""
    return {row["item"]: row for row in rows("how_sure") if row["about"] == about}


@dataclass(frozen=True, eq=False)
class WhatIf:
    """A plan, to be asked what it comes to when something is otherwise."""

    site: Site
    tables: Mapping[str, pd.DataFrame]
    kind_of_line: Mapping[str, str]

    @cached_property
    def stretches(self) -> Stretches:
        """The stretches between posts that hold."""
        return stretches(self.tables, kind_of_line=self.kind_of_line, fence=self.site.spec.fence)

    @cached_property
    def work(self) -> pd.DataFrame:
        """Hours of the crew by activity, and those with the machine, in the order of the work."""
        days = self.tables["days"]
        work = days[~days["activity"].isin(NOT_WORK)]
        work = work.assign(machine_h=work["hours_h"].where(work["machine"], 0.0))
        return work.groupby("activity", sort=False)[["hours_h", "machine_h"]].sum()

    @cached_property
    def bought(self) -> pd.DataFrame:
        """The layer `quantities`."""
        return self.tables["quantities"]

    @cached_property
    def days(self) -> int:
        """Days on which something is done."""
        days = self.tables["days"]
        return int(days.loc[days["hours_h"] > 0.0, "day"].nunique())

    @cached_property
    def apart_h(self) -> float:
        """Hours of all days for setting up and travel."""
        days = self.tables["days"]
        return float(days.loc[days["activity"].isin(NOT_WORK), "hours_h"].sum())

    @cached_property
    def planned(self) -> Outcome:
        """What the plan itself comes to, one case."""
        return self.outcome(self.as_planned())

    @cached_property
    def quoted(self) -> tuple[Any, ...]:
        """The lines of the quote that have an amount."""
        table = self.tables["price"]
        return tuple(table[table["amount_cents"].notna()].itertuples())

    @cached_property
    def by_piece(self) -> tuple[npt.NDArray[np.int_], ...]:
        """Rows of `quantities` of each material that comes piece by piece."""
        piece = ((self.bought["unit"] == "each") & (self.bought["pack"] == 1.0)).to_numpy()
        name = self.bought["material"].to_numpy(dtype=object)
        return tuple(np.flatnonzero(piece & (name == own)) for own in dict.fromkeys(name[piece]))

    @cached_property
    def unknown_holes(self) -> int:
        """Posts to set where nobody knows the soil."""
        posts = self.tables["posts"]
        return int((posts["soil"].fillna(NOT_CHECKED).eq(NOT_CHECKED) & ~posts["settled"].eq(True)).sum())

    @cached_property
    def rock_hole_h(self) -> float:
        """Hours of the crew that a hole takes longer in rock; a hole that would be driven is opened as a bored one."""
        method = self.site.spec.fence.post_set
        own, people = self.site.rates, self.site.spec.crew.people
        in_rock = output_of("line posts", method="dug" if method == "dug" else "bored", soil="rock", own=own)
        planned = output_of("line posts", method=method, own=own)
        more = hours_h([1.0], output=in_rock, people=people) - hours_h([1.0], output=planned, people=people)
        return max(0.0, float(more[0]))

    def as_planned(self, cases: int = 1) -> Case:
        """Return so many cases in which nothing is otherwise."""
        none = np.zeros(cases)
        return Case(
            longer_m=np.zeros((cases, len(self.stretches.bays))),
            line_m=none,
            wider_m=none[:, None],
            rock_holes=none,
            waste=np.ones((cases, len(self.bought))),
            slower=np.ones((cases, len(self.work))),
            more_h=none,
        )

    def outcome(self, case: Case) -> Outcome:
        """Return what cases come to."""
        follows = self._follows(case)
        exact = self._shares("materials", self.bought["material"], follows) * self.bought["exact"].to_numpy(dtype=float)
        ordered, loose = self._ordered(exact, case.waste)
        worked, pieces = self._worked(case, follows)
        work_h, planned_h = worked.sum(axis=1) + case.more_h, float(self.work["hours_h"].sum())
        days = _in_proportion(self.days, work_h, planned_h)
        machine = self.work["machine_h"].to_numpy(dtype=float)
        share = np.divide(machine, self.work["hours_h"], out=np.zeros(len(machine)), where=self.work["hours_h"] > 0.0)
        names = self.bought["material"]
        return Outcome(
            length_m=float(self.tables["runs"]["ground_length_m"].sum()) + case.line_m,
            posts=ordered[:, names.isin(["post", "post on hand"]).to_numpy()].sum(axis=1),
            rails=ordered[:, names.eq("rail").to_numpy()].sum(axis=1),
            wire_m=loose[:, names.isin(WIRES).to_numpy()].sum(axis=1),
            hours_h=work_h + (self.apart_h / self.days * days if self.days else 0.0),
            days=days,
            ordered=ordered,
            worked_h=worked,
            pieces=pieces,
            machine_share=(worked @ share) / machine.sum() if machine.sum() > 0.0 else np.ones(len(days)),
            rock_holes=case.rock_holes,
        )

    def _follows(self, case: Case) -> dict[str, Floats]:
        """Return by what factor (k,) each thing is more that amounts go with."""
        fence, own = self.site.spec.fence, self.stretches
        more = own.more_bays(case.longer_m, wider_m=case.wider_m)
        by_wire, by_rail = own.wire.astype(float), (~own.wire).astype(float)
        wire, rail = more @ by_wire, more @ by_rail
        sticks = np.ceil(fence.rails * rail / fence.bays_per_rail - A_HAIR)
        bought = self.bought.groupby("material")["exact"].sum()
        posts = float(bought.get("post", 0.0))
        rails = float(bought.get("rail", 0.0))
        runs_m = float(self.tables["runs"]["ground_length_m"].sum())
        return {
            "": np.ones(len(case.line_m)),
            "posts": _factor(wire + rail, posts),
            "wire bays": _factor(wire, float(own.bays @ by_wire)),
            "rail bays": _factor(rail, float(own.bays @ by_rail)),
            "rails": _factor(sticks, rails),
            "length": _factor(case.line_m, runs_m),
            "wire length": _factor(case.longer_m @ by_wire, float(own.length_m @ by_wire)),
        }

    def _shares(self, about: str, names: pd.Series[str] | pd.Index[str], follows: Mapping[str, Floats]) -> Floats:
        """Return the factor (k, names) of each name's amount."""
        known = numbers(about)
        found = [follows[known[name]["follows"] if name in known else ""] for name in names]
        return np.stack(found, axis=1) if found else np.zeros((len(follows[""]), 0))

    def _ordered(self, exact: Floats, waste: Floats) -> tuple[Floats, Floats]:
        """Return what is ordered (k, rows), in whole packs where it has them, and the same without packs.

        Spares of what comes piece by piece are those of the whole material, shared out among its sizes.
        """
        bought = self.bought
        extra = exact * waste * bought["waste_pct"].to_numpy(dtype=float) / 100.0
        pack = bought["pack"].to_numpy(dtype=float)
        packed = np.isfinite(pack)
        size = np.where(packed, pack, 1.0)
        wanted = exact + extra
        ordered = np.where(packed, np.ceil(wanted / size - A_HAIR) * size, wanted)
        for own in self.by_piece:
            amount = exact[:, own].sum(axis=1)
            total = np.ceil(amount - A_HAIR) + np.ceil(extra[:, own].sum(axis=1) - A_HAIR)
            share = np.divide(total, amount, out=np.ones_like(total), where=amount > 0.0)
            ordered[:, own] = exact[:, own] * share[:, None]
        return ordered, wanted

    def _worked(self, case: Case, follows: Mapping[str, Floats]) -> tuple[Floats, Floats]:
        """Return the hours (k, activities) of the crew and the factor of what is done; holes in rock are line posts."""
        pieces = self._shares("outputs", self.work.index, follows)
        hours = pieces * self.work["hours_h"].to_numpy(dtype=float)
        if "line posts" in self.work.index:
            hours[:, self.work.index.get_loc("line posts")] += self.rock_hole_h * case.rock_holes
        return hours * case.slower, pieces


def with_more_hours(case: Case, hours: npt.ArrayLike) -> Case:
    """Return cases with so many further hours of the crew."""
    return replace(case, more_h=case.more_h + np.asarray(hours, dtype=float))


def _in_proportion(whole: int, now: Floats, planned: float) -> Floats:
    """Return days, to the nearest whole one, for hours now where so many days hold the planned ones."""
    return (
        np.maximum(np.rint(whole * now / planned), min(whole, 1)) if planned > 0.0 else np.full(len(now), float(whole))
    )


def _factor(more: Floats, planned: float) -> Floats:
    return np.maximum(1.0 + more / planned, 0.0) if planned > 0.0 else np.ones(len(more))

"""The layer `days`: what is done on which day, from where to where, how long it takes and what to load for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.quantities.calendar_days import Calendar
from fencegis.quantities.day_notes import notes_on_days
from fencegis.quantities.day_rows import Pieces, day_rows
from fencegis.quantities.old_fence import old_fence_work
from fencegis.quantities.output import hours_h, output_of, slope_share
from fencegis.quantities.schedule import fill, in_order, stages
from fencegis.quantities.work import SITE, all_work, ground_under, work
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt
    import pandas as pd

    from fencegis.line.chainage import Line
    from fencegis.quantities.output import Output
    from fencegis.quantities.work import Work
    from fencegis.records.notes import Note
    from fencegis.records.site import Site

    Floats = npt.NDArray[np.float64]
    Whole = npt.NDArray[np.int_]

TRIPS = {"trailer": 1, "low loader": 2}
# Before which activity a load comes, and what it is.
LOADS = (("ends", "posts"), ("rails", "rails"), ("wires", "wire and fittings"), ("gates", "gates"))


def day_table(
    site: Site, tables: Mapping[str, pd.DataFrame], *, lines: Sequence[Line], kind_of_line: Mapping[str, str]
) -> tuple[pd.DataFrame, list[Note]]:
    """Return the layer `days` and notes on what it rests on; empty, with no note, where no post is planned.

    Hours are of the crew of `[crew]`; each day has a row for setting up and travel, and days added for weather follow
    the last. The contractor's own outputs, where the site has them, go before the catalogue's.
    """
    if not len(tables["posts"]) or not len(tables["bays"]):
        return empty("days"), []
    calendar = calendar_of(site)
    pieces = pieces_of(site, tables, lines=lines, kind_of_line=kind_of_line)
    filled = fill(pieces.hours_h, room_h=calendar.room_h)
    table = checked("days", day_rows(pieces, filled, tables=tables, calendar=calendar))
    return table, notes_on_days(table, site=site, calendar=calendar)


def calendar_of(site: Site) -> Calendar:
    """Return the site's days."""
    spec = site.spec
    return Calendar(spec.crew, spec.days, spec.date, site.grid.centre_lat_deg)


def pieces_of(
    site: Site, tables: Mapping[str, pd.DataFrame], *, lines: Sequence[Line], kind_of_line: Mapping[str, str]
) -> Pieces:
    """Return every piece of the work in its order, with its hours."""
    ground = ground_under(tables, kind_of_line=kind_of_line)
    found = [one for one in all_work(site, tables, ground=ground) if len(one.from_m)]
    found += [*old_fence_work(site, lines=lines)]
    names = (SITE, *dict.fromkeys([*ground.bays, *(str(name) for one in found for name in one.line[:1])]))
    asked = {one.activity for one in found}
    if any(map(_by_machine, found)):
        trips = float(TRIPS[site.spec.crew.machine_comes])
        found += [work(activity, SITE, [0.0], quantity=trips) for activity in ("machine in", "machine out")]
    found += [work("deliveries", SITE, [0.0]) for before, _ in LOADS if before in asked]
    loads = [what for before, what in LOADS if before in asked]
    before = [stages()[activity][0] - 0.5 for activity, _ in LOADS if activity in asked]
    return _sorted(site, found, names, loads=loads, before=before)


def _by_machine(one: Work) -> bool:
    return any(output_of(one.activity, method=str(method)).machine for method in set(one.method))


def _sorted(
    site: Site, found: Sequence[Work], names: tuple[str, ...], *, loads: Sequence[str], before: Sequence[float]
) -> Pieces:
    outputs: dict[Output, int] = {}
    columns = [_reckoned(site, one, outputs) for one in found]
    count = [len(one.from_m) for one in found]
    place = {name: number for number, name in enumerate(names)}
    line = np.concatenate([[place[str(name)] for name in one.line] for one in found]).astype(int)
    ranked = [stages()[one.activity] for one in found]
    stage = np.repeat([one[0] for one in ranked], count).astype(float)
    rank = np.repeat([one[1] for one in ranked], count)
    load = np.full(len(line), "", dtype=object)
    if loads:
        stage[-len(loads) :], load[-len(loads) :] = before, loads

    def joined(name: str) -> Floats:
        return np.concatenate([getattr(one, name) for one in found])

    order = in_order(stage, line=line, place_m=joined("place_m"), rank=rank, from_m=joined("from_m"))
    return Pieces(
        outputs=tuple(outputs),
        lines=names,
        output=np.concatenate([number for number, _ in columns])[order],
        line=line[order],
        from_m=joined("from_m")[order],
        to_m=joined("to_m")[order],
        quantity=joined("quantity")[order],
        hours_h=np.concatenate([hours for _, hours in columns])[order],
        post=joined("post")[order].astype(int),
        load=tuple(load[order]),
    )


def _reckoned(site: Site, one: Work, outputs: dict[Output, int]) -> tuple[Whole, Floats]:
    """Return for each piece the place of its output in `outputs`, which grows, and its hours."""
    crew, own = site.spec.crew, getattr(site, "rates", None)
    number, hours = np.zeros(len(one.from_m), dtype=int), np.zeros(len(one.from_m))
    words = np.char.add(np.char.add(one.method.astype(str), "\n"), one.soil.astype(str))
    kinds, kind = np.unique(words, return_inverse=True)
    for place, both in enumerate(kinds):
        method, _, soil = str(both).partition("\n")
        output, here = output_of(one.activity, method=method, soil=soil, own=own), kind == place
        number[here] = outputs.setdefault(output, len(outputs))
        hours[here] = hours_h(
            one.quantity[here], output=output, people=crew.people,
            slope=slope_share(one.grade_pct[here]), carry_m=crew.carry_m if one.carried else 0.0,
        )  # fmt: skip
    if one.activity.startswith("machine ") and crew.machine_comes == "trailer" and crew.machine_h is not None:
        hours = one.quantity * crew.machine_h
    return number, hours

"""The pieces of each day put together to rows: from post to post, how much, how long, what to load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fencegis.quantities.loads import Loads
from fencegis.quantities.output import waits_for
from fencegis.quantities.work import SAME_M

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt

    from fencegis.quantities.calendar_days import Calendar
    from fencegis.quantities.output import Output
    from fencegis.quantities.schedule import Filled

    Floats = npt.NDArray[np.float64]
    Whole = npt.NDArray[np.int_]

SETTING_UP, TRAVEL, WEATHER = "setting up", "travel", "weather"
NOT_WORK = (SETTING_UP, TRAVEL, WEATHER)


@dataclass(frozen=True, eq=False)
class Pieces:
    """All pieces in the order of the work, (n,) each; `output` is a place in `outputs`, `line` a place in `lines`."""

    outputs: tuple[Output, ...]
    lines: tuple[str, ...]
    output: Whole
    line: Whole
    from_m: Floats
    to_m: Floats
    quantity: Floats
    hours_h: Floats
    post: Whole
    load: tuple[str, ...]  # of a delivery, what comes; else empty

    def activity(self) -> npt.NDArray[np.object_]:
        """Return the activity of each piece."""
        return np.array([output.activity for output in self.outputs], dtype=object)[self.output]


def day_rows(
    pieces: Pieces, filled: Filled, *, tables: Mapping[str, pd.DataFrame], calendar: Calendar
) -> pd.DataFrame:
    """Return the rows of the layer `days`, day by day in the order of the work, setting up first in each.

    Pieces of one activity, line and output that fall on one day are a row, from the least chainage to the greatest.
    """
    rows = _together(pieces, filled)
    rows = rows.join(_where(rows, pieces, tables))
    outputs, present = pieces.outputs, {output.activity for output in pieces.outputs}
    waits = {name: "; ".join(part for part in waits_for(name) if part in present) for name in present}
    loads = Loads(tables)
    of = [outputs[place] for place in rows["output"]]
    rows = rows.assign(
        activity=[output.activity for output in of],
        unit=[output.unit for output in of],
        machine=[output.machine for output in of],
        waits_for=pd.Series([waits[output.activity] or None for output in of], dtype="str"),
        basis=[_basis(output, row) for output, row in zip(of, rows.itertuples(), strict=True)],
    )
    posts = _posts_of(rows, pieces, filled)
    rows["bring"] = [loads.words(row, posts[place]) for place, row in enumerate(rows.itertuples())]
    rows["line_id"] = [pieces.lines[place] or None for place in rows["line"]]
    work = rows.drop(columns=["output", "line", "load"])
    return _with_days(work, calendar)


def _together(pieces: Pieces, filled: Filled) -> pd.DataFrame:
    """Return a row for each day, output, line and load, in the order in which they begin."""
    at = filled.piece
    load, _ = pd.factorize(np.array(pieces.load, dtype=object))
    parts = pd.DataFrame(
        {
            "day": filled.day,
            "output": pieces.output[at],
            "line": pieces.line[at],
            "load": load[at],
            "from_m": pieces.from_m[at],
            "to_m": pieces.to_m[at],
            "quantity": pieces.quantity[at] * filled.share,
            "hours_h": filled.hours_h,
        }
    )
    rows = (
        parts.assign(first=at)
        .groupby(["day", "output", "line", "load"], sort=False)
        .agg({"from_m": "min", "to_m": "max", "quantity": "sum", "hours_h": "sum", "first": "min"})
        .reset_index()
    )
    return rows.assign(load=[pieces.load[place] for place in rows.pop("first")])


def _posts_of(rows: pd.DataFrame, pieces: Pieces, filled: Filled) -> list[Whole]:
    """Return for each row the posts (rows of `posts`) that it sets or lays out."""
    key = pd.MultiIndex.from_frame(rows[["day", "output", "line"]])
    with_post = pieces.post[filled.piece] >= 0
    at = filled.piece[with_post]
    own = pd.MultiIndex.from_arrays([filled.day[with_post], pieces.output[at], pieces.line[at]])
    found: list[Whole] = [np.zeros(0, dtype=int)] * len(rows)
    first = pd.Series(np.arange(len(key)), index=key)
    place = first[~first.index.duplicated()].reindex(own).to_numpy(dtype=int)
    order = np.argsort(place, kind="stable")
    edges = np.flatnonzero(np.diff(place[order])) + 1
    for group in np.split(order, edges) if len(order) else []:
        posts = pieces.post[at[group]]
        found[place[group[0]]] = posts if (np.diff(posts) > 0).all() else np.unique(posts)
    return found


def _where(rows: pd.DataFrame, pieces: Pieces, tables: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Return the posts at or before each row's begin and at or behind its end; nothing for the whole site."""
    first: list[str | None] = [None] * len(rows)
    last: list[str | None] = [None] * len(rows)
    for line, bays in tables["bays"].groupby("line_id", sort=False):
        here = np.flatnonzero(rows["line"] == pieces.lines.index(str(line)))
        at = np.concatenate([bays["from_m"], bays["to_m"]]).round(4)
        names = np.concatenate([bays["from_post"], bays["to_post"]])
        at, one = np.unique(at, return_index=True)
        begin = np.searchsorted(at, rows["from_m"].to_numpy()[here] + SAME_M, side="right") - 1
        end = np.searchsorted(at, rows["to_m"].to_numpy()[here] - SAME_M)
        for row, before, behind in zip(here, begin.clip(0), end.clip(None, len(at) - 1), strict=True):
            first[row], last[row] = str(names[one[before]]), str(names[one[behind]])
    return pd.DataFrame({"from_post": first, "to_post": last}, index=rows.index)


def _basis(output: Output, row: Any) -> str:
    """Return the output that the hours rest on, and what slope and carry leave of it here."""
    words = output.words()
    here = row.quantity / row.hours_h if row.hours_h > 0.0 else 0.0
    return f"{words}; here {here:.3g} an hour of the crew, with slope and carry" if here else words


def _with_days(work: pd.DataFrame, calendar: Calendar) -> pd.DataFrame:
    """Return the rows with those for setting up, travel and weather, their days counted from 1, and dates."""
    last = int(work["day"].max()) + 1
    crew = calendar.crew
    apart = [(SETTING_UP, crew.setup_h, "[crew] setup_h"), (TRAVEL, crew.travel_h or 0.0, "[crew] travel_h")]
    parts = [
        pd.DataFrame({"day": np.arange(last), "activity": name, "hours_h": hours, "basis": basis, "quantity": 1.0})
        for name, hours, basis in apart
        if hours > 0.0
    ]
    added = weather_days(last, calendar.days.weather_pct)
    weather = f"{calendar.days.weather_pct:g} % of {last} working days, up to whole ones; no day of its own is meant"
    after = pd.DataFrame({"day": np.arange(last, last + added), "activity": WEATHER, "basis": weather})
    parts += [work, after.assign(hours_h=0.0, quantity=1.0)]
    rows = pd.concat([part for part in parts if len(part)], ignore_index=True).sort_values("day", kind="stable")
    unit = rows["unit"].where(~rows["activity"].isin(NOT_WORK), "day")
    date = {day: calendar.date(day) for day in range(last)}
    dates = [str(date[day]) if date.get(day) else None for day in rows["day"]]
    machine = rows["machine"].eq(True)
    date_text = pd.Series(dates, dtype="str", index=rows.index)
    return rows.assign(day=rows["day"] + 1, crew=crew.people, unit=unit, machine=machine, date=date_text)


def weather_days(working: int, weather_pct: float) -> int:
    """Return the days added for weather: a share of the working days, up to whole ones."""
    return int(np.ceil(round(working * weather_pct / 100.0, 9)))

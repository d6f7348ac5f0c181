"""What the days rest on, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.quantities.day_rows import NOT_WORK, WEATHER
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

    from fencegis.quantities.calendar_days import Calendar
    from fencegis.records.site import Site


def notes_on_days(days: pd.DataFrame, *, site: Site, calendar: Calendar) -> list[Note]:
    """Return how many days the work takes, for how many the machine is there, and what was taken for want of better."""
    return [*_how_long(days, calendar), *_taken(site, calendar, days)]


def machine_days(days: pd.DataFrame) -> tuple[int, int] | None:
    """Return the days on which the machine comes and goes, 1 the first; None where no work is the machine's."""
    moves = days["activity"].isin(["machine in", "machine out"])
    return (int(days["day"][moves].min()), int(days["day"][moves].max())) if moves.any() else None


def _how_long(days: pd.DataFrame, calendar: Calendar) -> Iterator[Note]:
    work = days[~days["activity"].isin(NOT_WORK)]
    last, hours = int(work["day"].max()), float(work["hours_h"].sum())
    weather = int((days["activity"] == WEATHER).sum())
    crew = calendar.crew
    yield Note(
        "default",
        f"Days: {last} of work and {weather} for weather, for a crew of {crew.people} with {calendar.room_h(0):.3g} h"
        f" of work a day; {hours:.0f} hours of the crew in all. Outputs are the contractor's to correct after the first"
        " day.",
    )
    if there := machine_days(days):
        worked = float(days["hours_h"][days["machine"]].sum())
        own = crew.machine_comes == "trailer"
        comes = "own trailer, one trip each way" if own else "a hired low loader, there and back each time"
        yield Note(
            "default",
            f"Machine: on the site from day {there[0]} to day {there[1]}, {there[1] - there[0] + 1} days, at work"
            f" {worked:.0f} hours of them; it comes by {comes}.",
        )


def _taken(site: Site, calendar: Calendar, days: pd.DataFrame) -> Iterator[Note]:
    crew = calendar.crew
    if crew.travel_h is None:
        yield Note("default", "Days: no [crew] travel_h in site.toml, so no travel to the site is counted.")
    if crew.machine_h is None and machine_days(days):
        yield Note("default", "Days: no [crew] machine_h in site.toml, so only loading it is counted.")
    if getattr(site, "rates", None) is None:
        yield Note("default", "Days: no outputs of the contractor's own (rates.csv): all are common practice.")
    if site.existing is None:
        yield Note("doubt", "Days: no existing.geojson, so no old fence to pull is counted: look what is there.")
    if site.terrain is None:
        yield Note("doubt", "Days: no ground heights, so the work is reckoned as on level ground.")
    if calendar.short_of_light(0):
        yield Note("doubt", "Days: daylight, not the crew's hours, ends the first day of work.")

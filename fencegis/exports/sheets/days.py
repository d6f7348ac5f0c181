"""A sheet for each day of the work: where, what to load, what to look over, what can hurt, who stands where.

Long jobs have their cards once and their days one after another; so many go on paper, the rest is in `schedule.csv`.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from fencegis.catalogue import rows
from fencegis.exports.page_text import plain
from fencegis.exports.sheets.chart import chart_lines
from fencegis.exports.sheets.day_places import DayPlaces
from fencegis.exports.sheets.flow import Line, heading, paragraph, table
from fencegis.exports.sheets.posts import rows_of
from fencegis.exports.words import counted, number, present
from fencegis.quantities.day_notes import machine_days
from fencegis.quantities.day_rows import NOT_WORK, WEATHER
from fencegis.quantities.output import share_value

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fencegis.records.plan import Plan

PART = "days"
SIZE = 9.0
OWN_SHEETS = 20  # days that have a sheet each; a longer job's days run on
MOST_DAYS = 100  # on paper
BLANK = "________"
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
TRIGGERS = {
    "wire": ("wires", "strain", "staples", "droppers", "mesh"),
    "rails": ("rails", "caps"),
    "trees": ("trees", "limbs", "clearing"),
}  # cards by the activities that give cause
CORRECT = (
    "Hours are reckoned from outputs of common practice unless rates.csv has the contractor's own: write down what the"
    " first day took and correct them. The order is the trade's and is kept; for it the days are as few as they can be"
    " with no piece split, and another order may take as many or fewer."
)
ORDER = (
    "Ends, corners and gates stand and are looked over before a string is tied; posts lie at their marks before a hole"
    " is made; the old fence stays until the new one holds stock, and where it is in the way a temporary one stands"
    " first. A load is wanted on the site on the morning of the day that lists its delivery."
)


BARS = "Black: the machine works. Grey: other work. Open: added for weather, whenever it comes."
ONCE = "The cards above go for every day below; they are printed once."
NO_FLAG = "Nothing is flagged on these stretches. That is no finding: look up, down and along."


def day_lines(plan: Plan) -> list[Line]:
    """Return the days as lines: how long, bars, cards, then day by day; nothing where no day is planned."""
    days = plan.days
    if not len(days):
        return []
    last = int(days["day"][days["activity"] != WEATHER].max())
    compact = last > OWN_SHEETS
    lines = [
        *heading("DAYS AND ORDER OF THE WORK", PART, size=16.0, breaks=True),
        *paragraph(_how_long(plan, last), size=SIZE, font="bold", part=PART),
        *paragraph(ORDER, size=SIZE, part=PART),
        *paragraph(CORRECT, size=SIZE, part=PART),
        *chart_lines(days, part=PART),
        *paragraph(BARS, size=8.0, part=PART),
        *_card("DRIVE CARD: whoever is on the machine", "drive", PART, _causes(rows_of(days))),
    ]
    if compact:
        lines += _cards(PART, _causes(rows_of(days)))
        lines += paragraph(ONCE, size=SIZE, font="bold", part=PART)
    places = DayPlaces(plan)
    by_day: dict[int, list[Any]] = {}
    for row in rows_of(days):
        by_day.setdefault(int(row.day), []).append(row)
    for day in range(1, min(last, MOST_DAYS) + 1):
        lines += _day(by_day[day], places, compact=compact)
    if last > MOST_DAYS:
        lines += paragraph(f"Days {MOST_DAYS + 1} to {last} are in schedule.csv.", size=SIZE, font="bold", part=PART)
    return lines


def _how_long(plan: Plan, last: int) -> str:
    days = plan.days
    weather, crew = int((days["activity"] == WEATHER).sum()), int(days["crew"].iloc[0])
    people = counted(crew, "person", "people")
    text = f"{counted(last, 'day')} of work for {people}, and {counted(weather, 'day')} added for weather."
    if there := machine_days(days):
        text += f" The machine is there from day {there[0]} to day {there[1]}."
    water = float(plan.posts["water_l"].sum())
    return text + (f" Water for the holes {number(water, 0)} l in all." if water >= 0.5 else "")


def _day(rows_of_day: Sequence[Any], places: DayPlaces, *, compact: bool) -> list[Line]:
    first = rows_of_day[0]
    part = PART if compact else f"day {first.day}"
    work = [row for row in rows_of_day if row.activity not in NOT_WORK]
    title = f"DAY {first.day}{_date(first.date)}"
    lines = heading(title, part, size=12.0 if compact else 16.0, breaks=not compact)
    runs = places.runs(work)
    if runs:
        lines += paragraph(f"Runs {runs}. Emergency box: on their sheets.", size=SIZE, part=part)
    lines += _table(rows_of_day, part)
    lines.append(Line("", gap_mm=2.0, part=part))
    lines += _load(work, part)
    if stacks := places.stacks(work):
        lines += paragraph(f"STACKS to lay out from: {stacks}.", size=SIZE, part=part)
    lines += _mind(work, places, part)
    lines += _who(part, machine=any(row.machine for row in work))
    if not compact:
        return [*lines, *_cards(part, _causes(work))]
    return [replace(lines[0], with_next=len(lines) - 1), *lines[1:]]  # on one sheet where a sheet holds it


def _date(date: object) -> str:
    if not present(date):
        return ""
    import datetime as dt

    day = dt.date.fromisoformat(str(date))
    return f", {WEEKDAYS[day.weekday()]} {day.isoformat()} in dry weather"


def _table(rows_of_day: Sequence[Any], part: str) -> list[Line]:
    cells = [
        (
            row.activity,
            *(plain(cell) if present(cell) else "" for cell in (row.from_post, row.to_post)),
            *(number(cell) if present(row.line_id) else "" for cell in (row.from_m, row.to_m)),
            _quantity(row),
            number(row.hours_h, 2),
            BLANK if row.activity not in NOT_WORK else "",
            BLANK,
        )
        for row in rows_of_day
    ]
    hours = number(sum(row.hours_h for row in rows_of_day), 2)
    cells.append(("in all", "", "", "", "", "", hours, "", BLANK))
    names = ("what", "from post", "to post", "from m", "to m", "how much", "hours", "done today", "measured hours")
    return table(names, cells, left=(0, 1, 2), part=part)


def _quantity(row: Any) -> str:
    if row.activity in NOT_WORK or not present(row.quantity):
        return ""
    whole = abs(row.quantity - round(row.quantity)) < 0.005
    unit = "" if row.unit == "each" else row.unit
    return f"{number(row.quantity, 0 if whole or unit == 'm' else 1)} {unit}".strip()


def _load(work: Sequence[Any], part: str) -> list[Line]:
    """Return what to load, and fuel for the machine's hours."""
    loads = [f"{row.activity}: {row.bring}" for row in work if present(row.bring)]
    hours = sum(row.hours_h for row in work if row.machine)
    if hours > 0.0:
        rate = share_value("fuel")
        fuel = f"fuel {number(math.ceil(hours * rate), 0)} l"
        loads.append(f"{fuel} ({number(hours)} h of machine at {rate:g} l, common practice)")
    return paragraph(f"LOAD: {'. '.join(loads)}.", size=SIZE, part=part) if loads else []


def _mind(work: Sequence[Any], places: DayPlaces, part: str) -> list[Line]:
    """Return the flags that the day's stretches meet, with the owner's line, and what was seen there."""
    lines = []
    for text in places.hazards(work):
        lines += paragraph(text, size=SIZE, font="bold" if text == places.owner else "plain", tick=True, part=part)
    if not lines:
        lines = paragraph(NO_FLAG, size=SIZE, part=part)
    for text in (*places.seen(work), places.unlooked):
        lines += paragraph(text, size=SIZE, part=part) if text else []
    return lines


def _who(part: str, *, machine: bool) -> list[Line]:
    blanks = ["machine", "signals"] if machine else []
    text = "  ".join(f"{name} ____________" for name in [*blanks, "second hands", "rings in at night"])
    return paragraph(f"WHO: {text}", size=SIZE, part=part)


def _causes(work: Sequence[Any]) -> set[str]:
    """Return what gives cause for a card: the machine, and the kinds of work of TRIGGERS."""
    done = {row.activity for row in work}
    causes = {cause for cause, activities in TRIGGERS.items() if done & set(activities)}
    return causes | ({"machine"} if any(row.machine for row in work) else set())


def _cards(part: str, causes: set[str]) -> list[Line]:
    return [
        *_card("BEFORE WORK: the machine", "machine", part, causes),
        *_card("BEFORE WORK: gear", "gear", part, causes),
        *_card("WHO STANDS WHERE", "stand", part, causes),
        *_card("WEATHER STOPS", "weather", part, causes),
    ]


def _card(title: str, card: str, part: str, causes: Sequence[str] | set[str]) -> list[Line]:
    texts = list(_texts(card, causes))
    if not texts or (card == "drive" and "machine" not in causes):
        return []
    lines = heading(title, part, size=10.5)
    for text in texts:
        lines += paragraph(text, size=SIZE, tick=True, part=part)
    return lines


def _texts(card: str, causes: Sequence[str] | set[str]) -> Iterator[str]:
    for row in rows("day_cards"):
        if row["card"] == card and (not row["trigger"] or row["trigger"] in causes):
            yield row["text"]

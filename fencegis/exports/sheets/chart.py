"""The days as bars, black on white: a row an activity, a column a day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.exports.sheets.flow import Line
from fencegis.exports.sheets.paper import MARGIN_MM, RIGHT_MM, fitted
from fencegis.quantities.day_rows import NOT_WORK, WEATHER

if TYPE_CHECKING:
    import pandas as pd

    from fencegis.exports.sheets.paper import Pad

NAME_MM, ROW_MM, HEAD_MM = 44.0, 4.4, 6.0
DAYS_A_CHART = 60  # more go on in a further chart
LABELLED = (1, 2, 5, 10)  # every so many days has its number
MACHINE_SHADE, HAND_SHADE, WEATHER_SHADE = 0.0, 0.72, None


def chart_lines(days: pd.DataFrame, *, part: str) -> list[Line]:
    """Return the charts as lines of a sheet: machine work black, other work grey, days for weather open boxes."""
    last = int(days["day"].max())
    names = [name for name in dict.fromkeys(days["activity"]) if name not in NOT_WORK]
    found = []
    for first in range(1, last + 1, DAYS_A_CHART):
        end = min(last, first + DAYS_A_CHART - 1)
        here = days[(days["day"] >= first) & (days["day"] <= end)]
        rows = [name for name in [*names, WEATHER] if (here["activity"] == name).any()]
        tall = HEAD_MM + ROW_MM * len(rows) + 3.0
        found.append(Line("", gap_mm=tall, part=part, draw=_Chart(here, rows, first, max(end, first + 9))))
    return found


class _Chart:
    """Bars of the days from `first` to `last`."""

    def __init__(self, days: pd.DataFrame, rows: list[str], first: int, last: int) -> None:
        self._days, self._rows, self._first, self._last = days, rows, first, last
        self._wide = (RIGHT_MM - MARGIN_MM - NAME_MM) / (last - first + 1)

    def __call__(self, pad: Pad, down: float) -> None:
        top = down + HEAD_MM - 3.0
        foot = top + ROW_MM * len(self._rows)
        every = next(step for step in LABELLED if step * self._wide >= 4.6 or step == LABELLED[-1])
        for day in range(self._first, self._last + 1):
            left = self._left(day)
            pad.rule((left, top), (left, foot), width=0.2)
            if (day - self._first) % every == 0:
                pad.write(str(day), (left + self._wide / 2.0, top - 1.0), size=7.0, align="center")
        pad.rule((RIGHT_MM, top), (RIGHT_MM, foot), width=0.2)
        for place, name in enumerate(self._rows):
            self._row(pad, name, top + place * ROW_MM)
        pad.rule((MARGIN_MM, foot), (RIGHT_MM, foot), width=0.4)

    def _left(self, day: int) -> float:
        return float(MARGIN_MM + NAME_MM + (day - self._first) * self._wide)

    def _row(self, pad: Pad, name: str, top: float) -> None:
        pad.rule((MARGIN_MM, top), (RIGHT_MM, top), width=0.2)
        pad.write(fitted(name, 8.0, NAME_MM - 1.0), (MARGIN_MM, top + 3.2), size=8.0)
        rows = self._days[self._days["activity"] == name]
        by_machine = rows.groupby("day")["machine"].any()
        for day, machine in by_machine.items():
            shade = WEATHER_SHADE if name == WEATHER else MACHINE_SHADE if machine else HAND_SHADE
            corner = (self._left(int(day)) + self._wide * 0.06, top + 0.8)  # type: ignore[call-overload]
            pad.box(corner, self._wide * 0.88, ROW_MM - 1.6, width=0.4, shade=shade)

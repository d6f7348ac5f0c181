"""Which days are worked, and how many hours of work each has room for."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fencegis.quantities.daylight import daylight_h
from fencegis.quantities.output import share_value

if TYPE_CHECKING:
    from fencegis.records.spec import Crew, Days


@dataclass(frozen=True)
class Calendar:
    """The days of work, 0 the first: their dates where the site has one, and their hours."""

    crew: Crew
    days: Days
    start: dt.date | None
    lat_deg: float
    _dates: list[dt.date] = field(default_factory=list)

    def date(self, day: int) -> dt.date | None:
        """Return the date of a day as it falls in dry weather; None without a first date.

        The first is worked whatever day of the week it is.
        """
        if self.start is None:
            return None
        while len(self._dates) <= day:
            after = self._dates[-1] + dt.timedelta(days=1) if self._dates else self.start
            while self._dates and after.weekday() >= self.days.a_week:
                after += dt.timedelta(days=1)
            self._dates.append(after)
        return self._dates[day]

    def light_h(self, day: int) -> float | None:
        """Return the hours of daylight, as given or from date and latitude; None where neither is known."""
        date = self.date(day)
        if self.days.light_h is not None or date is None:
            return self.days.light_h
        return daylight_h(date, lat_deg=self.lat_deg)

    @property
    def apart_h(self) -> float:
        """Hours of each day that are no work on the fence: setting up, and travel where it is given."""
        return self.crew.setup_h + (self.crew.travel_h or 0.0)

    def room_h(self, day: int) -> float:
        """Return the hours of work that a day has room for: travel may be in the dark, setting up and work are not."""
        room = self.crew.work_h - self.apart_h
        light = self.light_h(day)
        if light is not None:
            room = min(room, light - self.crew.setup_h)
        return max(room, share_value("least day"))

    def short_of_light(self, day: int) -> bool:
        """Return whether daylight, not the crew's hours, ends the day."""
        light = self.light_h(day)
        return light is not None and light - self.crew.setup_h < self.crew.work_h - self.apart_h

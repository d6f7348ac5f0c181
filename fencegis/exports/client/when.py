"""When the work is done, and how long stock has to be out, in a client's words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.quantities.day_rows import NOT_WORK, WEATHER

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

NOT_PLANNED = "not planned yet"


def when_rows(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Return what the days say: how many, from when, and from which to which day stock has to be out."""
    days = plan.days
    if days.empty:
        return (("When the work is done", NOT_PLANNED), ("How long the stock has to be out", NOT_PLANNED))
    work = days[~days["activity"].isin(NOT_WORK)]
    last, weather = int(work["day"].max()), int((days["activity"] == WEATHER).sum())
    dates = work["date"].dropna()
    begin = f", from {dates.iloc[0]} in dry weather" if len(dates) else ""
    some = f" and about {weather} more for weather" if weather else ""
    done = f"{last} working day{'s' if last != 1 else ''}{some}{begin}"
    return (("When the work is done", done), ("How long the stock has to be out", _stock(plan)))


def _stock(plan: Plan) -> str:
    old = plan.site.existing
    if old is None or not (old["kind"] == "pull").any():
        return "agree it before work starts: no old fence to pull is in the plan"
    return "old fence stays until the new one holds stock, but where it is in the way"

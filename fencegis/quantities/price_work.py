"""What the work costs: labour by activity and soil, the machine, travel, mobilisation, freight, rock."""

from __future__ import annotations

from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple, cast

import pandas as pd

from fencegis import catalogue
from fencegis.catalogue.units import PACK, converted, same_kind
from fencegis.quantities.money import Line, exact, priced
from fencegis.quantities.price_materials import NO_RATE, SERVICES, bought, rate_of_row, row_line
from fencegis.records.rates import rate_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from fencegis.records.rates import Part, Rate
    from fencegis.records.site import Site

NO_DAYS = "not priced: days are not planned"
ROCK = "rock hole"
GEAR = "bringing machine and gear in and out"
TWICE = 2  # there and back


class Service(NamedTuple):
    """Work that `quantities` counts and `days` may have hours for: which activities those are, its part of a quote."""

    activities: tuple[str, ...]
    part: Part


def work_lines(site: Site, tables: Mapping[str, pd.DataFrame], rates: Sequence[Rate]) -> list[Line]:
    """Return the lines of services, labour, machine, travel, mobilisation, freight and rock, in that order."""
    days, quantities = tables["days"], tables["quantities"]
    lines = list(service_lines(quantities, days, rates))
    lines += labour_lines(days, tables["soils"], rates, paid=paid_by_rate(quantities, rates))
    if site.spec.machine is not None:
        lines.append(_machine(days, rates))
    lines.append(_travel(site, days, rates))
    lines.append(_at("mobilisation", rate_of(rates, "mobilisation", "charge"), "fixed", "each", Decimal(1), GEAR))
    lines.append(freight_line(quantities, rates))
    lines += _rock_if_met(quantities, rates)
    return lines


def service_lines(quantities: pd.DataFrame, days: pd.DataFrame, rates: Sequence[Rate]) -> Iterator[Line]:
    """Yield a line for each row of work in `quantities`: at its own rate where there is one.

    Where there is none and the days have the work, its hours pay for it and there is no line here.
    """
    services = _services()
    in_days = set(days["activity"])
    for row in _rows(quantities[quantities["supplier"] == SERVICES]):
        service = services.get(row.material, Service((), "measured"))
        if rate_of_row(row, rates) is not None or not in_days & set(service.activities):
            yield row_line(row, rates, part=service.part)


def paid_by_rate(quantities: pd.DataFrame, rates: Sequence[Rate]) -> frozenset[str]:
    """Return the activities whose hours are not paid for, since a rate pays all of that work by its amount."""
    services = _services()
    rows = list(_rows(quantities[quantities["supplier"] == SERVICES]))
    unpaid = {row.material for row in rows if rate_of_row(row, rates) is None}
    paid = {row.material for row in rows} - unpaid
    return frozenset(name for material in paid if material in services for name in services[material].activities)


def labour_lines(
    days: pd.DataFrame, soils: pd.DataFrame, rates: Sequence[Rate], *, paid: frozenset[str] = frozenset()
) -> Iterator[Line]:
    """Yield a line for each activity, one for each soil that has a rate of its own; none for those `paid` already.

    A rate by the hour is for one person and paid for crew × hours; any other is by the piece, for the quantity that the
    days have. The hours of a stretch are shared among its soils by length.
    """
    if days.empty:
        yield Line("measured", "labour", None, None, None, None, None, NO_DAYS)
        return
    by_soil = any(rate.soil and rate.kind == "labour" for rate in rates)
    worked = days[(days["hours_h"] > 0.0) & ~days["activity"].isin(paid)]
    for activity, rows in worked.groupby("activity", sort=False):
        name = str(activity)
        amounts: dict[tuple[Rate | None, str | None], tuple[float, float]] = {}
        for row in _rows(rows):
            for soil, share in (_soil_shares(row, soils) if by_soil else {None: 1.0}).items():
                rate = rate_of(rates, name, "labour", soil=soil) or rate_of(rates, "hour", "labour")
                own = soil if rate is not None and rate.soil else None
                hours, pieces = amounts.get((rate, own), (0.0, 0.0))
                piece = 0.0 if pd.isna(row.quantity) else float(row.quantity)
                amounts[rate, own] = (hours + share * row.hours_h * row.crew, pieces + share * piece)
        for (rate, soil), (hours, pieces) in amounts.items():
            yield _labour(name, rows, rate, soil, hours=hours, pieces=pieces)


def _labour(name: str, rows: pd.DataFrame, rate: Rate | None, soil: str | None, *, hours: float, pieces: float) -> Line:
    words = _activity_words().get(name, name)
    item = f"labour: {words}, {soil}" if soil else f"labour: {words}"
    on = days_in_words(sorted(set(rows["day"])))
    basis = f"{on}: crew × hours"
    if rate is None:
        return Line("measured", item, None, "h", exact(hours), None, None, f"{NO_RATE} ({name}, or hour); {basis}")
    part: Part = rate.part or "measured"
    if rate.unit == "h":
        return priced(Line(part, item, rate.item, "h", exact(hours), rate.rate, None, basis, rate.taxed))
    unit = next((str(unit) for unit in rows["unit"] if isinstance(unit, str)), "")
    if not same_kind(unit, rate.unit) or (rows["unit"].dropna() != unit).any():
        how = f"not priced: its rate is by the {rate.unit}, and the days count it by the {unit or 'hour'}"
        return Line(part, item, rate.item, rate.unit, None, rate.rate, None, how, rate.taxed)
    quantity = exact(converted(exact(pieces), unit, to=rate.unit))
    basis = f"by the piece, as the days have it: {basis.partition(':')[0]}"
    return priced(Line(part, item, rate.item, rate.unit, quantity, rate.rate, None, basis, rate.taxed))


def days_in_words(days: Sequence[int]) -> str:
    """Return days in rising order as `day 3` or `days 1 to 4, 7`."""
    spans: list[list[int]] = []
    for day in days:
        if spans and day == spans[-1][1] + 1:
            spans[-1][1] = day
        else:
            spans.append([day, day])
    said = ", ".join(f"{first}" if first == last else f"{first} to {last}" for first, last in spans)
    return f"{'day' if len(days) == 1 else 'days'} {said}"


def _soil_shares(row: Any, soils: pd.DataFrame) -> dict[str | None, float]:
    """Return the soils along a row of `days` with their share of its length; no soil where it has no place."""
    if not isinstance(row.line_id, str) or not row.to_m > row.from_m:
        return {None: 1.0}
    on_line = soils[soils["line_id"] == row.line_id]
    shares: dict[str | None, float] = {}
    for zone in _rows(on_line):
        over = min(zone.to_m, row.to_m) - max(zone.from_m, row.from_m)
        if over > 0.0:
            shares[zone.soil] = shares.get(zone.soil, 0.0) + over
    whole = sum(shares.values())
    return {soil: length / whole for soil, length in shares.items()} if whole > 0.0 else {None: 1.0}


def _machine(days: pd.DataFrame, rates: Sequence[Rate]) -> Line:
    item, rate = "machine", rate_of(rates, "machine", "hire")
    if days.empty:
        return Line("measured", item, None, None, None, None, None, NO_DAYS)
    at_work = days[days["machine"]]
    by_day = rate is not None and rate.unit == "day"
    number = exact(at_work["day"].nunique()) if by_day else exact(at_work["hours_h"].sum())
    words = ", ".join(dict.fromkeys(at_work["activity"])) or "nothing in the days takes it"
    basis = f"days on which it works: {words}" if by_day else f"hours at {words}"
    return _at(item, rate, "measured", "day" if by_day else "h", number, basis)


def _travel(site: Site, days: pd.DataFrame, rates: Sequence[Rate]) -> Line:
    rate = rate_of(rates, "travel", "travel")
    if days.empty:
        return Line("fixed", "travel", None, None, None, None, None, NO_DAYS)
    number = days.loc[days["hours_h"] > 0.0, "day"].nunique()
    plural = "" if number == 1 else "s"
    if rate is None or rate.unit == "each":
        return _at("travel", rate, "fixed", "each", exact(number), f"a trip there and back on {number} day{plural}")
    way_km = site.spec.money.travel_km
    if way_km is None:
        why = "not priced: its rate is by distance, and site.toml has no [money] travel_km"
        return Line("fixed", "travel", rate.item, rate.unit, None, rate.rate, None, why, rate.taxed)
    way = exact(converted(exact(TWICE * number * way_km), "km", to=rate.unit))
    return _at("travel", rate, "fixed", rate.unit, way, f"{way_km:g} km there and back on {number} day{plural}")


def freight_line(quantities: pd.DataFrame, rates: Sequence[Rate]) -> Line:
    """Return what carting the ordered materials costs, by their mass or once; what has no known mass is named."""
    rate = rate_of(rates, "freight", "charge")
    if quantities.empty:
        return Line("fixed", "freight", None, None, None, None, None, "not priced: quantities are not summed")
    carted = bought(quantities)
    unknown = list(dict.fromkeys(carted.loc[carted["mass_kg"].isna(), "item"]))
    basis = "mass of all that is ordered"
    if unknown:
        more = f" and {len(unknown) - 3} more" if len(unknown) > 3 else ""
        basis += f"; nobody knows that of {', '.join(unknown[:3])}{more}, which is not in it"
    if rate is not None and rate.unit == "each":
        return _at("freight", rate, "fixed", "each", Decimal(1), "once")
    mass = exact(float(carted["mass_kg"].sum()))
    unit = rate.unit if rate is not None else "kg"
    return _at("freight", rate, "fixed", unit, exact(converted(mass, "kg", to=unit)), basis)


def _rock_if_met(quantities: pd.DataFrame, rates: Sequence[Rate]) -> Iterator[Line]:
    """Yield what a hole in rock costs, where none is mapped and there is a rate; nothing of it is in the sum."""
    rate = rate_of(rates, ROCK, "material", "hire", "charge")
    if rate is not None and rate.unit != PACK and not (quantities["material"] == ROCK).any():
        basis = "no rock is mapped: nothing of it is in the total, and so much for each hole where it is met"
        yield _at("hole in rock, each, if met", rate, "provisional", "each", Decimal(0), basis)


def _at(item: str, rate: Rate | None, part: Part, unit: str, quantity: Decimal, basis: str) -> Line:
    if rate is None:
        return Line(part, item, None, unit, quantity, None, None, f"{NO_RATE}; {basis}")
    return priced(Line(rate.part or part, item, rate.item, unit, quantity, rate.rate, None, basis, rate.taxed))


@cache
def _services() -> dict[str, Service]:
    return {
        row["material"]: Service(
            tuple(name.strip() for name in row["activities"].split(";") if name.strip()), cast("Part", row["part"])
        )
        for row in catalogue.rows("services")
    }


def _activity_words() -> dict[str, str]:
    return {row["activity"]: row["words"] for row in catalogue.rows("activities")}


def _rows(frame: pd.DataFrame) -> Iterator[Any]:
    return cast("Iterator[Any]", frame.itertuples())

"""How near is too near: the distance that a published rule set asks for at a power line, by voltage."""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass
from functools import cache

from fencegis import catalogue
from fencegis.errors import InputError, Problem


@cache
def allowance(name: str) -> float:
    """Return a number of `catalogue/overhead_allowances.csv` by its name; KeyError when there is none."""
    return {row["name"]: float(row["value"]) for row in catalogue.rows("overhead_allowances")}[name]


@dataclass(frozen=True)
class Approach:
    """The distance asked for. `distance_m` is None when the line's owner has to set it.

    `search_m` is how far off a line is still looked at when no distance is printed: the largest number of the set.
    """

    distance_m: float | None
    search_m: float
    rule: str  # as printed: set, row, source, scope, standing
    second_hand: bool = False

    @property
    def threshold_m(self) -> float:
        """The distance to look within: the one asked for, else the search distance."""
        return self.search_m if self.distance_m is None else self.distance_m


def rule_sets() -> tuple[str, ...]:
    """Return the names that `[rules] approach` may hold, in the catalogue's order."""
    return tuple(dict.fromkeys(row["rule_set"] for row in catalogue.rows("approach_distances")))


def at_power(voltage_kv: float, *, insulated: bool, rule_set: str | None) -> Approach:
    """Return what the rule set asks at a voltage in kV (NaN: unknown); without a set, the most that any set asks.

    A row's upper voltage belongs to it. An unknown voltage has a row of its own in every set; above a table's last
    number the line's owner sets the distance, and where any set says so that counts as the most. Raises InputError
    for a set that the catalogue does not have.
    """
    if rule_set is not None and rule_set not in rule_sets():
        raise InputError([_unknown_set(rule_set)])
    names = rule_sets() if rule_set is None else (rule_set,)
    asked = [_asked(_row(name, voltage_kv, insulated=insulated)) for name in names]
    most = max(asked, key=lambda one: math.inf if one.distance_m is None else one.distance_m)
    if rule_set is not None:
        return most
    return Approach(
        most.distance_m,
        max(one.search_m for one in asked),
        f"no rule chosen, the most that any set asks: {most.rule}",
        most.second_hand,
    )


def at_phone() -> Approach:
    """Return what is asked at a phone line."""
    distance_m = allowance("phone_m")
    return Approach(distance_m, distance_m, f"phone line: {distance_m:g} m (common practice)")


def at_limb() -> Approach:
    """Return what is asked at a limb."""
    distance_m = allowance("limb_m")
    return Approach(distance_m, distance_m, f"limb: {distance_m:g} m (common practice)")


def _row(rule_set: str, voltage_kv: float, *, insulated: bool) -> dict[str, str]:
    for row in catalogue.rows("approach_distances"):
        if row["rule_set"] == rule_set and row["insulation"] in {"any", "insulated" if insulated else "bare"}:
            if math.isnan(voltage_kv):
                if row["condition"] == "unknown":
                    return row
            elif row["condition"] == "known" and _covers(row, voltage_kv):
                return row
    raise LookupError(f"approach_distances.csv: {rule_set} has no row for {voltage_kv} kV")


def _covers(row: dict[str, str], voltage_kv: float) -> bool:
    above = float(row["voltage_from_kv"])
    up_to = float(row["voltage_to_kv"]) if row["voltage_to_kv"] else math.inf
    return (voltage_kv > above or above == 0.0) and voltage_kv <= up_to


def _asked(row: dict[str, str]) -> Approach:
    numbers = [
        float(other["distance_m"])
        for other in catalogue.rows("approach_distances")
        if other["rule_set"] == row["rule_set"] and other["distance_m"]
    ]
    second_hand = row["standing"] != "read"
    rule = f"{row['rule_set']}: {_printed(row)}; {row['source']}; written for {row['scope']}"
    if second_hand:
        rule += f"; {row['standing']}"
    return Approach(float(row["distance_m"]) if row["distance_m"] else None, max(numbers), rule, second_hand)


def _printed(row: dict[str, str]) -> str:
    if row["condition"] == "unknown":
        return f"{row['printed']}, voltage unknown"
    kind = "" if row["insulation"] == "any" else f", {row['insulation']}"
    if not row["voltage_to_kv"]:
        distance = "distance to be set by the line's owner" if not row["distance_m"] else row["printed"]
        return f"{distance}, above {row['voltage_from_kv']} kV{kind}"
    return f"{row['printed']}, above {row['voltage_from_kv']} to {row['voltage_to_kv']} kV{kind}"


def _unknown_set(rule_set: str) -> Problem:
    near = difflib.get_close_matches(rule_set, rule_sets(), n=1, cutoff=0.0)
    return Problem(
        "site.toml",
        "[rules] approach",
        f"there is no rule set {rule_set!r}.",
        f"Write {near[0]!r}, or another of {', '.join(rule_sets())}; without one the most that any set asks counts.",
    )

"""How a crossing is fenced: the classes of the catalogue, chosen by span, by drop and by what flows there."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Literal

from fencegis import catalogue

Water = Literal["flowing", "standing"]


@cache
def distance(name: str) -> float:
    """Return a number of `catalogue/crossing_distances.csv` by its name; KeyError when there is none."""
    return {row["name"]: float(row["value"]) for row in catalogue.rows("crossing_distances")}[name]


@dataclass(frozen=True)
class Treatment:
    """A class of `catalogue/crossings.csv`; `own_ends` when the fence ends on an assembly of its own on each bank."""

    name: str
    own_ends: bool
    words: str
    advice: str
    rule: str  # as printed: source and standing, and those of the limits
    span_to_m: float
    drop_to_m: float


def treatment(name: str) -> Treatment:
    """Return the class of that name; KeyError when there is none."""
    return {one.name: one for _, one in _classes()}[name]


def treatment_for(
    *, water: Water, span_m: float, drop_m: float, deepest_m: float, flood_over_bed_m: float = math.nan
) -> Treatment:
    """Return the class of one crossing; the first that is wide and deep enough.

    `span_m` and `drop_m` are NaN where unknown; `deepest_m` is what the drop may be, infinite where nobody can tell. A
    flood that stands higher over the bed than the drop reaches the fence: it is not stepped over. Where a narrow
    crossing may be deep, or its banks are not known, it is to be measured first; a wide one is taken by its span alone.
    What is not known never makes the class a lighter one.
    """
    if water == "standing":
        return treatment("standing water")
    if math.isnan(span_m):
        return treatment("measure first")
    flowing = [one for kind, one in _classes() if kind == "flowing"]
    drop = 0.0 if math.isnan(drop_m) else drop_m
    fits = next(one for one in flowing if span_m <= one.span_to_m and drop <= one.drop_to_m)
    if fits.own_ends:
        return fits
    if flood_over_bed_m > drop:
        return next(one for one in flowing if one.own_ends)
    return fits if deepest_m <= fits.drop_to_m else treatment("measure first")


@cache
def _classes() -> tuple[tuple[str, Treatment], ...]:
    return tuple(
        (
            row["water"],
            Treatment(
                row["treatment"],
                row["own_ends"] == "yes",
                row["words"],
                row["advice"],
                _rule(row),
                float(row["span_to_m"] or "inf"),
                float(row["drop_to_m"] or "inf"),
            ),
        )
        for row in catalogue.rows("crossings")
    )


def _rule(row: dict[str, str]) -> str:
    if row["standing"] == "common practice":
        return "common practice, no print"
    return f"{row['source']}, {row['edition']} ({row['standing']}); limits of span and drop: {row['limits']}"

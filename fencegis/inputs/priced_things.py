"""What a row of `rates.csv` may price, by its kind: materials, activities and the few charges beside them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from fencegis.catalogue import rows
from fencegis.catalogue.units import PACK

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fencegis.records.rates import RateKind

_SIZE = re.compile(r"\d+(\.\d+)?( x \d+(\.\d+)?){0,2}", re.ASCII)
_NUMBER = re.compile(r"\d+(?:\.\d+)?", re.ASCII)
OF_MATERIALS = ("material", "hire", "charge")
OF_ACTIVITIES = ("labour", "output")


@dataclass(frozen=True)
class Thing:
    """An item and the units it is counted in; another unit of the same kind will do as well."""

    item: str
    units: tuple[str, ...]


@cache
def priced_things(kind: RateKind) -> dict[str, Thing]:
    """Return every item that a rate of this kind may be of, by its name."""
    return {thing.item: thing for thing in _things(kind)}


def _things(kind: RateKind) -> Iterator[Thing]:
    for row in rows("charges"):
        if row["kind"] == kind:
            yield Thing(row["item"], tuple(row["units"].split()))
    if kind in OF_MATERIALS:
        for row in rows("materials"):
            if row["supplier"] != "on hand":
                by_length = ("m",) if row["supplier"] == "timber" and row["unit"] == "each" else ()
                yield Thing(row["material"], (row["unit"], PACK, *by_length))
    if kind in OF_ACTIVITIES:
        for row in rows("activities"):
            yield Thing(row["activity"], (row["unit"], "h") if kind == "labour" else (row["unit"],))


def thing_meant(item: str, kind: RateKind) -> tuple[Thing, str] | None:
    """Return what an item is a rate of and the name as the quantities write it; None when nothing is called so.

    A material may have its size after it, `post 125 x 1.8`; clearing how dense it stands, `clearing dense`.
    """
    things = priced_things(kind)
    if item in things:
        return things[item], item
    if kind not in OF_MATERIALS:
        return None
    for name in sorted(things, key=len, reverse=True):
        size = item.removeprefix(f"{name} ")
        if size != item and (_SIZE.fullmatch(size) or (name == "clearing" and size.isalpha())):
            return things[name], f"{name} {_NUMBER.sub(lambda number: f'{float(number[0]):g}', size)}"
    return None

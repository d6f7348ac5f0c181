"""Units that rates and quantities may be given in, and how many of one make another: exact, in decimals."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from fencegis import catalogue

PERCENT = "%"
PACK = "pack"  # whatever the row's pack holds


@dataclass(frozen=True)
class Unit:
    """A unit: what it is of, how large in the base of that, the system it belongs to and its fellow in the other."""

    name: str
    of: str
    size: Decimal
    system: str
    other: str


@cache
def units() -> dict[str, Unit]:
    """Return every unit of `catalogue/units.csv` by its name."""
    return {
        row["unit"]: Unit(row["unit"], row["of"], Decimal(row["size"]), row["system"], row["other"])
        for row in catalogue.rows("units")
    }


def same_kind(one: str, other: str) -> bool:
    """Return whether two units measure the same thing; a unit unknown here is of the kind of itself alone."""
    known = units()
    return one == other or (one in known and other in known and known[one].of == known[other].of)


def converted(quantity: Decimal, unit: str, *, to: str) -> Decimal:
    """Return the quantity in another unit of the same kind.

    Raises ValueError, naming both, when they measure different things.
    """
    if unit == to:
        return quantity
    if not same_kind(unit, to):
        raise ValueError(f"{unit} and {to} do not measure the same thing")
    return quantity * units()[unit].size / units()[to].size


def in_system(quantity: Decimal, unit: str, *, system: str) -> tuple[Decimal, str]:
    """Return the quantity and its unit in a system, `metric` or `imperial`; as they are where they belong to it."""
    known = units().get(unit)
    if known is None or known.system in (system, "both"):
        return quantity, unit
    return converted(quantity, unit, to=known.other), known.other

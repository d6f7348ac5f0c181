"""The contractor's own prices and outputs: the rows of `rates.csv`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, get_args

if TYPE_CHECKING:
    from collections.abc import Iterable
    from decimal import Decimal

RateKind = Literal["material", "labour", "output", "hire", "travel", "charge", "percent"]
Part = Literal["fixed", "measured", "provisional", "excluded", "tax"]
KINDS: tuple[RateKind, ...] = get_args(RateKind)
PARTS_GIVEN: tuple[Part, ...] = ("fixed", "measured", "provisional")  # what a row may say of itself


@dataclass(frozen=True)
class Rate:
    """One row: what one unit of an item costs, or (kind `output`) how much of it the crew does in an hour.

    `item` is a key of materials.csv, an activity (with a soil after a comma), or an item of charges.csv. `waste_pct`
    and `pack` are None where the catalogue's hold; `part` is None where the item's usual one does.
    """

    item: str
    unit: str
    rate: Decimal
    kind: RateKind
    waste_pct: Decimal | None = None
    pack: Decimal | None = None
    note: str = ""
    part: Part | None = None
    taxed: bool = True
    row: int = 0  # of rates.csv, the heading being row 1

    @property
    def activity(self) -> str:
        """The item without the soil after its comma."""
        return self.item.partition(",")[0].strip()

    @property
    def soil(self) -> str | None:
        """The soil after the comma of the item; None when the rate is for any."""
        return self.item.partition(",")[2].strip() or None


def rate_of(rates: Iterable[Rate] | None, item: str, *kinds: RateKind, soil: str | None = None) -> Rate | None:
    """Return the rate of an item among some kinds, in their order: that of the soil first, else the one for any soil.

    None when there is none, or no rates at all.
    """
    fitting = [rate for rate in rates or () if rate.kind in kinds and rate.activity == item]
    for wanted in (soil, None) if soil else (None,):
        for kind in kinds:
            for rate in fitting:
                if rate.kind == kind and rate.soil == wanted:
                    return rate
    return None

"""A fence priced by an extension service: eight lines of a quarter mile, to the cent."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

import pandas as pd
import pytest

from fencegis.catalogue.units import converted
from fencegis.quantities.money import added_up, money_text
from fencegis.quantities.price_materials import material_lines
from fencegis.quantities.price_work import labour_lines
from fencegis.records.rates import Rate
from fencegis.records.tables import checked

if TYPE_CHECKING:
    from collections.abc import Callable

WHERE = "woven wire with a strand of barbed wire, quarter mile (1,320 ft), figures for 2012"
LINES = (  # what, how many, unit, rate, printed line
    ("8 in wood post", 4, "each", "28.00", "112.00"),
    ("4 in wood post", 57, "each", "9.00", "513.00"),
    ("6.5 ft steel post", 55, "each", "5.00", "275.00"),
    ("staples and clips", 10, "lb", "1.80", "18.00"),
    ("barbed wire", 1320, "ft", "0.06", "79.20"),
    ("woven wire", 1320, "ft", "0.70", "924.00"),
)
HOURS, WAGE = 42, "15.05"


def quantities() -> pd.DataFrame:
    rows = [
        {"item": what, "material": what, "supplier": "timber", "unit": unit, "exact": float(number), "waste_pct": 0.0,
         "basis": "as printed", "rows": "as printed"}
        for what, number, unit, _, _ in LINES
    ]  # fmt: skip
    return checked("quantities", pd.DataFrame(rows))


def labour() -> pd.DataFrame:
    row = {"day": 1, "activity": "labour", "hours_h": float(HOURS), "crew": 1, "machine": False, "basis": "as printed"}
    return checked("days", pd.DataFrame([row]))


def rates() -> list[Rate]:
    own = [Rate(what, unit, Decimal(rate), "material") for what, _, unit, rate, _ in LINES]
    return [*own, Rate("hour", "h", Decimal(WAGE), "labour")]


@pytest.mark.published(source="iowa-fence-2012", where=WHERE)
def test_every_line_and_the_total(compare: Callable, printed: type) -> None:
    """The print's total is 2,553.31: a cent more than its own lines add up to, which is the cent allowed here."""
    lines = material_lines(quantities(), rates())
    lines += labour_lines(labour(), pd.DataFrame(columns=["line_id"]), rates())
    for line, text in zip(lines, [*(text for *_, text in LINES), "632.10"], strict=True):
        compare(money_text(line.cents or 0, grouped=False), printed(text, 0.0))
    total = added_up(lines).total_cents
    assert total == 255_330
    compare(money_text(total, grouped=False), printed("2553.31", 0.01))


@pytest.mark.published(source="iowa-fence-2012", where=f"{WHERE}: 42 h; hours a kilometre are worked out from it")
def test_hours_of_a_kilometre(compare: Callable, printed: type) -> None:
    km = converted(converted(Decimal(1320), "ft", to="m"), "m", to="km")
    assert km == Decimal("0.402336")
    compare(float(HOURS / km), printed("104.39"))

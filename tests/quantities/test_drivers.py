"""What a change adds, against sums on paper."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any

import pytest

from fencegis.quantities.drivers import driver_table
from fencegis.records.rates import Rate

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from fencegis.quantities.what_if import WhatIf


def rate(item: str, unit: str, money: str, kind: Any = "material") -> Rate:
    return Rate(item=item, unit=unit, rate=Decimal(money), kind=kind)


HOUR = rate("hour", "h", "30", "labour")
POST = rate("post", "each", "9")
GATE = (rate("gate leaf", "each", "200"), rate("hinge set", "each", "20"), rate("gate latch", "each", "10"))
BRACE = (rate("brace post", "each", "15"), rate("brace rail", "each", "12"))
ROCK = rate("rock hole", "each", "50", "charge")


def drivers(what_if: WhatIf) -> pd.DataFrame:
    return driver_table(what_if).set_index("what")


def test_every_change_has_its_line(straight: Callable[..., WhatIf]) -> None:
    wire, rail = driver_table(straight()), driver_table(straight("post and rail", bays=20, bay_m=2.36))
    assert wire["what"].tolist() == ["rock", "gates", "spacing", "machine"]
    assert rail["what"].tolist() == ["rock", "gates", "rails", "spacing", "machine"]
    assert wire["amount_cents"].isna().all()
    assert not wire["hours_h"].isna().any()
    assert "not priced" not in "".join(wire["basis"])  # there are no rates at all: nothing is missing from them


def test_ten_holes_in_rock(straight: Callable[..., WhatIf]) -> None:
    """A bored hole in rock at 2.4 an hour in place of a driven one at 15: catalogue/activities.csv."""
    row = drivers(straight(rates=(HOUR, ROCK))).loc["rock"]
    hours = 10.0 * (1 / 2.4 - 1 / 15.0)
    assert row["hours_h"] == pytest.approx(hours, abs=0.76)  # a day more may be set up for
    assert row["amount_cents"] == pytest.approx(50_000 + row["hours_h"] * 6000, abs=1)
    assert drivers(straight(rates=(HOUR,))).loc["rock", ["amount_cents"]].isna().all()


def test_one_more_gate(straight: Callable[..., WhatIf]) -> None:
    """Set out 2 of 6 an hour, posts 2 of 2.5, braces 2 of 1.5, checks 2 of 12, one leaf of 0.5 an hour."""
    row = drivers(straight(rates=(HOUR, POST, *GATE, *BRACE))).loc["gates"]
    hours = 2 / 6 + 2 / 2.5 + 2 / 1.5 + 2 / 12 + 1 / 0.5
    assert row["hours_h"] in (pytest.approx(hours), pytest.approx(hours + 0.75))
    parts = 20_000 + 2_000 + 1_000 + 2 * 900 + 2 * 1500 + 2 * 1200
    assert row["amount_cents"] == pytest.approx(parts + row["hours_h"] * 6000, abs=1)
    no_hinge = drivers(straight(rates=(HOUR, POST, GATE[0], GATE[2], *BRACE))).loc["gates"]
    assert "not priced" in no_hinge["basis"]
    assert "only what the quote has priced" in row["basis"]  # its wire has no rate


def test_posts_closer(straight: Callable[..., WhatIf]) -> None:
    """400 m in bays of 4.91 m at most are 82, two more; line posts go with posts, 80 ÷ 15 h for 81 of them."""
    row = drivers(straight(rates=(HOUR, POST))).loc["spacing"]
    assert row["basis"].startswith("+2 posts; ")
    assert row["hours_h"] == pytest.approx(80 / 15 * 2 / 81)
    assert row["amount_cents"] == pytest.approx(2 * 900 + row["hours_h"] * 6000, abs=1)


def test_the_next_longer_rail(straight: Callable[..., WhatIf]) -> None:
    """47.2 m: 20 bays of 2.383 m at most; of 2.61 m, which the spacing allows, 19; 5.4 m cost 5.4 ÷ 4.8 of 4.8 m."""
    row = drivers(straight("post and rail", bays=20, bay_m=2.36, rates=(rate("rail", "each", "30"),))).loc["rails"]
    assert row["change"] == "stock rails of 5.4 m, not 4.8 m"
    assert row["basis"].startswith("-1 posts; -1 rails; ")
    assert "post_spacing_m = 2.6 holds bays back" in row["basis"]
    assert row["amount_cents"] == pytest.approx(29 * 3000 * 5.4 / 4.8 - 30 * 3000, abs=1)


def test_the_next_machine(straight: Callable[..., WhatIf]) -> None:
    """Driven at 15 an hour, bored at 8: the hours of the posts are 15 ÷ 8 of what they were."""
    row = drivers(straight(rates=(HOUR,))).loc["machine"]
    assert row["change"] == "posts bored, not driven"
    more = 80 / 15 * (15 / 8 - 1)
    assert row["hours_h"] in (pytest.approx(more), pytest.approx(more + 0.75))
    assert row["amount_cents"] == pytest.approx(row["hours_h"] * 6000, abs=1)

"""The quote: what is priced by what, what is not priced, and how the sums answer to rates and quantities."""

from __future__ import annotations

import math
from decimal import Decimal
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fencegis.catalogue import rows
from fencegis.quantities.price import price, price_table, quote_lines, sums_of
from fencegis.quantities.price_materials import bought, material_lines
from fencegis.quantities.price_work import days_in_words, freight_line, labour_lines
from fencegis.records.rates import Rate
from fencegis.records.spec import Machine, Money, Spec
from fencegis.records.tables import LAYERS, checked, empty

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.quantities.money import Line

RATES = (
    Rate("post", "each", Decimal(20), "material", row=2),
    Rate("wire", "m", Decimal("0.1"), "material", row=3),
    Rate("hour", "h", Decimal(50), "labour", row=4),
    Rate("machine", "h", Decimal(40), "hire", row=5),
    Rate("travel", "km", Decimal(2), "travel", row=6),
    Rate("mobilisation", "each", Decimal(300), "charge", row=7),
    Rate("freight", "kg", Decimal("0.05"), "charge", row=8),
    Rate("old fence", "m", Decimal(4), "charge", row=9),
    Rate("rock hole", "each", Decimal(70), "charge", row=10),
    Rate("margin", "%", Decimal(10), "percent", row=11),
    Rate("tax", "%", Decimal(10), "percent", row=12),
)


def quantity(material: str, supplier: str = "timber", unit: str = "each", **cells: Any) -> dict[str, Any]:
    usual = {"item": material, "size": None, "exact": 10.0, "waste_pct": 0.0, "basis": "by hand", "rows": "posts 10"}
    return {"material": material, "supplier": supplier, "unit": unit, **usual, **cells}


def quantities(*given: dict[str, Any]) -> pd.DataFrame:
    return checked("quantities", pd.DataFrame(given)) if given else empty("quantities")


def work(activity: str, hours_h: float, *, day: int = 1, **cells: Any) -> dict[str, Any]:
    usual = {"crew": 2, "machine": False, "basis": "by hand", "quantity": math.nan, "unit": None, "line_id": None}
    return {"day": day, "activity": activity, "hours_h": hours_h, **usual, **cells}


def days(*given: dict[str, Any]) -> pd.DataFrame:
    known = {column.name for column in LAYERS["days"].columns}
    rows_ = [{name: value for name, value in row.items() if name in known} for row in given]
    return checked("days", pd.DataFrame(rows_)) if given else empty("days")


def soils(*zones: tuple[str, float, float]) -> pd.DataFrame:
    return pd.DataFrame([{"line_id": "A", "from_m": b, "to_m": e, "soil": s} for s, b, e in zones],
                        columns=["line_id", "from_m", "to_m", "soil"])  # fmt: skip


def site(rates: Sequence[Rate] | None = RATES, **money: Any) -> Any:
    spec = Spec(machine=Machine(), money=Money(**{"travel_km": 10.0, **money}))
    return SimpleNamespace(rates=None if rates is None else tuple(rates), spec=spec)


TABLES = {
    "quantities": quantities(
        quantity("post", exact=10.0, packs=11, pack=1.0, mass_kg=500.0),
        quantity("wire", "wire and mesh", "m", exact=1234.0, mass_kg=50.0),
        quantity("old fence", "hire and services", "m", exact=30.0),
        quantity("rock hole", "hire and services", exact=3.0),
    ),
    "days": days(
        work("line posts", 6.0, machine=True, quantity=10.0, unit="each"),
        work("wires", 3.0, day=2, quantity=1234.0, unit="m"),
        work("old fence", 1.0, day=2, quantity=30.0, unit="m"),
        work("weather", 0.0, day=3),
    ),
    "soils": soils(("loam", 0.0, 100.0)),
}


def amounts(lines: Sequence[Line]) -> dict[str, int | None]:
    return {line.item: line.cents for line in lines}


def test_a_small_job_by_hand() -> None:
    said = amounts(quote_lines(site(), TABLES))
    assert said["post"] == 22_000  # eleven bought for ten
    assert said["wire"] == 12_340
    assert said["old fence"] == 12_000
    assert said["labour: line posts"] == 60_000  # two people, six hours
    assert said["labour: run wires"] == 30_000
    assert "labour: pull the old fence" not in said  # its metres pay for it
    assert said["machine"] == 24_000
    assert said["travel"] == 8_000  # ten kilometres, there and back, two days: in bad weather nobody goes
    assert said["mobilisation"] == 30_000
    assert said["freight"] == 2_750
    assert said["rock hole"] == 21_000
    assert said["margin, measured"] == 16_034
    assert said["margin, fixed"] == 4_075
    sums = sums_of(price(site(), TABLES).table)
    assert (sums.fixed_cents, sums.measured_cents, sums.provisional_cents) == (44_825, 176_374, 21_000)
    assert sums.tax_cents == 24_220
    assert sums.total_cents == 266_419
    assert sums.complete


def test_without_rates_there_is_no_price() -> None:
    found = price(site(None), TABLES)
    assert found.table.empty
    assert found.notes == []
    assert quote_lines(site(None), TABLES) == []


def test_what_is_excluded_always_stands_in_it() -> None:
    for tables in (TABLES, {**TABLES, "quantities": quantities(), "days": days()}):
        table = price(site(()), tables).table
        left_out = table[table["part"] == "excluded"]
        assert list(left_out["item"]) == [row["item"] for row in rows("quote_excludes")]
        assert left_out["amount_cents"].isna().all()


def test_with_no_days_what_rests_on_them_is_not_priced_and_says_why() -> None:
    table = price(site(), {**TABLES, "days": days()}).table
    open_ = table[table["amount_cents"].isna() & (table["part"] != "excluded")]
    assert list(open_["item"]) == ["travel", "labour", "machine"]
    assert set(open_["basis"]) == {"not priced: days are not planned"}
    assert not sums_of(table).complete


@pytest.mark.parametrize("gone", [rate for rate in RATES if rate.kind != "percent" and rate.item != "old fence"],
                         ids=lambda rate: rate.item)  # fmt: skip
def test_a_rate_taken_out_never_raises_the_total_and_leaves_it_incomplete(gone: Rate) -> None:
    whole = sums_of(price(site(), TABLES).table)
    less = price(site([rate for rate in RATES if rate != gone]), TABLES)
    sums = sums_of(less.table)
    assert sums.total_cents < whole.total_cents
    assert not sums.complete
    assert any("the total is not complete; not priced: " in note.text for note in less.notes)
    open_ = less.table[less.table["amount_cents"].isna() & (less.table["part"] != "excluded")]
    assert open_["basis"].str.startswith("not priced").all()


@pytest.mark.parametrize("gone", ["margin", "tax"])
def test_a_per_cent_taken_out_is_said_and_raises_nothing(gone: str) -> None:
    whole = sums_of(price(site(), TABLES).table)
    less = price(site([rate for rate in RATES if rate.item != gone]), TABLES)
    assert sums_of(less.table).total_cents < whole.total_cents
    assert any(f"no {gone}" in note.text and "there is none in the total" in note.text for note in less.notes)


def test_work_without_a_rate_of_its_own_is_paid_by_the_hour() -> None:
    lines = amounts(quote_lines(site([rate for rate in RATES if rate.item != "old fence"]), TABLES))
    assert lines["labour: pull the old fence"] == 10_000
    assert "old fence" not in lines
    neither = [rate for rate in RATES if rate.item not in ("old fence", "hour")]
    assert amounts(quote_lines(site(neither), TABLES))["labour: pull the old fence"] is None


PIECES = st.integers(1, 5000)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(PIECES, st.integers(1, 100_000)), min_size=1, max_size=5), st.integers(1, 9))
def test_the_price_is_linear_in_the_quantities(given_: list[tuple[int, int]], times: int) -> None:
    """Whole pieces at whole cents, so that no rounding hides what is not linear; lines add up to the sum."""
    rates = [Rate(f"thing {place}", "each", Decimal(c) / 100, "material") for place, (_, c) in enumerate(given_)]

    def cents(factor: int) -> int:
        wanted = [quantity(f"thing {place}", exact=float(n * factor)) for place, (n, _) in enumerate(given_)]
        return sums_of(price_table(material_lines(quantities(*wanted), rates))).total_cents

    assert cents(times) == times * cents(1) == times * sum(n * c for n, c in given_)


@pytest.mark.parametrize(
    ("cells", "rate", "paid"),
    [
        ({"packs": 3, "pack": 200.0, "unit": "m"}, Rate("it", "m", Decimal("0.5"), "material"), ("600", "m", 30_000)),
        ({"packs": 3, "pack": 200.0, "unit": "m"}, Rate("it", "pack", Decimal(90), "material"), ("3", "pack", 27_000)),
        ({"packs": 3, "pack": 200.0, "unit": "m"}, Rate("it", "ft", Decimal(2), "material"),
         ("1968.504", "ft", 393_701)),
        ({"exact": 100.0, "waste_pct": 3.0}, Rate("it", "each", Decimal(2), "material"), ("103", "each", 20_600)),
        ({"exact": 10.0, "waste_pct": 3.0}, Rate("it", "each", Decimal(2), "material"), ("11", "each", 2_200)),
        ({"exact": 10.0, "waste_pct": 3.0, "unit": "m"}, Rate("it", "m", Decimal(2), "material"), ("10.3", "m", 2_060)),
        ({"exact": 10.0, "longest_m": 4.8}, Rate("it", "m", Decimal(3), "material"), ("48", "m", 14_400)),
        ({"exact": 10.0, "size": "4.8"}, Rate("it 4.8", "each", Decimal(3), "material"), ("10", "each", 3_000)),
    ],
)  # fmt: skip
def test_how_much_is_paid_for(cells: dict[str, Any], rate: Rate, paid: tuple[str, str, int]) -> None:
    (line,) = material_lines(quantities(quantity("it", **cells)), [rate])
    assert (line.quantity, line.unit, line.cents) == (Decimal(paid[0]), *paid[1:])


@pytest.mark.parametrize(
    ("unit", "why"), [("pack", "nobody says how large one is"), ("m", "nobody says how long a piece is")]
)
def test_a_rate_that_does_not_reach_is_not_priced(unit: str, why: str) -> None:
    (line,) = material_lines(quantities(quantity("it")), [Rate("it", unit, Decimal(3), "material")])
    assert line.cents is None
    assert why in line.basis


def test_the_rate_of_the_size_goes_before_that_of_the_material() -> None:
    rates = [Rate("rail", "each", Decimal(1), "material"), Rate("rail 150 x 50 x 4.8", "each", Decimal(2), "material")]
    both = quantities(quantity("rail", size="150 x 50 x 4.8"), quantity("rail", size="150 x 50 x 3.6"))
    assert [line.rate for line in material_lines(both, rates)] == [2, 1]


def test_what_is_on_hand_or_work_is_not_bought() -> None:
    table = quantities(quantity("post"), quantity("post on hand", "on hand"), quantity("clearing", "hire and services"))
    assert list(bought(table)["material"]) == ["post"]


def test_hours_of_a_stretch_are_shared_among_its_soils_by_length() -> None:
    rates = [
        Rate("hour", "h", Decimal(50), "labour"),
        Rate("line posts, clay", "each", Decimal(12), "labour"),
        Rate("line posts", "each", Decimal(9), "labour"),
    ]
    row = work("line posts", 6.0, line_id="A", from_m=0.0, to_m=100.0, quantity=40.0, unit="each")
    zones = soils(("loam", 0.0, 75.0), ("clay", 75.0, 120.0))
    loam, clay = labour_lines(days(row), zones, rates)
    assert (loam.item, loam.quantity, loam.cents) == ("labour: line posts", 30, 27_000)
    assert (clay.item, clay.quantity, clay.cents) == ("labour: line posts, clay", 10, 12_000)


def test_days_are_named_by_their_runs() -> None:
    assert [days_in_words(days_) for days_ in ([3], [1, 2, 3, 7], [1, 3])] == ["day 3", "days 1 to 3, 7", "days 1, 3"]


def test_piece_rates_are_turned_into_their_own_unit() -> None:
    row = work("wires", 3.0, quantity=304.8, unit="m")
    (line,) = labour_lines(days(row), soils(), [Rate("wires", "ft", Decimal("0.05"), "labour")])
    assert (line.quantity, line.unit, line.cents) == (1000, "ft", 5000)


def test_a_machine_by_the_day_is_paid_for_the_days_on_which_it_works() -> None:
    rates = [Rate("machine", "day", Decimal(250), "hire")]
    table = days(*(work("line posts", 2.0, day=day, machine=day < 3) for day in (1, 1, 2, 3)))
    assert amounts(quote_lines(site(rates), {**TABLES, "days": table}))["machine"] == 50_000


def test_travel_by_the_trip_needs_no_distance_and_by_the_mile_does() -> None:
    trips = [Rate("travel", "each", Decimal(35), "travel")]
    assert amounts(quote_lines(site(trips, travel_km=None), TABLES))["travel"] == 7_000
    miles = [Rate("travel", "mi", Decimal(1), "travel")]
    assert amounts(quote_lines(site(miles, travel_km=16.09344), TABLES))["travel"] == 4_000
    (line,) = [each for each in quote_lines(site(miles, travel_km=None), TABLES) if each.item == "travel"]
    assert line.cents is None
    assert "site.toml has no [money] travel_km" in line.basis


def test_freight_names_what_has_no_known_mass() -> None:
    table = quantities(quantity("post", mass_kg=1000.0), quantity("gate leaf", "gates and fittings"))
    line = freight_line(table, [Rate("freight", "t", Decimal(40), "charge")])
    assert (line.quantity, line.cents) == (1, 4_000)
    assert "nobody knows that of gate leaf, which is not in it" in line.basis


def test_rock_that_nobody_mapped_is_a_rate_and_no_sum() -> None:
    tables = {**TABLES, "quantities": quantities(quantity("post"))}
    (line,) = [each for each in quote_lines(site(), tables) if each.part == "provisional"]
    assert (line.item, line.rate, line.cents) == ("hole in rock, each, if met", 70, 0)
    assert "nothing of it is in the total" in line.basis


def test_a_row_may_say_that_it_is_fixed_and_that_it_is_not_taxed() -> None:
    rates = [Rate("post", "each", Decimal(20), "material", part="fixed", taxed=False)]
    table = price(site([*rates, *RATES[1:]]), TABLES).table
    (row,) = [each for each in table.itertuples() if each.item == "post"]
    assert (row.part, row.taxed) == ("fixed", False)
    assert sums_of(table).tax_cents < sums_of(price(site(), TABLES).table).tax_cents


def test_the_notes_name_rates_that_price_nothing() -> None:
    found = price(site([*RATES, Rate("mesh", "m", Decimal(3), "material", row=13)]), TABLES)
    assert any("nothing in this plan is priced by mesh (row 13)." in note.text for note in found.notes)
    assert any("a half to the even one" in note.text for note in found.notes)

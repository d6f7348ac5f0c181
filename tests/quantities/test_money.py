"""Sums of money: where they are rounded, and that they add up as anybody adds them."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fencegis.quantities.money import (
    Line,
    added_up,
    exact,
    line_cents,
    money_text,
    percent_cents,
    priced,
    with_percents,
)

QUANTITIES = st.decimals(0, 100_000, places=3)
RATES = st.decimals(Decimal("0.0001"), 10_000, places=4)


def line(part: str = "measured", *, quantity: str = "1", rate: str | None = "10", taxed: bool = True) -> Line:
    price = None if rate is None else Decimal(rate)
    return priced(Line(part, f"a {part} thing", "thing", "each", Decimal(quantity), price, None, "by hand", taxed))  # type: ignore[arg-type]


def on_top(lines: list[Line], **given: str) -> list[Line]:
    names = ("contingency_pct", "margin_pct", "minimum", "tax_pct")
    return with_percents(lines, **{name: Decimal(given[name]) if name in given else None for name in names})


@pytest.mark.parametrize(
    ("quantity", "rate", "cents"),
    [
        ("2.5", "0.01", 2),  # 2.5 cents: to the even two
        ("3.5", "0.01", 4),
        ("0.5", "0.01", 0),
        ("1.5", "0.01", 2),
        ("2.501", "0.01", 3),
        ("1320", "0.06", 7920),
        ("0.333", "3", 100),
    ],
)
def test_a_line_is_rounded_half_to_even(quantity: str, rate: str, cents: int) -> None:
    assert line_cents(Decimal(quantity), Decimal(rate)) == cents


def test_a_per_cent_is_of_whole_cents_and_rounded_the_same() -> None:
    assert [percent_cents(cents, Decimal(10)) for cents in (5, 15, 25, 105)] == [0, 2, 2, 10]


@given(QUANTITIES, RATES)
def test_a_line_is_never_further_from_the_truth_than_half_a_cent(quantity: Decimal, rate: Decimal) -> None:
    truth = Fraction(quantity) * Fraction(rate) * 100
    assert abs(line_cents(quantity, rate) - truth) <= Fraction(1, 2)


@given(st.lists(st.tuples(QUANTITIES, RATES, st.sampled_from(["fixed", "measured", "provisional"]), st.booleans())))
def test_the_total_is_what_the_printed_lines_add_up_to(given_lines: list[tuple[Decimal, Decimal, str, bool]]) -> None:
    lines = [line(part, quantity=str(q), rate=str(r), taxed=taxed) for q, r, part, taxed in given_lines]
    done = on_top(lines, contingency_pct="5", margin_pct="17.5", minimum="500", tax_pct="10")
    sums = added_up(done)
    by_hand = sum(Decimal(money_text(each.cents or 0, grouped=False)) for each in done)
    assert Decimal(money_text(sums.total_cents, grouped=False)) == by_hand
    assert sums.before_tax_cents >= 50_000
    assert sums.complete


def test_what_comes_on_top_of_what() -> None:
    lines = [line("fixed", rate="100"), line("measured", rate="200"), line("provisional", rate="50")]
    done = on_top(lines, contingency_pct="10", margin_pct="20", tax_pct="10")
    said = {each.item: each.cents for each in done}
    assert said["contingency, fixed"] == 1000
    assert said["margin, fixed"] == 2200  # of the costs and their contingency
    assert said["margin, measured"] == 4400
    assert said["tax"] == 4460  # provisional rates stay as agreed, and are taxed: 132 + 264 + 50
    assert [each.part for each in done] == ["fixed"] * 3 + ["measured"] * 3 + ["provisional", "tax"]
    assert not any("provisional" in each.item for each in done if each.unit == "%")


def test_tax_comes_once_and_not_on_what_is_not_taxed() -> None:
    done = on_top([line(rate="100"), line(rate="40", taxed=False)], margin_pct="10", tax_pct="10")
    assert [each.cents for each in done if each.part == "tax"] == [1140]  # of 100 and the margin of 14


def test_the_minimum_is_made_up_and_no_more() -> None:
    (_, short) = on_top([line("fixed", rate="100")], minimum="250.5")
    assert (short.cents, short.part, short.rate_item) == (15_050, "fixed", "minimum")
    assert len(on_top([line("fixed", rate="300")], minimum="250")) == 1


def test_an_excluded_line_counts_for_nothing_and_a_line_without_a_price_is_named() -> None:
    left_out = Line("excluded", "survey", None, None, None, None, None, "not in it")
    sums = added_up([line(rate="10"), line("fixed", rate=None), left_out])
    assert (sums.total_cents, sums.complete, sums.not_priced) == (1000, False, ("a fixed thing",))


def test_a_quantity_is_priced_to_the_third_decimal() -> None:
    assert exact(34.310764) == Decimal("34.311")
    assert exact(0.0005) == Decimal("0.001")
    assert exact(Decimal("2.0004")) == Decimal("2.000")


def test_money_is_printed_with_two_decimals_in_any_currency() -> None:
    assert money_text(123_456_789, currency="AUD") == "AUD 1,234,567.89"
    assert money_text(5, grouped=False) == "0.05"
    assert money_text(-1250) == "-12.50"

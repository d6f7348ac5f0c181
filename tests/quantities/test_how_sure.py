"""How sure the figures are: against what can be reckoned on paper, one cause at a time."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from fencegis.quantities import how_sure
from fencegis.quantities.how_sure import CAUSES, draws, how_sure_lines, percentiles, sure_layers
from fencegis.quantities.price import sums_of
from fencegis.quantities.risk import provision_for
from fencegis.quantities.what_if import numbers
from fencegis.quantities.what_if_cost import total_cents
from fencegis.records.rates import Rate
from fencegis.records.spec import Spec, Walked

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import pandas as pd

    from fencegis.quantities.what_if import WhatIf

Z90 = 1.2815515655446004  # of the normal distribution; scipy.stats.norm.ppf(0.9)
LENGTH = "fence, along the ground"


def rate(item: str, unit: str, money: str, kind: Any = "material") -> Rate:
    return Rate(item=item, unit=unit, rate=Decimal(money), kind=kind)


RATES = (
    *(rate("post", "each", "9"), rate("wire", "pack", "99"), rate("rail", "each", "30")),
    *(
        rate("hour", "h", "30", "labour"),
        rate("travel", "each", "70", "travel"),
        rate("freight", "kg", "0.1", "charge"),
    ),
    *(rate("mobilisation", "each", "500", "charge"), rate("rock hole", "each", "50", "charge")),
    *(
        rate("contingency", "%", "5", "percent"),
        rate("margin", "%", "15", "percent"),
        rate("tax", "%", "10", "percent"),
    ),
)


@pytest.fixture
def outputs_known(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hours and waste take as long and as much as planned."""
    monkeypatch.setattr(how_sure, "_sigmas", lambda _, names: dict.fromkeys(map(str, names), 0.0))


def layers(what_if: WhatIf) -> dict[str, pd.DataFrame]:
    return sure_layers(what_if.site, what_if.tables, kind_of_line=what_if.kind_of_line)


def table(what_if: WhatIf) -> pd.DataFrame:
    return layers(what_if)["how_sure"].set_index("what")


@pytest.mark.usefixtures("outputs_known")
def test_nothing_unsure_gives_the_plan_and_names_no_cause(straight: Callable[..., WhatIf]) -> None:
    found = table(straight(rates=RATES, waste_pct=3.0))
    assert list(found.index) == [LENGTH, "posts", "wire", "hours", "cost, tax and all"]
    for name in ("p10", "p50", "p90"):
        assert found[name].tolist() == pytest.approx(found["planned"].tolist(), abs=1e-9)
    assert found["main_cause"].isna().all()
    assert found.loc[LENGTH, "planned"] == 400.0
    assert found.loc["posts", "planned"] == 81.0 + 3.0  # 81 × 3 % = 2.43, up to whole posts


@pytest.mark.usefixtures("outputs_known")
def test_with_only_the_drawing_unsure_the_length_spreads_by_its_sigma(straight: Callable[..., WhatIf]) -> None:
    found = table(straight(sigma_length_m=4.0)).loc[LENGTH]
    # Standard error of a 10 % point of 1000 normal draws: sqrt(0.1 × 0.9 / 1000) / density there, 0.1755.
    error = 4.0 * np.sqrt(0.09 / 1000.0) / 0.17549833
    assert found["p10"] == pytest.approx(400.0 - 4.0 * Z90, abs=4.0 * error)
    assert found["p90"] == pytest.approx(400.0 + 4.0 * Z90, abs=4.0 * error)
    assert (found["main_cause"], found["share_pct"]) == ("drawing", 100.0)


def test_posts_jump_at_whole_bays(straight: Callable[..., WhatIf]) -> None:
    """80 bays of 5 m, 5.01 m at most: 0.8 m more is still 80 bays, a centimetre more is 81; 4.23 m less is 79."""
    what_if = straight()
    longer = np.array([[0.0], [0.79], [0.81], [-4.2], [-4.3]])
    assert what_if.stretches.more_bays(longer)[:, 0].tolist() == [0.0, 0.0, 1.0, 0.0, -1.0]
    assert np.array_equal(what_if.stretches.more_bays(np.zeros((1, 1)), wider_m=np.array([[-0.1]])), [[2.0]])  # 4.91 m


def test_rails_move_in_whole_numbers(straight: Callable[..., WhatIf]) -> None:
    """Three rows of rails over two bays each: a bay more is a stick and a half, so two."""
    what_if = straight("post and rail", bays=20, bay_m=2.36)
    planned = what_if.as_planned(3)
    longer = np.array([[0.0], [2.4], [4.8]])
    case = replace(planned, longer_m=longer, line_m=longer[:, 0])
    outcome = what_if.outcome(case)
    assert outcome.rails.tolist() == [30.0, 32.0, 33.0]
    assert outcome.posts.tolist() == [21.0, 22.0, 23.0]


@pytest.mark.usefixtures("outputs_known")
def test_heights_alone_stretch_a_slope_and_are_named(straight: Callable[..., WhatIf]) -> None:
    """On a slope of grade g a rise that is out by s √2 makes the ground longer by g ÷ √(1 + g²) of it."""
    what_if = straight(grade_pct=30.0, sigma_height_m=0.5)
    drawn = what_if.outcome(draws(what_if, seed=1)["all"]).length_m
    assert drawn.std() == pytest.approx(0.5 * np.sqrt(2.0) * 0.3 / np.hypot(1.0, 0.3), rel=0.1)
    assert drawn.mean() == pytest.approx(400.0 * np.hypot(1.0, 0.3), abs=0.05)
    assert table(what_if).loc[LENGTH, "main_cause"] == "heights"


@pytest.mark.parametrize(
    ("told", "what", "cause"),
    [
        ({"sigma_length_m": 6.0}, "posts", "drawing"),
        ({"soil": "not checked"}, "hours", "rock"),
        ({"soil": "not checked"}, "cost, tax and all", "rock"),
        ({"grade_pct": 40.0, "sigma_height_m": 3.0}, "wire", "heights"),
    ],
)
@pytest.mark.usefixtures("outputs_known")
def test_each_cause_alone_is_the_main_one(
    straight: Callable[..., WhatIf], told: dict[str, Any], what: str, cause: str
) -> None:
    row = table(straight(rates=RATES, **told)).loc[what]
    assert (row["main_cause"], row["share_pct"]) == (cause, 100.0)
    assert row["p10"] < row["p90"]


@pytest.mark.parametrize(("about", "what", "cause"), [("waste", "wire", "waste"), ("outputs", "hours", "outputs")])
def test_waste_and_outputs_alone_are_named(
    straight: Callable[..., WhatIf], monkeypatch: pytest.MonkeyPatch, about: str, what: str, cause: str
) -> None:
    def only(kind: str, names: Any) -> Mapping[str, float]:
        return dict.fromkeys(map(str, names), 0.3 if kind == about else 0.0)

    monkeypatch.setattr(how_sure, "_sigmas", only)
    row = table(straight(waste_pct=5.0)).loc[what]
    assert (row["main_cause"], row["share_pct"]) == (cause, 100.0)


def test_hours_of_one_activity_are_lognormal(straight: Callable[..., WhatIf]) -> None:
    """The 90 % point of a lognormal of median 1 is exp(1.2816 s)."""
    what_if = straight()
    drawn = draws(what_if, seed=7, count=20_000)["outputs"].slower
    s = float(numbers("outputs")["line posts"]["value"])
    assert percentiles(drawn[:, 0], 10.0, 50.0, 90.0) == pytest.approx(
        [np.exp(-Z90 * s), 1.0, np.exp(Z90 * s)], rel=0.02
    )


def test_rock_is_drawn_only_where_no_soil_is_known(straight: Callable[..., WhatIf]) -> None:
    """A triangle of 0, 0.02 and 0.15 has its mean at a third of their sum, and all of 81 holes share it."""
    assert not draws(straight(), seed=1)["rock"].rock_holes.any()
    holes = draws(straight(soil="not checked"), seed=1, count=20_000)["rock"].rock_holes
    assert holes.mean() == pytest.approx(81.0 * 0.17 / 3.0, rel=0.02)
    assert np.array_equal(holes, np.rint(holes))
    walked = draws(straight(soil="not checked", walked=Walked(ground="2026-04-20")), seed=1)["rock"].rock_holes
    assert walked.mean() < holes.mean()
    assert walked.any()


def test_the_same_seed_gives_the_same_table_and_another_another(straight: Callable[..., WhatIf]) -> None:
    told = {"sigma_length_m": 3.0, "soil": "not checked", "rates": RATES, "waste_pct": 3.0}
    first, again = table(straight(**told)), table(straight(**told))
    assert first.to_csv() == again.to_csv()
    other = table(straight(**told, seed=2))
    assert first["planned"].equals(other["planned"])
    assert not first["p90"].equals(other["p90"])
    assert Spec().seed == 1


def test_a_cause_has_draws_of_its_own(straight: Callable[..., WhatIf]) -> None:
    """To know the soil leaves the draws of the drawing as they were."""
    known, unknown = (draws(straight(sigma_length_m=3.0, soil=soil), seed=1) for soil in ("loam", "not checked"))
    assert np.array_equal(known["drawing"].line_m, unknown["drawing"].line_m)
    assert not np.array_equal(known["rock"].rock_holes, unknown["rock"].rock_holes)
    assert set(known) == {*CAUSES, "all"}


def test_as_planned_comes_to_the_quote_itself(straight: Callable[..., WhatIf]) -> None:
    what_if = straight(rates=RATES, waste_pct=3.0)
    assert total_cents(what_if, what_if.planned)[0] == sums_of(what_if.tables["price"]).total_cents
    assert what_if.planned.hours_h[0] == pytest.approx(what_if.tables["days"]["hours_h"].sum())
    assert what_if.planned.ordered[0].tolist() == [84.0, 3000.0]


def test_a_hole_in_rock_costs_its_rate_and_its_hours_with_all_on_top(straight: Callable[..., WhatIf]) -> None:
    """50 provisional, tax on it; its hours at 2 × 30 with contingency, margin and tax; 81 posts are two days' work."""
    what_if = straight(rates=RATES)
    case = replace(what_if.as_planned(), rock_holes=np.ones(1))
    more = total_cents(what_if, what_if.outcome(case))[0] - total_cents(what_if, what_if.planned)[0]
    hours = what_if.rock_hole_h
    assert hours == pytest.approx(1 / 2.4 - 1 / 15.0)
    assert more == pytest.approx(5000.0 * 1.1 + hours * 6000.0 * 1.05 * 1.15 * 1.1, abs=1.0)


@pytest.mark.parametrize("over", [None, 20])
def test_the_quote_carries_the_figure_for_a_chosen_risk(straight: Callable[..., WhatIf], over: int | None) -> None:
    """With a minimum charge, too, that the plan falls short of by 20 and the draws go over."""
    rates: tuple[Rate, ...] = RATES
    if over is not None:
        before = sums_of(straight(rates=RATES).tables["price"]).before_tax_cents // 100
        rates = (*RATES, rate("minimum", "each", str(before + over), "charge"))
    what_if = straight(rates=rates, soil="not checked", sigma_length_m=5.0, money={"risk_pct": 90.0})
    found = layers(what_if)
    cost, risk = (found["how_sure"].set_index("what").loc[what].to_dict() for what in ("cost, tax and all", "risk"))
    (line,) = found["price"][found["price"]["item"] == "risk"].to_dict("records")
    assert (line["part"], line["amount_cents"]) == ("provisional", risk["planned"])
    assert cost["p90"] > cost["planned"]
    assert abs(sums_of(found["price"]).total_cents - cost["p90"]) <= 1
    assert (found["price"]["rate_item"] == "minimum").sum() == 0
    assert "risk" not in set(layers(straight(rates=rates))["how_sure"]["what"])


def test_no_provision_where_the_total_is_enough(straight: Callable[..., WhatIf]) -> None:
    table = straight(rates=RATES).tables["price"]
    whole = sums_of(table).total_cents
    assert provision_for(table, whole) in {0, 1}  # the tax was rounded
    assert provision_for(table, whole - 5000) == 0
    assert provision_for(table, whole + 1100) == pytest.approx(1000, abs=1)


def test_what_has_no_price_has_no_cost(straight: Callable[..., WhatIf]) -> None:
    assert "cost, tax and all" not in table(straight()).index
    rows = table(straight(rates=tuple(one for one in RATES if one.item != "wire")))
    assert "not complete" in str(rows.loc["cost, tax and all", "basis"])


def test_lines_as_printed(straight: Callable[..., WhatIf]) -> None:
    what_if = straight(rates=RATES, sigma_length_m=2.0, money={"currency": "AUD"})
    lines = how_sure_lines(SimpleNamespace(how_sure=layers(what_if)["how_sure"], site=what_if.site))  # type: ignore[arg-type]
    assert lines[0][:3] == (LENGTH, "m", "400.0")
    assert lines[0][6] == "drawing, 100 %"
    assert lines[-1][1] == "AUD"
    assert float(lines[-1][2]) == sums_of(what_if.tables["price"]).total_cents / 100.0


def test_no_posts_no_rows(straight: Callable[..., WhatIf]) -> None:
    what_if = straight()
    bare = {**what_if.tables, "posts": what_if.tables["posts"].iloc[:0]}
    found = sure_layers(what_if.site, bare, kind_of_line=what_if.kind_of_line)
    assert [len(found[name]) for name in ("how_sure", "drivers")] == [0, 0]

"""What is ordered, on paper."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from fencegis import plan_site, read_site
from fencegis.exports.sheets.order import MONEY, order_lines
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from fencegis.exports.sheets.flow import Line
    from fencegis.records.plan import Plan

ROOT = Path(__file__).parents[3]


@pytest.fixture(scope="module")
def roadside() -> Plan:
    return plan_site(read_site(ROOT / "sample_sites" / "roadside"))


def told(lines: list[Line]) -> str:
    return " ".join(" ".join(line.text for line in lines).replace("\u00a0", " ").split())


def test_every_quantity_stands_once_with_the_rows_it_sums_and_a_box(roadside: Plan) -> None:
    ticked = [line.text for line in order_lines(roadside) if line.text.rstrip().endswith("[ ]")]
    assert len(ticked) == len(roadside.quantities)
    for row, (item, rows) in zip(ticked, roadside.quantities[["item", "rows"]].to_numpy(), strict=True):
        assert row.startswith(item)
        assert rows in row


def test_packs_are_told_as_packs_and_loose_things_with_their_waste(roadside: Plan) -> None:
    screws = roadside.quantities[roadside.quantities["material"] == "rail fixing"].iloc[0]
    assert f"{screws['packs']} of {screws['pack']:.0f}" in told(order_lines(roadside))
    loose = roadside.quantities[roadside.quantities["packs"].isna()].iloc[:1].assign(exact=100.0, waste_pct=10.0)
    assert "100 m2 110 m2" in told(order_lines(replace(roadside, quantities=checked("quantities", loose))))


def test_how_sure_is_told_without_money(roadside: Plan) -> None:
    text = told(order_lines(roadside))
    assert "BETWEEN WHAT IT MAY COME OUT" in text
    assert (roadside.how_sure["unit"] == MONEY).any()
    assert "cost" not in text
    assert (roadside.site.spec.money.currency or "AUD") not in text


def test_nothing_to_order_is_no_sheet(roadside: Plan) -> None:
    bare = replace(roadside, quantities=empty("quantities"), how_sure=empty("how_sure"))
    assert order_lines(bare) == []

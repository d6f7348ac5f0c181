"""The quote for a spreadsheet and the order workbook: the same sums, re-added by whoever opens them."""

from __future__ import annotations

import csv
import dataclasses
import io
import re
import subprocess
import zipfile
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import pandas as pd
import pytest

from fencegis.catalogue import rows
from fencegis.exports.cautions import DESK_STUDY
from fencegis.exports.order.cells import address, cents
from fencegis.exports.order.workbook import order_workbook, sheet_name
from fencegis.exports.plan_hash import plan_sha256
from fencegis.exports.quote import COLUMNS, NOT_PRICED, quantity_text, quote_csv
from fencegis.quantities.money import money_text
from fencegis.quantities.price import price, sums_of
from fencegis.records.rates import Rate
from fencegis.records.spec import Display, Machine, Money
from fencegis.records.tables import checked

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from fencegis.records.plan import Plan

RATES = (
    Rate("post 125 x 1.8", "each", Decimal("9.995"), "material"),
    Rate("wire", "pack", Decimal("99.5"), "material"),
    Rate("barbed wire", "ft", Decimal("0.0625"), "material", part="fixed"),
    Rate("rail", "m", Decimal("3.35"), "material"),
    Rate("concrete", "pack", Decimal("8.8"), "material", taxed=False),
    Rate("gate leaf", "each", Decimal("0.025"), "material"),  # 0.125: a half cent, to the even one
    Rate("hour", "h", Decimal("47.35"), "labour"),
    Rate("machine", "h", Decimal(44), "hire"),
    Rate("travel", "mi", Decimal("0.75"), "travel"),
    Rate("mobilisation", "each", Decimal(333), "charge"),
    Rate("freight", "lb", Decimal("0.0155"), "charge"),
    Rate("rock hole", "each", Decimal(70), "charge"),
    Rate("minimum", "each", Decimal(9000), "charge"),
    Rate("contingency", "%", Decimal("2.5"), "percent"),
    Rate("margin", "%", Decimal("17.5"), "percent"),
    Rate("tax", "%", Decimal("6.25"), "percent"),
)
NAME = "=1+1 </script> & Žitava"


def quantity(material: str, size: str | None, supplier: str, unit: str, **cells: Any) -> dict[str, Any]:
    item = f"{material}, {size}" if size else material
    usual = {"item": item, "waste_pct": 3.0, "basis": "=SUM(A1)", "rows": "posts 12", "longest_m": float("nan")}
    return {"material": material, "size": size, "supplier": supplier, "unit": unit, **usual, **cells}


def quantities() -> pd.DataFrame:
    return checked(
        "quantities",
        pd.DataFrame([
            quantity("post", "125 x 1.8", "timber", "each", exact=57.0, pack=1.0, packs=59, mass_kg=1498.7343,
                     longest_m=1.8),
            quantity("wire", None, "wire and mesh", "m", exact=4526.8792723, pack=1500.0, packs=4, mass_kg=231.0),
            quantity("rail", "150 x 50 x 4.8", "timber", "each", exact=25.0, longest_m=4.8, mass_kg=1035.0),
            quantity("barbed wire", None, "wire and mesh", "m", exact=1320.0505),
            quantity("concrete", None, "ground", "m3", exact=0.31, pack=0.009, packs=38, mass_kg=786.6),
            quantity("gate leaf", "3.6", "gates and fittings", "each", exact=5.0, waste_pct=0.0),
            quantity("rock hole", None, "hire and services", "each", exact=7.0, waste_pct=0.0),
        ]),
    )  # fmt: skip


def days() -> pd.DataFrame:
    usual = {"crew": 2, "basis": "by hand", "quantity": 3.0, "unit": "each", "line_id": None}
    return checked(
        "days",
        pd.DataFrame([
            {"day": 1, "activity": "line posts", "hours_h": 6.3333333, "machine": True, **usual},
            {"day": 2, "activity": "wires", "hours_h": 4.1, "machine": False, **usual},
        ]),
    )  # fmt: skip


def priced_plan(plan: Plan, rates: Sequence[Rate] | None = RATES, **money: Any) -> Plan:
    spec = plan.site.spec.model_copy(
        update={
            "machine": Machine(),
            "money": Money(**{"currency": "AUD", "travel_km": 31.7, "tax_name": "GST", **money}),
            "display": Display(units="imperial"),
        }
    )
    site = dataclasses.replace(plan.site, spec=spec, name=NAME, rates=None if rates is None else tuple(rates))
    plan = dataclasses.replace(plan, site=site, quantities=quantities(), days=days())
    return dataclasses.replace(plan, price=price(site, dict(plan.layers())).table)


@pytest.fixture(scope="module")
def plan(small_plan: Plan) -> Plan:
    return priced_plan(small_plan)


def read(content: bytes | None) -> list[dict[str, str]]:
    assert content
    assert content.startswith(b"\xef\xbb\xbf")
    assert b"\r" not in content
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"))))


def parts(content: bytes | None) -> dict[str, str]:
    assert content
    with zipfile.ZipFile(io.BytesIO(content)) as book:
        return {name: book.read(name).decode() for name in book.namelist()}


class TestQuote:
    def test_the_lines_add_up_to_the_sums(self, plan: Plan) -> None:
        table = read(quote_csv(plan))
        assert tuple(table[0]) == COLUMNS
        added = {
            part: sum(Decimal(row["amount"]) for row in table if row["part"] == part)
            for part in ("fixed", "measured", "provisional", "tax")
        }
        said = {row["item"]: Decimal(row["amount"]) for row in table if row["part"] == "sum"}
        assert said == {
            "fixed": added["fixed"],
            "measured": added["measured"],
            "provisional": added["provisional"],
            "before GST": added["fixed"] + added["measured"] + added["provisional"],
            "GST": added["tax"],
            "total": sum(added.values()),
        }
        assert {row["unit"] for row in table if row["part"] == "sum"} == {"AUD"}

    def test_quantity_times_rate_is_the_amount_as_printed(self, plan: Plan) -> None:
        table = [row for row in read(quote_csv(plan)) if row["rate"]]
        assert len(table) > 10
        for row in table:
            assert round(Decimal(row["quantity"]) * Decimal(row["rate"]), 2) == Decimal(row["amount"]), row

    def test_what_has_no_price_says_so_and_so_does_the_total(self, small_plan: Plan) -> None:
        table = read(quote_csv(priced_plan(small_plan, [rate for rate in RATES if rate.item != "wire"])))
        (row,) = [each for each in table if each["item"] == "wire"]
        assert (row["amount"], row["rate"]) == (NOT_PRICED, "")
        assert table[-4]["item"] == "total of what is priced, not complete: 1 not priced"

    def test_it_names_the_plan_and_says_what_it_is_not(self, plan: Plan) -> None:
        about = [row["item"] for row in read(quote_csv(plan)) if row["part"] == "about"]
        assert about == [f"plan {plan_sha256(plan)[:12]}", f"'{NAME}", DESK_STUDY]
        assert DESK_STUDY.startswith("A desk study.")

    def test_every_exclusion_stands_in_it(self, plan: Plan) -> None:
        said = [row["item"] for row in read(quote_csv(plan)) if row["part"] == "excluded"]
        assert said == [row["item"] for row in rows("quote_excludes")]

    def test_quantities_are_shown_in_the_units_asked_for_beside_those_they_are_priced_in(self, plan: Plan) -> None:
        table = {row["item"]: row for row in read(quote_csv(plan))}
        rail = table["rail, 150 x 50 x 4.8"]
        assert (rail["quantity"], rail["unit"], rail["shown_quantity"], rail["shown_unit"]) == (
            "124.8", "m", "409.449", "ft",
        )  # fmt: skip
        assert table["travel"]["shown_unit"] == "mi"

    def test_without_rates_there_is_none(self, small_plan: Plan) -> None:
        assert quote_csv(priced_plan(small_plan, None)) is None

    def test_no_cell_is_a_formula(self, plan: Plan) -> None:
        cells = [cell for row in read(quote_csv(plan)) for cell in row.values()]
        assert not any(cell.startswith(("=", "+", "@")) for cell in cells)

    def test_noughts_at_the_end_are_left_out_and_nothing_stays_nothing(self) -> None:
        assert [quantity_text(number) for number in (10.0, 0.31, 2.5004, float("nan"))] == ["10", "0.31", "2.5", ""]


class TestWorkbook:
    def test_the_same_bytes_twice(self, plan: Plan) -> None:
        assert order_workbook(plan) == order_workbook(plan)

    def test_a_sheet_a_supplier_a_summary_and_the_quote(self, plan: Plan) -> None:
        names = re.findall(r'<sheet name="([^"]+)"', parts(order_workbook(plan))["xl/workbook.xml"])
        assert names == ["summary", "timber", "wire and mesh", "ground", "gates and fittings", "quote"]

    def test_every_sheet_has_the_plan_and_says_desk_study(self, plan: Plan) -> None:
        content = parts(order_workbook(plan))
        sheets = [text for name, text in content.items() if name.startswith("xl/worksheets/sheet")]
        assert len(sheets) == 6
        assert all(f"Plan {plan_sha256(plan)[:12]}, desk study" in text for text in sheets)
        assert "A desk study. It replaces no site inspection" in content["xl/sharedStrings.xml"]

    def test_every_amount_is_a_formula_and_no_text_of_a_file_is(self, plan: Plan) -> None:
        content = parts(order_workbook(plan))
        formulas = [
            f for name, text in content.items() if "sheets/sheet" in name for f in re.findall("<f>(.*?)</f>", text)
        ]
        amounts = [formula for formula in formulas if formula.startswith(("IF(ABS(MOD", "SUM", "ROUND", "'"))]
        assert len(amounts) > 20
        assert not any("A1" in formula and "SUM(A1)" in formula for formula in formulas)
        assert "=SUM(A1)" in content["xl/sharedStrings.xml"]
        assert "1+1" not in "".join(formulas)

    def test_without_rates_it_has_what_to_order_and_no_money(self, small_plan: Plan) -> None:
        content = parts(order_workbook(priced_plan(small_plan, None)))
        assert "quote" not in content["xl/workbook.xml"]
        assert "amount, AUD" not in content["xl/sharedStrings.xml"]
        assert "post, 125 x 1.8" in content["xl/sharedStrings.xml"]

    def test_with_nothing_to_order_there_is_none(self, small_plan: Plan) -> None:
        assert order_workbook(dataclasses.replace(small_plan, quantities=small_plan.quantities.iloc[:0])) is None

    def test_the_minimum_charge_is_made_up_in_it(self, small_plan: Plan) -> None:
        rates = [*(rate for rate in RATES if rate.item != "minimum"), Rate("minimum", "each", Decimal(10**6), "charge")]
        content = parts(order_workbook(priced_plan(small_plan, rates)))
        assert any("ROUND(1000000-SUM(" in text for text in content.values())

    def test_how_sure_and_one_change_more_stand_on_sheets_of_their_own(self, plan: Plan) -> None:
        sure = {"what": "cost, tax and all", "unit": "cents", "planned": 123456.0, "p10": 1.0, "p50": 2.0, "p90": 3.0}
        sure |= {"main_cause": "rock", "share_pct": 61.0, "basis": "every line of the quote"}
        change = {"what": "rock", "change": "10 more holes", "amount_cents": -4567, "hours_h": 4.25, "basis": "=A1"}
        layers = {"how_sure": checked("how_sure", pd.DataFrame([sure]))}
        layers["drivers"] = checked("drivers", pd.DataFrame([change]))
        content = parts(order_workbook(dataclasses.replace(plan, **layers)))
        names = re.findall(r'<sheet name="([^"]+)"', content["xl/workbook.xml"])
        assert names[-2:] == ["how sure", "one change more"]
        assert "<v>1234.56</v>" in content[f"xl/worksheets/sheet{len(names) - 1}.xml"]
        assert "<v>-45.67</v>" in content[f"xl/worksheets/sheet{len(names)}.xml"]
        assert "10 more holes" in content["xl/sharedStrings.xml"]
        assert "<f>" not in content[f"xl/worksheets/sheet{len(names)}.xml"]

    def test_sheet_names_are_such_as_a_workbook_takes(self) -> None:
        assert sheet_name("gates/fittings [all]: 'x'?*\\", 2) == "gates fittings  all    x"
        assert len(sheet_name("w" * 50, 1)) == 31
        assert sheet_name("///", 3) == "sheet 3"

    def test_cells_are_named_from_nought(self) -> None:
        assert (address(0, 0), address(6, 2)) == ("A1", "C7")


def without_results(content: bytes) -> bytes:
    """Return the workbook with the results of its formulas left out, so that whoever opens it has to work them out."""
    memory = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as book, zipfile.ZipFile(memory, "w") as bare:
        for name in book.namelist():
            text = book.read(name)
            if name.startswith("xl/worksheets/sheet"):
                text, taken = re.subn(rb"(</f>)<v>[^<]*</v>", rb"\1", text)
                assert taken or b"<f>" not in text
            bare.writestr(name, text)
    return memory.getvalue()


@pytest.fixture(scope="module")
def recalculated(require_program: Callable[[str], str], tmp_path_factory: Any) -> Callable[[Plan], dict[str, list]]:
    """Return a function that has LibreOffice work a plan's workbook out, and gives every sheet's cells as shown."""
    program = require_program("soffice")
    folder: Path = tmp_path_factory.mktemp("office")
    every_sheet = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,-1"

    def worked_out(plan: Plan) -> dict[str, list[list[str]]]:
        (folder / "order.xlsx").write_bytes(without_results(order_workbook(plan) or b""))
        profile = (folder / "profile").as_uri()
        options = ["--headless", "--norestore", f"-env:UserInstallation={profile}", "--convert-to", every_sheet]
        command = [program, *options, "--outdir", str(folder), str(folder / "order.xlsx")]
        ended = subprocess.run(command, capture_output=True, check=False, timeout=120, text=True)
        assert ended.returncode == 0, ended.stderr
        return {
            path.stem.removeprefix("order-"): list(csv.reader(path.read_text(encoding="utf-8").splitlines()))
            for path in sorted(folder.glob("order-*.csv"))
        }

    return worked_out


def test_an_independent_spreadsheet_comes_to_the_same_cents(
    recalculated: Callable[[Plan], dict[str, list[list[str]]]], plan: Plan
) -> None:
    """LibreOffice, from formulas alone: every line of the quote, every sum."""
    sheets = recalculated(plan)
    lines = [row for row in sheets["quote"][5:] if row[0] in ("fixed", "measured", "provisional", "tax")]
    priced = plan.price[plan.price["part"] != "excluded"]
    assert [Decimal(row[6]) for row in lines] == [Decimal(int(c)) / 100 for c in priced["amount_cents"]]
    sums = sums_of(plan.price)
    summary = {row[0]: row[2] for row in sheets["summary"] if len(row) > 2}
    for name, total in (
        ("fixed", sums.fixed_cents), ("measured", sums.measured_cents), ("provisional", sums.provisional_cents),
        ("before GST", sums.before_tax_cents), ("GST", sums.tax_cents), ("total", sums.total_cents),
    ):  # fmt: skip
        assert Decimal(summary[name]) == Decimal(money_text(total, grouped=False)), name


def test_the_formula_rounds_halves_as_the_quote_does() -> None:
    assert cents("B2*C2") == "=IF(ABS(MOD(B2*C2*100,1)-0.5)<0.0000001,2*ROUND(B2*C2*50,0),ROUND(B2*C2*100,0))/100"

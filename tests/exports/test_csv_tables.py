"""Tables for spreadsheets."""

from __future__ import annotations

import csv
import dataclasses
import io
from typing import TYPE_CHECKING

import pandas as pd

from fencegis.exports.csv_tables import OF_MATERIALS, takeoff_csv
from fencegis.quantities.takeoff import takeoff
from fencegis.records.tables import checked

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def read(content: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"))))


def test_the_takeoff_is_the_table_with_a_byte_order_mark_and_line_feeds(small_plan: Plan) -> None:
    content = takeoff_csv(small_plan)
    assert content.startswith(b"\xef\xbb\xbf")
    assert b"\r" not in content
    table = takeoff(small_plan)
    assert read(content)[0] == [*table.columns, *OF_MATERIALS]
    assert [row[0] for row in read(content)[1:]] == list(table["item"])


def test_materials_follow_the_short_take_off_with_waste_packs_mass_and_rows(small_plan: Plan) -> None:
    wire = {
        "item": "plain wire, 2.5 mm", "material": "wire", "supplier": "wire and mesh", "unit": "m", "exact": 361.25,
        "waste_pct": 2.0, "pack": 1500.0, "packs": 1, "left_pct": 75.435, "mass_kg": 57.75, "basis": "=by hand",
        "rows": "bays 12",
    }  # fmt: skip
    fill = {**wire, "item": "fill", "material": "fill", "unit": "m3", "pack": None, "packs": None, "left_pct": None}
    bought = checked("quantities", pd.DataFrame([wire, fill]))
    *_, first, second = read(takeoff_csv(dataclasses.replace(small_plan, quantities=bought)))
    assert first[:4] == ["plain wire, 2.5 mm", "m", "361.250", "'=by hand"]
    assert first[4:] == ["wire", "", "wire and mesh", "2.00", "1500.000", "1", "75.44", "57.8", "", "bays 12"]
    assert second[7:11] == ["2.00", "", "", ""]


def test_metres_have_three_decimals_and_counts_none(small_plan: Plan) -> None:
    for _, unit, quantity, *_ in read(takeoff_csv(small_plan))[1:]:
        assert len(quantity.partition(".")[2]) == {"m": 3, "each": 0}[unit]


def test_a_name_from_a_file_is_no_formula(small_plan: Plan) -> None:
    runs = small_plan.runs.assign(line_id="=1+1", run_id="x\n=2", label='"@')
    cells = [cell for row in read(takeoff_csv(dataclasses.replace(small_plan, runs=runs))) for cell in row]
    assert not any(cell.startswith(("=", "+", "@", "-")) or "\n" in cell for cell in cells)

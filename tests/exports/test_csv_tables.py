"""Tables for spreadsheets."""

from __future__ import annotations

import csv
import dataclasses
import io
from typing import TYPE_CHECKING

from fencegis.exports.csv_tables import takeoff_csv
from fencegis.quantities.takeoff import takeoff

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def read(content: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"))))


def test_the_takeoff_is_the_table_with_a_byte_order_mark_and_line_feeds(small_plan: Plan) -> None:
    content = takeoff_csv(small_plan)
    assert content.startswith(b"\xef\xbb\xbf")
    assert b"\r" not in content
    table = takeoff(small_plan)
    assert read(content)[0] == list(table.columns)
    assert [row[0] for row in read(content)[1:]] == list(table["item"])


def test_metres_have_three_decimals_and_counts_none(small_plan: Plan) -> None:
    for _, unit, quantity, _ in read(takeoff_csv(small_plan))[1:]:
        assert len(quantity.partition(".")[2]) == {"m": 3, "each": 0}[unit]


def test_a_name_from_a_file_is_no_formula(small_plan: Plan) -> None:
    runs = small_plan.runs.assign(line_id="=1+1", run_id="x\n=2", label='"@')
    cells = [cell for row in read(takeoff_csv(dataclasses.replace(small_plan, runs=runs))) for cell in row]
    assert not any(cell.startswith(("=", "+", "@", "-")) or "\n" in cell for cell in cells)

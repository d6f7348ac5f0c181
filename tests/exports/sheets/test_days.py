"""The sheets of the days, and schedule.csv."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd
import pytest

from fencegis import plan_site, read_site
from fencegis.catalogue import rows
from fencegis.exports.schedule_csv import MEASURED, schedule_csv
from fencegis.exports.sheets.chart import DAYS_A_CHART, chart_lines
from fencegis.exports.sheets.days import MOST_DAYS, NO_FLAG, OWN_SHEETS, PART, day_lines
from fencegis.exports.sheets.flow import pages
from fencegis.exports.sheets.paper import ROOM_MM, wide_mm
from fencegis.exports.sheets.setout import setout_pdf, sheets
from fencegis.exports.sheets.words import ASK_OWNER
from fencegis.quantities.day_rows import NOT_WORK, WEATHER
from fencegis.records.tables import LAYERS, checked

if TYPE_CHECKING:
    from fencegis.exports.sheets.flow import Line
    from fencegis.records.plan import Plan

ROOT = Path(__file__).parents[3]


@pytest.fixture(scope="module")
def roadside() -> Plan:
    return plan_site(read_site(ROOT / "sample_sites" / "roadside"))


@pytest.fixture(scope="module")
def lines(roadside: Plan) -> list[Line]:
    return day_lines(roadside)


def told(lines: list[Line]) -> str:
    return " ".join(" ".join(line.text for line in lines).replace("\u00a0", " ").split())


def day_of(lines: list[Line], day: int) -> list[Line]:
    """The lines of one day of a short job."""
    return [line for line in lines if line.part == f"day {day}"]


def longer(plan: Plan, days: int) -> Plan:
    """The plan with its last working day again and again."""
    whole = plan.days[plan.days["activity"] != WEATHER]
    last = int(whole["day"].max())
    again = [whole[whole["day"] == last].assign(day=day) for day in range(last + 1, days + 1)]
    return replace(plan, days=checked("days", pd.concat([whole, *again], ignore_index=True)))


def test_every_day_has_a_sheet_with_each_of_its_rows_and_blanks_to_correct(roadside: Plan, lines: list[Line]) -> None:
    work = roadside.days[~roadside.days["activity"].isin(NOT_WORK)]
    for day, here in work.groupby("day"):
        own = day_of(lines, int(day))
        assert own[0].breaks
        assert len(pages(own)) == 1
        text = told(own)
        for row in here.itertuples():
            table = [line.text for line in own if line.text.startswith(f"{row.activity} ") and line.head]
            by_posts = [line for line in table if str(row.from_post) in line and str(row.to_post) in line]
            assert by_posts or pd.isna(row.line_id)
        assert sum(line.text.count("________") > 0 for line in own if line.head) >= len(here)
        assert "measured" in text
        assert f"DAY {day}, " in text
        assert here["date"].iloc[0] in text


def test_a_day_under_a_wire_has_the_flag_by_post_number_and_the_owner_s_line(roadside: Plan, lines: list[Line]) -> None:
    wire = roadside.hazards[roadside.hazards["kind"] == "overhead power"].iloc[0]
    work = roadside.days[roadside.days["line_id"].notna()]
    met = work[(work["from_m"] <= wire.to_m) & (work["to_m"] >= wire.from_m)]["day"].unique()
    assert 0 < len(met) < work["day"].nunique()
    for day in work["day"].unique():
        text = told(day_of(lines, int(day)))
        assert (f"{wire.hazard_id} posts A-0" in text) == (day in met)
        assert (ASK_OWNER in text) == (day in met)


def test_what_to_load_is_what_the_rows_bring_and_fuel_for_the_machine(roadside: Plan, lines: list[Line]) -> None:
    for day, here in roadside.days.groupby("day"):
        text = told(day_of(lines, int(day)))
        for bring in here["bring"].dropna():
            assert " ".join(bring.split()) in text
        assert ("h of machine at" in text) == bool(here["machine"].any())


def test_checks_and_stops_are_on_each_sheet_and_the_machine_s_only_where_it_works(
    roadside: Plan, lines: list[Line]
) -> None:
    machine = next(row["text"] for row in rows("day_cards") if row["card"] == "machine")
    for day, here in roadside.days[roadside.days["activity"] != WEATHER].groupby("day"):
        text = told(day_of(lines, int(day)))
        assert "Total fire ban" in text
        assert "Lightning" in text
        assert (machine in text) == bool(here["machine"].any())


def test_the_drive_card_is_printed_once_and_says_that_nobody_holds_the_post(lines: list[Line]) -> None:
    text = told(lines)
    assert text.count("DRIVE CARD") == 1
    assert text.count("Nobody holds the post.") == 1
    assert "ten blows" in text


def test_a_long_job_has_its_cards_once_and_says_where_the_rest_of_the_days_is(roadside: Plan) -> None:
    long = day_lines(longer(roadside, OWN_SHEETS + 1))
    assert {line.part for line in long} == {PART}
    assert told(long).count("Total fire ban") == 1
    days = MOST_DAYS + 5
    text = told(day_lines(longer(roadside, days)))
    assert f"Days {MOST_DAYS + 1} to {days} are in schedule.csv." in text
    assert f"DAY {MOST_DAYS}," in text
    assert f"DAY {MOST_DAYS + 1}" not in text


def test_a_day_of_a_long_job_stays_on_one_sheet(roadside: Plan) -> None:
    begun = [
        sum(line.text.startswith("DAY ") and line.font == "bold" for line in page)
        for page in pages(day_lines(longer(roadside, 40)))
    ]
    blanks = [sum(line.text.startswith("WHO:") for line in page) for page in pages(day_lines(longer(roadside, 40)))]
    assert begun == blanks
    assert sum(begun) == 40


def test_bars_have_a_row_for_each_activity_and_go_on_in_a_further_chart(roadside: Plan) -> None:
    one = chart_lines(roadside.days, part=PART)
    assert len(one) == 1
    activities = roadside.days["activity"][~roadside.days["activity"].isin(NOT_WORK)].nunique() + 1
    assert one[0].gap_mm == pytest.approx(6.0 + 4.4 * activities + 3.0)
    assert len(chart_lines(longer(roadside, DAYS_A_CHART + 1).days, part=PART)) == 2


def test_nothing_flagged_is_no_finding(roadside: Plan) -> None:
    bare = replace(roadside, hazards=roadside.hazards.iloc[:0])
    text = told(day_lines(bare))
    assert NO_FLAG in text
    assert ASK_OWNER not in text
    assert "Not checked (see the cover)" in text


def test_no_line_is_wider_than_the_sheet(lines: list[Line]) -> None:
    for line in lines:
        font = {"bold": "bold", "even": "even"}.get(line.font, "plain")
        assert wide_mm(line.text, line.size, font) + line.indent_mm <= ROOM_MM + 0.5


def test_no_days_no_sheets(small_plan: Plan) -> None:
    assert len(small_plan.days) == 0
    assert day_lines(small_plan) == []


def test_the_days_are_in_the_crew_s_pdf(roadside: Plan) -> None:
    about = [sheet.about for sheet in sheets(roadside)]
    assert "days" in about
    assert "day 1" in about
    assert setout_pdf(roadside) == setout_pdf(roadside)


def test_schedule_csv_has_the_layer_and_a_column_to_fill_in(roadside: Plan) -> None:
    content = schedule_csv(roadside)
    assert content.startswith(b"\xef\xbb\xbf")
    table = list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"))))
    assert list(table[0]) == [*(column.name for column in LAYERS["days"].columns), MEASURED]
    assert len(table) == len(roadside.days)
    assert [row["activity"] for row in table] == roadside.days["activity"].tolist()
    assert sum(float(row["hours_h"]) for row in table) == pytest.approx(roadside.days["hours_h"].sum(), abs=0.1)
    assert {row[MEASURED] for row in table} == {""}


def test_a_name_that_a_spreadsheet_would_run_is_made_inert(roadside: Plan) -> None:
    hostile = replace(roadside, days=roadside.days.assign(line_id="=cmd|' /C calc'!A0"))
    table = list(csv.DictReader(io.StringIO(schedule_csv(hostile).decode("utf-8-sig"))))
    assert all(row["line_id"].startswith("'=") for row in table)

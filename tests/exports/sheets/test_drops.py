"""The sheet of the stacks, and the stacks on the day sheets."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd
import pytest

from fencegis import plan_site, read_site
from fencegis.exports.sheets.day_places import LAID_OUT, DayPlaces
from fencegis.exports.sheets.days import day_lines
from fencegis.exports.sheets.drops import HEADINGS, MOST_STACKS, drop_lines
from fencegis.exports.sheets.flow import pages
from fencegis.exports.sheets.posts import rows_of
from fencegis.exports.sheets.setout import sheets
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


def test_every_stack_is_printed_with_its_post_its_load_and_a_box(roadside: Plan) -> None:
    text = told(drop_lines(roadside))
    assert f"{len(roadside.drops)} stacks, the fewest with no carry over 50 m" in text
    assert "Whether a truck gets there is not checked" in text
    rows = [line.text for line in drop_lines(roadside) if line.text.rstrip().endswith("[ ]")]
    assert [row.split()[:2] for row in rows] == roadside.drops[["drop_id", "post_id"]].to_numpy().tolist()
    for load in roadside.drops["load"]:
        assert load.split(", ")[0] in text


def test_the_sheet_stands_before_the_days_and_no_plan_without_stacks_has_one(roadside: Plan) -> None:
    about = [sheet.about for sheet in sheets(roadside)]
    assert about.index("stacks") < about.index("days")
    assert drop_lines(replace(roadside, drops=empty("drops"))) == []


def test_water_has_a_column_only_where_holes_take_some(roadside: Plan) -> None:
    wet = replace(roadside, drops=checked("drops", roadside.drops.assign(water_l=40.0)))
    assert "water" in " ".join(line.text for line in drop_lines(wet)[4:12])
    dry = replace(roadside, drops=checked("drops", roadside.drops.assign(water_l=0.0)))
    heads = next(line.head for line in drop_lines(dry) if line.head)
    assert "water" not in " ".join(line.text for line in heads)
    assert "water l" in HEADINGS


def test_a_long_job_prints_so_many_and_says_where_the_rest_is(roadside: Plan) -> None:
    many = pd.concat([roadside.drops] * 40, ignore_index=True)
    lines = drop_lines(replace(roadside, drops=checked("drops", many)))
    assert f"{len(many) - MOST_STACKS} more are in the layer drops of plan.gpkg." in told(lines)
    assert len(pages(lines)) > 1


def test_a_day_that_lays_out_names_the_stacks_that_its_posts_come_from(roadside: Plan) -> None:
    text = told(day_lines(roadside))
    places = DayPlaces(roadside)
    for row in rows_of(roadside.days[roadside.days["activity"] == LAID_OUT]):
        posts = roadside.posts[roadside.posts["chainage_m"].between(row.from_m, row.to_m)]["chainage_m"]
        named = places.stacks([row])
        assert f"STACKS to lay out from: {named}." in text
        for stack in rows_of(roadside.drops):
            serves = posts.between(stack.serves_from_m, stack.serves_to_m).any()
            assert (f"{stack.drop_id} by post {stack.post_id}" in named) == serves


def test_a_stack_over_a_loops_start_is_met_at_both_ends_and_not_between(roadside: Plan) -> None:
    stack = roadside.drops.iloc[:1].assign(serves_from_m=390.0, serves_to_m=20.0)
    places = DayPlaces(replace(roadside, drops=checked("drops", stack)))
    row = rows_of(roadside.days[roadside.days["activity"] == LAID_OUT])[0]
    spans = ((0.0, 30.0), (350.0, 395.0), (50.0, 300.0))
    assert [bool(places.stacks([row._replace(from_m=low, to_m=high)])) for low, high in spans] == [True, True, False]

"""The printed register."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pandas as pd
import pytest

from fencegis.exports.answers import KINDS, three_answers
from fencegis.exports.hazard_pages import hazard_pages
from fencegis.exports.post_places import PostPlaces
from fencegis.exports.sheets.findings import LETTERS, MOST_ROWS, finding_lines
from fencegis.exports.sheets.flow import pages
from fencegis.exports.sheets.paper import ROOM_MM, wide_mm
from fencegis.exports.sheets.register import NO_FLAG, PART, register_lines
from fencegis.exports.sheets.setout import sheets

if TYPE_CHECKING:
    from fencegis.exports.sheets.flow import Line
    from fencegis.records.plan import Plan


def _told(lines: list[Line]) -> str:
    return " ".join(" ".join(line.text for line in lines).replace("\u00a0", " ").split())


@pytest.fixture(scope="module")
def lines(register_plan: Plan) -> list[Line]:
    return register_lines(register_plan)


def _rows(lines: list[Line], title: str) -> list[str]:
    """Return the rows of the table under a heading."""
    begin = next(place for place, line in enumerate(lines) if line.text == title)
    table = [line for line in lines[begin:] if line.head or not line.text]
    first = next(place for place, line in enumerate(table) if line.head)
    return [line.text for line in table[first : first + 40] if line.head is table[first].head]


def test_flags_stand_in_walking_order_by_post_and_metre_with_least_and_asked(
    register_plan: Plan, lines: list[Line]
) -> None:
    rows = _rows(lines, "Flagged, in walking order")
    posts = PostPlaces(register_plan)
    assert len(rows) == len(register_plan.hazards)
    for row, flag in zip(rows, register_plan.hazards.itertuples(), strict=True):
        first, last = posts.between(flag.line_id, flag.from_m, flag.to_m)
        wanted = rf"^{flag.hazard_id} +{KINDS[flag.kind]} +\S.* {first} +{last} +{flag.from_m} +{flag.to_m}"
        assert re.search(wanted, row)
    assert rows[0].split()[-2:] == ["1.20", "3.00"]
    of_an_owner = next(row for row in rows if row.startswith("H3 "))
    assert of_an_owner.split()[-1] == "owner"  # nobody but the line's owner sets that distance


def test_what_to_do_is_said_once_for_those_that_share_it(register_plan: Plan, lines: list[Line]) -> None:
    told = _told(lines).partition("What each kind of flag means")[0]
    for advice in register_plan.hazards["advice"].unique():
        assert told.count(f": {advice}") == 1
    assert told.count("Rule: an invented rule, for tests.") + told.count("Rule (") >= 1
    power = register_plan.hazards[register_plan.hazards["kind"] == "overhead power"]
    assert f"What to do (H1): {power['advice'].iloc[0]}" in told


def test_every_flag_says_what_it_rests_on(register_plan: Plan, lines: list[Line]) -> None:
    told = _told(lines)
    for flag in register_plan.hazards[register_plan.hazards["kind"] == "tree limb"].itertuples():
        assert f"least distance after allowances 0.00 m, 0.50 m asked for; {flag.basis}." in told
    assert "least distance not known, distance to be set by the line's owner; height unknown, not walked." in told


def test_the_three_answers_are_those_of_the_checks(register_plan: Plan, lines: list[Line]) -> None:
    rows = _rows(lines, "Three answers for every kind, in metres of fence")
    for row, share in zip(rows, three_answers(register_plan), strict=True):
        wanted = (share.flagged_m, share.none_found_m, share.not_checked_m)
        assert row.startswith(share.title)
        assert [float(cell) for cell in row.split()[-3:]] == [round(value, 1) for value in wanted]
    told = _told(lines)
    assert "Overhead power lines: none found in overhead.geojson (2 features), not walked." in told
    assert "Trees and limbs, not checked: no trees.geojson." in told


def test_crossings_trees_clearing_air_ways_moves_and_proof_have_their_tables(lines: list[Line]) -> None:
    told = _told(lines)
    assert "5.0 15.0 623.2 622.9 621.6 10.0 10.0 1.5 71.0" in told
    assert "a swinging panel hung from end assemblies of its own; the fence ends on an assembly of its own" in told
    assert "1 to go, 1 to limb, 1 to look at, 1 to keep." in told
    trees = [row.split()[0] for row in _rows(lines, "Trees") if row.startswith("T0")]
    assert trees == ["T01", "T02", "T04", "T03"]
    assert "3.1 m left" in told
    clearing = [row.split() for row in _rows(lines, "Clearing, each side")]
    assert ["left", "in", "all", "24"] in clearing or ["left", "in", "all", "25"] in clearing
    assert "2.4 82.0 by hand" in told
    assert "not known none told" in told
    assert "narrow left" in told
    assert "H9, keep-out, line B, posts B004 to B006, 20.0 m to 26.0 m: shift the line: 0.60 m to the right" in told
    assert ["1", "buried", "service", "A025", "0.35", "0.61", "NO"] in [
        row.split() for row in _rows(lines, "Proof of distances: the nearest post to each thing")
    ]


def test_each_kind_flagged_or_not_checked_has_its_page_and_no_other(small_plan: Plan) -> None:
    told = _told(register_lines(small_plan)).partition("What each kind of flag means")[2]
    walked = {share.kind for share in three_answers(small_plan) if share.not_checked_m == 0.0}
    flagged = set(small_plan.hazards["kind"])
    for kind, page in hazard_pages().items():
        assert (page.marked in told) == (kind in flagged or kind not in walked), kind


def test_a_plan_without_flags_says_that_this_is_no_finding(small_plan: Plan) -> None:
    told = _told(register_lines(replace(small_plan, hazards=small_plan.hazards.iloc[:0])))
    assert NO_FLAG in told
    assert "Nothing is listed of: crossings of water; trees;" in told


def test_words_are_large_enough_fit_the_sheet_and_none_is_cut(lines: list[Line]) -> None:
    assert min(line.size for line in lines if line.text) >= 8.5
    assert all(wide_mm(line.text, line.size, line.font) <= ROOM_MM - line.indent_mm + 0.01 for line in lines)
    assert not any("…" in line.text for line in lines)
    assert {line.part for line in lines} == {PART}


def test_a_forest_is_cut_short_and_says_so(register_plan: Plan) -> None:
    many = pd.concat([register_plan.trees] * 150, ignore_index=True)
    forest = finding_lines(replace(register_plan, trees=many), part=PART)
    assert f"{4 * 150 - MOST_ROWS} more rows are in plan.gpkg, layer trees." in _told(forest)
    assert min(line.size for line in forest if line.head) >= LETTERS


def test_the_register_begins_a_sheet_of_its_own_behind_the_key_map(register_plan: Plan) -> None:
    about = [sheet.about for sheet in sheets(register_plan)]
    assert about[about.index("register") - 1] == "key map"
    assert not any(name.startswith("run") for name in about[about.index("register") : about.index("register") + 2])
    assert pages(register_lines(register_plan))[0][0].text == "REGISTER OF HAZARDS"

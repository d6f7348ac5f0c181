"""Numbers and places in words."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis.exports.words import Places, compass, counted, degrees, metres, number, present, runs_of, slope, turn

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def test_numbers() -> None:
    assert number(12345.678) == "12\u202f345.7"
    assert number(-0.04) == "0.0"
    assert number(-2.5) == "\u22122.5"
    assert metres(3.6, 2) == "3.60\u00a0m"
    assert metres(float("nan")) == "not known"
    assert counted(1, "gate") == "1 gate"
    assert counted(1200, "post") == "1\u202f200 posts"


@pytest.mark.parametrize(
    ("bearing", "written", "point"),
    [(0.4, "000°", "N"), (359.6, "000°", "N"), (80.0, "080°", "E"), (225.0, "225°", "SW")],
)
def test_bearings_are_whole_degrees_and_360_is_000(bearing: float, written: str, point: str) -> None:
    assert degrees(bearing) == written
    assert compass(bearing) == point


def test_signs_become_words() -> None:
    assert turn(45.2) == "45° to the right"
    assert turn(-90.0) == "90° to the left"
    assert slope(4.25) == "4.2\u00a0% up"
    assert slope(-0.31) == "0.3\u00a0% down"
    assert slope(0.0) == "level"
    assert slope(float("nan")) == "not known"


@pytest.mark.parametrize("empty", [None, float("nan"), ""])
def test_an_empty_cell_holds_nothing(empty: object) -> None:
    assert not present(empty)


def test_places_go_by_what_stands_there(small_plan: Plan) -> None:
    places = Places(small_plan)
    assert places.ends("A") == ("start of line A", "end of line A")
    assert places.ends("B") == ("junction N1", "end of line B")
    assert places.at("A", 72.0) == "corner AC1"
    assert places.at("A", 27.84) == "gate G1"
    assert places.at("A", 55.0) == "55.0\u00a0m of line A"
    assert places.line("A") == "line A (</script><b>North</b>)"
    assert places.line("A.2") == "line A.2 (</script><b>North</b>)"


def test_a_loop_starts_and_ends_at_one_place(small_plan: Plan) -> None:
    drawn = (replace(small_plan.site.drawn[0], closed=True), small_plan.site.drawn[1])
    loop = Places(replace(small_plan, site=replace(small_plan.site, drawn=drawn)))
    assert loop.ends("A") == ("start and end of loop A",) * 2


def test_a_post_at_a_corner_is_on_the_run_that_begins_there(small_plan: Plan) -> None:
    rows = runs_of(small_plan, small_plan.posts)
    names = dict(zip(small_plan.posts["chainage_m"].where(small_plan.posts["line_id"] == "A"), rows, strict=True))
    assert names[0.0] == 0
    assert names[72.0] == 1
    assert names[120.0] == 1
    assert (rows[(small_plan.posts["line_id"] == "B").to_numpy()] == 2).all()
    assert rows.dtype == np.dtype(int)

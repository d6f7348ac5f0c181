"""Stacks along a plan's lines, and what goes to each."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pytest

from fencegis.quantities.assembly_parts import takes
from fencegis.quantities.drops import drop_table
from fencegis.quantities.plan_places import plan_places
from fencegis.records.spec import Fence
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from fencegis.quantities.assembly_parts import Take

BAY_M = 10.0
FENCE = Fence()


def tables(count: int = 21, *, closed: bool = False, slope: float = 0.0) -> dict[str, pd.DataFrame]:
    """A line of wire A with a post each 10 m, its first and last the ends (or a loop of as many posts)."""
    at = BAY_M * np.arange(count)
    names = [f"A{number:03d}" for number in range(count)]
    posts = pd.DataFrame(
        {
            "line_id": "A", "chainage_m": at, "ground_chainage_m": at, "tape_m": at, "post_id": names, "kind": "line",
            "ground_m": 100.0 + slope * at, "length_m": 1.8, "face_mm": 125.0, "water_l": 10.0, "set_by": "driven",
        }
    )  # fmt: skip
    bays = pd.DataFrame(
        {
            "line_id": "A", "from_m": at[:-1], "to_m": at[1:], "bay_id": names[1:], "from_post": names[:-1],
            "to_post": names[1:], "length_m": BAY_M, "ground_length_m": BAY_M,
        }
    )  # fmt: skip
    run = {
        "line_id": "A", "from_m": 0.0, "to_m": at[-1] + BAY_M * closed, "run_id": "A1", "kind": "straight",
        "length_m": at[-1] + BAY_M * closed, "ground_length_m": at[-1] + BAY_M * closed, "offset_left_m": 0.0,
        "offset_right_m": 0.0,
    }  # fmt: skip
    layers = ("gates", "strainers", "rails", "cuts", "crossings", "spots", "clearing", "trees", "hazards")
    return {
        **{name: empty(name) for name in layers},
        "posts": checked("posts", posts),
        "bays": checked("bays", bays),
        "runs": checked("runs", pd.DataFrame([run])),
    }


def taken(plan: dict[str, pd.DataFrame]) -> list[Take]:
    places = plan_places(plan, kind_of_line={"A": "wire"}, fence=FENCE, existing=None)
    return takes(places, density_kg_m3=1150.0)


def drops(plan: dict[str, pd.DataFrame], carry_m: float, *, closed: bool = False) -> tuple[pd.DataFrame, list[str]]:
    line = SimpleNamespace(line_id="A", closed=closed)
    table, notes = drop_table(taken(plan), plan, lines=[line], carry_m=carry_m)  # type: ignore[list-item]
    return table, [note.text for note in notes]


def hazard(kind: str, from_m: float, to_m: float) -> pd.DataFrame:
    row = {"line_id": "A", "from_m": from_m, "to_m": to_m, "hazard_id": "H1", "kind": kind, "basis": "", "advice": ""}
    return checked("hazards", pd.DataFrame([row]))


def crossing(from_m: float, to_m: float) -> pd.DataFrame:
    row = {
        "line_id": "A", "from_m": from_m, "to_m": to_m, "crossing_id": "X1", "feature": "creek", "kind": "crossing",
        "treatment": "hung curtain", "own_ends": True, "basis": "",
    }  # fmt: skip
    return checked("crossings", pd.DataFrame([row]))


def counted(loads: pd.Series, what: str) -> int:
    """How many pieces of this name the stacks hold, over their lengths."""
    pieces = [part.partition(": ")[2] for load in loads for part in load.split("; ") if part.startswith(what)]
    return sum(int(count.partition(" ")[0]) for piece in pieces for count in piece.split(", "))


def test_two_stacks_serve_two_hundred_metres_at_fifty() -> None:
    """21 posts 10 m apart: each stack serves eleven posts at most, so two do, one in each half."""
    table, _ = drops(tables(), 50.0)
    assert table["drop_id"].tolist() == ["A-D01", "A-D02"]
    assert table["posts"].sum() == 21
    assert table["carry_m"].max() <= 50.0
    assert table["serves_from_m"].tolist() == [0.0, table["serves_to_m"].iloc[0] + BAY_M]
    assert table["water_l"].sum() == 210.0


@pytest.mark.parametrize("carry_m", [0.0, 25.0, 60.0, 500.0])
@pytest.mark.parametrize("closed", [False, True])
def test_all_that_is_carried_arrives_once(carry_m: float, closed: bool) -> None:
    plan = tables(closed=closed)
    table, _ = drops(plan, carry_m, closed=closed)
    carried = [take for take in taken(plan) if take.material.carried]
    assert {take.material.name for take in carried} == {"post", "dropper"}
    assert table["mass_kg"].sum() == pytest.approx(sum(take.mass_kg.sum() for take in carried))
    assert counted(table["load"], "round post") == 21
    assert counted(table["load"], "dropper") == 20
    assert table["posts"].sum() == 21
    assert table["carry_m"].max() <= carry_m


def test_on_a_loop_a_stack_serves_over_the_start() -> None:
    """21 posts in 210 m: two stacks at 55 m, one of which serves posts before and after the line's start."""
    table, _ = drops(tables(closed=True), 55.0, closed=True)
    assert len(table) == 2
    assert (table["serves_from_m"] > table["serves_to_m"]).sum() == 1


def test_stacks_lie_uphill_of_what_they_serve() -> None:
    up, _ = drops(tables(slope=0.05), 110.0)
    down, _ = drops(tables(slope=-0.05), 110.0)
    assert len(up) == len(down) == 1
    assert up["chainage_m"].iloc[0] > 100.0 > down["chainage_m"].iloc[0]
    assert up["above_m"].iloc[0] > 0.0 < down["above_m"].iloc[0]


def test_nothing_is_carried_across_a_creek_with_ends_of_its_own() -> None:
    plan = {**tables(), "crossings": crossing(91.0, 99.0)}
    table, _ = drops(plan, 500.0)
    assert table["serves_to_m"].tolist() == [90.0, 200.0]


def test_a_loop_cut_by_a_creek_is_walked_the_other_way_round() -> None:
    plan = {**tables(closed=True), "crossings": crossing(91.0, 99.0)}
    table, _ = drops(plan, 500.0, closed=True)
    assert table[["serves_from_m", "serves_to_m", "posts"]].to_numpy().tolist() == [[100.0, 90.0, 21]]
    assert counted(table["load"], "round post") == 21


@pytest.mark.parametrize("kind", ["overhead power", "keep-out", "buried service", "crossing"])
def test_no_stack_lies_under_a_power_line_or_where_nobody_may_be(kind: str) -> None:
    free, _ = drops(tables(), 100.0)
    assert free["chainage_m"].tolist() == [100.0]
    table, notes = drops({**tables(), "hazards": hazard(kind, 85.0, 115.0)}, 100.0)
    assert len(table) == 2
    assert not table["chainage_m"].between(85.0, 115.0).any()
    assert not any("out of reach" in note for note in notes)


def test_where_there_is_no_other_place_it_is_said() -> None:
    table, notes = drops({**tables(), "hazards": hazard("keep-out", 0.0, 120.0)}, 50.0)
    assert len(table) == 2
    assert "posts are out of reach of every place where a stack may lie" in notes[0]


def test_what_begins_before_a_stems_first_post_goes_to_its_first_stack() -> None:
    """The post at a junction is another line's: the bay from there still is this line's."""
    plan = tables()
    plan["posts"] = plan["posts"].iloc[1:].reset_index(drop=True)
    table, _ = drops(plan, 50.0)
    assert counted(table["load"].iloc[:1], "dropper") == counted(table["load"].iloc[:1], "round post") + 1


def test_no_posts_no_stacks() -> None:
    plan = tables()
    plan["posts"] = empty("posts")
    table, notes = drops(plan, 50.0)
    assert table.equals(empty("drops"))
    assert notes == []


def test_the_note_says_how_many_and_what_nobody_checked() -> None:
    _, (note,) = drops(tables(), 50.0)
    assert note.startswith("things are set down at 2 places, the fewest with no carry over 50 m (carry_m): on bearers")
    assert note.endswith("nothing under a power line; whether a truck gets there is not checked")

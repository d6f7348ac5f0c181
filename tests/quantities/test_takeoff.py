"""The take-off adds up to the layers that it is summed from."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from fencegis.quantities.takeoff import drawn_line, fence_kinds, takeoff

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


@pytest.fixture(scope="module")
def table(small_plan: Plan) -> pd.DataFrame:
    return takeoff(small_plan)


def quantity(table: pd.DataFrame, item: str) -> float:
    found = table.loc[table["item"] == item, "quantity"]
    assert len(found) == 1, item
    return float(found.iloc[0])


def test_lines_and_runs_each_add_up_to_the_fence(small_plan: Plan, table) -> None:
    whole = quantity(table, "fence, along the ground")
    assert whole == pytest.approx(small_plan.runs["ground_length_m"].sum())
    lines = table[table["item"].str.startswith("fence, line")]
    assert lines["quantity"].sum() == pytest.approx(whole)
    assert table[table["item"].str.startswith("run ")]["quantity"].sum() == pytest.approx(whole)
    assert quantity(table, "fence, in plan") == pytest.approx(180.0)


def test_lines_carry_kind_and_label(table) -> None:
    assert set(table["item"]) >= {"fence, line A, post and rail, boundary", "fence, line B, wire, internal"}


def test_every_post_counts_once(small_plan: Plan, table) -> None:
    parts = table[table["item"].str.startswith("post, ") & (table["item"] != "post, all kinds")]
    assert parts["quantity"].sum() == quantity(table, "post, all kinds") == len(small_plan.posts)
    assert quantity(table, "post, gate, post and rail") == 2
    assert quantity(table, "post, key, wire") == 1


def test_every_strainer_counts_once_by_its_reason(small_plan: Plan, table) -> None:
    held = table["item"].str.startswith(("holding post, ", "strainer, "))
    assert table[held]["quantity"].sum() == len(small_plan.strainers)
    assert quantity(table, "holding post, corner, post and rail") == 1
    assert quantity(table, "strainer, end, wire") == 1


def test_wire_is_wires_by_ground_length_of_the_wire_line(table) -> None:
    """B is 60 m in plan at 5 %, six wires: 6 x 60 x the root of 1.0025."""
    assert quantity(table, "wire, 6 wires") == pytest.approx(6 * 60.0 * 1.0025**0.5)
    assert quantity(table, "dropper") == 12


def test_rails_are_rows_by_ground_length_without_the_gate(small_plan: Plan, table) -> None:
    bays = small_plan.bays[small_plan.bays["line_id"] == "A"]
    assert quantity(table, "rail, 3 rows") == pytest.approx(3 * bays["ground_length_m"].sum())
    assert bays["length_m"].sum() == pytest.approx(120.0 - 3.84)


def test_a_bay_that_is_the_gate_is_not_railed(small_plan: Plan, table) -> None:
    gate = small_plan.bays.iloc[:1].assign(from_m=24.0, to_m=27.84, length_m=3.84, ground_length_m=3.85)
    plan = dataclasses.replace(small_plan, bays=pd.concat([small_plan.bays, gate], ignore_index=True))
    assert quantity(takeoff(plan), "rail, 3 rows") == pytest.approx(quantity(table, "rail, 3 rows"))


def test_what_is_counted_as_level_is_said(small_plan: Plan, table) -> None:
    unknown = small_plan.bays["grade_pct"].isna()
    assert quantity(table, "fence counted as level") == pytest.approx(small_plan.bays["length_m"][unknown].sum())


def test_gates_by_opening_and_corners(small_plan: Plan, table) -> None:
    assert quantity(table, "gate, 3.6 m between post faces") == 1
    assert quantity(table, "corner") == 1
    gates = pd.concat([small_plan.gates, small_plan.gates, small_plan.gates.assign(opening_m=4.2)], ignore_index=True)
    more = takeoff(dataclasses.replace(small_plan, gates=gates))
    assert quantity(more, "gate, 3.6 m between post faces") == 2
    assert quantity(more, "gate, 4.2 m between post faces") == 1


def test_what_is_not_computed_has_no_row(small_plan: Plan) -> None:
    none = {name: getattr(small_plan, name).iloc[:0] for name in ("posts", "bays", "strainers", "gates")}
    table = takeoff(dataclasses.replace(small_plan, **none))
    assert not table["item"].str.startswith(("post", "wire", "rail", "gate", "strainer", "holding", "dropper")).any()
    assert quantity(table, "fence, in plan") == pytest.approx(180.0)


def test_a_plan_of_nothing_is_a_table_of_nothing(small_plan: Plan) -> None:
    none = {name: frame.iloc[:0] for name, frame in small_plan.layers()}
    assert list(takeoff(dataclasses.replace(small_plan, **none)).columns) == ["item", "unit", "quantity", "basis"]
    assert takeoff(dataclasses.replace(small_plan, **none)).empty


def test_parts_of_a_cut_line_are_of_its_kind(small_plan: Plan) -> None:
    assert list(fence_kinds(small_plan.site, ["A", "B", "B.1", "B.12", "new"])) == [
        "post and rail",
        "wire",
        "wire",
        "wire",
        "post and rail",
    ]
    assert drawn_line(small_plan.site, "B.1") is drawn_line(small_plan.site, "B")
    assert drawn_line(small_plan.site, "C") is None


def test_the_plan_is_left_as_it_was(small_plan: Plan) -> None:
    before = {name: frame.copy() for name, frame in small_plan.layers()}
    takeoff(small_plan)
    for name, frame in small_plan.layers():
        assert isinstance(frame, gpd.GeoDataFrame) == ("geometry" in frame)
        pd.testing.assert_frame_equal(pd.DataFrame(frame), pd.DataFrame(before[name]))


def test_rails_by_the_stick_they_come_out_of_and_how_many_bays_they_go_over(small_plan: Plan) -> None:
    rails = pd.DataFrame(
        {"stick": [4.8, 4.8, 4.8, 2.4, np.nan, np.nan], "bays": [2, 2, 1, 1, 2, 2], "row": 1}
        | {"cut_m": [4.6, 4.7, 2.3, 2.2, 5.0, np.nan]}  # the last is the rest of a rail over a loop's start
    )
    table = takeoff(dataclasses.replace(small_plan, rails=rails))
    assert quantity(table, "rail out of 4.8 m, over 2 bays") == 2
    assert quantity(table, "rail out of 4.8 m, over 1 bay") == 1
    assert quantity(table, "rail out of 2.4 m, over 1 bay") == 1
    assert quantity(table, "rail longer than any stock, over 2 bays") == 1


def test_posts_by_stock_length_or_by_the_next_tenth_of_a_metre(small_plan: Plan) -> None:
    count = len(small_plan.posts)
    lengths = np.full(count, 2.31)
    lengths[:2] = 2.4, 2.4001
    stock = np.full(count, np.nan)
    stock[-3:] = 3.0
    table = takeoff(dataclasses.replace(small_plan, posts=small_plan.posts.assign(length_m=lengths, stock_m=stock)))
    assert quantity(table, "post out of 3 m") == 3
    assert quantity(table, "post, 2.4 m or longer") == count - 3
    assert not table["item"].str.startswith("post, 2.5").any()
    (said,) = table.loc[table["item"].eq("post, 2.4 m or longer"), "basis"]
    words = "part of all posts, length as reckoned, rounded up to 0.1 m; stock lengths (post_lengths_m) not given"
    assert said == words


def test_a_post_longer_than_the_stock_on_hand_is_said_to_be(small_plan: Plan) -> None:
    spec = small_plan.site.spec
    fence = spec.fence.model_copy(update={"post_lengths_m": (2.1,)})
    site = dataclasses.replace(small_plan.site, spec=spec.model_copy(update={"fence": fence}))
    posts = small_plan.posts.assign(length_m=2.31, stock_m=np.nan)
    table = takeoff(dataclasses.replace(small_plan, site=site, posts=posts))
    (said,) = table.loc[table["item"].eq("post, 2.4 m or longer"), "basis"]
    assert said.endswith("longer than any stock length given")


def test_a_cap_has_its_metres_its_boards_and_its_own_stock(small_plan: Plan, table) -> None:
    """The cap lies once over every bay that has rails; its sticks are not counted among those of the rails."""
    site = small_plan.site
    fence = site.spec.fence.model_copy(update={"cap_m": (4.8,), "cap_width_mm": 200.0, "cap_thick_mm": 45.0})
    site = dataclasses.replace(site, spec=site.spec.model_copy(update={"fence": fence}))
    rails = pd.DataFrame({"stick": 4.8, "bays": [2, 2, 1], "row": [0, 0, 1], "cut_m": [4.6, 4.5, 2.3]})
    cuts = pd.DataFrame({"stick_id": ["S1", "C1", "C2"], "kind": ["rail", "cap", "cap"], "stick_m": 4.8})
    cuts = cuts.assign(cut_m=4.6, left_m=0.1)
    capped = takeoff(dataclasses.replace(small_plan, site=site, rails=rails, cuts=cuts))
    assert quantity(capped, "cap, 200 x 45 mm") == pytest.approx(quantity(table, "rail, 3 rows") / 3)
    assert quantity(capped, "cap out of 4.8 m, over 2 bays") == 2
    assert quantity(capped, "rail out of 4.8 m, over 1 bay") == 1
    assert quantity(capped, "cap stock of 4.8 m") == 2
    assert quantity(capped, "rail stock of 4.8 m") == 1
    assert not table["item"].str.startswith("cap").any()

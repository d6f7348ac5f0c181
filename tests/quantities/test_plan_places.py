"""The plan's tables as places: what meets where, and what is counted once."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from fencegis.catalogue import rows
from fencegis.line.hanging import curve_length, sag
from fencegis.quantities.piece_sizes import brace_named, hanging_m, nominal_length_m, post_sizes
from fencegis.quantities.plan_places import plan_places
from fencegis.records.spec import Fence
from fencegis.records.tables import checked, empty
from fencegis.strength.wire import bay_sag_m

if TYPE_CHECKING:
    from fencegis.quantities.assembly_parts import Places
    from fencegis.records.plan import Plan

KINDS = {"A": "post and rail", "B": "wire"}


def read(plan: Plan, fence: Fence | None = None, **changed: pd.DataFrame) -> dict[str, Places]:
    """All places by layer and assembly of the first row."""
    tables = {**dict(plan.layers()), **changed}
    found = plan_places(tables, kind_of_line=KINDS, fence=fence or Fence(), existing=None)  # type: ignore[arg-type]
    names = (
        *("post", "hung on", "strainers", "tie-down", "bay", "rails", "sticks", "gate", "crossings", "spots"),
        *("clearing", "trees", "old fence"),
    )
    return dict(zip(names, found, strict=True))


def at(one: Places, line_id: str, chainage_m: float) -> int:
    (place,) = np.flatnonzero((one.line_id == line_id) & (np.abs(one.chainage_m - chainage_m) < 1e-6))
    return int(place)


def test_a_strainer_is_pulled_from_as_many_ways_as_bays_of_wire_meet_there(small_plan: Plan) -> None:
    """B ends at 60 and begins at the rail fence's post at 40 of A, which thereby is a wire's too."""
    found = read(small_plan)["strainers"]
    end, node, corner = at(found, "B", 60.0), at(found, "A", 40.0), at(found, "A", 72.0)
    assert found.measures["pulls"][[end, node, corner]].tolist() == [1.0, 1.0, 0.0]
    assert found.fence[[end, node, corner]].tolist() == ["wire", "wire", "post and rail"]
    assert found.assembly[[end, node, corner]].tolist() == ["end", "junction", "corner"]
    assert found.measures["plain ends"][end] == 6.0


def test_barbed_wires_are_of_the_wires(small_plan: Plan) -> None:
    found = read(small_plan, Fence(wires=5, barbed=2))
    assert found["strainers"].measures["plain ends"].max() == 3.0
    assert found["strainers"].measures["barbed ends"].max() == 2.0
    bays = found["bay"]
    assert bays.measures["barbed wire m"] / bays.measures["plain wire m"] == pytest.approx(2.0 / 3.0)


def test_a_stay_takes_the_place_of_panels(small_plan: Plan) -> None:
    brace = read(small_plan, Fence(brace="double H-brace"))["strainers"]
    assert brace.measures["brace panels"].max() == 2.0
    assert brace.measures["stays"].max() == 0.0
    stay = read(small_plan, Fence(brace="diagonal stay"))["strainers"]
    assert stay.measures["brace panels"].max() == 0.0
    assert stay.measures["stays"].tolist() == stay.measures["pulls"].tolist()


def test_a_wire_is_as_long_as_the_bay_and_what_its_sag_adds(small_plan: Plan) -> None:
    found = read(small_plan, Fence(wires=1))["bay"]
    mine = found.line_id == "B"
    ground_m = small_plan.bays.loc[small_plan.bays["line_id"] == "B", "ground_length_m"].to_numpy()
    hung = found.measures["plain wire m"][mine]
    hangs = bay_sag_m(float(ground_m[0]), diameter_mm=2.5, tension_kn=1.1)
    assert hung[0] == pytest.approx(curve_length(float(ground_m[0]), sag_m=hangs), abs=1e-9)
    assert (hung > ground_m).all()


def test_slack_wire_is_longer_by_the_print_of_the_parabola() -> None:
    """Length and sag of 100 m at a load of 1.5 N/m and 5000 N are printed: 100.00375 m; here by the wire's own load."""
    load_n_m = 0.03853 * 9.80665
    tension_kn = 5.0 * load_n_m / 1.5  # so that sag is that of the print
    assert sag(100.0, load_n_m=load_n_m, tension_n=tension_kn * 1000.0) == pytest.approx(0.375)
    assert hanging_m(np.array([100.0]), tension_kn=tension_kn)[0] == pytest.approx(100.00375, abs=5e-6)


def test_mesh_goes_along_every_bay_when_there_is_one(small_plan: Plan) -> None:
    assert read(small_plan)["bay"].measures["mesh m"].sum() == 0.0
    found = read(small_plan, Fence(mesh_solidity=0.2, mesh_m=0.9))["bay"]
    assert found.measures["mesh m"].sum() == pytest.approx(small_plan.bays["ground_length_m"].sum())
    assert found.sizes["mesh"] == "0.9"


def test_posts_on_hand_are_not_bought_and_those_that_stand_take_nothing(small_plan: Plan) -> None:
    posts = small_plan.posts.assign(hole_mm=300.0, face_mm=175.0, embed_m=0.8, water_l=16.0)
    posts.loc[posts.index[0], "timber_id"] = "T1"
    posts.loc[posts.index[1], ["timber_id", "settled"]] = ["T2", True]
    found = read(small_plan, posts=posts)["post"]
    assert found.measures["posts to buy"][:3].tolist() == [0.0, 0.0, 1.0]
    assert found.measures["posts on hand"][:3].tolist() == [1.0, 0.0, 0.0]
    assert found.measures["water l"][:3].tolist() == [16.0, 0.0, 16.0]
    assert found.measures["backfill m3"][1] == 0.0


@pytest.mark.parametrize(("concrete", "kinds"), [("none", set()), ("ends", {"strainer", "gate"}), ("all", None)])
def test_a_hole_is_filled_with_concrete_where_it_is_asked_for(
    small_plan: Plan, concrete: str, kinds: set[str] | None
) -> None:
    posts = small_plan.posts.assign(hole_mm=300.0, face_mm=240.0, embed_m=0.8)
    posts.loc[posts.index[5], "hole_mm"] = np.nan  # driven
    found = read(small_plan, Fence(concrete=concrete), posts=posts)["post"]  # type: ignore[arg-type]
    ring = math.pi / 4 * (0.3**2 - 0.24**2) * 0.8
    wanted = posts["kind"].isin(kinds).to_numpy(copy=True) if kinds is not None else np.ones(len(posts), dtype=bool)
    wanted[5] = False
    assert found.measures["concrete m3"] == pytest.approx(np.where(wanted, ring, 0.0))
    both = found.measures["concrete m3"] + found.measures["backfill m3"]
    assert both == pytest.approx(np.where(np.arange(len(posts)) == 5, 0.0, ring))


def test_a_rail_meets_a_post_at_each_end_and_one_between(small_plan: Plan) -> None:
    """Four bays, one row: two rails of two bays, or four of one with a butt joint on each post between."""
    long = pd.DataFrame({"line_id": "A", "from_m": [0.0, 4.8], "to_m": [4.8, 9.6], "bays": 2, "cut_m": 4.8})
    short = pd.DataFrame({"line_id": "A", "from_m": [0.0, 2.4, 4.8, 7.2], "to_m": [2.4, 4.8, 7.2, 9.6], "bays": 1})
    for table, met in ((long, 6.0), (short.assign(cut_m=2.4), 8.0)):
        rails = checked("rails", table.assign(rail_id=[f"R{at}" for at in table["from_m"]], row=1))
        found = read(small_plan, Fence(rail_fixings=3), rails=rails)["rails"]
        assert found.measures["posts met"].sum() == met
        assert found.measures["rail fixings"].sum() == 3.0 * met


def test_a_rail_a_gate_and_a_crossing_over_a_loops_start_are_counted_once(small_plan: Plan) -> None:
    span = {"line_id": "A", "from_m": [0.0, 118.0], "to_m": [2.0, 120.0]}
    rails = checked("rails", pd.DataFrame({**span, "rail_id": "R1", "row": 1, "bays": 2, "cut_m": [None, 4.6]}))
    gates = checked("gates", pd.DataFrame({**span, "gate_id": "G1", "opening_m": 3.6}))
    crossing = {"crossing_id": "X1", "feature": "creek", "kind": "crossing", "treatment": "hung curtain"}
    crossings = checked(
        "crossings", pd.DataFrame({**span, **crossing, "own_ends": True, "basis": "", "span_m": 4.0, "drop_m": 1.5})
    )
    found = read(small_plan, rails=rails, gates=gates, crossings=crossings)
    assert found["rails"].measures["posts met"].tolist() == [3.0]
    assert found["gate"].measures["each"].tolist() == [1.0]
    assert found["crossings"].measures["span m2"].tolist() == [6.0]


def test_sticks_are_counted_and_not_pieces(small_plan: Plan) -> None:
    cuts = pd.DataFrame(
        {
            "stick_id": ["S1", "S1", "C1"], "kind": ["rail", "rail", "cap"], "stick_m": [4.8, 4.8, 3.6],
            "place": [1, 2, 1], "rail_id": ["R1", "R2", "C1"], "line_id": "A", "from_m": 0.0, "cut_m": 2.3,
            "left_m": 0.1,
        }
    )  # fmt: skip
    found = read(small_plan, cuts=checked("cuts", cuts))["sticks"]
    assert found.assembly.tolist() == ["rail stick", "cap stick"]
    assert list(found.sizes["own"]) == ["150 x 50 x 4.8", "200 x 50 x 3.6"]


def test_a_leaf_that_nobody_gave_is_its_share_of_the_opening(small_plan: Plan) -> None:
    gates = small_plan.gates.assign(leaf_m=np.nan, leaves=2)
    found = read(small_plan, gates=gates)["gate"]
    assert list(found.sizes["own"]) == ["1.8"]
    assert found.measures["leaves after the first"].tolist() == [1.0]
    assert list(read(small_plan)["gate"].sizes["own"]) == ["3.6"]


def test_old_fence_is_what_is_to_be_pulled(small_plan: Plan) -> None:
    lines = [shapely.LineString([(0, 0), (30, 40)]), shapely.LineString([(0, 0), (7, 0)])]
    old = gpd.GeoDataFrame({"kind": ["pull", "keep"]}, geometry=lines)
    tables = {name: empty(name) for name, _ in small_plan.layers()}
    *_, found = plan_places(tables, kind_of_line={}, fence=Fence(), existing=old)
    assert found.measures["length m"].tolist() == [50.0]


def test_posts_are_bought_in_the_stock_that_reaches_or_the_next_tenth() -> None:
    posts = pd.DataFrame({"length_m": [1.7907, 1.8, 1.8004, 2.31, np.nan], "stock_m": [np.nan] * 3 + [2.7, np.nan]})
    lengths = nominal_length_m(posts)
    assert lengths[:4] == pytest.approx([1.8, 1.8, 1.8, 2.7])
    assert post_sizes(np.array([125.0] * 5), lengths).tolist() == [
        "125 x 1.8", "125 x 1.8", "125 x 1.8", "125 x 2.7", "125 mm, no length",
    ]  # fmt: skip


def test_every_brace_of_the_catalogue_has_its_pieces() -> None:
    for row in rows("assemblies"):
        brace = brace_named(row["assembly"])
        assert brace.panels == int(row["posts"]) - 1
        assert brace.diagonal_m > float(row["rail_m"])
    assert brace_named(Fence().brace).post == "127 x 2.44"
    with pytest.raises(ValueError, match="brace 'guess' is none of diagonal stay, H-brace"):
        brace_named("guess")

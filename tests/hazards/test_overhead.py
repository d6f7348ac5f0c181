"""Conductors: hand-worked distances, unknowns, what may never be called clear, and what is said."""

from __future__ import annotations

import math
import re
from itertools import pairwise
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pytest
import shapely

from fencegis.hazards.overhead import overhead
from fencegis.line.chainage import Line
from fencegis.records.spec import Spec
from fencegis.records.tables import checked

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import SimpleNamespace

    from fencegis.hazards.found import Found

    Layers = Callable[..., gpd.GeoDataFrame]
    Specs = Callable[..., Spec]

ACROSS = [[50.0, -40.0], [50.0, 40.0]]
EXACT = {"half_width_m": 0.0, "height_error_m": 0.0, "swing_m": 0.0}
OWNER = "overhead: owner to be asked before the machine comes"


def texts(found: Found) -> str:
    return "\n".join(note.text for note in found.notes)


def statuses(found: Found, kind: str = "overhead power") -> set[str]:
    return set(found.checks.loc[found.checks["kind"] == kind, "status"])


def tiles(found: Found, line: Line) -> None:
    for _, rows in found.checks.groupby("kind"):
        assert rows["from_m"].iloc[0] == 0.0
        assert rows["to_m"].iloc[-1] == line.length_m
        assert rows["from_m"].iloc[1:].tolist() == rows["to_m"].iloc[:-1].tolist()
        assert (rows["to_m"] - rows["from_m"] >= 0.1 - 1e-9).all()
    assert set(found.checks["kind"]) == {"overhead power", "overhead phone"}
    checked("checks", found.checks)
    checked("hazards", found.hazards.assign(hazard_id="H"))


# --- hand-worked ---------------------------------------------------------------------------------------------------


def test_a_mast_of_four_metres_under_a_line_of_five_point_two_leaves_one_point_two(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    """5.2 m is the least height of a line to 33 kV, HSE Agriculture Information Sheet 8."""
    layer = conductor_layer((ACROSS, {"height_m": 5.2, **EXACT}))
    found = overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec())
    (row,) = found.hazards.itertuples()
    assert row.kind == "overhead power"
    assert (row.clearance_m, row.clearance_given_m) == pytest.approx((1.2, 1.2), abs=1e-6)
    assert row.required_m == 3.0
    # 3 m in space with 1.2 m of it height leaves √(9 − 1.44) in plan, and the reach of 1.5 m reaches that much further.
    half_m = math.sqrt(9.0 - 1.44) + 1.5
    assert (row.from_m, row.to_m) == pytest.approx((50 - half_m, 50 + half_m), abs=0.15)
    assert row.from_m <= 50 - half_m
    assert row.to_m >= 50 + half_m
    tiles(found, straight)


def test_cross_fall_lifts_the_tip(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    """Fall of 30 % over a reach of 1.5 m: the tip stands 0.45 m higher than over the post."""
    beside = [[0.0, 1.5, 6.8], [100.0, 1.5, 6.8]]
    layer = conductor_layer((beside, {"sag_m": 0.0, **EXACT}))
    for grade, given_m in ((0.0, 2.8), (-0.3, 2.8 - 0.45)):
        hazards = overhead([straight], ground=ground.across(grade), layer=layer, spec=exact_spec()).hazards
        assert hazards["clearance_given_m"].tolist() == pytest.approx([given_m], abs=1e-3)


def test_a_wire_below_the_top_but_out_of_reach_is_at_its_plan_distance(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    beside = [[0.0, 3.5], [100.0, 3.5]]
    found = overhead(
        [straight], ground=ground.flat, layer=conductor_layer((beside, {"height_m": 3.0, **EXACT})), spec=exact_spec()
    )
    assert found.hazards["clearance_given_m"].tolist() == pytest.approx([2.0], abs=1e-3)
    inside = conductor_layer(([[0.0, 1.0], [100.0, 1.0]], {"height_m": 3.0, **EXACT}))
    assert overhead([straight], ground=ground.flat, layer=inside, spec=exact_spec()).hazards[
        "clearance_m"
    ].tolist() == [0]


def test_a_span_hangs_lowest_between_its_ends(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    """Along the line overhead, ends 8 m up at 0 and 100 m: with 2 m of sag 6 m in the middle, 6.5 m at a quarter."""
    along = [[0.0, 0.0, 8.0], [100.0, 0.0, 8.0]]
    layer = conductor_layer((along, {"sag_m": 2.0, **EXACT}))
    found = overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec())
    (row,) = found.hazards.itertuples()
    assert row.clearance_given_m == pytest.approx(2.0, abs=1e-3)
    # 7 m up, so 3 m over the machine, where the drop is 1 m: at shares of (1 ± √½) / 2; the disc looks 1.5 m ahead.
    assert row.from_m == pytest.approx(100 * (1 - math.sqrt(0.5)) / 2 - 1.5, abs=0.5)
    assert row.to_m == pytest.approx(100 * (1 + math.sqrt(0.5)) / 2 + 1.5, abs=0.5)


def test_allowances_come_off_plan_and_height_and_the_flag_uses_them(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    beside = [[0.0, 6.0], [100.0, 6.0]]
    spec = exact_spec(boundary={"drawn_from": "walked", "position_error_m": 0.6, "imagery_error_m": 0.8})
    own = {"height_m": 7.0, "half_width_m": 1.1, "height_error_m": 0.75, "swing_m": 0.0}
    layer = conductor_layer((beside, own))
    (row,) = overhead([straight], ground=ground.flat, layer=layer, spec=spec).hazards.itertuples()
    # In plan 6 − 1.5 reach; drawing √(0.36 + 0.64) = 1, twice; half width 1.1. In height 3 m less twice 0.75.
    assert row.clearance_given_m == pytest.approx(math.hypot(4.5, 3.0), abs=1e-3)
    assert row.clearance_m == pytest.approx(math.hypot(4.5 - 3.1, 3.0 - 1.5), abs=1e-3)
    assert row.clearance_sigma_m == pytest.approx(math.hypot(1.0, 0.75))
    assert "taken off: 3.10 m in plan, 1.50 m in height" in row.basis


@pytest.mark.parametrize(
    ("own", "plan_m", "height_m"),
    [
        ({}, 1.2, 1.0),
        ({"voltage_kv": 33.0}, 1.2, 1.0),
        ({"voltage_kv": 33.1}, 6.0, 1.0),
        ({"voltage_kv": math.nan}, 6.0, 1.0),
        ({"height_from": "eye", "height_error_m": 0.2}, 1.2, 1.0),
        ({"height_from": "eye", "height_error_m": 1.5}, 1.2, 1.5),
        ({"height_from": "surveyed", "height_error_m": 0.2, "half_width_m": 0.4}, 0.4, 0.2),
    ],
)
def test_allowances_that_nobody_gave(
    own: dict[str, object],
    plan_m: float,
    height_m: float,
    straight: Line,
    ground: SimpleNamespace,
    conductor_layer: Layers,
    exact_spec: Specs,
) -> None:
    layer = conductor_layer((ACROSS, {"height_m": 6.0, **own}))
    found = overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec())
    assert f"taken off: {plan_m:.2f} m in plan, {2 * height_m:.2f} m in height" in found.hazards["basis"].iloc[0]
    assert ("outer conductor" in texts(found)) == ("half_width_m" not in own)
    assert ("height judged by eye" in texts(found)) == (
        own.get("height_error_m") == 0.2 and own["height_from"] == "eye"
    )


# --- what must hold ------------------------------------------------------------------------------------------------


def least(found: Found) -> float:
    return float(found.hazards["clearance_m"].min()) if len(found.hazards) else math.inf


@pytest.mark.parametrize("seed", range(6))
def test_lowering_a_wire_or_raising_the_machine_never_raises_the_distance(
    seed: int, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    draw = np.random.default_rng(seed)
    line = Line("A", closed=False, corners=draw.uniform(0, 20, (3, 2)))
    wire, level = draw.uniform(-3, 23, (2, 2)).tolist(), ground.bumpy(seed, 0.5)

    def at(height_m: float, machine_m: float, reach_m: float) -> float:
        layer = conductor_layer((wire, {"height_m": height_m, **EXACT}))
        spec = exact_spec(working_height_m=machine_m, reach_m=reach_m)
        return least(overhead([line], ground=level, layer=layer, spec=spec))

    for steps in (
        [at(height_m, 4.0, 1.5) for height_m in (8.0, 7.0, 6.5, 6.0, 5.0, 3.0)],
        [at(6.5, machine_m, 1.5) for machine_m in (3.0, 3.5, 4.0, 5.0, 7.0)],
        [at(6.5, 4.0, reach_m) for reach_m in (0.5, 1.0, 1.6, 2.5)],
    ):
        assert all(after <= before + 0.002 for before, after in pairwise(steps))


def test_removing_the_layer_leaves_everything_not_checked(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    with_it = overhead(
        [straight], ground=ground.flat, layer=conductor_layer((ACROSS, {"height_m": 6.0})), spec=exact_spec()
    )
    assert statuses(with_it) == {"flagged", "clear"}
    without = overhead([straight], ground=ground.flat, layer=None, spec=exact_spec())
    assert statuses(without) == statuses(without, "overhead phone") == {"not checked"}
    assert set(without.checks["basis"]) == {"no overhead.geojson"}
    assert without.hazards.empty
    tiles(without, straight)


@pytest.mark.parametrize(
    "lacking",
    [
        {"walked": {}},
        {"walked": {"overhead": " "}},
        {"walked": {"trees": "yes"}},
        {"machine": None},
        {"machine": {"reach_m": 1.5}},
        {"machine": {"working_height_m": 4.0}},
    ],
)
def test_nothing_is_clear_unless_somebody_walked_and_the_machine_was_taped(
    lacking: dict[str, object], straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    layer = conductor_layer((ACROSS, {"height_m": 6.0}))
    assert statuses(overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec())) == {"flagged", "clear"}
    found = overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec(**lacking))
    assert statuses(found) == {"flagged", "not checked"}
    assert statuses(found, "overhead phone") == {"not checked"}
    tiles(found, straight)


def test_no_elevation_raises_flags_and_clears_nothing(
    straight: Line, conductor_layer: Layers, exact_spec: Specs, ground: SimpleNamespace
) -> None:
    layer = conductor_layer((ACROSS, {"height_m": 5.2, **EXACT}))
    flat = overhead([straight], ground=None, layer=layer, spec=exact_spec())
    known = overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec())
    assert flat.hazards["clearance_m"].tolist() == pytest.approx(known.hazards["clearance_m"].tolist())
    assert statuses(flat) == {"flagged", "not checked"}
    assert "no ground heights" in flat.checks["basis"].iloc[0]
    assert "ground taken as flat" in flat.hazards["basis"].iloc[0]


def test_where_ground_is_missing_a_height_above_ground_still_flags_and_nothing_is_clear(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    hole = ground.missing(40.0, 70.0)
    found = overhead(
        [straight], ground=hole, layer=conductor_layer((ACROSS, {"height_m": 5.2, **EXACT})), spec=exact_spec()
    )
    assert found.hazards["clearance_m"].tolist() == pytest.approx([1.2], abs=1e-6)
    rows = found.checks[found.checks["kind"] == "overhead power"]
    changes = rows["status"][rows["status"] != rows["status"].shift()]
    assert changes.tolist() == ["clear", "not checked", "flagged", "not checked", "clear"]
    assert rows["to_m"].iloc[0] <= 40.0
    assert rows["from_m"].iloc[-1] >= 70.0
    tiles(found, straight)


def test_attachments_over_missing_ground_are_not_checked(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    wire = [[50.0, -40.0, 5.2], [50.0, 40.0, 5.2]]
    found = overhead(
        [straight],
        ground=ground.missing(30.0, 70.0),
        layer=conductor_layer((wire, {"sag_m": 0.0, **EXACT})),
        spec=exact_spec(),
    )
    assert found.hazards.empty
    rows = found.checks[found.checks["kind"] == "overhead power"]
    assert rows.loc[(rows["from_m"] < 50) & (rows["to_m"] > 50), "status"].tolist() == ["not checked"]
    assert any("near, and no ground height here" in basis for basis in rows["basis"])
    tiles(found, straight)


# --- what is not known ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wire", "own", "doubt"),
    [
        (ACROSS, {}, "height unknown"),
        ([[50.0, -40.0, 9.0], [50.0, 40.0, 9.0]], {}, "sag unknown"),
    ],
)
def test_an_unknown_height_or_sag_is_flagged_by_plan_distance(
    wire: list[list[float]],
    own: dict[str, object],
    doubt: str,
    straight: Line,
    ground: SimpleNamespace,
    conductor_layer: Layers,
    exact_spec: Specs,
) -> None:
    spec = exact_spec(boundary={"drawn_from": "walked", "position_error_m": 1.0})
    found = overhead([straight], ground=ground.flat, layer=conductor_layer((wire, own)), spec=spec)
    (row,) = found.hazards.itertuples()
    assert row.basis.startswith(f"{doubt}; overhead.geojson, feature 1")
    assert math.isnan(row.clearance_m)
    assert math.isnan(row.clearance_given_m)
    assert math.isnan(row.clearance_sigma_m)
    # Reach, half width, twice the drawing, the rule; 80 m of span sag by 3 % of it and swing out by sin 60° of that.
    half_m = 1.5 + 1.2 + 2.0 + 3.0 + 80.0 * 0.03 * math.sqrt(0.75)
    assert (row.from_m, row.to_m) == pytest.approx((50 - half_m, 50 + half_m), abs=0.01)
    assert f"{doubt}: everything near it is flagged" in texts(found)
    tiles(found, straight)


def test_attachments_without_elevation_are_of_unknown_height(
    straight: Line, conductor_layer: Layers, exact_spec: Specs
) -> None:
    wire = [[50.0, -40.0, 320.0], [50.0, 40.0, 320.0]]
    found = overhead([straight], ground=None, layer=conductor_layer((wire, {"sag_m": 0.5})), spec=exact_spec())
    assert found.hazards["basis"].iloc[0].startswith("height unknown")


def test_a_height_above_ground_serves_where_the_sag_is_unknown(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    wire = [[50.0, -40.0, 9.0], [50.0, 40.0, 9.0]]
    found = overhead(
        [straight], ground=ground.flat, layer=conductor_layer((wire, {"height_m": 6.0, **EXACT})), spec=exact_spec()
    )
    assert found.hazards["clearance_given_m"].tolist() == pytest.approx([2.0], abs=1e-3)


def test_an_unknown_voltage_takes_its_own_row(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    layer = conductor_layer((ACROSS, {"height_m": 9.0, "voltage_kv": math.nan}))
    for rule_set, required_m in (("nsw-2006", 8.0), ("osha-1926-1408", 15.24), ("qld", 10.0), ("wa-2022", 6.0)):
        found = overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec(rules={"approach": rule_set}))
        assert found.hazards["required_m"].tolist() == [required_m]
        assert "voltage unknown" in found.hazards["rule"].iloc[0]
    assert "voltage unknown" in texts(found)


def test_above_a_tables_last_number_the_owner_sets_the_distance(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    spec = exact_spec(rules={"approach": "osha-1926-1408"})
    layer = conductor_layer((ACROSS, {"height_m": 30.0, "voltage_kv": 1100.0, **EXACT, "half_width_m": 8.0}))
    (row,) = overhead([straight], ground=ground.flat, layer=layer, spec=spec).hazards.itertuples()
    assert math.isnan(row.required_m)
    assert row.clearance_given_m == pytest.approx(26.0, abs=1e-3)
    half_m = 1.5 + 8.0 + 15.24  # reach, half width, the set's largest number
    assert (row.from_m, row.to_m) == pytest.approx((50 - half_m, 50 + half_m), abs=0.01)
    assert "distance to be set by the line's owner" in row.rule


def test_a_phone_line_asks_for_one_metre(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    own = {"kind": "phone", "height_m": 4.7, "voltage_kv": math.nan, **EXACT}
    found = overhead([straight], ground=ground.flat, layer=conductor_layer((ACROSS, own)), spec=exact_spec())
    (row,) = found.hazards.itertuples()
    assert (row.kind, row.required_m) == ("overhead phone", 1.0)
    assert statuses(found) == {"clear"}
    assert statuses(found, "overhead phone") == {"flagged", "clear"}


def test_a_feature_that_is_no_line_takes_back_every_clear(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    layer = conductor_layer(([[500.0, 0.0], [500.0, 9.0]], {"height_m": 6.0}), ([[0.0, 900.0], [9.0, 900.0]], {}))
    assert statuses(overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec())) == {"clear"}
    layer.geometry = [layer.geometry.iloc[0], None]
    found = overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec())
    assert statuses(found) == {"not checked"}
    assert "cannot be placed" in found.checks["basis"].iloc[0]


def test_with_the_sag_unknown_the_usual_sag_is_told_and_the_flag_stays(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    """Ends 9 m up at 100 m: 3 % of sag leaves 6 m in the middle, 2 m over the machine; 40 m up it leaves 33 m."""
    for ends_m, left in ((9.0, "2.00 m"), (40.0, "more than 30 m")):
        wire = [[50.0, -50.0, ends_m], [50.0, 50.0, ends_m]]
        found = overhead([straight], ground=ground.flat, layer=conductor_layer((wire, EXACT)), spec=exact_spec())
        (row,) = found.hazards.itertuples()
        assert row.basis.startswith("sag unknown; ")
        assert (
            f"with a sag of 3% of each span (common practice), which nobody measured, {left} would be left" in row.basis
        )
        assert "flagged all the same" in row.basis
        assert math.isnan(row.clearance_m)
        assert row.to_m - row.from_m == pytest.approx(2 * (1.5 + 3.0), abs=0.01)


# --- swing ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("own", "swing_m", "said"),
    [
        ({"swing_m": 1.5}, 1.5, "swing 1.5 m in mid span, as given"),
        ({"sag_m": 1.0}, math.sqrt(0.75), "swing up to 0.9 m sideways in wind, 60° at a sag of 1 m"),
        ({}, 80.0 * 0.03 * math.sqrt(0.75), "swing up to 2.1 m sideways in wind, 60° at a sag of 3% of each span"),
        ({"swing_m": 0.0}, 0.0, ""),
    ],
)
def test_wind_swings_a_conductor_out_in_mid_span(
    own: dict[str, object],
    swing_m: float,
    said: str,
    ground: SimpleNamespace,
    conductor_layer: Layers,
    exact_spec: Specs,
) -> None:
    """A line that stops 4 m short of mid span of a wire of 80 m, level with the machine's top: 2.5 m as given."""
    line = Line("A", closed=False, corners=np.array([[0.0, 0.0], [46.0, 0.0]]))
    layer = conductor_layer((ACROSS, {"height_m": 4.0, **EXACT, "swing_m": math.nan, **own}))
    (row,) = overhead([line], ground=ground.flat, layer=layer, spec=exact_spec()).hazards.itertuples()
    assert row.clearance_given_m == pytest.approx(2.5, abs=1e-3)
    assert row.clearance_m == pytest.approx(2.5 - swing_m, abs=2e-3)
    assert (f"taken off in plan besides: {said}" in row.basis) if said else ("swing" not in row.basis)


def test_a_conductor_swings_less_near_its_poles(
    ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    """At an eighth of the span the sag, and so the swing, is 7/16 of that in the middle: 0.7 of 1.6 m."""
    line = Line("A", closed=False, corners=np.array([[0.0, -30.0], [46.0, -30.0]]))
    layer = conductor_layer((ACROSS, {"height_m": 4.0, **EXACT, "swing_m": 1.6}))
    (row,) = overhead([line], ground=ground.flat, layer=layer, spec=exact_spec()).hazards.itertuples()
    # The tip reaches 1.5 m out and a little along, to where it swings a little more.
    assert 2.5 - 0.7 - 0.02 < row.clearance_m < 2.5 - 0.7


def test_where_poles_are_not_drawn_a_long_stretch_swings_as_one_longest_span(
    ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    """5 km between two vertices are no span: 200 m is the longest taken between poles, and its middle is anywhere."""
    line = Line("A", closed=False, corners=np.array([[0.0, -2000.0], [40.0, -2000.0]]))
    wire = [[50.0, -2500.0], [50.0, 2500.0]]
    layer = conductor_layer((wire, {"height_m": 4.0, **EXACT, "swing_m": math.nan}))
    swing_m = 200.0 * 0.03 * math.sqrt(0.75)
    (row,) = overhead([line], ground=ground.flat, layer=layer, spec=exact_spec(reach_m=3.0)).hazards.itertuples()
    assert row.clearance_m == pytest.approx(7.0 - swing_m, abs=1e-3)


# --- handling ------------------------------------------------------------------------------------------------------


def test_what_is_lifted_higher_than_the_machine_has_rows_of_its_own(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    """A rail of 4.8 m on end with its foot at 1 m is 5.8 m up: under a line at 8 m 2.2 m are left, the machine's 4."""
    layer, spec = conductor_layer((ACROSS, {"height_m": 8.0, **EXACT})), exact_spec(fence={"rail_m": (3.6, 4.8)})
    found = overhead([straight], ground=ground.flat, layer=layer, spec=spec, kinds=["post and rail"])
    (row,) = found.hazards.itertuples()
    assert row.clearance_given_m == pytest.approx(2.2, abs=1e-3)
    assert row.basis.startswith("nearer than the machine: a rail or board of 4.8 m lifted on end, 5.8 m up; ")
    assert "2.20 m left after allowances for a rail or board of 4.8 m lifted on end" in row.basis
    assert "counts besides the machine (common practice), to raise flags only" in texts(found)
    assert found.checks["basis"].str.contains("rail or board").any()
    assert len(overhead([straight], ground=ground.flat, layer=layer, spec=spec, kinds=["wire"]).hazards) == 0


def test_both_are_told_where_both_come_too_near(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    layer, spec = conductor_layer((ACROSS, {"height_m": 6.0, **EXACT})), exact_spec(fence={"rail_m": (4.8,)})
    machine, rail = overhead(
        [straight], ground=ground.flat, layer=layer, spec=spec, kinds=["post and rail"]
    ).hazards.itertuples()
    assert (machine.clearance_m, rail.clearance_m) == pytest.approx((2.0, 0.2), abs=1e-3)
    assert "2.00 m left after allowances for a machine of 4 m, 3 m asked for" in machine.basis


def test_wire_that_flies_up_counts_where_the_machine_is_low(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    layer = conductor_layer((ACROSS, {"height_m": 6.5, **EXACT}))
    (row,) = overhead(
        [straight], ground=ground.flat, layer=layer, spec=exact_spec(working_height_m=3.0)
    ).hazards.itertuples()
    assert row.clearance_m == pytest.approx(2.5, abs=1e-3)
    assert "wire that flies up while it is run out or strained, 4 m up" in row.basis


def test_by_hand_what_is_handled_is_the_envelope(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    layer = conductor_layer((ACROSS, {"height_m": 6.5, **EXACT}))
    found = overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec(machine={"kind": "by hand"}))
    (row,) = found.hazards.itertuples()
    assert row.clearance_m == pytest.approx(2.5, abs=1e-3)
    assert statuses(found) == {"flagged", "not checked"}


# --- poles ---------------------------------------------------------------------------------------------------------


def test_poles_alone_are_joined_by_us_and_nothing_is_called_clear(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    layer = conductor_layer(*[(ACROSS, {"height_m": 5.2, **EXACT})] * 3)
    layer.geometry = [shapely.Point(50.0, north) for north in (-90.0, 70.0, -10.0)]
    found = overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec())
    (row,) = found.hazards.itertuples()
    assert row.clearance_m == pytest.approx(1.2, abs=1e-3)
    assert "assumed: poles joined by us: 3, each to those next to it" in row.basis
    assert statuses(found) == {"flagged", "not checked"}
    assert statuses(found, "overhead phone") == {"not checked"}
    assert "3 poles joined by us, look up: each joined to those next to it up to 200 m apart" in texts(found)
    tiles(found, straight)


def test_an_isolated_pole_is_flagged_at_the_pole(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    layer = conductor_layer((ACROSS, {"height_m": 9.0, **EXACT}))
    layer.geometry = [shapely.Point(50.0, 2.0)]
    found = overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec())
    (row,) = found.hazards.itertuples()
    assert row.basis.startswith("a pole, and no line to it; ")
    assert math.isnan(row.clearance_m)
    assert row.to_m - row.from_m == pytest.approx(2.0 * math.sqrt(4.5**2 - 2.0**2), abs=0.02)
    assert statuses(found) == {"flagged", "not checked"}
    assert "only what is near the pole itself is flagged" in texts(found)
    tiles(found, straight)


# --- what is said --------------------------------------------------------------------------------------------------


def test_a_person_reads_what_was_found_where_and_who_walked(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    nothing = conductor_layer()
    found = overhead([straight], ground=ground.flat, layer=nothing, spec=exact_spec())
    said = "none found in overhead.geojson (0 features) — walked 2026-03-04, along the whole line"
    assert found.checks["basis"].tolist() == [said, said]
    found = overhead([straight], ground=ground.flat, layer=nothing, spec=exact_spec(walked={}))
    assert found.checks["basis"].tolist() == ["none found in overhead.geojson (0 features) — not walked"] * 2


def test_no_printed_word_reads_as_permission(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    layer = conductor_layer(
        (ACROSS, {"height_m": 6.0}),
        ([[20.0, -9.0], [20.0, 9.0]], {"voltage_kv": math.nan}),
        ([[80.0, -9.0], [80.0, 9.0]], {"kind": "phone"}),
        ([[0.0, 20.0], [100.0, 20.0]], {"voltage_kv": 1200.0}),
    )
    for rules in ({}, *({"approach": one} for one in ("nsw-2006", "osha-1926-1408", "qld", "wa-2022"))):
        found = overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec(rules=rules, machine=None))
        printed = [texts(found), *found.checks["basis"], *found.hazards[["rule", "basis", "advice"]].to_numpy().ravel()]
        assert len(found.hazards) >= 3
        assert not re.search(r"clear|safe|permit", "\n".join(printed), re.IGNORECASE)


def test_advice_defers_to_owner_code_and_licensed_people(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    layer = conductor_layer((ACROSS, {"height_m": 6.0}), (ACROSS, {"height_m": 5.0, "kind": "phone"}))
    for advice in overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec()).hazards["advice"]:
        assert all(word in advice for word in ("owner", "local code", "licensed"))


def test_a_line_lower_than_any_may_hang_is_told(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    for height_m, voltage_kv, told in ((5.1, 11.0, True), (5.2, 11.0, False), (6.6, 66.0, True), (5.1, math.nan, True)):
        layer = conductor_layer((ACROSS, {"height_m": height_m, "voltage_kv": voltage_kv}))
        said = texts(overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec()))
        assert ("is lower than a line of its voltage may hang" in said) is told


@pytest.mark.parametrize(("east_m", "told"), [(50.0, True), (61.0, True), (65.0, False)])
def test_a_delivery_comes_through_a_gate_under_a_line(
    east_m: float,
    told: bool,
    straight: Line,
    ground: SimpleNamespace,
    conductor_layer: Layers,
    exact_spec: Specs,
) -> None:
    """10 m from half an opening of 4 m, nothing else taken off."""
    gates = gpd.GeoDataFrame({"feature": ["feature 1"], "opening_m": [4.0]}, geometry=[shapely.Point(east_m, 0.0)])
    found = overhead(
        [straight],
        ground=ground.flat,
        layer=conductor_layer((ACROSS, {"height_m": 20.0, **EXACT})),
        spec=exact_spec(),
        gates=gates,
    )
    notes = [note for note in found.notes if "delivery truck with a crane or a tipping body" in note.text]
    assert len(notes) == told
    if told:
        assert (notes[0].line_id, notes[0].chainage_m) == ("A", pytest.approx(east_m))


def test_the_height_on_the_way_is_not_used(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    spec = exact_spec(machine={"working_height_m": 4.0, "reach_m": 1.5, "travel_height_m": 2.5})
    layer = conductor_layer((ACROSS, {"height_m": 5.2, **EXACT}))
    assert "counts as up at work as well, not as at 2.5 m on its way there" in texts(
        overhead([straight], ground=ground.flat, layer=layer, spec=spec)
    )


@pytest.mark.parametrize(
    ("support", "away_m", "asked"),
    [
        ("pole", 10.1, True),
        ("pole", 10.3, False),
        (None, 10.1, True),
        (None, 10.3, False),
        ("tower", 16.1, True),
        ("tower", 16.3, False),
    ],
)
def test_the_owner_is_asked_whatever_the_arithmetic_says(
    support: str | None,
    away_m: float,
    asked: bool,
    straight: Line,
    ground: SimpleNamespace,
    conductor_layer: Layers,
    exact_spec: Specs,
) -> None:
    """Within 9 m in plan of the outer conductor of a pole line, 15 m of a tower line; it stands off 1.2 m."""
    wire = [[30.0, away_m], [60.0, away_m]]
    layer = conductor_layer((wire, {"height_m": 40.0, "half_width_m": 1.2, "support": support}))
    found = overhead([straight], ground=ground.flat, layer=layer, spec=exact_spec())
    assert found.hazards.empty
    notes = [note for note in found.notes if note.text.startswith(OWNER)]
    assert len(notes) == asked
    if asked:
        (note,) = notes
        assert (note.severity, note.line_id) == ("doubt", "A")
        assert note.chainage_m == pytest.approx(30.0, abs=2.0)


def test_every_flag_has_its_owner_asked(
    straight: Line, ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    spec = exact_spec(boundary={"drawn_from": "imagery"})
    layer = conductor_layer(([[0.0, 11.5], [100.0, 11.5]], {"voltage_kv": 11.0}))
    found = overhead([straight], ground=ground.flat, layer=layer, spec=spec)
    assert len(found.hazards) == 1
    assert OWNER in texts(found)


def test_what_was_assumed_is_noted(straight: Line, ground: SimpleNamespace, conductor_layer: Layers) -> None:
    layer = conductor_layer((ACROSS, {"height_m": 6.0}))
    said = texts(overhead([straight], ground=ground.flat, layer=layer, spec=Spec()))
    for words in (
        "working height 5.2 m and reach 2 m assumed",
        "no rule chosen",
        "outer conductor 1.2 m off the drawn line",
        "height good to 1 m",
        "taken as bare",
    ):
        assert words in said
    spec = Spec.model_validate({"rules": {"approach": "nsw-2006"}})
    said = texts(overhead([straight], ground=ground.flat, layer=layer, spec=spec))
    assert "read second hand" in said
    assert "the code's own table was not seen" in said


# --- lines ---------------------------------------------------------------------------------------------------------


def test_a_hazard_over_a_loops_start_is_two_rows_with_one_index(
    ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    loop = Line("L", closed=True, corners=np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 60.0], [0.0, 60.0]]))
    wire = [[0.0, -30.0], [0.0, 10.0]]
    other = [[40.0, -10.0], [40.0, 10.0]]
    layer = conductor_layer((wire, {"height_m": 5.2, **EXACT}), (other, {"height_m": 5.2, **EXACT}))
    found = overhead([loop], ground=ground.flat, layer=layer, spec=exact_spec())
    rows = found.hazards
    assert rows["to_m"].max() == loop.length_m == 240.0
    assert rows.index.tolist() == [0, 0, 1]
    tiles(found, loop)


def test_each_line_has_its_own_rows(ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs) -> None:
    lines = [
        Line(name, closed=False, corners=np.array([[0.0, north], [100.0, north]]))
        for name, north in (("A", 0.0), ("B", 20.0))
    ]
    found = overhead(
        lines, ground=ground.flat, layer=conductor_layer((ACROSS, {"height_m": 5.2, **EXACT})), spec=exact_spec()
    )
    assert found.hazards["line_id"].tolist() == ["A", "B"]
    assert found.hazards["from_m"].iloc[0] == pytest.approx(found.hazards["from_m"].iloc[1], abs=1e-6)
    assert set(found.checks["line_id"]) == {"A", "B"}


def test_turning_and_moving_a_site_changes_nothing(
    ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    corners, wire = np.array([[0.0, 0.0], [40.0, 0.0], [55.0, 30.0]]), np.array([[20.0, -20.0], [60.0, 25.0]])
    found = []
    for turn, move in ((0.0, 0.0), (1.1, 50_000.0)):
        spin = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
        layer = conductor_layer(((wire @ spin + move).tolist(), {"height_m": 6.0, **EXACT}))
        line = Line("A", closed=False, corners=corners @ spin + move)
        found.append(overhead([line], ground=ground.flat, layer=layer, spec=exact_spec()).hazards)
    numbers = ["from_m", "to_m", "clearance_m", "clearance_given_m"]
    assert found[0][numbers].to_numpy() == pytest.approx(found[1][numbers].to_numpy(), abs=0.1)


def test_a_long_line_is_measured_in_blocks_and_reported_whole(
    ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    """450 m beside a wire that comes nearest near its far end."""
    line = Line("A", closed=False, corners=np.array([[0.0, 0.0], [450.0, 0.0]]))
    layer = conductor_layer(([[-10.0, 4.2], [420.0, 2.5], [500.0, 4.2]], {"height_m": 5.0, **EXACT}))
    (row,) = overhead([line], ground=ground.flat, layer=layer, spec=exact_spec()).hazards.itertuples()
    assert (row.from_m, row.to_m) == (0.0, 450.0)
    assert row.clearance_given_m == pytest.approx(math.hypot(1.0, 1.0), abs=2e-3)
    assert "least at 42" in row.basis


def test_many_conductors_far_away_cost_little(
    ground: SimpleNamespace, conductor_layer: Layers, exact_spec: Specs
) -> None:
    """No heights are asked for away from conductors but to see whether there is ground at all."""
    angle = np.linspace(0.0, 2.0 * np.pi, 400, endpoint=False)
    loop = Line("L", closed=True, corners=4775.0 * np.column_stack([np.cos(angle), np.sin(angle)]))
    layer = conductor_layer(*[([[5200.0 + 9 * step, -3000.0], [5200.0, 3000.0]], {}) for step in range(20)])
    asked: list[int] = []

    def counted(points: np.ndarray) -> np.ndarray:
        asked.append(len(points))
        return np.zeros(len(points))

    found = overhead([loop], ground=counted, layer=layer, spec=exact_spec())
    assert statuses(found) == {"clear"}
    assert sum(asked) < 13_000
    found = overhead([loop], ground=counted, layer=layer, spec=exact_spec(walked={}))
    assert sum(asked) < 13_000
    assert shapely.LineString(loop.path).length == pytest.approx(30_000, rel=0.01)

"""Limbs: hand-worked distances, unknowns, dead trees, and what may never be called clear."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from fencegis.hazards.limbs import limbs
from fencegis.line.chainage import Line, points_at
from fencegis.records.spec import Spec

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import SimpleNamespace

    import geopandas as gpd

    from fencegis.hazards.found import Found

    Layers = Callable[..., gpd.GeoDataFrame]
    Specs = Callable[..., Spec]

OVER = shapely.Point(50.0, 3.0)
OFF_M = 2.0  # taken off a limb's height: two standard errors of a metre


def statuses(found: Found) -> set[str]:
    return set(found.checks["status"])


def tiles(found: Found, line: Line) -> None:
    rows = found.checks
    assert set(rows["kind"]) == {"tree limb"}
    assert (rows["from_m"].iloc[0], rows["to_m"].iloc[-1]) == (0.0, line.length_m)
    assert rows["from_m"].iloc[1:].tolist() == rows["to_m"].iloc[:-1].tolist()


def test_a_limb_over_the_machine_is_at_its_height_over_the_top(
    straight: Line, ground: SimpleNamespace, tree_layer: Layers, exact_spec: Specs
) -> None:
    """A limb 6 m up over a machine of 4.0 m: 2 m as given; it may be 2 m lower."""
    layer = tree_layer((OVER, {"limb_m": 6.0, "height_m": 15.0, "spread_m": 8.0}))
    (row,) = limbs([straight], ground=ground.flat, layer=layer, spec=exact_spec()).hazards.itertuples()
    assert (row.kind, row.required_m) == ("tree limb", 0.5)
    assert row.clearance_given_m == pytest.approx(2.0, abs=1e-6)
    assert row.clearance_m == pytest.approx(2.0 - OFF_M, abs=1e-6)
    # The crown has a radius of 4 m and stands 3 m off: with half a metre and the reach, √(6² − 3²) each way.
    half_m = math.sqrt((4.0 + 0.5 + 1.5) ** 2 - 9.0)
    assert (row.from_m, row.to_m) == pytest.approx((50 - half_m, 50 + half_m), abs=0.5)


def test_a_limb_beside_the_machine_is_at_its_plan_distance(
    straight: Line, ground: SimpleNamespace, tree_layer: Layers, exact_spec: Specs
) -> None:
    beside = shapely.Point(50.0, 6.8)
    layer = tree_layer((beside, {"limb_m": 2.0, "height_m": 15.0, "spread_m": 10.0}))
    found = limbs([straight], ground=ground.flat, layer=layer, spec=exact_spec())
    assert found.hazards["clearance_given_m"].tolist() == pytest.approx([6.8 - 5.0 - 1.5], abs=1e-3)


def test_heights_are_above_the_ground_at_the_tree(
    straight: Line, ground: SimpleNamespace, tree_layer: Layers, exact_spec: Specs
) -> None:
    """Ground rising 30 % to the left: the tree's foot is 0.9 m up, and the machine's tip 0.45 m."""
    layer = tree_layer((OVER, {"limb_m": 5.0, "height_m": 15.0, "spread_m": 20.0}))
    found = limbs([straight], ground=ground.across(-0.3), layer=layer, spec=exact_spec())
    assert found.hazards["clearance_given_m"].tolist() == pytest.approx([0.9 + 5.0 - 0.45 - 4.0], abs=1e-3)


def test_a_stand_has_its_limbs_above_the_ground_under_them(
    straight: Line, ground: SimpleNamespace, tree_layer: Layers, exact_spec: Specs
) -> None:
    wood = shapely.box(20.0, -5.0, 80.0, 60.0)
    layer = tree_layer((wood, {"limb_m": 5.0, "height_m": 15.0}))
    (row,) = limbs([straight], ground=ground.across(-0.3), layer=layer, spec=exact_spec()).hazards.itertuples()
    assert row.clearance_given_m == pytest.approx(1.0, abs=1e-3)
    assert (row.from_m, row.to_m) == pytest.approx((20 - 2.0, 80 + 2.0), abs=0.5)


def test_a_tree_that_stays_below_is_no_limb_overhead(straight: Line, tree_layer: Layers, exact_spec: Specs) -> None:
    """A shrub of 2 m at the foot of a bank of 8 m."""

    def bank(points: np.ndarray) -> np.ndarray:
        return np.where(points[:, 1] > 2.0, -8.0, 0.0)

    layer = tree_layer((OVER, {"limb_m": 0.5, "height_m": 2.0, "spread_m": 6.0}))
    assert limbs([straight], ground=bank, layer=layer, spec=exact_spec(reach_m=1.0)).hazards.empty


def test_a_limb_of_unknown_height_is_flagged_by_plan_distance(
    straight: Line, ground: SimpleNamespace, tree_layer: Layers, exact_spec: Specs
) -> None:
    layer = tree_layer((OVER, {"height_m": 15.0, "spread_m": 8.0}))
    (row,) = limbs([straight], ground=ground.flat, layer=layer, spec=exact_spec()).hazards.itertuples()
    assert row.basis.startswith("height unknown; trees.geojson, feature 1")
    assert math.isnan(row.clearance_m)
    assert math.isnan(row.clearance_given_m)
    half_m = math.sqrt((4.0 + 0.5 + 1.5) ** 2 - 9.0)
    assert (row.from_m, row.to_m) == pytest.approx((50 - half_m, 50 + half_m), abs=0.5)


def test_a_dead_tree_is_flagged_however_high_its_limbs(
    straight: Line, ground: SimpleNamespace, tree_layer: Layers, exact_spec: Specs
) -> None:
    own = {"limb_m": 12.0, "height_m": 20.0, "spread_m": 8.0}
    alive = limbs([straight], ground=ground.flat, layer=tree_layer((OVER, own)), spec=exact_spec())
    assert alive.hazards.empty
    layer = tree_layer((OVER, {**own, "dead": True}))
    (row,) = limbs([straight], ground=ground.flat, layer=layer, spec=exact_spec()).hazards.itertuples()
    assert (row.clearance_m, row.clearance_given_m) == pytest.approx((0.0, 8.0), abs=1e-6)
    assert row.advice.startswith("Dead tree: driving shakes limbs down")
    assert "dead tree counted down to the ground" in row.basis


@pytest.mark.parametrize(("own", "spread_m"), [({"height_m": 12.0}, 12.0), ({}, 10.0)])
def test_an_unknown_spread_raises_a_flag_and_takes_back_a_clear(
    own: dict[str, object],
    spread_m: float,
    straight: Line,
    ground: SimpleNamespace,
    tree_layer: Layers,
    exact_spec: Specs,
) -> None:
    tree = shapely.Point(50.0, 0.0)
    found = limbs([straight], ground=ground.flat, layer=tree_layer((tree, {"limb_m": 3.0, **own})), spec=exact_spec())
    (row,) = found.hazards.itertuples()
    assert math.isnan(row.clearance_given_m)
    assert row.clearance_m == 0.0
    assert f"assumed: spread {spread_m:g} m across" in row.basis
    half_m = spread_m / 2.0 + 0.5 + 1.5
    assert (row.from_m, row.to_m) == pytest.approx((50 - half_m, 50 + half_m), abs=0.5)
    assert found.checks["status"].tolist() == ["clear", "not checked", "flagged", "not checked", "clear"]
    assert found.checks["to_m"].iloc[0] == pytest.approx(50 - half_m - spread_m / 2.0, abs=0.5)
    tiles(found, straight)


@pytest.mark.parametrize("lacking", [{"walked": {"overhead": "yes"}}, {"machine": None}, {"machine": {"reach_m": 1.0}}])
def test_nothing_is_clear_unless_somebody_walked_and_the_machine_was_taped(
    lacking: dict[str, object], straight: Line, ground: SimpleNamespace, tree_layer: Layers, exact_spec: Specs
) -> None:
    layer = tree_layer((OVER, {"limb_m": 3.0, "height_m": 9.0, "spread_m": 6.0}))
    assert statuses(limbs([straight], ground=ground.flat, layer=layer, spec=exact_spec())) == {"clear", "flagged"}
    found = limbs([straight], ground=ground.flat, layer=layer, spec=exact_spec(**lacking))
    assert statuses(found) == {"not checked", "flagged"}
    assert statuses(limbs([straight], ground=None, layer=layer, spec=exact_spec())) == {"not checked", "flagged"}
    gone = limbs([straight], ground=ground.flat, layer=None, spec=exact_spec())
    assert gone.checks["basis"].tolist() == ["no trees.geojson"]
    assert statuses(gone) == {"not checked"}


def test_missing_ground_is_never_clear_and_still_flags(
    straight: Line, ground: SimpleNamespace, tree_layer: Layers, exact_spec: Specs
) -> None:
    layer = tree_layer((OVER, {"limb_m": 5.0, "height_m": 9.0, "spread_m": 6.0}))
    found = limbs([straight], ground=ground.missing(45.0, 60.0), layer=layer, spec=exact_spec())
    assert found.hazards["clearance_given_m"].tolist() == pytest.approx([1.0], abs=1e-6)
    clear = found.checks[found.checks["status"] == "clear"]
    assert not ((clear["to_m"] > 45.0) & (clear["from_m"] < 60.0)).any()
    tiles(found, straight)


def test_words_defer_and_give_no_permission(
    straight: Line, ground: SimpleNamespace, tree_layer: Layers, exact_spec: Specs
) -> None:
    layer = tree_layer(
        (OVER, {"dead": True}), (shapely.Point(20.0, 0.0), {"limb_m": 3.0}), (shapely.box(70, 0, 80, 5), {})
    )
    found = limbs([straight], ground=ground.flat, layer=layer, spec=Spec())
    assert len(found.hazards) == 3
    for advice in found.hazards["advice"]:
        assert all(word in advice for word in ("Look up", "competent person", "local code", "owner"))
    printed = [*(note.text for note in found.notes), *found.checks["basis"]]
    printed += [*found.hazards[["rule", "basis", "advice"]].to_numpy().ravel()]
    assert not re.search(r"clear|safe|permit", "\n".join(printed), re.IGNORECASE)
    assert any("working height 5.2 m and reach 2 m assumed" in text for text in printed)


@pytest.mark.parametrize("seed", range(8))
def test_agrees_with_trying_everything(
    seed: int, ground: SimpleNamespace, tree_layer: Layers, exact_spec: Specs
) -> None:
    """A twin on bumpy ground: stations 0.2 m, disc 0.1 m; within 20 mm, limbs as given."""
    draw = np.random.default_rng(seed)
    level = ground.bumpy(seed, 1.0)
    line = Line("A", closed=False, corners=np.array([[0.0, 0.0], [10.0, 0.0], [14.0, draw.uniform(3, 9)]]))
    stem, limb_m, radius_m = draw.uniform([0, -6], [14, 6]), draw.uniform(4.0, 6.0), draw.uniform(2.0, 4.0)
    layer = tree_layer((shapely.Point(stem), {"limb_m": limb_m, "height_m": 30.0, "spread_m": 2 * radius_m}))
    found = limbs([line], ground=level, layer=layer, spec=exact_spec())
    grid = np.arange(-1.5, 1.501, 0.1)
    disc = np.array([(east, north) for east in grid for north in grid if math.hypot(east, north) <= 1.5])
    rim = 1.5 * np.column_stack([np.cos(np.arange(0, 6.3, 0.03)), np.sin(np.arange(0, 6.3, 0.03))])
    disc = np.concatenate([disc, rim])
    foot_m = level(stem[None])[0]
    stations = np.arange(0.0, line.length_m, 0.2)
    given = []
    for station in stations:
        points = points_at(line, station) + disc
        plan = np.maximum(np.hypot(*(points - stem).T) - radius_m, 0.0)
        given.append(np.hypot(plan, np.maximum(foot_m + limb_m - level(points) - 4.0, 0.0)).min())
    for row in found.hazards.itertuples():
        inside = (stations >= row.from_m - 0.1) & (stations <= row.to_m + 0.1)
        assert row.clearance_given_m == pytest.approx(np.array(given)[inside].min(), abs=0.02)

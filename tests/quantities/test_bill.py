"""The take-off of planned sites: it adds up, traces to rows, and does not mind where or which way round a site lies."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest
import shapely

from fencegis import Plan, Site, Spec, plan_site
from fencegis.inputs.crs import geographic, working_grid
from fencegis.quantities.assembly_parts import takes
from fencegis.quantities.bill import quantity_table
from fencegis.quantities.plan_places import plan_places
from fencegis.records.rates import Rate
from fencegis.records.site import DrawnLine
from fencegis.records.terrain import Patch, Terrain

Floats = npt.NDArray[np.float64]

GRID = working_grid(np.array([[149.2, -34.5]]), datum=geographic("WGS 84"), height_m=300.0)
START = np.array([50_000.0, 80_000.0])
BEND = np.array([[0.0, 0.0], [0.0, 140.0], [90.0, 230.0], [210.0, 250.0]]) + START  # 45° right, then 36° right
GATE = np.array([50_000.0, 80_060.0])
RAIL: dict[str, object] = {"kind": "post and rail", "rail_m": [4.8]}


def site_of(corners: Floats, *, gate: Floats | None = None, slope: float = 0.0, **fence: object) -> Site:
    spec = Spec.model_validate(
        {"boundary": {"drawn_from": "survey"}, "fence": fence, "crew": {"carry_m": 40.0}},
    )
    kind = spec.fence.kind
    line = DrawnLine("A", "", "feature A", kind, None, False, corners, 0.0)
    site = Site("any", "Any", spec, GRID, (line,))
    if gate is not None:
        unknown = dict.fromkeys(("leaf_m", "leaves", "setback_m", "wing_m", "gate_post_mm"), np.nan)
        row = {"feature": "f", "name": None, "opening_m": 3.6, "hinge": None, "swing_side": None, **unknown}
        site = replace(site, gates=gpd.GeoDataFrame([row], geometry=[shapely.Point(gate)], crs=GRID.wkt))
    return replace(site, terrain=plane(corners, slope)) if slope else site


def plane(corners: Floats, slope: float) -> Terrain:
    cell_m = 2.0
    west, south = np.floor(corners.min(axis=0) / cell_m) * cell_m - 60.0
    columns, rows = (np.ceil((corners.max(axis=0) + 60.0 - (west, south)) / cell_m) + 1).astype(int)
    north = south + cell_m * (rows - np.arange(rows) - 0.5)
    tiles = np.repeat(300.0 + slope * (north - START[1])[:, None], columns, axis=1).astype("float32")[None]
    affine = (cell_m, 0.0, west, 0.0, -cell_m, south + cell_m * rows)
    patch = Patch("elevation.tif", GRID.wkt, affine, (int(rows), int(columns)), tiles, np.zeros((1, 1), "int32"))
    return Terrain((patch,), cell_m)


def exact(plan: Plan) -> dict[tuple[str, str], float]:
    size = plan.quantities["size"].fillna("")
    return dict(zip(zip(plan.quantities["material"], size, strict=True), plan.quantities["exact"], strict=True))


def of_material(plan: Plan) -> dict[str, float]:
    return plan.quantities.groupby("material")["exact"].sum().to_dict()


def row(plan: Plan, material: str) -> pd.Series:
    found = plan.quantities[plan.quantities["material"] == material]
    assert len(found) == 1, material
    return found.iloc[0]


@pytest.fixture(scope="module")
def wire() -> Plan:
    return plan_site(site_of(BEND, gate=GATE, slope=0.04, barbed=1, mesh_solidity=0.2, post_set="bored"))


@pytest.fixture(scope="module")
def rail() -> Plan:
    return plan_site(site_of(BEND, gate=GATE, **RAIL))


def test_posts_are_every_post_of_the_plan(wire: Plan, rail: Plan) -> None:
    for plan in (wire, rail):
        assert of_material(plan)["post"] == len(plan.posts)


def test_wire_is_bays_and_ends_and_braces_again(wire: Plan) -> None:
    """By hand: five plain wires along every bay, ties and knots at 8 ends (2 ends, 2 corners, 2 gate posts)."""
    assert wire.strainers["reason"].value_counts().to_dict() == {"corner": 2, "end": 2, "gate": 2}
    ground = wire.bays["ground_length_m"].sum()
    ends, panels = 8, 8
    diagonal = math.hypot(2.1336, 1.2192)
    wanted = 5 * ground + (0.6 + 0.25) * 5 * ends + 4 * diagonal * panels
    assert of_material(wire)["wire"] == pytest.approx(wanted, abs=0.01)
    assert of_material(wire)["barbed wire"] == pytest.approx(ground + 0.85 * ends, abs=0.01)
    assert of_material(wire)["mesh"] == pytest.approx(1.005 * ground + 0.3 * ends)
    assert of_material(wire)["brace post"] == of_material(wire)["brace rail"] == panels
    assert of_material(wire)["staple"] == 6 * wire.posts["kind"].isin(("line", "key")).sum()
    assert of_material(wire)["dropper"] == len(wire.bays)
    assert of_material(wire)["dropper tie"] == 6 * len(wire.bays)


def test_water_and_backfill_are_of_every_hole(wire: Plan) -> None:
    posts = wire.posts
    ring = math.pi / 4e6 * (posts["hole_mm"] ** 2 - posts["face_mm"] ** 2) * posts["embed_m"]
    assert row(wire, "water")["exact"] == pytest.approx(posts["water_l"].sum())
    assert row(wire, "backfill")["exact"] == pytest.approx(ring.sum())
    assert "concrete" not in of_material(wire)


def test_rails_are_sticks_and_fixings_are_meetings_of_rail_and_post(rail: Plan) -> None:
    rails = rail.rails[rail.rails["cut_m"].notna()]
    assert row(rail, "rail")["exact"] == rail.cuts["stick_id"].nunique()
    assert row(rail, "rail fixing")["exact"] == 2 * (rails["bays"] + 1).sum()
    assert row(rail, "gate leaf")["size"] == "3.6"
    assert {"wire", "staple", "brace post", "dropper"} & set(of_material(rail)) == set()


def test_every_quantity_traces_to_rows_of_the_plan(wire: Plan, rail: Plan) -> None:
    """Layers and counts that `rows` names are those whose places take something, and they sum to what is exact."""
    for plan in (wire, rail):
        kind = plan.site.spec.fence.kind
        places = plan_places(
            dict(plan.layers()), kind_of_line={"A": kind}, fence=plan.site.spec.fence, existing=plan.site.existing
        )
        found = takes(places, density_kg_m3=1150.0)
        for one in plan.quantities.itertuples():
            size = "" if pd.isna(one.size) else one.size
            mine = [
                (take, np.flatnonzero(take.size == take.sizes.index(size)))
                for take in found
                if take.rule.material == one.material and size in take.sizes
            ]
            assert sum(take.amount[here].sum() for take, here in mine) == pytest.approx(one.exact)
            rows: dict[str, set[int]] = {}
            for take, here in mine:
                rows.setdefault(take.layer, set()).update(take.row[here].tolist())
            assert one.rows == "; ".join(f"{layer} {len(numbers)}" for layer, numbers in rows.items())
            for layer, numbers in rows.items():
                assert max(numbers) < len(getattr(plan, layer))


def test_two_joined_sites_take_what_both_take_less_the_shared_post() -> None:
    first, second = BEND[:2], np.array([BEND[1], BEND[1] + (100.0, 100.0)])
    both = np.vstack([first, second[1:]])
    apart = [of_material(plan_site(site_of(part, post_set="bored"))) for part in (first, second)]
    joined = of_material(plan_site(site_of(both, post_set="bored")))
    assert set(joined) == set(apart[0]) == set(apart[1])
    for material, amount in joined.items():
        summed = apart[0][material] + apart[1][material]
        if material == "post":
            assert amount == summed - 1
        elif material not in ("water", "backfill"):  # of the shared post's hole too
            assert amount == pytest.approx(summed, abs=1e-6), material
    assert joined["backfill"] < apart[0]["backfill"] + apart[1]["backfill"]


def turned(corners: Floats, degrees: float, *, east_m: float = 0.0) -> Floats:
    angle = math.radians(degrees)
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    return (corners - START) @ turn + START + (east_m, -east_m / 2.0)


@pytest.mark.parametrize("fence", [{"barbed": 2}, RAIL])
@pytest.mark.parametrize("degrees", [37.0, 180.0])
def test_turning_and_moving_a_site_changes_nothing(fence: dict[str, object], degrees: float) -> None:
    here = exact(plan_site(site_of(BEND, **fence)))
    there = exact(plan_site(site_of(turned(BEND, degrees, east_m=640.0), **fence)))
    assert there.keys() == here.keys()
    for item, amount in here.items():
        assert there[item] == pytest.approx(amount, rel=1e-9), item


@pytest.mark.parametrize("slope", [0.0, 0.05])
def test_walking_it_the_other_way_changes_nothing(slope: float) -> None:
    there, back = (exact(plan_site(site_of(path, slope=slope, barbed=2))) for path in (BEND, BEND[::-1]))
    assert there.keys() == back.keys()
    for item, amount in there.items():
        assert back[item] == pytest.approx(amount, rel=1e-4), item


def test_packs_hold_what_is_needed_and_mass_is_of_what_is_ordered(wire: Plan) -> None:
    table = wire.quantities
    bought = table[table["packs"].notna()]
    wanted = bought["exact"] * (1.0 + bought["waste_pct"] / 100.0)
    coils = bought["pack"] > 1.0
    assert (bought["packs"] * bought["pack"] >= wanted - 1e-6)[coils].all()
    assert ((bought["packs"] - 1) * bought["pack"] < wanted)[coils].all()
    line = row(wire, "wire")
    assert line["mass_kg"] == pytest.approx(0.03853 * line["packs"] * 1500.0)
    left = 100.0 * (1.0 - line["exact"] * 1.02 / (line["packs"] * 1500.0))
    assert line["left_pct"] == pytest.approx(left)
    posts = table[table["material"] == "post"]
    assert posts["packs"].sum() - posts["exact"].sum() == math.ceil(0.03 * posts["exact"].sum())


def test_own_rates_set_waste_and_packs() -> None:
    plan = site_of(BEND)
    own = Rate("wire", "m", Decimal("0.1"), "material", waste_pct=Decimal(0), pack=Decimal(250))
    line = row(plan_site(replace(plan, rates=(own,))), "wire")
    assert (line["waste_pct"], line["pack"]) == (0.0, 250.0)
    assert line["packs"] == math.ceil(line["exact"] / 250.0)


def texts(plan: Plan) -> str:
    return "\n".join(plan.notes["text"])


def test_what_is_left_over_past_thirty_per_cent_is_told_of() -> None:
    """One coil of 1500 m for a few metres of fence."""
    small = plan_site(site_of(BEND[:1] + np.array([[0.0, 0.0], [0.0, 20.0]])))
    assert row(small, "wire")["left_pct"] > 30.0
    assert "more than 30 % of what is bought is left over: plain wire, 2.5 mm (" in texts(small)
    assert "of 1 x 1500 m)" in texts(small)


def test_freight_tells_mass_longest_piece_and_what_has_no_mass(wire: Plan) -> None:
    goods = wire.quantities[~wire.quantities["supplier"].isin(("hire and services", "on hand"))]
    goods = goods[~goods["material"].isin(("water", "backfill"))]
    tonnes = goods["mass_kg"].sum() / 1000.0
    assert f"freight: what is ordered weighs about {tonnes:.1f} t" in texts(wire)
    assert f"the longest piece is {goods['longest_m'].max():.2f} m" in texts(wire)
    assert "no mass is known of brace rail, mesh, gate leaf" in texts(wire)


def test_concrete_for_driven_posts_is_a_doubt_and_no_number() -> None:
    driven = plan_site(site_of(BEND, concrete="ends"))
    assert "concrete is asked for, but 4 of those posts are driven" in texts(driven)
    assert "concrete" not in of_material(driven)
    bored = plan_site(site_of(BEND, concrete="all", post_set="dug"))
    assert row(bored, "concrete")["packs"] == math.ceil(row(bored, "concrete")["exact"] * 1.1 / 0.009)
    assert "concrete is asked for" not in texts(bored)


def test_a_material_in_several_sizes_has_a_row_each_short_before_long(rail: Plan) -> None:
    posts = rail.quantities[rail.quantities["material"] == "post"]
    assert len(posts) > 1
    assert posts["size"].tolist() == sorted(posts["size"], key=lambda size: tuple(map(float, size.split(" x "))))
    assert posts["longest_m"].tolist() == [float(size.split(" x ")[-1]) for size in posts["size"]]


def test_each_use_says_its_amount_and_its_rule(wire: Plan) -> None:
    basis = row(wire, "wire")["basis"]
    for part in (
        "plain wire ",
        "ties at the end 24 m (0.6 x plain ends",
        "knots 10 m (0.25 x plain ends",
        "brace wire ",
    ):
        assert part in basis


def test_nothing_taken_is_a_table_of_nothing() -> None:
    assert quantity_table([]).empty


def test_a_plan_has_its_stacks(wire: Plan) -> None:
    assert wire.drops["posts"].sum() == len(wire.posts)
    assert wire.drops["carry_m"].max() <= 40.0
    assert wire.drops.geometry.geom_type.eq("Point").all()

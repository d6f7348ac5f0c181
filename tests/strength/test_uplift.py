"""Posts that the wires lift, set beside what a post holds as it is set in its own soil."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from fencegis import Site, Spec, plan_site
from fencegis.catalogue import rows
from fencegis.inputs.crs import geographic, working_grid
from fencegis.records.site import DrawnLine
from fencegis.records.tables import checked
from fencegis.records.terrain import Patch, Terrain
from fencegis.strength.uplift import TIE, held_down, holds_kn, notes_on_uplift

GRID = working_grid(np.array([[149.2, -34.5]]), datum=geographic("WGS 84"), height_m=300.0)
START = np.array([50_000.0, 80_000.0])


def posts(**columns):
    count = len(columns["uplift_kn"])
    usual = {
        "line_id": ["A"] * count,
        "chainage_m": np.arange(count, dtype=float),
        "post_id": [f"A-{place:03d}" for place in range(1, count + 1)],
        "kind": ["line"] * count,
        "ground_chainage_m": np.arange(count, dtype=float),
        "tape_m": np.arange(count, dtype=float),
        "soil": ["loam"] * count,
        "set_by": ["driven"] * count,
    }
    return checked("posts", pd.DataFrame(usual | columns))


def tied(table):
    return held_down(table, assumed="sand")["tie_down"].eq(TIE).tolist()


def test_a_post_holds_what_the_catalogue_has_for_its_own_setting():
    printed = {row["item"]: float(row["value"]) for row in rows("post_holding")}
    for way in ("driven", "bored", "dug"):
        assert holds_kn("loam", set_by=way) == printed[way]
        assert holds_kn("bog", set_by=way) == 0.0
    with pytest.raises(KeyError, match="nailed"):
        holds_kn("loam", set_by="nailed")


def test_the_same_lift_pulls_a_dug_post_and_not_a_driven_one():
    """A lift of 1.15 kN, six wires that rise 5° each side, is more than the 0.88 of a dug post, less than 1.76."""
    table = posts(uplift_kn=[1.15] * 3, set_by=["driven", "dug", "bored"])
    assert tied(table) == [False, True, True]


def test_in_bog_every_lift_asks_for_a_tie_and_a_crest_for_none():
    table = posts(uplift_kn=[0.05, 0.0, np.nan, 0.05], soil=["bog", "bog", "bog", "loam"])
    assert tied(table) == [True, False, False, False]


def test_where_no_zone_says_the_soil_the_assumed_one_counts():
    table = posts(uplift_kn=[0.05], soil=["not checked"])
    assert held_down(table, assumed="bog")["tie_down"].tolist() == [TIE]
    assert held_down(table, assumed="sand")["tie_down"].isna().all()


def test_strainers_have_a_brace():
    assert tied(posts(uplift_kn=[5.0], kind=["strainer"])) == [False]


def test_the_note_names_the_post_that_is_furthest_over_what_it_holds():
    table = held_down(posts(uplift_kn=[1.9, 1.3, 0.5], set_by=["driven", "dug", "dug"]), assumed="sand")
    (said,) = notes_on_uplift(table, assumed="sand")
    assert (said.severity, said.line_id) == ("doubt", "A")
    assert said.text.startswith("2 posts stand in a dip where the wires lift more than a post so set holds")
    assert "at A-002 (1.30 kN, where dug it holds 0.88)" in said.text
    assert notes_on_uplift(held_down(posts(uplift_kn=[0.1]), assumed="sand"), assumed="sand") == []


def dip(post_set, soils):
    """Wire over a dip of 10 % each way, which six wires lift a post out of with some 1.3 kN."""
    many = 600
    west, north = START[0] - 100.0, START[1] + 300.0
    level = np.broadcast_to(300.0 + 0.1 * np.abs(west + np.arange(many) + 0.5 - START[0] - 200.0), (many, many))
    patch = Patch("elevation.tif", GRID.wkt, (1.0, 0.0, west, 0.0, -1.0, north), (many, many),
                  level.astype("float32")[None], np.zeros((1, 1), "int32"))  # fmt: skip
    line = DrawnLine("A", "", "feature 1", "wire", None, False, START + np.array([[0.0, 0.0], [400.0, 3.0]]), 1.0)
    fence = {"post_set": post_set, "wires": 6, "tension_kn": 1.1, "strain_m": 500.0}
    spec = Spec.model_validate({"fence": fence, "elevation": {"vertical_error_m": 0.05}})
    site = Site("any", "Any", spec, GRID, (line,), terrain=Terrain((patch,), 1.0))
    return plan_site(dataclasses.replace(site, soils=soils))


def zone(soil):
    import geopandas as gpd
    import shapely

    box = shapely.box(START[0] + 150.0, START[1] - 50.0, START[0] + 250.0, START[1] + 50.0)
    return gpd.GeoDataFrame({"soil": [soil], "name": [""]}, geometry=[box], crs=GRID.wkt)


@pytest.mark.parametrize(("soil", "expected"), [(None, False), ("rock", True), ("bog", True)])
def test_in_a_plan_the_zone_decides_how_a_post_in_a_dip_is_held(soil, expected):
    """Driven where nothing else is asked for: rock is bored, where a post holds half; bog holds none."""
    plan = dip("driven", None if soil is None else zone(soil))
    lifted = plan.posts[plan.posts["uplift_kn"] > 1.0]
    assert len(lifted) == 1
    assert lifted["kind"].iloc[0] == "key"
    assert 0.88 < lifted["uplift_kn"].iloc[0] < 1.76
    assert lifted["tie_down"].fillna("").str.startswith("tie down").tolist() == [expected]
    assert any("most of all at" in text for text in plan.notes["text"]) == expected

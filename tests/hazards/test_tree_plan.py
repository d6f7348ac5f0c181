"""What becomes of each tree, worked by hand; and the published example of a root zone."""

from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from fencegis.hazards.found import Scene
from fencegis.hazards.tree_plan import tree_plan
from fencegis.hazards.trees import trees
from fencegis.line.chainage import Line
from fencegis.records.spec import Spec

LINE = Line("A", closed=False, corners=np.array([[0.0, 0.0], [100.0, 0.0]]))
NAN = float("nan")
# works to 4.6 m, with half a metre to limbs 5.1 m; reaches 2 m and half a metre; cleared 1 m left, 2 m right
MACHINE = {"working_height_m": 4.6, "reach_m": 2.0, "width_m": 1.6}


def scene(*features, position_m=0.0, **spec):
    bare = {"name": None, "height_m": 12.0, "limb_m": 9.0, "spread_m": 6.0, "dead": False}
    bare |= {"keep": None, "trunk_m": 0.4, "root_m": NAN}
    rows = [{"feature": f"feature {place}", **bare, **own} for place, (_, own) in enumerate(features, start=1)]
    layer = gpd.GeoDataFrame(pd.DataFrame(rows, columns=["feature", *bare]), geometry=[shape for shape, _ in features])
    given = {
        "machine": MACHINE,
        "fence": {"post_mm": 200.0},
        "boundary": {"drawn_from": "survey", "position_error_m": position_m},
        "clearing": {"left_m": 1.0, "right_m": 2.0},
        **spec,
    }
    site = SimpleNamespace(spec=Spec.model_validate(given), trees=layer)
    return Scene([SimpleNamespace(line=LINE, line_id="A")], site, lambda points: np.zeros(len(points)))


def one(offset_m, **own):
    """A tree at 50 m, this far to the right of the line: what becomes of it, and why."""
    table = tree_plan(scene((shapely.Point(50.0, -offset_m), own))).layers["trees"]
    (row,) = table.to_dict("records")
    return row


@pytest.mark.parametrize(
    ("offset_m", "own", "what", "why"),
    [
        (0.3, {}, "to go", "it stands on the line"),
        (0.3, {"keep": True}, "to look at", "its owner wants it kept: shift the line"),
        (4.0, {"dead": True}, "to go", "dead and over the work"),
        (9.0, {"dead": True}, "to look at", "tall enough to reach the line"),
        (4.0, {"limb_m": 3.0}, "to limb", "lowest limb 3 m, 5.1 m wanted"),
        (4.0, {"limb_m": 3.0, "height_m": 7.0}, "to go", "little of its 7 m is left"),
        (4.0, {"limb_m": NAN}, "to look at", "nobody measured its lowest limb"),
        (4.0, {"limb_m": 6.0}, "to look at", "not for a height judged by eye"),
        (1.5, {}, "to go", "inside the 2.0 m that are cleared"),
        (-1.5, {}, "to keep", "roots reach 4.8 m"),
        (4.5, {}, "to keep", "roots reach 4.8 m"),
        (5.0, {}, "to keep", "look up all the same"),
    ],
)
def test_what_becomes_of_a_tree(offset_m, own, what, why):
    row = one(offset_m, **own)
    assert row["what"] == what
    assert why in row["why"]
    assert row["offset_m"] == pytest.approx(offset_m)
    assert row["chainage_m"] == pytest.approx(50.0)


def test_a_tree_to_limb_says_to_what_height():
    assert one(4.0, limb_m=3.0)["limb_to_m"] == pytest.approx(5.1)
    assert np.isnan(one(1.5)["limb_to_m"])


def test_a_trunk_within_the_drawings_error_is_to_be_looked_at():
    found = tree_plan(scene((shapely.Point(50.0, 1.4), {}), position_m=1.0))
    assert found.layers["trees"]["what"].tolist() == ["to look at"]
    assert len(found.hazards) == 1


def test_trees_far_off_are_not_listed_and_the_others_numbered_in_walking_order():
    shapes = [(shapely.Point(80.0, 1.0), {}), (shapely.Point(20.0, 1.0), {}), (shapely.Point(50.0, 40.0), {})]
    table = tree_plan(scene(*shapes)).layers["trees"]
    assert table["tree_id"].tolist() == ["T01", "T02"]
    assert table["feature"].tolist() == ["feature 2", "feature 1"]


def test_a_stand_that_the_line_runs_through_stands_on_it():
    table = tree_plan(scene((shapely.box(40.0, -10.0, 60.0, 10.0), {}))).layers["trees"]
    assert table["what"].tolist() == ["to go"]


def test_a_trunk_in_the_way_is_flagged_and_a_kept_one_moves_posts():
    found = tree_plan(scene((shapely.Point(50.0, 0.3), {"keep": True})))
    (row,) = found.hazards.to_dict("records")
    # the stem's edge 0.1 m from the line, less half a post: nothing; asked for 0.3 m
    assert (row["clearance_m"], row["required_m"]) == (pytest.approx(0.0), pytest.approx(0.3))
    half = np.sqrt((0.3 + 0.1 + 0.2) ** 2 - 0.3**2)
    assert (row["from_m"], row["to_m"]) == pytest.approx((50.0 - half, 50.0 + half), abs=0.01)
    assert [ban.of for ban in found.bans] == ["posts"]
    assert tree_plan(scene((shapely.Point(50.0, 0.3), {}))).bans == ()


def test_without_the_layer_trunks_are_not_checked():
    nothing = scene((shapely.Point(0.0, 0.0), {}))
    nothing.site.trees = None
    (row,) = tree_plan(nothing).checks.to_dict("records")
    assert (row["status"], row["basis"]) == ("not checked", "no trees.geojson")


def test_roots_follow_the_trunk_unless_somebody_gave_them():
    layer = scene((shapely.Point(0, 0), {"trunk_m": 0.5}), (shapely.Point(9, 0), {"root_m": 2.5})).site.trees
    assert [tree.roots_m for tree in trees(layer, ground=lambda points: points[:, 0])] == pytest.approx([6.0, 2.5])

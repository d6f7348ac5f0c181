"""Clearing by side and density, air under limbs, crowns of the canopy raster: worked by hand."""

from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from fencegis.hazards.clearing import clearing, density_of
from fencegis.hazards.crowns import crowns
from fencegis.hazards.found import Scene
from fencegis.hazards.headroom import headroom, machines_under, working_heights_m
from fencegis.hazards.limbs import limbs
from fencegis.line.chainage import Line
from fencegis.records.spec import Spec
from fencegis.records.terrain import Canopy, Patch, Terrain

LINE = Line("A", closed=False, corners=np.array([[0.0, 0.0], [100.0, 0.0]]))
GRID = "EPSG:32755"


def canopy(cells, *, cover_only=False):
    """A raster of cells of a metre, row 0 in the north, its upper left corner at 0 east, 10 north."""
    heights = np.asarray(cells, dtype=np.float32)
    patch = Patch(
        "canopy.tif",
        GRID,
        (1.0, 0.0, 0.0, 0.0, -1.0, 10.0),
        heights.shape,
        heights[None],
        np.zeros((1, 1), dtype=np.int32),
    )
    return Canopy(Terrain((patch,), 1.0), cover_only)


def scene(*features, raster=None, overhead=None, **spec):
    bare = {"name": None, "height_m": 12.0, "limb_m": 9.0, "spread_m": 6.0, "dead": False}
    rows = [{"feature": f"feature {place}", **bare, **own} for place, (_, own) in enumerate(features, start=1)]
    layer = None
    if features:
        layer = gpd.GeoDataFrame(
            pd.DataFrame(rows, columns=["feature", *bare]), geometry=[shape for shape, _ in features]
        )
    given = {"boundary": {"drawn_from": "survey", "position_error_m": 0.0}, **spec}
    site = SimpleNamespace(spec=Spec.model_validate(given), trees=layer, canopy=raster, overhead=overhead)
    site.grid = SimpleNamespace(wkt=GRID)
    return Scene([SimpleNamespace(line=LINE, line_id="A")], site, lambda points: 0.1 * points[:, 0])


@pytest.mark.parametrize(
    ("share", "name"),
    [(0.25, "open"), (0.26, "sparse"), (0.5, "sparse"), (0.51, "loose"), (0.75, "loose"), (0.76, "dense")],
)
def test_density_is_the_printed_class(share, name):
    assert density_of(share) == name


def test_cover_is_told_each_side_for_itself_in_square_metres():
    cells = np.zeros((20, 100))
    cells[8:10, 20:30] = 6.0  # left of the line, 0 to 2 m, from 20 to 30 m: the whole strip
    cells[10, 50:55] = 6.0  # right, half of 10 m of a strip of 2 m: a quarter of it
    table = clearing(scene(raster=canopy(cells), clearing={"left_m": 2.0, "right_m": 2.0})).layers["clearing"]
    rows = table.set_index("side")
    assert rows.loc["left", ["from_m", "to_m", "density"]].tolist() == [20.0, 30.0, "dense"]
    assert rows.loc["left", "area_m2"] == pytest.approx(20.0)
    assert rows.loc["right", "density"] == "open"
    assert rows.loc["right", "area_m2"] == pytest.approx(5.0)


def test_neighbours_of_one_density_are_one_piece():
    cells = np.zeros((20, 100))
    cells[8:10, 20:60] = 6.0
    table = clearing(scene(raster=canopy(cells), clearing={"left_m": 2.0, "right_m": 0.0})).layers["clearing"]
    assert table[["from_m", "to_m"]].to_numpy().tolist() == [[20.0, 60.0]]
    assert table["area_m2"].iloc[0] == pytest.approx(80.0)


def test_without_canopy_crowns_count_and_without_either_it_is_told():
    tree = shapely.Point(50.0, 3.0), {"spread_m": 6.0}
    table = clearing(scene(tree, clearing={"left_m": 3.0, "right_m": 0.0})).layers["clearing"]
    assert table["area_m2"].sum() == pytest.approx(np.pi * 9.0 / 2.0, rel=0.1)  # half a crown of 3 m
    assert "scrub is in no layer" in table["basis"].iloc[0]
    nothing = clearing(scene())
    assert nothing.layers == {}
    assert "clearing is not told" in nothing.notes[0].text


def test_unknown_canopy_is_told_and_the_width_is_the_machines_unless_given():
    cells = np.full((20, 100), np.nan)
    found = clearing(scene(raster=canopy(cells), machine={"width_m": 1.4, "work_side": "left"}))
    assert any("says nothing of 200 m²" in note.text for note in found.notes)


def test_air_under_limbs_is_the_least_over_the_reach_and_names_who_works_under_it():
    tree = shapely.Point(50.0, 0.0), {"limb_m": 9.0, "spread_m": 6.0}
    found = headroom(scene(tree, machine={"working_height_m": 4.6, "reach_m": 2.0}))
    (row,) = found.layers["headroom"].to_dict("records")
    assert (row["from_m"], row["to_m"]) == pytest.approx((45.0, 55.0), abs=0.01)
    # limbs at 5 m of ground and 9 m, less 2 m; the ground under the rim at 55 m, 2 m on, is 5.7 m
    assert row["least_m"] == pytest.approx(5.0 + 9.0 - 2.0 - 5.7, abs=0.01)
    assert row["least_at_m"] == pytest.approx(55.0, abs=0.01)
    assert "your machine" in row["machines"]
    assert "mast driver" in row["machines"]
    assert "of limbs only" in row["basis"]


def test_machines_are_named_only_with_the_margin_to_limbs():
    heights = {"high": 5.2, "low": 3.6}
    assert machines_under(4.1, heights) == ["low"]
    assert machines_under(4.09, heights) == []
    assert machines_under(5.7, heights) == ["high", "low"]
    assert working_heights_m(Spec())["driver without a mast"] < working_heights_m(Spec())["excavator"]


@pytest.mark.parametrize("own", [{"limb_m": float("nan")}, {"dead": True}])
def test_where_no_limb_was_measured_no_machine_is_named(own):
    (row,) = headroom(scene((shapely.Point(50.0, 0.0), own))).layers["headroom"].to_dict("records")
    assert np.isnan(row["least_m"])
    assert pd.isna(row["machines"])


def test_near_a_power_line_no_machine_is_named():
    wire = gpd.GeoDataFrame({"feature": ["feature 1"]}, geometry=[shapely.LineString([(52.0, -40.0), (52.0, 40.0)])])
    (row,) = headroom(scene((shapely.Point(50.0, 0.0), {}), overhead=wire)).layers["headroom"].to_dict("records")
    assert pd.isna(row["machines"])
    assert "its owner says" in row["basis"]


def test_a_crown_of_the_raster_is_a_limb_that_nobody_measured():
    cells = np.zeros((20, 100))
    cells[8:12, 40:50] = 9.0
    cells[9, 70] = 1.5  # scrub
    found, silent = crowns(LINE, site=scene(raster=canopy(cells)).site, within_m=2.0, measured=[])
    (crown,) = found
    assert crown.stretch == pytest.approx((39.5, 49.5), abs=1.0)
    assert crown.highest_m == 9.0
    assert silent == [pytest.approx((99.5, 100.0), abs=0.6)]  # the last cells are past the raster
    ground = np.vectorize(lambda _: 0.0)
    given = scene(raster=canopy(cells), walked={"trees": "today"}, machine={"working_height_m": 4.6, "reach_m": 2.0})
    flagged = limbs([LINE], ground=lambda p: ground(p[:, 0]), layer=None, spec=given.spec, site=given.site)
    assert len(flagged.hazards) == 1
    assert np.isnan(flagged.hazards["clearance_m"].iloc[0])
    assert "how low limbs hang nobody measured" in flagged.hazards["basis"].iloc[0]
    assert set(flagged.checks["status"]) == {"flagged", "not checked"}


def test_cover_alone_has_no_height_and_a_measured_tree_answers_for_itself():
    cells = np.zeros((20, 100))
    cells[8:12, 40:50] = 1.0
    site = scene((shapely.Point(45.0, 0.0), {"spread_m": 14.0}), raster=canopy(cells, cover_only=True)).site
    found, _ = crowns(LINE, site=site, within_m=2.0, measured=[])
    assert np.isinf(found[0].highest_m)
    from fencegis.hazards.trees import trees

    measured = trees(site.trees, ground=lambda points: points[:, 0])
    assert crowns(LINE, site=site, within_m=2.0, measured=measured)[0] == []

"""Small shifts and other machines that take a flag away, worked by hand and against trying every shift."""

from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from fencegis.hazards.found import Scene
from fencegis.hazards.headroom import headroom
from fencegis.hazards.kept_clear import kept_clear
from fencegis.hazards.limbs import limbs
from fencegis.hazards.moves import _flagged, move_table
from fencegis.hazards.register import hazard_table
from fencegis.line.chainage import Line
from fencegis.records.spec import Spec

LINE = Line("A", closed=False, corners=np.array([[0.0, 0.0], [100.0, 0.0]]))
NAN = float("nan")


def scene(position_m=0.5, **layers):
    spec = Spec.model_validate(
        {
            "machine": {"working_height_m": 5.5, "reach_m": 1.0},
            "fence": {"post_mm": 200.0},
            "boundary": {"drawn_from": "survey", "position_error_m": position_m},
        }
    )
    site = SimpleNamespace(spec=spec, overhead=None, trees=None, canopy=None, services=None, keepout=None, pegs=None)
    vars(site).update(layers)
    course = SimpleNamespace(line=LINE, line_id="A", kind="wire")
    return Scene([course], site, lambda points: np.zeros(len(points)))


def tree(east, north, **own):
    bare = {"name": None, "height_m": 12.0, "limb_m": 3.0, "spread_m": 4.0, "dead": False}
    table = pd.DataFrame([{"feature": "feature 1", **bare, **own}])
    return gpd.GeoDataFrame(table, geometry=[shapely.Point(east, north)])


def keepout(shape, radius_m=NAN):
    return gpd.GeoDataFrame({"feature": ["feature 1"], "radius_m": [radius_m], "reason": ["x"]}, geometry=[shape])


def moves(given):
    found = [
        limbs(given.lines, ground=given.ground, layer=given.site.trees, spec=given.spec, site=given.site),
        kept_clear(given),
    ]
    air = headroom(given).layers.get("headroom", pd.DataFrame(columns=["line_id", "from_m", "to_m", "machines"]))
    return move_table(hazard_table(found), air, scene=given)


def test_a_keep_out_beside_the_line_is_cleared_by_the_least_shift_away_from_it():
    # its edge 0.9 m left of the line, half a post 0.1 m, two standard errors 1 m: 0.2 m short
    table, _ = moves(scene(keepout=keepout(shapely.box(40.0, 0.9, 50.0, 6.0))))
    (row,) = table.to_dict("records")
    assert (row["how"], row["kind"]) == ("shift the line", "keep-out")
    assert row["shift_m"] == pytest.approx(0.2, abs=0.051)
    assert "to the right" in row["says"]
    assert row["hazard_id"] == "H01"


def test_what_no_shift_within_the_drawings_worth_clears_is_not_promised():
    assert len(moves(scene(keepout=keepout(shapely.box(40.0, -3.0, 50.0, 3.0))))[0]) == 0


def test_a_survey_leaves_nothing_to_shift():
    assert len(moves(scene(position_m=0.0, keepout=keepout(shapely.box(40.0, 0.05, 50.0, 6.0))))[0]) == 0


def test_a_shift_that_brings_another_hazard_is_none():
    both = gpd.GeoDataFrame(
        {"feature": ["feature 1"], "quality": ["A"], "owner": ["x"], "kind": ["water"]},
        geometry=[shapely.LineString([(0.0, -1.9), (100.0, -1.9)])],
    )
    table, _ = moves(scene(keepout=keepout(shapely.box(40.0, 0.9, 50.0, 6.0)), services=both))
    assert (table["kind"] != "keep-out").all()


def test_a_limb_is_cleared_by_a_shift_or_by_a_lower_machine():
    # crown's edge 2 m left of the line; reach 1, margin 0.5, two standard errors 1 m
    table, _ = moves(scene(trees=tree(50.0, 4.0)))
    shift = table[table["how"] == "shift the line"]
    assert shift["shift_m"].tolist() == [pytest.approx(0.5, abs=0.06)]
    assert (table["how"] != "another machine").all()  # limbs at 3 m, less 2 m: under no machine
    high, _ = moves(scene(trees=tree(50.0, 1.0, limb_m=7.0)))
    (row,) = high[high["how"] == "another machine"].to_dict("records")
    assert "driver without a mast" in row["says"]
    assert "excavator" not in row["says"]


def test_power_lines_have_no_moves():
    wire = {"feature": ["feature 1"], "kind": ["power"], "voltage_kv": [11.0], "height_m": [6.0], "sag_m": [NAN]}
    line = gpd.GeoDataFrame(wire, geometry=[shapely.LineString([(0.0, 4.0), (100.0, 4.0)])])
    given = scene(overhead=line)
    from fencegis.hazards.overhead import overhead

    found = overhead(given.lines, ground=given.ground, layer=line, spec=given.spec)
    assert len(found.hazards) == 1
    assert len(move_table(hazard_table([found]), pd.DataFrame(), scene=given)[0]) == 0


@pytest.mark.parametrize("seed", range(8))
def test_the_least_shift_agrees_with_trying_every_one(seed):
    draw = np.random.default_rng(seed)
    area = shapely.Point(draw.uniform(30, 70), draw.uniform(0.5, 3.0)).buffer(draw.uniform(0.3, 1.5))
    given = scene(keepout=keepout(area))
    table, _ = moves(given)
    stretch = kept_clear(given).hazards[["from_m", "to_m"]]
    if not len(stretch):
        return
    course, span = given.courses[0], tuple(stretch.iloc[0])
    steps = np.arange(0.05, 1.0001, 0.05)
    tried = [s for s in (*steps, *-steps) if not _flagged(course, span, s, given)]
    if tried:
        assert abs(table["shift_m"].iloc[0]) == pytest.approx(min(np.abs(tried)), abs=1e-9)
    else:
        assert len(table) == 0

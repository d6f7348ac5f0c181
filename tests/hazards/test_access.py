"""Room beside the line, turning at dead ends, ways in: worked by hand, and room against a plain twin."""

from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from fencegis.hazards.access import access
from fencegis.hazards.found import Scene
from fencegis.hazards.obstacles import obstacles, room_m, turns_within_m
from fencegis.line.chainage import Line
from fencegis.records.spec import Spec

LINE = Line("A", closed=False, corners=np.array([[0.0, 0.0], [100.0, 0.0]]))
MACHINE = {"width_m": 2.4, "turning_m": 8.0}  # 3 m with air on both sides


def layer(*features):
    rows = [{"feature": f"feature {place}", "name": None, **own} for place, (_, own) in enumerate(features, start=1)]
    return gpd.GeoDataFrame(pd.DataFrame(rows), geometry=[shape for shape, _ in features])


def scene(machine=None, walked=None, position_m=0.0, nodes=None, **layers):
    spec = Spec.model_validate(
        {
            "machine": MACHINE if machine is None else machine,
            "boundary": {"drawn_from": "survey", "position_error_m": position_m},
            "walked": walked or {},
        }
    )
    site = SimpleNamespace(spec=spec, keepout=None, trees=None, watercourses=None, tracks=None)
    site.overhead = None
    vars(site).update(layers)
    grades = SimpleNamespace(known=np.array([True]), grade_pct=np.array([-12.0]), joint_m=np.array([0.0, 100.0]))
    return Scene([SimpleNamespace(line=LINE, line_id="A", nodes=nodes or {}, grades=grades)], site, None)


def beside(side, from_m=40.0, to_m=50.0, away=2.0):
    low, high = sorted([side * away, side * 20.0])
    return shapely.box(from_m, low, to_m, high), {"radius_m": np.nan, "reason": "x"}


def test_one_free_side_is_enough_unless_the_machine_may_not_work_from_it():
    blocked_right = {"keepout": layer(beside(-1))}  # right of a line that runs east is south
    assert len(access(scene(**blocked_right)).hazards) == 0
    found = access(scene(machine={**MACHINE, "work_side": "right"}, **blocked_right))
    (row,) = found.layers["access"].to_dict("records")
    assert (row["from_m"], row["to_m"]) == pytest.approx((40.0, 50.0), abs=1.0)
    assert (row["kind"], row["side"]) == ("narrow", "right")
    assert row["free_m"] == pytest.approx(2.0)
    assert row["needed_m"] == pytest.approx(3.0)
    assert found.hazards["required_m"].tolist() == [pytest.approx(3.0)]


def test_both_sides_narrow_is_flagged_and_told_in_metres_by_hand():
    found = access(scene(keepout=layer(beside(-1), beside(1, away=2.9))))
    assert found.layers["access"]["free_m"].tolist() == [pytest.approx(2.9)]
    length = np.ptp(found.layers["access"][["from_m", "to_m"]].to_numpy())
    assert length == pytest.approx(10.0, abs=2.0)
    assert any(f"{length:.0f} m of A have no room for the machine" in note.text for note in found.notes)


def test_the_drawings_error_narrows_the_room():
    wide = {"keepout": layer(beside(-1, away=4.0), beside(1, away=4.0))}
    assert len(access(scene(**wide)).hazards) == 0
    assert len(access(scene(position_m=1.0, **wide)).hazards) == 1


def test_a_tree_on_the_line_leaves_room_to_go_round_only_beside_it():
    tree = shapely.Point(30.0, 0.0), {"trunk_m": 1.0}
    found = access(scene(trees=layer(tree)))
    (row,) = found.layers["access"].to_dict("records")
    assert row["free_m"] == pytest.approx(0.0)
    assert "tree, feature 1" in row["basis"]


def test_a_dead_end_without_room_to_turn_says_how_far_to_back_out():
    walls = layer(beside(-1, 60.0, 120.0, away=3.5), beside(1, 60.0, 120.0, away=3.5))
    found = access(scene(keepout=walls)).layers["access"]
    (row,) = found[found["kind"] == "dead end"].to_dict("records")
    assert row["to_m"] == pytest.approx(100.0)
    assert 52.0 <= row["from_m"] <= 58.0  # the circle of 8 m fits 4 m before the walls, looked for every 2 m
    led_on = access(scene(keepout=walls, tracks=layer((shapely.LineString([(101, 0), (140, 0)]), {}))))
    assert (led_on.layers["access"]["kind"] != "dead end").all()
    node = access(scene(keepout=walls, nodes={100.0: "N1"}))
    assert (node.layers["access"]["kind"] != "dead end").all()


def test_no_layer_is_room_only_when_all_were_given_and_somebody_walked():
    (row,) = access(scene(walked={"ground": "4 March"})).checks.to_dict("records")
    assert row["status"] == "not checked"
    assert "no keepout.geojson" in row["basis"]
    far = shapely.Point(0.0, 90.0)
    every = {name: layer((far, {"radius_m": 1.0})) for name in ("keepout", "trees", "watercourses")}
    (row,) = access(scene(walked={"ground": "4 March"}, **every)).checks.to_dict("records")
    assert row["status"] == "clear"
    (row,) = access(scene(**every)).checks.to_dict("records")
    assert row["status"] == "not checked"
    unknown = access(scene(machine={"work_side": "both"}, walked={"ground": "4 March"}, **every))
    (row,) = unknown.checks.to_dict("records")
    assert row["status"] == "not checked"
    assert "assumed: width 1.6 m" in row["basis"]


def test_a_part_that_no_track_comes_near_is_told_and_water_cuts_the_line_in_parts():
    water = layer((shapely.LineString([(50.0, -30.0), (50.0, 30.0)]), {"width_m": 2.0}))
    track = layer((shapely.LineString([(0.0, 10.0), (0.0, 60.0)]), {}))
    notes = [note for note in access(scene(watercourses=water, tracks=track)).notes if "no drawn track" in note.text]
    assert [note.chainage_m for note in notes] == [pytest.approx(50.0)]
    without = access(scene(watercourses=water)).notes
    assert any("how the machine gets to the line is not checked" in note.text for note in without)


def test_the_steepest_stretch_is_told_without_a_limit():
    text = next(note.text for note in access(scene()).notes if "steepest" in note.text)
    assert "12 % (7°) down from 0 to 100 m" in text
    assert "no limit is printed" in text


@pytest.mark.parametrize("seed", range(20))
def test_room_agrees_with_looking_step_by_step(seed):
    draw = np.random.default_rng(seed)
    shapes = [
        (shapely.box(east, north, east + draw.uniform(1, 6), north + draw.uniform(1, 6)), {"radius_m": np.nan})
        for east, north in draw.uniform(-15, 15, (5, 2))
    ]
    found = obstacles(SimpleNamespace(keepout=layer(*shapes), trees=None, watercourses=None))
    points = draw.uniform(-10, 10, (30, 2))
    turn = draw.uniform(0, 2 * np.pi, 30)
    aside = np.column_stack([np.cos(turn), np.sin(turn)])
    free, _ = room_m(points, aside, found, look_m=12.0)
    for point, way, room in zip(points, aside, free, strict=True):
        steps = np.arange(0.0, 12.0, 0.01)
        ground = shapely.points(point + steps[:, None] * way)
        hit = np.flatnonzero(np.any([shapely.intersects(ground, shape) for shape, _ in shapes], axis=0))
        assert room == pytest.approx(steps[hit[0]] if len(hit) else 12.0, abs=0.011)


def test_a_circle_fits_on_one_side_only():
    right_wall = obstacles(SimpleNamespace(keepout=layer(beside(-1, 0.0, 100.0)), trees=None, watercourses=None))
    assert turns_within_m(LINE, at_end=True, found=right_wall, circle_m=8.0, sides=(-1,)) == 0.0
    assert turns_within_m(LINE, at_end=True, found=right_wall, circle_m=8.0, sides=(1,)) == float("inf")


def test_water_on_the_line_is_a_crossing_and_beside_it_an_obstacle():
    across = layer((shapely.LineString([(50.0, -30.0), (50.0, 30.0)]), {"width_m": 3.0}))
    assert len(access(scene(watercourses=across)).hazards) == 0
    beside_it = layer(
        (shapely.LineString([(40.0, 2.0), (60.0, 2.0)]), {"width_m": 2.0}),
        (shapely.LineString([(40.0, -2.0), (60.0, -2.0)]), {"width_m": 2.0}),
    )
    assert access(scene(watercourses=beside_it)).layers["access"]["free_m"].tolist() == [pytest.approx(1.0)]

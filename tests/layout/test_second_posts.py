"""Corners with two posts: where the second stands, what begins there, and where one has to do."""

from functools import partial

import numpy as np
import pandas as pd
import pytest

from fencegis.layout.gates import Gate, hung
from fencegis.layout.post_tables import bay_table, divide_table, post_table, strainer_table
from fencegis.layout.rail_notes import notes_on_rails
from fencegis.layout.rail_rows import rail_number
from fencegis.layout.rails import rail_table
from fencegis.layout.second_posts import apart_m, take_two
from fencegis.records.spec import Fence, Spec
from fencegis.records.tables import empty

POST, FINGER = 0.175, 0.02
APART = POST + FINGER
LEVEL = ([0, 400], [5, 5])


@pytest.fixture
def course(course):
    return partial(course, kind="post and rail")


@pytest.fixture
def two_posts(railed_line):
    return partial(railed_line, corner="two posts")


def tables(one):
    nothing = lambda *arrays: np.zeros_like(arrays[0])  # noqa: E731
    posts = post_table([one.laid_out], lift=nothing, bend=nothing)
    return posts.set_index("post_id"), strainer_table([one.laid_out]), bay_table([one.laid_out])


def texts(one, fence):
    return [note.text for note in notes_on_rails([one], rail_table([one], fence=fence), empty("spots"), fence=fence)]


def turned(course, turn_deg, *, leg_m=9.2, **settings):
    """North, then turned so far to the right."""
    way = np.radians(turn_deg)
    return course((0, 0), (0, leg_m), (leg_m * np.sin(way), leg_m + leg_m * np.cos(way)), profile=LEVEL, **settings)


def test_a_second_post_stands_beside_the_corners_own_and_the_way_between_opens(two_posts, course):
    one, _ = two_posts(turned(course, 90.0))
    posts, strainers, bays = tables(one)
    at = posts["chainage_m"].to_numpy()
    first = int(np.abs(at - 9.2).argmin())
    assert at[first + 1] - at[first] == pytest.approx(APART)
    assert len(posts) == len(bays) + 1 + 1
    assert not ((bays["from_m"] < 9.3) & (bays["to_m"] > 9.3)).any()
    assert bays["ground_length_m"].to_numpy()[first:] == pytest.approx((9.2 - APART) / (len(bays) - first))
    assert strainers["reason"].tolist() == ["end", "corner", "corner", "end"]
    assert strainers["turn_deg"].tolist()[1] == pytest.approx(90.0)
    assert strainers["turn_deg"].isna().tolist() == [True, False, True, True]
    assert posts.index.tolist() == [f"A-{number:03d}" for number in range(1, len(posts) + 1)]
    assert posts["kind"].tolist()[first : first + 2] == ["strainer", "strainer"]


def test_the_tape_of_the_next_run_starts_at_the_second_post(two_posts, course):
    one, _ = two_posts(turned(course, 90.0))
    posts, _, bays = tables(one)
    tape = posts.set_index(posts["chainage_m"].round(3))["tape_m"]
    assert tape[[9.2, 9.395, 18.4]].tolist() == pytest.approx([9.2, 0.0, 9.2 - APART])
    runs = pd.DataFrame(
        {"line_id": "A", "run_id": ["A-R1", "A-R2"], "from_m": [0.0, 9.2], "to_m": [9.2, 18.4]},
    )
    divide = divide_table([one.laid_out], runs)
    second = bays.loc[bays["from_m"] > 9.3, "from_post"].iloc[0]
    assert divide.groupby("run_id")["from_post"].first().tolist() == ["A-001", second]
    planned = divide[divide["run_id"] == "A-R2"]["bays"].median()
    assert planned == (bays["from_m"] > 9.3).sum()


@pytest.mark.parametrize(("cover", "past"), [("edge", POST / 2.0), ("centre", 0.0)])
def test_rails_end_at_each_as_at_an_end_and_none_crosses(two_posts, course, cover, past):
    one, fence = two_posts(turned(course, 60.0), end_cover=cover)
    rails = rail_table([one], fence=fence)
    before, after = rails[np.isclose(rails["to_m"], 9.2)], rails[np.isclose(rails["from_m"], 9.2 + APART)]
    for ended, mitre in ((before, "mitre_to_deg"), (after, "mitre_from_deg")):
        assert set(ended["row"]) == {1, 2, 3}
        assert (ended["cut_m"] - (ended["to_m"] - ended["from_m"])).to_numpy() == pytest.approx(past, abs=1e-6)
        assert ended[mitre].to_numpy() == pytest.approx(0.0)
    assert not ((rails["from_m"] < 9.2 + APART - 0.01) & (rails["to_m"] > 9.21)).any()
    assert rails["stick"].notna().all()


def test_at_a_slight_turn_one_post_does_and_its_rails_are_mitred(two_posts, course):
    least = rail_number("least turn for two posts")
    below, above = (two_posts(turned(course, turn)) for turn in (least - 0.5, least + 0.5))
    assert (below[0].laid_out.paired.sum(), above[0].laid_out.paired.sum()) == (0, 2)
    rails = rail_table([below[0]], fence=below[1])
    at = rails[np.isclose(rails["to_m"], 9.2)]
    assert at["mitre_to_deg"].to_numpy() == pytest.approx((least - 0.5) / 2.0)
    assert not any("two posts" in text or "second post" in text for text in texts(*below))


@pytest.mark.parametrize("settings", [{"corner": "mitre"}, {"corner": "two posts", "rails_fixed": "centred"}])
def test_where_nobody_asks_or_rails_end_in_the_post_anyway_there_is_one(railed_line, course, settings):
    one, _ = railed_line(turned(course, 90.0), **settings)
    assert not one.laid_out.paired.any()


def test_a_loop_has_two_posts_at_every_corner_its_start_as_well(two_posts, course):
    one, fence = two_posts(course((0, 0), (0, 20), (20, 20), (20, 0), closed=True, profile=LEVEL))
    posts, strainers, bays = tables(one)
    assert len(posts) == len(bays) + 4
    at = posts["chainage_m"].to_numpy()
    for corner in (0.0, 20.0, 40.0, 60.0):
        assert np.isclose(at, corner).sum() == np.isclose(at, corner + APART).sum() == 1
    assert strainers["reason"].tolist() == ["corner"] * 8
    assert bays["to_post"].iloc[-1] == posts.index[0]
    rails = rail_table([one], fence=fence)
    for _, row in rails.groupby("row"):
        assert (row["to_m"] - row["from_m"]).sum() == pytest.approx(80.0 - 4 * APART)


def test_peg_and_node_stay_on_the_corners_own_post(two_posts, course):
    line = turned(course, 90.0, nodes={9.2: "N01"}, owned={"N01"})
    one, _ = two_posts(line)
    posts, strainers, _ = tables(one)
    assert posts.loc[posts["node_id"].notna(), "chainage_m"].tolist() == pytest.approx([9.2])
    assert strainers["reason"].tolist() == ["end", "junction", "corner", "end"]
    assert strainers["also"].tolist()[1] == "corner"


def test_a_gate_hung_on_the_corners_post_needs_no_second(two_posts, course):
    line = turned(course, 90.0, leg_m=20.0)
    for gate in (Gate(0, "feature 1", 0, 20.0, 23.84), Gate(0, "feature 1", 0, 16.16, 20.0)):
        one, fence = two_posts(line, gate)
        assert not one.laid_out.paired.any()
        assert not any("no room" in text for text in texts(one, fence))


def test_a_gate_too_near_the_second_post_for_a_bay_is_hung_on_the_corner(course):
    import geopandas as gpd
    import shapely

    line = turned(course, 90.0, leg_m=20.0)
    span = 3.84
    asked = Spec(fence=Fence(kind="post and rail", rail_m=(4.8,), corner="two posts"))
    plain = Spec(fence=Fence(kind="post and rail", rail_m=(4.8,)))
    for clear, spec, moves in ((0.7, asked, True), (0.7, plain, False), (0.9, asked, False), (-0.7, asked, False)):
        middle = 20.0 + np.copysign(abs(clear) + span / 2.0, clear)
        point = (middle - 20.0, 20.0) if clear > 0 else (0.0, middle)
        unknown = dict.fromkeys(("leaf_m", "leaves", "setback_m", "wing_m", "gate_post_mm"), np.nan)
        row = {"feature": "feature 1", "name": None, "opening_m": 3.6, "hinge": None, "swing_side": None, **unknown}
        (gate,) = hung([line], gates=gpd.GeoDataFrame([row], geometry=[shapely.Point(point)]), spec=spec).gates
        assert bool(np.isclose(gate.from_m, 20.0)) == moves, (clear, gate)


def test_where_the_next_post_is_too_near_one_has_to_do_and_it_is_said(two_posts, course):
    line = turned(course, 90.0, nodes={9.9: "N01"}, owned={"N01"})
    one, fence = two_posts(line)
    posts, _, _ = tables(one)
    assert not one.laid_out.paired.any()
    name = posts.index[int(np.abs(posts["chainage_m"] - 9.2).argmin())]
    assert any(f"no room for a second post at {name}, so near is the next" in text for text in texts(one, fence))
    rails = rail_table([one], fence=fence)
    at = rails[np.isclose(rails["to_m"], 9.2)]
    assert (at["cut_m"] - (at["to_m"] - at["from_m"])).to_numpy() == pytest.approx(POST / 2.0)
    far, _ = two_posts(turned(course, 90.0, nodes={10.1: "N01"}, owned={"N01"}))
    assert far.laid_out.paired.sum() == 2


def test_second_posts_are_named_in_a_note(two_posts, course):
    one, fence = two_posts(turned(course, 90.0))
    second = one.laid_out.post_id[int(np.flatnonzero(one.laid_out.paired)[1])]
    assert any(f"corners with two posts, the second {second}: 20 mm from the corner's own, face to face" in t
               for t in texts(one, fence))  # fmt: skip


@pytest.mark.parametrize("turn", [20.0, 60.0, 90.0, 110.0])
@pytest.mark.parametrize(("line_is", "side"), [("centre", 0.0), ("face", 1.0), ("face", -1.0)])
def test_posts_as_they_are_set_stand_a_finger_clear(turn, line_is, side):
    """Set out in plan: the first on the bisector of the two faces' lines, the second square to the next run's."""
    fence = Fence(corner="two posts", line_is=line_is, string_side="left" if side >= 0.0 else "right")
    way = np.radians(turn)
    ahead, right = np.array([np.sin(way), np.cos(way)]), np.array([np.cos(way), -np.sin(way)])
    bisector = right + np.array([1.0, 0.0])
    off = side * POST / 2.0
    first = off * 2.0 * bisector / (bisector @ bisector)
    assert first @ right == pytest.approx(off)
    assert first[0] == pytest.approx(off)
    (along,) = apart_m(np.array([turn]), fence=fence)
    between = np.hypot(*(along * ahead + off * right - first))
    assert between == pytest.approx(APART) or (side < 0.0 and between > APART)
    assert along >= APART / 2.0


def test_turns_to_either_side_count_alike():
    fence = Fence(corner="two posts")
    assert take_two(np.array([-90.0, -9.0, 0.0, 9.0, 11.0]), fence=fence).tolist() == [True, False, False, False, True]
    face = Fence(corner="two posts", line_is="face", string_side="left")
    mirrored = Fence(corner="two posts", line_is="face", string_side="right")
    turns = np.array([-120.0, -30.0, 30.0, 120.0])
    np.testing.assert_allclose(apart_m(turns, fence=face), apart_m(-turns, fence=mirrored))


def test_the_top_line_runs_on_between_the_two(two_posts, course):
    """A slope round a corner: no jump between two posts a hand apart."""
    one, _ = two_posts(course((0, 0), (0, 20), (20, 20), profile=([0, 40], [0, 4])))
    first, second = np.flatnonzero(one.laid_out.paired)
    assert abs(one.level_m[second] - one.level_m[first] - 0.1 * APART) < 0.002
    assert one.pattern.through[[first, second]].sum() == 0

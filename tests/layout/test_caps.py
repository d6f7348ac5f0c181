"""The cap: boards flat on the posts' tops, row 0 of the layer `rails`."""

from functools import partial

import numpy as np
import pytest

from fencegis.layout.cap_notes import notes_on_caps
from fencegis.layout.caps import cap_pull_mm, top_joints, with_caps
from fencegis.layout.gates import Gate
from fencegis.layout.rail_notes import notes_on_rails
from fencegis.layout.rails import rail_table
from fencegis.records.spec import Fence
from fencegis.records.tables import empty

HALF, HALF_WIDE = 0.175 / 2.0, 0.1
LEVEL = ([0, 40], [5, 5])


@pytest.fixture
def course(course):
    return partial(course, kind="post and rail")


@pytest.fixture
def capped(railed_line):
    def make(course, *gates, **settings):
        one, fence = railed_line(course, *gates, **{"cap_m": (4.8,), **settings})
        return one, with_caps(rail_table([one], fence=fence), [one], fence=fence), fence

    return make


def cap_of(rails):
    return rails[rails["row"] == 0].reset_index(drop=True)


def texts(one, fence):
    return [note.text for note in notes_on_caps([one], fence=fence)]


def said(one, fence, words):
    return [text for text in texts(one, fence) if words in text]


def places(one, rails):
    """The posts at which boards of the cap are joined, by their numbers."""
    cap = cap_of(rails)
    return {int(np.abs(one.bays.post_m - at).argmin()) for at in (*cap["from_m"], *cap["to_m"])}


def test_without_a_cap_nothing_is_added(capped, course):
    one, rails, fence = capped(course((0, 0), (40, 0), profile=LEVEL), cap_m=None)
    assert (rails["row"] > 0).all()
    assert notes_on_caps([one], fence=fence) == notes_on_caps([], fence=Fence(cap_m=(4.8,))) == []


def test_on_the_level_a_board_is_its_bays_and_half_the_end_post(capped, course):
    """It covers the end posts to their edges, even where the rails stop at their centres."""
    one, rails, _ = capped(course((0, 0), (40, 0), profile=LEVEL), end_cover="centre")
    cap, bay = cap_of(rails), 40.0 / len(one.bays.bay_m)
    assert cap["cut_m"].iloc[0] == pytest.approx(cap["bays"].iloc[0] * bay + HALF)
    assert cap["cut_m"].iloc[-1] == pytest.approx(cap["bays"].iloc[-1] * bay + HALF)
    assert cap["cut_m"].iloc[1:-1].to_numpy() == pytest.approx(2.0 * bay)
    assert (cap["to_m"] - cap["from_m"]).sum() == pytest.approx(40.0)
    assert cap["rail_id"].tolist() == [f"A-C-{number:03d}" for number in range(1, len(cap) + 1)]
    assert set(cap["stick"]) == {4.8}


def test_uphill_a_board_loses_only_its_thickness_to_the_plumb_cut(capped, course):
    """At 20 %: the bays' level length × √1.04 and 0.05 × 0.2, where a rail on edge takes 0.15 × 0.2."""
    _, rails, _ = capped(course((0, 0), (40, 0), profile=([0, 40], [0, 8])))
    board = cap_of(rails).iloc[2]
    assert board["cut_m"] == pytest.approx((board["to_m"] - board["from_m"]) * np.sqrt(1.04) + 0.01, abs=1e-5)
    assert board["plumb_from_deg"] == pytest.approx(np.degrees(np.arctan(0.2)), abs=1e-3)


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("turn", [40.0, -90.0, 120.0])
def test_at_a_corner_boards_are_mitred_at_half_the_turn_whichever_side_the_rails_are_on(capped, course, turn, side):
    way = np.array([np.sin(np.radians(turn)), np.cos(np.radians(turn))])
    line = course((0, 0), (0, 9.2), tuple(np.array([0, 9.2]) + 9.2 * way))
    _, rails, _ = capped(line, rail_side=side)
    cap = cap_of(rails)
    arrives, leaves = cap[np.isclose(cap["to_m"], 9.2)].iloc[0], cap[np.isclose(cap["from_m"], 9.2)].iloc[0]
    past = HALF_WIDE * np.tan(np.radians(abs(turn) / 2.0))
    assert arrives["cut_m"] - (arrives["to_m"] - arrives["from_m"]) == pytest.approx(past, abs=1e-6)
    assert leaves["cut_m"] - (leaves["to_m"] - leaves["from_m"]) == pytest.approx(past, abs=1e-6)
    assert arrives["mitre_to_deg"] == pytest.approx(turn / 2.0)
    assert leaves["mitre_from_deg"] == pytest.approx(turn / 2.0)


def test_mitred_boards_meet_on_the_whole_joint(capped, course):
    """Built in plan from length and mitre: the two ends share an edge as long as the joint is, and nothing else."""
    import shapely

    turn = 60.0
    way = np.array([np.sin(np.radians(turn)), np.cos(np.radians(turn))])
    _, rails, _ = capped(course((0, 0), (0, 9.2), tuple(np.array([0, 9.2]) + 9.2 * way)))
    cap = cap_of(rails)
    board = cap[np.isclose(cap["to_m"], 9.2)].iloc[0]
    past = board["cut_m"] - (board["to_m"] - board["from_m"])
    short = past - 2.0 * HALF_WIDE * np.tan(np.radians(board["mitre_to_deg"]))
    arrives = shapely.Polygon([(-HALF_WIDE, -1.0), (HALF_WIDE, -1.0), (HALF_WIDE, short), (-HALF_WIDE, past)])
    square = np.array([way[1], -way[0]])
    ends = [(-past, -HALF_WIDE), (-short, HALF_WIDE), (1.0, HALF_WIDE), (1.0, -HALF_WIDE)]
    leaves = shapely.Polygon([along * way + off * square for along, off in ends])
    assert arrives.intersection(leaves).area == pytest.approx(0.0, abs=1e-9)
    joint = 2.0 * HALF_WIDE / np.cos(np.radians(turn / 2.0))
    assert arrives.boundary.intersection(leaves.boundary.buffer(1e-7)).length == pytest.approx(joint, abs=1e-5)


def test_joints_stand_on_other_posts_than_the_top_rails(capped, course):
    one, rails, fence = capped(course((0, 0), (40, 0), profile=LEVEL))
    inner = set(range(1, len(one.bays.bay_m)))
    assert places(one, rails) & inner
    assert not places(one, rails) & inner & set(np.flatnonzero(top_joints(one)).tolist())
    assert said(one, fence, "on posts' tops, none where the top rail is joined")


def test_over_rails_between_posts_joints_cannot_be_staggered_and_are_as_few_as_can_be(capped, course):
    line = course((0, 0), (23, 0), profile=([0, 23], [5, 5]))
    one, rails, fence = capped(line, rails_fixed="centred", post_spacing_m=2.35)
    assert cap_of(rails)["bays"].tolist() == [2, 2, 2, 2, 2]
    assert said(one, fence, "4 joints between, on posts' tops, 4 of them where the top rail is joined too")


def test_every_board_is_cut_at_gates_and_corners_and_none_crosses_an_opening(capped, course):
    _, rails, _ = capped(course((0, 0), (30, 0), (30, 10)), Gate(0, "feature 1", 0, 12.0, 15.84))
    cap = cap_of(rails)
    assert not ((cap["from_m"] < 15.8) & (cap["to_m"] > 12.1)).any()
    for at in (12.0, 15.84, 30.0):
        assert (np.isclose(cap["from_m"], at) | np.isclose(cap["to_m"], at)).any()
    before = cap[np.isclose(cap["to_m"], 12.0)].iloc[0]
    assert before["cut_m"] == pytest.approx(before["to_m"] - before["from_m"] + 0.12)


def test_how_far_a_cap_is_pulled():
    """50 × 150 on edge by 10 mm; 50 thick bears 3 times that at the same stress, and 200 wide at 6.75 times its force.

    A board of 300 × 100 is stiffer than the rail: 50 · 150³ ÷ (300 · 100³), 0.5625 of 10 mm.
    """
    rail = Fence(pull_mm=10.0, rail_depth_mm=150.0, rail_thick_mm=50.0)
    assert cap_pull_mm(rail) == pytest.approx(30.0)
    assert cap_pull_mm(rail.model_copy(update={"cap_width_mm": 300.0, "cap_thick_mm": 100.0})) == pytest.approx(5.625)


@pytest.mark.parametrize(("bend_pct", "runs_on"), [(2.2, True), (3.2, False)])
def test_a_cap_runs_on_over_a_change_of_grade_that_cuts_every_rail_unless_it_is_too_great(
    capped, course, bend_pct, runs_on
):
    """Over bays of about 2.3 m a change of g % puts the post 2.3 · g ÷ 200 off: 25 mm at 2.2 %, 37 mm at 3.2 %."""
    brow = course((0, 0), (46, 0), profile=([0, 23, 46], [0, 23.0 * bend_pct / 200.0, 0]))
    one, rails, _ = capped(brow, top_line="ground", bays="equal")
    ridge = int(np.abs(one.bays.post_m - 23.0).argmin())
    assert one.bays.post_m[ridge] == pytest.approx(23.0, abs=0.01)
    assert one.for_grade[ridge]
    assert (ridge not in places(one, rails)) == runs_on


def test_stock_too_short_for_two_bays_lays_a_cap_bay_by_bay_and_says_what_would_reach(capped, course):
    one, rails, fence = capped(course((0, 0), (40, 0), profile=LEVEL), cap_m=(3.6,))
    assert (cap_of(rails)["bays"] == 1).all()
    (text,) = said(one, fence, "reach over one bay only")
    bay = float(one.bays.bay_m.max())
    assert f"they would have to be {2.0 * bay + 0.05:.2f} m" in text


@pytest.mark.parametrize("slope", [0.0, 0.3])
@pytest.mark.parametrize("cap_m", [(4.8,), (4.6,), (2.4,), (4.8, 2.4)])
def test_no_board_is_longer_than_its_stock_less_the_trims(capped, course, slope, cap_m):
    bend = np.radians(35.0)
    line = course((0, 0), (70, 0), (70 + 60 * np.cos(bend), 60 * np.sin(bend)), profile=([0, 130], [0, 130 * slope]))
    one, rails, fence = capped(line, cap_m=cap_m)
    cap = cap_of(rails)
    assert cap["stick"].notna().all()
    assert (cap["cut_m"] <= max(cap_m) - 0.05 + 0.01 * cap["bays"] + 1e-9).all()
    notes = notes_on_rails([one], rails, empty("spots"), fence=fence)
    assert not any("longer than the longest stock" in note.text for note in notes)


def test_a_board_longer_than_any_stock_is_said_as_such(capped, course):
    """A ditch between posts that the fitted grades pass over, and boards that only just reach on the level."""
    line = course((0, 0), (60, 0), profile=([0, 29, 31, 60], [0, 0, 1.4, 1.4]))
    one, rails, fence = capped(line, top_line="ground", cap_m=(2.4,), rail_m=(6.0,))
    long = cap_of(rails)["stick"].isna()
    assert long.any()
    notes = [note.text for note in notes_on_rails([one], rails, empty("spots"), fence=fence)]
    (text,) = [text for text in notes if "longer than the longest stock" in text and "boards" in text]
    assert text.startswith(f"{long.sum()} boards of the cap are longer than the longest stock less its trims")


def circle(course, radius_m, points):
    angle = np.radians(np.arange(points) * 360.0 / points)
    return course(*(radius_m * np.column_stack([np.sin(angle), np.cos(angle)])).tolist(), closed=True)


def test_flat_boards_want_a_wider_arc_than_rails(capped, course):
    """R 130 m is wide enough for a 50 mm rail, but not for boards of 200 mm bent over their width."""
    one, rails, fence = capped(circle(course, 130.0, 480))
    assert (rails.loc[rails["row"] == 1, "bays"] == 2).any()
    cap = cap_of(rails)
    assert (cap["bays"] == 1).all()
    assert cap["mitre_to_deg"].to_numpy() == pytest.approx(180.0 / len(one.bays.bay_m), abs=0.05)
    assert said(one, fence, "its radius is under 400 m")
    half_turn = np.pi / len(one.bays.bay_m)
    assert cap["cut_m"].sum() == pytest.approx(one.chord_m.sum() + 2 * len(cap) * HALF_WIDE * np.tan(half_turn))


def test_how_the_cap_lies_is_said(capped, course):
    one, _, fence = capped(course((0, 0), (40, 0), profile=LEVEL))
    (lies,) = said(one, fence, "lies on the posts")
    assert "a cap 200 mm wide and 50 mm thick (common practice where site.toml gives no size)" in lies
    assert "cut their tops flat, level across the fence and to the rails' grade along it, at the top of the top" in lies
    assert "the fence stands 50 mm higher" in lies
    assert "may be pulled 30 mm" in lies
    assert said(one, fence, "stand 37.5 mm out from under the cap; a cap 275 mm wide would cover them")


def test_a_cap_narrower_than_the_posts_is_a_doubt(capped, course):
    one, _, fence = capped(course((0, 0), (40, 0), profile=LEVEL), cap_width_mm=150.0, cap_thick_mm=38.0)
    assert said(one, fence, "the cap, 150 mm wide, is narrower than posts of 175 mm")
    assert not said(one, fence, "common practice")
    assert not said(one, fence, "out from under the cap")


def test_on_a_steep_bank_the_tops_of_posts_run_out_of_over_length(capped, course):
    """Half of 175 mm at 60 %: 52 mm, more than the 50 mm that posts are cut longer."""
    one, _, fence = capped(course((0, 0), (40, 0), profile=([0, 40], [0, 24])))
    assert said(one, fence, "on the uphill side they stand 52 mm over their middle here, more than the 50 mm")
    gentle, _, fence = capped(course((0, 0), (40, 0), profile=([0, 40], [0, 8])))
    assert not said(gentle, fence, "on the uphill side")


def test_where_it_comes_in_at_another_fence_a_board_reaches_over_the_post_and_is_cut_on_site(capped, course):
    line = course((0, 0), (40, 0), profile=LEVEL, nodes={0.0: "N1"}, owned=("N1",))
    one, rails, fence = capped(line)
    board = cap_of(rails).iloc[0]
    assert "junction" in one.laid_out.fixed.reasons[0]
    assert board["cut_m"] - (board["to_m"] - board["from_m"]) == pytest.approx(HALF)
    (text,) = said(one, fence, "comes in at another fence")
    assert text.startswith(f"at {one.laid_out.post_id[0]} the cap")

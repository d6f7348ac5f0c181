"""The layer `rails`: lengths from long point to long point, cuts, the stock they come from."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from fencegis.layout.gates import Gate
from fencegis.layout.joints import rail_pattern
from fencegis.layout.rail_notes import notes_on_rails
from fencegis.layout.rails import cut_length_m, rail_table
from fencegis.records.tables import empty

HALF, THICK = 0.175 / 2.0, 0.05


@pytest.fixture
def course(course):
    return partial(course, kind="post and rail")


@pytest.fixture
def rails_of(railed_line):
    def make(course, *gates, **settings):
        one, fence = railed_line(course, *gates, **settings)
        return one, rail_table([one], fence=fence), fence

    return make


def texts(one, rails, fence):
    return [note.text for note in notes_on_rails([one], rails, empty("spots"), fence=fence)]


def test_150_mm_of_depth_at_30_percent_takes_45_mm():
    """Plumb cuts at both ends of a raked rail: depth × tan(grade)."""
    (with_cut,), (without,) = (
        cut_length_m(np.array([4.6]), grade_deg=np.array([np.degrees(np.arctan(0.3))]), depth_mm=depth)
        for depth in (150.0, 0.0)
    )
    assert with_cut - without == pytest.approx(0.045)
    assert without == pytest.approx(np.hypot(4.6, 4.6 * 0.3))


def test_on_the_level_a_rail_is_its_bays_and_its_cover_of_the_end_post(rails_of, course):
    one, rails, _ = rails_of(course((0, 0), (20, 0), profile=([0, 20], [5, 5])))
    bay = 20.0 / len(one.bays.bay_m)
    top = rails[rails["row"] == 1]
    assert top["cut_m"].to_numpy()[1:-1] == pytest.approx(2.0 * bay)
    assert top["cut_m"].iloc[0] == pytest.approx(2.0 * bay + HALF)
    assert rails[["plumb_from_deg", "mitre_to_deg"]].abs().max().max() == pytest.approx(0.0, abs=1e-6)
    assert set(rails["stick"]) == {4.8}
    _, bare, _ = rails_of(course((0, 0), (20, 0), profile=([0, 20], [5, 5])), end_cover="centre")
    assert bare["cut_m"].iloc[0] == pytest.approx(
        bare["bays"].iloc[0] * 20.0 / bare.loc[bare["row"] == 1, "bays"].sum()
    )


def test_uphill_both_ends_are_cut_to_the_grade(rails_of, course):
    _, rails, _ = rails_of(course((0, 0), (40, 0), profile=([0, 40], [0, 8])), end_cover="centre")
    assert rails["plumb_from_deg"].to_numpy() == pytest.approx(np.degrees(np.arctan(0.2)), abs=1e-3)
    long = rails[rails["bays"] == 2].iloc[2]
    run = long["to_m"] - long["from_m"]
    assert long["cut_m"] == pytest.approx(run * np.hypot(1.0, 0.2) + 0.15 * 0.2, abs=1e-5)


@pytest.mark.parametrize(
    ("turn", "side", "far"), [(40, "left", True), (40, "right", False), (-40, "left", False), (-40, "right", True)]
)
def test_at_a_corner_rails_are_mitred_at_half_the_turn_longer_outside_shorter_inside(rails_of, course, turn, side, far):
    bend = np.radians(90.0 - turn)
    line = course((0, 0), (0, 9.2), (9.2 * np.cos(bend), 9.2 + 9.2 * np.sin(bend)))
    _, rails, _ = rails_of(line, rail_side=side, end_cover="centre")
    at = rails[np.isclose(rails["to_m"], 9.2, atol=1e-6)]
    assert set(at["row"]) == {1, 2, 3}
    assert at["mitre_to_deg"].to_numpy() == pytest.approx(turn / 2.0)
    extra = (HALF + THICK) * np.tan(np.radians(20.0)) if far else -HALF * np.tan(np.radians(20.0))
    assert (at["cut_m"] - (at["to_m"] - at["from_m"])).to_numpy() == pytest.approx(extra, abs=1e-6)
    leaving = rails[np.isclose(rails["from_m"], 9.2, atol=1e-6)]
    assert leaving["mitre_from_deg"].to_numpy() == pytest.approx(turn / 2.0)


@pytest.mark.parametrize(
    ("side", "arrives", "leaves"), [("left", HALF + THICK, HALF), ("right", -HALF, -(HALF + THICK))]
)
def test_at_a_right_angle_one_rail_laps_past_and_the_other_butts_against_it(rails_of, course, side, arrives, leaves):
    """North, then east, a turn to the right: rails on the left are outside."""
    line = course((0, 0), (0, 9.2), (9.2, 9.2))
    _, rails, _ = rails_of(line, corner="lap", rail_side=side, end_cover="centre")
    before, after = rails[np.isclose(rails["to_m"], 9.2)], rails[np.isclose(rails["from_m"], 9.2)]
    assert (before["cut_m"] - (before["to_m"] - before["from_m"])).to_numpy() == pytest.approx(arrives, abs=1e-6)
    assert (after["cut_m"] - (after["to_m"] - after["from_m"])).to_numpy() == pytest.approx(leaves, abs=1e-6)
    assert before["mitre_to_deg"].to_numpy() == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(("turn", "side"), [(80, "left"), (85, "right"), (95, "left"), (100, "right")])
def test_lapped_rails_touch_and_do_not_cut_into_each_other(rails_of, course, turn, side):
    """Built up in plan: the butt lies on the other's face over its whole thickness."""
    import shapely

    bend = np.radians(90.0 - turn)
    line = course((0, 0), (0, 9.2), (9.2 * np.cos(bend), 9.2 + 9.2 * np.sin(bend)))
    _, rails, _ = rails_of(line, corner="lap", rail_side=side, end_cover="centre")
    before = rails[np.isclose(rails["to_m"], 9.2)].iloc[0]
    after = rails[np.isclose(rails["from_m"], 9.2)].iloc[0]
    extra = [float(one["cut_m"] - (one["to_m"] - one["from_m"])) for one in (before, after)]
    sign = -1.0 if side == "left" else 1.0
    near, far = sign * HALF, sign * (HALF + THICK)
    arrives = shapely.Polygon([(near, 8.0), (far, 8.0), (far, 9.2 + extra[0]), (near, 9.2 + extra[0])])
    along, right = np.array([np.cos(bend), np.sin(bend)]), np.array([np.sin(bend), -np.cos(bend)])
    # out of square by less than a right angle's lack: the short point is t · tan of it behind the long one
    behind = THICK * np.tan(np.radians(abs(after["mitre_from_deg"])))
    options = []
    for starts in ((-extra[1], -extra[1] + behind), (-extra[1] + behind, -extra[1])):
        ends = [(near, starts[0]), (far, starts[1]), (far, 1.0), (near, 1.0)]
        options.append(shapely.Polygon([np.array([0, 9.2]) + off * right + go * along for off, go in ends]))
    leaves = min(options, key=lambda shape: shape.intersection(arrives).area + shape.distance(arrives))
    assert leaves.intersection(arrives).area == pytest.approx(0.0, abs=1e-9)
    assert leaves.buffer(1e-6).intersection(arrives.boundary).length >= THICK - 1e-3


def test_past_a_right_angle_rails_run_square_to_the_edge_of_the_post(rails_of, course):
    line = course((0, 0), (0, 9.2), (8.0, 4.6))
    _, rails, _ = rails_of(line, end_cover="centre")
    at = rails[np.isclose(rails["to_m"], 9.2)]
    assert at["mitre_to_deg"].to_numpy() == pytest.approx(0.0)
    assert (at["cut_m"] - (at["to_m"] - at["from_m"])).to_numpy() == pytest.approx(HALF)


def test_rails_cover_half_of_a_gate_post_and_none_crosses_the_opening(rails_of, course):
    _, rails, _ = rails_of(course((0, 0), (30, 0)), Gate(0, "feature 1", 0, 12.0, 15.84))
    before = rails[np.isclose(rails["to_m"], 12.0)]
    short = before[before["bays"] == 1].iloc[0]
    assert short["cut_m"] == pytest.approx(short["to_m"] - short["from_m"] + 0.12)
    assert not ((rails["from_m"] < 15.8) & (rails["to_m"] > 12.1)).any()


@pytest.mark.parametrize("bays", ["equal", "full"])
@pytest.mark.parametrize("slope", [0.0, 0.1, 0.2, 0.3])
def test_no_rail_is_longer_than_its_stock_less_the_trims(rails_of, course, slope, bays):
    bend = np.radians(35.0)
    line = course((0, 0), (70, 0), (70 + 60 * np.cos(bend), 60 * np.sin(bend)), profile=([0, 130], [0, 130 * slope]))
    one, rails, fence = rails_of(line, bays=bays)
    assert rails["stick"].notna().all()
    assert (rails["cut_m"] <= 4.8 - 0.05 + 0.01 * rails["bays"] + 1e-9).all()
    assert not any("longer than the longest stock" in text for text in texts(one, rails, fence))


def test_a_rail_longer_than_the_stock_is_said_and_has_no_stick(rails_of, course):
    """A ditch between posts that the fitted grades pass over makes the top line steeper than bays reckon with."""
    line = course((0, 0), (60, 0), profile=([0, 29, 31, 60], [0, 0, 1.4, 1.4]))
    one, rails, fence = rails_of(line, top_line="ground")
    long = rails[rails["stick"].isna()]
    assert len(long)
    over = (long["cut_m"] - 4.75 - 0.01 * long["bays"]).max()
    (said,) = [text for text in texts(one, rails, fence) if "longer than the longest stock" in text]
    assert f"by {1000 * over:.0f} mm, the worst" in said


def test_the_shortest_stock_that_holds_a_rail_is_its_stick(rails_of, course):
    _, rails, _ = rails_of(course((0, 0), (40, 0)), rail_m=(4.8, 2.5))
    assert set(rails.loc[rails["bays"] == 1, "stick"]) == {2.5}
    assert set(rails.loc[rails["bays"] == 2, "stick"]) == {4.8}


def test_without_ground_rails_are_cut_as_level_and_their_plumb_cut_is_left_empty(rails_of, course):
    one, rails, _ = rails_of(course((0, 0), (40, 0)))
    assert one.heights is None
    assert rails["plumb_from_deg"].isna().all()
    assert rails["cut_m"].notna().all()
    steep = course((0, 0), (40, 0), profile=([0, 40], [0, 8]))
    assert rails_of(steep, tells_posts=False)[1]["plumb_to_deg"].isna().all()


def test_a_square_of_rails_closes_on_itself(rails_of, course):
    one, rails, _ = rails_of(course((0, 0), (0, 20), (20, 20), (20, 0), closed=True))
    assert one.pattern.closed
    for _, row in rails.groupby("row"):
        assert (row["to_m"] - row["from_m"]).sum() == pytest.approx(80.0)
    assert rails["to_m"].max() == pytest.approx(80.0)
    assert not rails["rail_id"].duplicated().any()
    at = rails[np.isclose(rails["to_m"], 80.0)]
    assert at["mitre_to_deg"].to_numpy() == pytest.approx(45.0)


def circle(course, radius_m, points):
    angle = np.radians(np.arange(points) * 360.0 / points)
    return course(*(radius_m * np.column_stack([np.sin(angle), np.cos(angle)])).tolist(), closed=True)


def test_on_a_tight_arc_rails_go_over_one_bay_and_it_is_said(rails_of, course):
    one, rails, fence = rails_of(circle(course, 20.0, 160))
    assert (rails["bays"] == 1).all()
    assert any("the arc's radius is under 100 m" in text for text in texts(one, rails, fence))
    assert rails["mitre_to_deg"].to_numpy() == pytest.approx(180.0 / len(one.bays.bay_m), abs=0.05)


@pytest.mark.parametrize(("side", "off_m"), [("left", HALF + THICK), ("right", -HALF)])
def test_round_a_wide_arc_rails_are_the_posts_polygon_moved_out_or_in(rails_of, course, side, off_m):
    """A circle of 130 m to the right: what each row is longer by is the turn times how far off it stands."""
    one, rails, _ = rails_of(circle(course, 130.0, 480), rail_side=side)
    assert (one.pattern.bays == 2).any()
    total = rails.groupby("row")["cut_m"].sum().to_numpy()
    # at a joint the long points count, on the far face outside and the near one inside; over a middle post the middle
    assert total == pytest.approx(one.chord_m.sum() + 2.0 * np.pi * off_m, abs=2.0 * np.pi * THICK / 2.0)


def test_a_rail_that_runs_on_over_a_loops_start_is_two_rows_of_one_name(railed_line, course):
    one, fence = railed_line(course((0, 0), (0, 20), (20, 20), (20, 0), closed=True))
    nothing = np.zeros(len(one.bays.bay_m), dtype=bool)
    free = rail_pattern(nothing, cut=nothing, single=nothing, rows=3, rail_bays=2, closed=True)
    rails = rail_table([replace(one, pattern=free)], fence=fence)
    twice = rails[rails["rail_id"].duplicated(keep=False)].sort_values("from_m")
    assert len(twice) == 2
    assert twice["from_m"].iloc[0] == 0.0
    assert twice["to_m"].iloc[1] == 80.0
    assert twice["cut_m"].isna().tolist() == twice["stick"].isna().tolist() == [True, False]
    assert (rails["to_m"] - rails["from_m"]).sum() == pytest.approx(3 * 80.0)


def test_bays_leave_room_for_rails_that_run_to_the_edge_where_a_corner_has_two_posts(rails_of, course):
    bend = np.radians(12.0)
    line = course((0, 0), (47.4, 0), (47.4 + 47.4 * np.cos(bend), 47.4 * np.sin(bend)))
    _, rails, _ = rails_of(line, corner="two posts")
    assert rails["stick"].notna().all()
    at = rails[np.isclose(rails["to_m"], 47.4, atol=0.01)]
    assert (at["cut_m"] - (at["to_m"] - at["from_m"])).to_numpy() == pytest.approx(HALF, abs=1e-6)


LET_IN = 0.025
CENTRED = {"rails_fixed": "centred", "post_spacing_m": 2.5}


def test_a_rail_between_posts_is_the_clear_between_faces_and_two_housings(rails_of, course):
    """20 m in 8 bays of 2.5 m: 2.5 − 0.175 between faces, and 25 mm at either end; ends and gates are no exception."""
    one, rails, _ = rails_of(course((0, 0), (20, 0), profile=([0, 20], [5, 5])), **CENTRED)
    assert len(one.bays.bay_m) == 8
    assert rails["cut_m"].to_numpy() == pytest.approx(2.5 - 0.175 + 2 * LET_IN)
    assert (rails["bays"] == 1).all()
    assert rails[["mitre_from_deg", "mitre_to_deg"]].abs().max().max() == 0.0
    _, deeper, _ = rails_of(course((0, 0), (20, 0), profile=([0, 20], [5, 5])), housing_mm=40.0, **CENTRED)
    assert deeper["cut_m"].to_numpy() == pytest.approx(2.5 - 0.175 + 0.080)


def test_between_posts_uphill_both_ends_are_cut_plumb(rails_of, course):
    """At 20 %: level between the ends' middles b − 0.125, along the rail × √1.04, and 0.15 × 0.2 for the plumb cuts."""
    _, rails, _ = rails_of(course((0, 0), (40, 0), profile=([0, 40], [0, 8])), **CENTRED)
    level = (rails["to_m"] - rails["from_m"]).to_numpy() - 0.175 + 2 * LET_IN
    assert rails["cut_m"].to_numpy() == pytest.approx(level * np.sqrt(1.04) + 0.03, abs=1e-5)
    assert rails["plumb_to_deg"].to_numpy() == pytest.approx(np.degrees(np.arctan(0.2)), abs=1e-3)


def test_between_posts_a_gate_posts_girth_counts(rails_of, course):
    gate = Gate(0, "feature 1", 0, 12.0, 15.84)
    _, rails, _ = rails_of(course((0, 0), (30, 0)), gate, **CENTRED)
    before = rails[np.isclose(rails["to_m"], 12.0)].iloc[0]
    assert before["cut_m"] == pytest.approx(before["to_m"] - before["from_m"] - HALF - 0.12 + 2 * LET_IN)


@pytest.mark.parametrize(("turn", "side"), [(40, "left"), (40, "right"), (-90, "left"), (120, "right")])
def test_at_a_corner_both_rails_enter_the_post_square_and_do_not_touch(rails_of, course, turn, side):
    """Drawn in plan: neither an outside nor an inside, each end 62.5 mm from the centre, wood between them."""
    import shapely

    way = np.array([np.sin(np.radians(turn)), np.cos(np.radians(turn))])
    line = course((0, 0), (0, 10), tuple(np.array([0, 10]) + 10 * way))
    one, rails, fence = rails_of(line, rail_side=side, corner="lap", **CENTRED)
    before, after = rails[np.isclose(rails["to_m"], 10.0)].iloc[0], rails[np.isclose(rails["from_m"], 10.0)].iloc[0]
    assert before["cut_m"] == pytest.approx(2.375)
    assert after["cut_m"] == pytest.approx(2.375)
    assert before["mitre_to_deg"] == after["mitre_from_deg"] == 0.0
    square = np.array([way[1], -way[0]])
    near, far = HALF - LET_IN, 1.0
    arrives = shapely.Polygon([(-THICK / 2, -near), (THICK / 2, -near), (THICK / 2, -far), (-THICK / 2, -far)])
    corners = ((near, -1), (near, 1), (far, 1), (far, -1))
    leaves = shapely.Polygon([along * way + off * THICK / 2 * square for along, off in corners])
    assert arrives.distance(leaves) > 0.01
    assert not any("meet inside the post" in text for text in texts(one, rails, fence))


def test_where_two_ends_would_meet_in_the_post_it_is_said(rails_of, course):
    """62.5 mm from the centre, 25 mm either side: they meet when tan(turn ÷ 2) is over 2.5, at turns over 136.4°."""
    words = "ends of two rails let in 25 mm meet inside the post"
    for turn, said in ((135.0, 0), (138.0, 1)):
        way = np.array([np.sin(np.radians(turn)), np.cos(np.radians(turn))])
        line = course((0, 0), (0, 10), tuple(np.array([0, 10]) + 10 * way))
        one, rails, fence = rails_of(line, **CENTRED)
        assert sum(words in text for text in texts(one, rails, fence)) == said


@pytest.mark.parametrize("slope", [0.0, 0.1, 0.3])
def test_no_rail_between_posts_is_longer_than_its_stock_less_the_trims(rails_of, course, slope):
    line = course((0, 0), (70, 0), (120, 40), profile=([0, 140], [0, 140 * slope]))
    one, rails, fence = rails_of(line, Gate(0, "feature 1", 0, 30.0, 33.84), rails_fixed="centred", rail_m=(2.7,))
    assert rails["stick"].notna().all()
    assert rails["cut_m"].max() <= 2.7 - 0.05 + 0.01 + 1e-9
    assert rails["cut_m"].max() > 2.5
    assert not any("longer than the longest stock" in text for text in texts(one, rails, fence))


def test_keys_that_say_nothing_of_rails_between_posts_are_named(rails_of, course):
    line = course((0, 0), (20, 0), profile=([0, 20], [5, 5]))
    (said,) = [text for text in texts(*rails_of(line, rail_bays=2, corner="lap", **CENTRED)) if "let in" in text]
    assert "over one bay each, for none can run through a post" in said
    assert "let in 25 mm (common practice), measured level, so that they end 62.5 mm from the centre" in said
    assert "under 135 mm where rails enter" in said  # 2 √(62.5² + 25²)
    assert said.endswith("No word is taken from rail_bays, corner in site.toml")
    (bare,) = [text for text in texts(*rails_of(line, housing_mm=30.0, **CENTRED)) if "let in" in text]
    assert "let in 30 mm, measured level" in bare
    assert "site.toml" not in bare


def test_rails_between_posts_have_no_staggered_joints_and_leave_the_top_line_free(rails_of, course):
    """A brow of 20 % would have every row of two-bay rails cut; one-bay rails are cut everywhere anyway."""
    brow = course((0, 0), (40, 0), profile=([0, 20, 40], [0, 4, 0]))
    one, rails, fence = rails_of(brow, rail_bays=2, **CENTRED)
    assert not one.pattern.through.any()
    assert any("cannot be staggered" in text for text in texts(one, rails, fence))
    assert not any("every row is joined at" in text for text in texts(one, rails, fence))

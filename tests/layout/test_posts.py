"""Strainers, key posts and line posts of one line."""

from functools import partial

import numpy as np
import pytest

from fencegis.layout.breaks import asks_for_own_post
from fencegis.layout.gates import Gate
from fencegis.layout.post_tables import bay_table, divide_table, named, post_table, shortest_saving, strainer_table
from fencegis.layout.posts import shared_out
from fencegis.layout.site_notes import notes_on_strainers
from fencegis.layout.strainers import fixed_posts
from fencegis.line.run_table import bend_class
from fencegis.records.spec import Fence
from fencegis.strength.wire import lift_kn, lift_of_turn_kn, resultant_kn


def laid_out(course, *gates, forbidden=(), bend_rule=None, turning_deg=np.inf, **settings):
    fence = Fence(**settings)
    pull = {"wires": fence.wires, "tension_kn": fence.tension_kn}
    fixed = fixed_posts(
        course,
        gates=gates,
        fence=fence,
        bay_m=fence.post_spacing_m,
        lift=partial(lift_of_turn_kn, **pull),
        forbidden={"overhead": forbidden},
        bend_rule=bend_rule,
        turning_deg=turning_deg,
    )
    (one,) = named([(course, fixed, shared_out(course, fixed=fixed, gates=gates, fence=fence))])
    posts = post_table([one], lift=partial(lift_kn, **pull), bend=partial(resultant_kn, **pull))
    return one, strainer_table([one]), posts, bay_table([one])


def test_bays_are_equal_along_the_ground_and_never_over_the_spacing(course):
    _, strainers, posts, bays = laid_out(course((0, 0), (61, 0)))
    assert strainers["reason"].tolist() == ["end", "end"]
    assert len(bays) == 13
    assert bays["ground_length_m"].to_numpy() == pytest.approx(61 / 13)
    assert posts["post_id"].tolist() == [f"A-{number:03d}" for number in range(1, 15)]


def test_posts_are_shared_out_along_the_ground_not_in_plan(course):
    steep = course((0, 0), (100, 0), profile=([0, 50, 100], [0, 0, 25]))
    _, _, posts, bays = laid_out(steep, strain_m=1000.0)
    assert bays["ground_length_m"].to_numpy() == pytest.approx(bays["ground_length_m"].mean(), rel=0.1)
    on_slope = bays[bays["from_m"] > 52]
    assert (on_slope["length_m"] < on_slope["ground_length_m"] - 0.4).all()
    assert posts["ground_chainage_m"].iloc[-1] == pytest.approx(50 + np.hypot(50, 25), abs=0.1)


def test_a_bay_may_exceed_by_the_tolerance_rather_than_add_a_post(course):
    assert len(laid_out(course((0, 0), (50.08, 0)))[3]) == 10
    assert len(laid_out(course((0, 0), (50.08, 0)), bay_tolerance_mm=0.0)[3]) == 11


def test_bays_restart_at_gates_and_the_opening_is_no_bay(course):
    gate = Gate(0, "feature 1", 0, 20.0, 24.0)
    _, strainers, posts, bays = laid_out(course((0, 0), (60, 0)), gate)
    assert strainers["reason"].tolist() == ["end", "gate", "gate", "end"]
    assert not ((bays["from_m"] < 22) & (bays["to_m"] > 22)).any()
    assert posts.set_index("chainage_m")["tape_m"][[20.0, 24.0, 60.0]].tolist() == pytest.approx([20.0, 0.0, 36.0])


def test_a_long_strain_is_shared_evenly(course):
    _, strainers, _, _ = laid_out(course((0, 0), (1000, 0)), strain_m=330.0)
    assert strainers["chainage_m"].tolist() == pytest.approx([0, 250, 500, 750, 1000])
    assert strainers["reason"].tolist() == ["end", "length", "length", "length", "end"]


def test_a_deep_dip_takes_a_strainer_a_crest_a_key_post(course):
    ground = course((0, 0), (180, 0), profile=([0, 60, 120, 180], [20, 0, 20, 10]))
    _, strainers, posts, _ = laid_out(ground)
    (dip,) = strainers.loc[strainers["reason"] == "grade", "chainage_m"]
    assert dip == pytest.approx(60, abs=1.0)
    key = posts[posts["kind"] == "key"]
    assert key["chainage_m"].tolist() == pytest.approx([120.0], abs=1.0)
    assert key["uplift_kn"].iloc[0] == 0.0


def test_a_dip_that_a_line_post_does_not_hold_is_tied_down(course):
    # 0.12 + 0.12: 13.7 degrees, 1.57 kN on six wires: more than a dug post holds, less than a driven one
    ground = course((0, 0), (120, 0), profile=([0, 60, 120], [7.2, 0, 7.2]))
    _, strainers, _, _ = laid_out(ground, post_set="dug")
    assert "grade" in strainers["reason"].tolist()
    _, strainers, posts, _ = laid_out(ground, post_set="driven")
    assert "grade" not in strainers["reason"].tolist()
    assert posts.loc[posts["kind"] == "key", "uplift_kn"].max() == pytest.approx(1.57, abs=0.1)


def test_rail_has_end_corner_gate_and_junction_posts_and_no_strains(course):
    gate = Gate(0, "feature 1", 0, 20.0, 24.0)
    bent = course((0, 0), (100, 0), (100, 400), kind="post and rail", nodes={250.0: "N01"}, owned={"N01"})
    _, strainers, posts, bays = laid_out(bent, gate, kind="post and rail", rail_m=(4.8,), strain_m=50.0)
    assert strainers["reason"].tolist() == ["end", "gate", "gate", "corner", "junction", "end"]
    kinds = posts.set_index(posts["chainage_m"].round(2))["kind"]
    assert kinds[[0.0, 20.0, 24.0, 100.0, 250.0, 500.0]].tolist() == [
        "strainer",
        "gate",
        "gate",
        "strainer",
        "junction",
        "strainer",
    ]
    assert bays["ground_length_m"].max() <= 2.373 + 0.010
    assert posts.loc[posts["chainage_m"] == 100.0, "tape_m"].iloc[0] == 0.0
    assert posts["side_pull_kn"].isna().all()


def test_a_string_is_divided_as_measured(course):
    # greatest bay 2.373: 20 bays reach to 47.46 m, 21 to 49.83, 22 to 52.21
    one, *_ = laid_out(
        course((0, 0), (49.0, 0), kind="post and rail"), kind="post and rail", rail_m=(4.8,), end_cover="centre"
    )
    import pandas as pd

    runs = pd.DataFrame({"line_id": ["A"], "run_id": ["A-R1"], "from_m": [0.0], "to_m": [49.0]})
    table = divide_table([one], runs)
    assert table["bays"].tolist() == [20, 21, 22]
    assert table["to_m"].tolist() == pytest.approx([47.46, 49.833, 52.206])
    assert table["from_m"].iloc[1] == table["to_m"].iloc[0]


def test_a_post_nearly_saved_is_told(course):
    one, *_ = laid_out(course((0, 0), (50.2, 0)))
    ((line, from_m, over),) = shortest_saving([one], less_than_m=0.3)
    assert (line.line_id, from_m) == ("A", 0.0)
    assert over == pytest.approx(0.2)


def test_a_loop_has_as_many_posts_as_bays(course):
    _, strainers, posts, bays = laid_out(course((0, 0), (0, 50), (50, 50), (50, 0), closed=True))
    assert len(posts) == len(bays) == 40
    assert bays["to_post"].iloc[-1] == posts["post_id"].iloc[0]
    assert strainers["reason"].tolist() == ["corner"] * 4


def test_what_asks_for_a_post_of_its_own():
    # 4 % on 5 m bays stands 50 mm off the chord half way
    assert asks_for_own_post(np.array([3.9, 4.1, -4.1]), bay_m=5.0).tolist() == [False, True, True]


@pytest.mark.parametrize(
    ("turn", "rule", "asks"),
    [
        (1.0, "item-607", "line post"),
        (4.1, "item-607", "line brace"),
        (9.9, "iowa-2519", "line post"),
        (20.0, None, None),
    ],
)
def test_corners_are_classed_by_the_chosen_rule(turn, rule, asks):
    assert bend_class(turn, rule) == asks


def test_no_strainer_for_the_lengths_sake_stands_under_a_conductor(course):
    line = course((0, 0), (400, 0))
    _, strainers, _, _ = laid_out(line, strain_m=200.0, forbidden=[(190.0, 210.0)])
    lengths = strainers.loc[strainers["reason"] == "length", "chainage_m"]
    assert len(lengths) == 2
    assert not lengths.between(190.0, 210.0).any()


def test_a_strainer_that_has_to_stand_there_is_told(course):
    _, strainers, _, _ = laid_out(course((0, 0), (400, 0)), strain_m=500.0)
    (note,) = notes_on_strainers(
        strainers, avoided={"A": {"overhead": [(390.0, 410.0)]}, "B": {"overhead": [(0.0, 9.0)]}}
    )
    assert note.text.startswith("A-S02 (end) has to stand in a stretch flagged for overhead lines: ask the owner")
    assert (note.severity, note.line_id, note.chainage_m) == ("doubt", "A", 400.0)


def test_the_bend_rule_says_which_corners_strain(course):
    turns = np.cumsum(np.radians([0.0, 3.0, 12.0, 40.0]))
    steps = 100.0 * np.column_stack([np.sin(turns), np.cos(turns)])
    bent = course(*np.vstack([[0.0, 0.0], np.cumsum(steps, axis=0)]).tolist())
    for rule, reasons in (
        (None, ["end", "corner", "corner", "corner", "end"]),
        ("item-607", ["end", "corner", "corner", "end"]),  # 3° takes a strengthened line post, 12° a line brace
        ("iowa-2519", ["end", "corner", "corner", "end"]),
        ("caltrans-80-2", ["end", "corner", "end"]),
    ):
        _, strainers, posts, _ = laid_out(bent, bend_rule=rule, strain_m=1000.0)
        assert strainers["reason"].tolist() == reasons
        on_corners = posts[posts["chainage_m"].round(3).isin([100.0, 200.0, 300.0])]
        assert len(on_corners) == 3
        assert set(on_corners["kind"]) <= {"strainer", "key"}


def bent(course, *turns_deg, leg_m=40.0, **settings):
    heading = np.cumsum(np.radians([0.0, *turns_deg]))
    steps = leg_m * np.column_stack([np.sin(heading), np.cos(heading)])
    return course(*np.vstack([[0.0, 0.0], np.cumsum(steps, axis=0)]).tolist(), **settings)


def test_bends_that_nobody_strains_from_may_add_up_to_a_strainer(course):
    line = bent(course, 14.0, 14.0, 14.0, 14.0)
    _, strainers, posts, _ = laid_out(line, bend_rule="caltrans-80-2", turning_deg=60.0)
    assert strainers["reason"].tolist() == ["end", "end"]
    _, strainers, posts, _ = laid_out(line, bend_rule="caltrans-80-2", turning_deg=41.2)
    assert strainers["reason"].tolist() == ["end", "turning", "end"]
    assert strainers["chainage_m"].iloc[1] in (80.0, 120.0)  # on a bend, whose own turn then counts in neither strain
    on_corners = posts[posts["chainage_m"].round(3).isin([40.0, 80.0, 120.0, 160.0])]
    assert len(on_corners) == 4  # the post on every corner stands, whatever strains


def test_a_strainer_for_length_leaves_the_post_on_a_bend_beside_it(course):
    line = course((0, 0), (201.5, 0), (402, 8))
    _, strainers, posts, _ = laid_out(line, bend_rule="caltrans-80-2", strain_m=220.0)
    assert (posts["chainage_m"] - 201.5).abs().min() < 1e-6
    assert strainers["chainage_m"].iloc[1] == pytest.approx(201.5)


def test_both_limits_may_hold_at_once(course):
    line = bent(course, *[14.0] * 6, leg_m=80.0)
    _, strainers, _, _ = laid_out(line, bend_rule="caltrans-80-2", turning_deg=41.2)
    put_in = strainers[strainers["reason"] == "length"]
    assert (put_in["also"] == "turning").all()
    assert len(put_in) == len(strainers) - 2


def test_wires_pull_sideways_only_where_they_bend(course):
    gate = Gate(0, "feature 1", 0, 10.0, 14.0)
    _, _, posts, _ = laid_out(bent(course, 60.0), gate, wires=1, tension_kn=1.1)
    pull = posts.set_index(posts["chainage_m"].round(3))["side_pull_kn"]
    assert pull[40.0] == pytest.approx(1.1)  # a bend of 60 degrees pulls as one side does
    assert pull[[0.0, 10.0, 14.0, 80.0]].isna().all()
    assert pull[(pull.index > 14.0) & (pull.index != 40.0) & (pull.index != 80.0)].to_numpy() == pytest.approx(0.0)


def test_a_loops_start_is_pulled_sideways_too(course):
    _, _, posts, _ = laid_out(course((0, 0), (0, 50), (50, 50), (50, 0), closed=True), wires=1, tension_kn=1.0)
    assert posts.loc[posts["side_pull_kn"] > 0, "chainage_m"].tolist() == [0.0, 50.0, 100.0, 150.0]
    assert posts["side_pull_kn"].max() == pytest.approx(np.sqrt(2.0))


def test_strings_end_at_posts_of_equal_bays(course):
    _, _, posts, bays = laid_out(
        course((0, 0), (130, 0), kind="post and rail"), kind="post and rail", rail_m=(4.8,), string_m=43.0
    )
    ends = posts.loc[posts["kind"].isin(["key", "strainer"]), "chainage_m"].to_numpy()
    assert np.diff(ends).max() <= 43.0
    assert len(ends) == 5  # three strings of 43 m do not reach 130 m
    assert bays["length_m"].to_numpy() == pytest.approx(bays["length_m"].iloc[0])


def test_a_string_ends_at_a_post_that_is_heavier_anyway(course):
    ground = course((0, 0), (80, 0), kind="post and rail", profile=([0, 37.5, 80], [0, 3.0, -2.0]))
    settings = {"kind": "post and rail", "rail_m": (4.8,)}
    one, _, posts, _ = laid_out(ground, string_m=60.0, **settings)
    assert (posts["kind"] == "key").sum() == 1
    assert one.row.string_end.sum() == 1
    assert (one.row.key == one.row.string_end).all()
    one, *_ = laid_out(ground, string_m=100.0, **settings)
    assert one.row.string_end.sum() == 0


def test_strings_shorter_than_a_bay_end_at_every_post(course):
    one, *_ = laid_out(course((0, 0), (20, 0), kind="post and rail"), kind="post and rail", rail_m=(4.8,), string_m=1.0)
    assert one.row.string_end.sum() == len(one.row.chainage_m) - 2


def test_a_ban_of_any_kind_keeps_strainers_out_and_its_note_says_which(course):
    line = course((0, 0), (400, 0))
    fence = Fence(strain_m=500.0)
    pull = {"wires": fence.wires, "tension_kn": fence.tension_kn}
    fixed = fixed_posts(line, gates=[], fence=fence, bay_m=5.0, lift=partial(lift_of_turn_kn, **pull))
    (one,) = named([(line, fixed, shared_out(line, fixed=fixed, gates=[], fence=fence))])
    avoided = {"A": {"crossing": [(0.0, 3.0)], "a dam": [(399.0, 400.0)]}}
    first, last = notes_on_strainers(strainer_table([one]), avoided=avoided)
    assert first.text.startswith("A-S01 (end) has to stand in a crossing: ")
    assert "kept free of strainers (a dam)" in last.text


@pytest.mark.parametrize("length", [24.0, 25.2, 26.0, 26.6, 27.9, 60.0])
def test_full_bays_have_one_make_up_bay_and_never_a_stub(course, length):
    _, _, _, bays = laid_out(course((0, 0), (length, 0)), bays="full", post_spacing_m=2.4)
    lengths = bays["ground_length_m"].to_numpy()
    assert lengths.sum() == pytest.approx(length)
    assert (lengths <= 2.41).all()
    assert (lengths >= 1.2).all()
    odd = lengths[lengths < 2.4 - 1e-6]
    assert len(odd) == 0 or len(odd) == 1 or (len(odd) == 2 and odd[0] == pytest.approx(odd[1]))
    assert len(lengths) == len(laid_out(course((0, 0), (length, 0)), post_spacing_m=2.4)[3])  # as many posts


def test_a_stub_is_shared_with_the_bay_beside_it(course):
    _, _, _, bays = laid_out(course((0, 0), (12.6, 0)), bays="full", post_spacing_m=2.4)
    assert bays["length_m"].tolist() == pytest.approx([2.4, 2.4, 2.4, 2.4, 1.5, 1.5])


def test_the_make_up_bay_is_away_from_gates_and_at_a_corner_before_an_end(course):
    gate = Gate(0, "feature 1", 0, 10.0, 14.0)
    _, _, _, bays = laid_out(course((0, 0), (24, 0)), gate, bays="full", post_spacing_m=2.4)
    before, after = bays[bays["to_m"] <= 10.0], bays[bays["from_m"] >= 14.0]
    assert [before["length_m"].iloc[-1], after["length_m"].iloc[0]] == pytest.approx([2.4, 2.4])
    assert before["length_m"].iloc[0] < 2.0
    assert after["length_m"].iloc[-1] < 2.0
    _, _, _, bent = laid_out(course((0, 0), (10, 0), (10, 10)), bays="full", post_spacing_m=2.4)
    assert bent["length_m"].iloc[[0, -1]].tolist() == pytest.approx([2.4, 2.4])


def test_a_stretch_that_the_tolerance_lets_in_has_equal_bays(course):
    _, _, _, bays = laid_out(course((0, 0), (48.1, 0)), bays="full", post_spacing_m=2.4)
    assert bays["length_m"].to_numpy() == pytest.approx(48.1 / 20)


def test_over_a_crossing_the_fence_opens_between_two_assemblies_of_its_own(course):
    fence = Fence(strain_m=1000.0)
    over = [(30.0, 42.0)]
    dip = course((0, 0), (80, 0), profile=([0, 32, 36, 40, 80], [10, 10, 7, 10, 10]))
    fixed = fixed_posts(
        dip,
        gates=(),
        fence=fence,
        bay_m=5.0,
        lift=partial(lift_of_turn_kn, wires=6, tension_kn=1.1),
        ends=[(30.0, "crossing"), (42.0, "crossing")],
        openings=over,
    )
    (one,) = named([(dip, fixed, shared_out(dip, fixed=fixed, gates=(), fence=fence, openings=over))])
    strainers, bays = strainer_table([one]), bay_table([one])
    assert strainers["reason"].tolist() == ["end", "crossing", "crossing", "end"]
    at = one.row.chainage_m
    assert not ((at > 30.01) & (at < 41.99)).any()
    assert not ((bays["from_m"] < 42.0 - 0.01) & (bays["to_m"] > 30.01)).any()
    assert [(strain.from_m, strain.to_m) for strain in fixed.strains] == [(0.0, 30.0), (42.0, 80.0)]

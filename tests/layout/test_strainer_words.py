"""Every strainer's line of words, on lines laid out by hand."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from fencegis.layout.gates import Gate
from fencegis.layout.post_tables import named, post_table, strainer_table
from fencegis.layout.posts import shared_out
from fencegis.layout.site_notes import notes_on_layout, notes_on_limits
from fencegis.layout.standing import Strain
from fencegis.layout.strainer_words import Brace, words_on_strainers
from fencegis.layout.strainers import fixed_posts
from fencegis.records.spec import Fence, Spec
from fencegis.strength.wire import lift_kn, lift_of_turn_kn, resultant_kn

BRACE = Brace("H-brace", lambda pull_kn: pull_kn / 2.0)


def laid_out(course, *gates, forbidden=None, bend_rule=None, turning_deg=41.0, post_turn_deg=0.0, **settings):
    fence = Fence(**settings)
    pull = {"wires": fence.wires, "tension_kn": fence.tension_kn}
    fixed = fixed_posts(
        course,
        gates=gates,
        fence=fence,
        bay_m=fence.post_spacing_m,
        lift=partial(lift_of_turn_kn, **pull),
        forbidden=forbidden or {},
        bend_rule=bend_rule,
        turning_deg=turning_deg,
        post_turn_deg=post_turn_deg,
    )
    (one,) = named([(course, fixed, shared_out(course, fixed=fixed, gates=gates, fence=fence))])
    posts = post_table([one], lift=partial(lift_kn, **pull), bend=partial(resultant_kn, **pull))
    return one, strainer_table([one]), posts, fence


def words(course, *gates, pull_kn=6.6, turning_deg=41.0, **settings):
    one, strainers, posts, fence = laid_out(course, *gates, turning_deg=turning_deg, **settings)
    if course.kind == "wire":
        strainers = strainers.assign(pull_kn=pull_kn, embed_m=0.9)
    notes = words_on_strainers([one], strainers, posts, strain_m=fence.strain_m, turning_deg=turning_deg, brace=BRACE)
    assert {note.severity for note in notes} == {"default"}
    assert [note.chainage_m for note in notes] == strainers["chainage_m"].tolist()
    return [note.text for note in notes]


def test_an_even_chain_is_told_with_what_each_takes(course):
    said = words(course((0, 0), (400, 0)), post_turn_deg=0.1)
    assert said == [
        "A-S01 (end): pull 6.6 kN, H-brace lift 3.3 kN; 0.90 m deep; after 200 m turning 4° of 41°",
        (
            "A-S02 (length): 2 strains ≤ 200 m, S01 to S03 400 m; evenly; pull 6.6 kN, H-brace lift 3.3 kN;"
            " 0.90 m deep; before 200 m turning 4°, after 200 m turning 4° of 41°"
        ),
        "A-S03 (end): pull 6.6 kN, H-brace lift 3.3 kN; 0.90 m deep; before 200 m turning 4° of 41°",
    ]


def test_one_that_makes_way_says_for_what(course):
    said = words(course((0, 0), (390, 0)), forbidden={"overhead": [(193.0, 197.0)]})
    assert "; 3 m back from even, which is under the conductor;" in said[1]
    said = words(course((0, 0), (390, 0)), forbidden={"a dam": [(193.0, 197.0)]})
    assert "which is where none should stand (a dam);" in said[1]


def test_one_that_has_to_stand_in_a_ban_says_so(course):
    said = words(course((0, 0), (390, 0)), forbidden={"keep-out": [(1.0, 389.0)]})
    assert "; has to stand in the keep-out;" in said[1]


def test_one_on_a_crest_says_what_it_saves(course):
    said = words(course((0, 0), (380, 0), profile=([0, 196, 380], [0, 16, 0])))
    assert "; 6 m on from even, on a crest of 16.9 %, saves 0.02 strainer; pull" in said[1]


def test_one_for_turning_says_more_strains_than_length_asks(course):
    turns = np.cumsum(np.radians([0.0, 14.0, 14.0, 14.0]))
    steps = 40.0 * np.column_stack([np.sin(turns), np.cos(turns)])
    bent = course(*np.vstack([[0.0, 0.0], np.cumsum(steps, axis=0)]).tolist())
    said = words(bent, bend_rule="caltrans-80-2")
    assert said[1].startswith("A-S02 (turning): 2 strains ≤ 200 m, 1 by length alone, S01 to S03 160 m; evenly, on the")
    assert "turns 14.0° right" in said[1]
    assert said[1].endswith("before 80 m turning 14°, after 80 m turning 14° of 41°")


def test_a_loop_ends_its_last_strain_at_its_start(course):
    said = words(course((0, 0), (0, 150), (150, 150), (150, 0), closed=True))
    assert said[0].startswith("A-S01 (corner): turns 90.0° right;")
    assert said[0].endswith("before 150 m turning 0°, after 150 m turning 0° of 41°")


def test_a_gate_has_a_strain_on_one_side_only(course):
    said = words(course((0, 0), (60, 0)), Gate(0, "feature 1", 0, 20.0, 24.0))
    assert said[1].endswith("; before 20 m turning 0° of 41°")
    assert said[2].endswith("; after 36 m turning 0° of 41°")


def test_rail_is_told_shortly(course):
    bent = course((0, 0), (50, 0), (50, 50), kind="post and rail")
    assert words(bent, kind="post and rail", rail_m=(4.8,)) == [
        "A-S01 (end)",
        "A-S02 (corner): turns 90.0° left",
        "A-S03 (end)",
    ]


def test_lines_stay_short_enough_to_read(course):
    hilly = course((0, 0), (1900, 0), profile=([0, 300, 700, 1000, 1500, 1900], [0, 45, 0, 60, 10, 70]))
    assert max(len(text) for text in words(hilly, post_turn_deg=0.1, turning_deg=20.0)) <= 235


def test_heavier_posts_at_string_ends_are_named_once_a_line(course):
    one, _, posts, _ = laid_out(course((0, 0), (130, 0), kind="post and rail"), kind="post and rail", rail_m=(4.8,))
    heavier = posts.loc[posts["kind"] == "key", "post_id"].tolist()
    assert len(heavier) == 3
    spec = Spec.model_validate({"fence": {"kind": "post and rail", "rail_m": [4.8]}})
    (note,) = [note for note in notes_on_layout([one], spec=spec) if "string" in note.text]
    assert note.text == (
        f"string ends at posts {', '.join(heavier)}: heavier posts, for no string is longer than 43.0 m"
    )
    assert note.line_id == "A"


def test_many_string_ends_are_named_in_part(course):
    one, *_ = laid_out(course((0, 0), (1000, 0), kind="post and rail"), kind="post and rail", rail_m=(4.8,))
    spec = Spec.model_validate({"fence": {"kind": "post and rail", "rail_m": [4.8]}})
    (note,) = [note for note in notes_on_layout([one], spec=spec) if "string" in note.text]
    assert " and 11 more: heavier posts" in note.text


def test_a_strain_that_no_place_can_mend_is_a_doubt(course):
    one, *_ = laid_out(course((0, 0), (10, 0)))
    one = replace(one, fixed=replace(one.fixed, strains=(Strain(2.0, 9.0, 7.0, 50.4),)))
    (turned,) = notes_on_limits([one], strain_m=200.0, turning_deg=41.2)
    assert turned.text.startswith("strain from here turning 50°, over 41°: no place between for a strainer")
    assert (turned.severity, turned.line_id, turned.chainage_m) == ("doubt", "A", 2.0)
    (long,) = notes_on_limits([one], strain_m=5.0, turning_deg=60.0)
    assert long.text.startswith("strain from here 7 m long, over 5 m")
    assert notes_on_limits([one], strain_m=200.0, turning_deg=60.0) == []


@pytest.mark.parametrize("kind", ["overhead", "crossing", "keep-out", "buried service", "too steep"])
def test_every_kind_of_ban_has_its_own_words(course, kind):
    said = words(course((0, 0), (390, 0)), forbidden={kind: [(1.0, 389.0)]})
    assert "where none should" not in said[1]

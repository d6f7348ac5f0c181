"""Which places a handheld is given, and what they are called."""

from __future__ import annotations

import dataclasses
import re
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pytest

from fencegis.exports.key_points import (
    MOST_SLOPES,
    ground_at,
    handheld_hazards,
    key_points,
    line_codes,
    lines_of,
    not_in_hand,
    post_points,
    tracks,
)

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


def test_ends_corners_gates_junctions_and_hazard_ends_are_there(small_plan: Plan) -> None:
    found = [(place.line_id, round(place.chainage_m, 2), place.kind) for place in key_points(small_plan)]
    assert found == [
        ("A", 0.0, "end"),
        ("A", 12.0, "hazard"),
        ("A", 24.0, "gate"),
        ("A", 27.84, "gate"),
        ("A", 31.5, "hazard"),
        ("A", 40.0, "junction"),
        ("A", 72.0, "corner"),
        ("A", 80.0, "hazard"),
        ("A", 84.0, "hazard"),
        ("A", 120.0, "end"),
        ("B", 48.0, "hazard"),
        ("B", 60.0, "end"),
        ("B", 60.0, "hazard"),
    ]


def test_names_survive_an_old_handheld(small_plan: Plan) -> None:
    names = [place.name for place in (*key_points(small_plan), *post_points(small_plan))]
    assert all(re.fullmatch("[A-Z0-9]{1,8}", name) for name in names)
    for places in (key_points(small_plan), post_points(small_plan)):
        cut = [place.name[:6] for place in places]
        assert len(set(cut)) == len(cut)
        assert cut == sorted(cut)


def test_a_thousand_posts_on_twelve_lines_keep_order_and_difference_in_six_characters(small_plan: Plan) -> None:
    ids = [f"{number}. dlouhá" for number in range(12)]
    runs = pd.concat([small_plan.runs.iloc[:1].assign(line_id=line_id) for line_id in ids])
    posts = pd.concat([small_plan.posts.iloc[:60]] * 17, ignore_index=True).iloc[:1000]
    posts = pd.concat([posts.assign(line_id=ids[0]), posts.iloc[:3].assign(line_id=ids[11])], ignore_index=True)
    names = [place.name for place in post_points(dataclasses.replace(small_plan, runs=runs, posts=posts))]
    assert len({name[:6] for name in names}) == 1003
    assert names == sorted(names)
    assert all(re.fullmatch("[A-Z0-9]{1,8}", name) for name in names)


def test_hazards_say_what_they_are_where_they_begin_and_end_and_what_to_do(small_plan: Plan) -> None:
    words = {place.name: place.words for place in key_points(small_plan) if place.kind == "hazard"}
    assert words["A02H"].startswith("H1 overhead power begins. Ask the line's owner before the machine comes")
    assert words["A05H"].startswith("H1 overhead power ends.")
    assert words["B03H"].startswith("H3 overhead power at line end.")  # the fence ends, not the hazard
    assert "not walked" in words["A02H"]


def test_a_hazard_that_goes_on_in_the_next_row_has_no_end_there(small_plan: Plan) -> None:
    hazards = small_plan.hazards
    one, two = hazards[hazards.hazard_id == "H2"], hazards[hazards.hazard_id == "H2"].copy()
    shift = one.geometry.iloc[0].coords[-1][0] - one.geometry.iloc[0].coords[0][0]
    rise = one.geometry.iloc[0].coords[-1][1] - one.geometry.iloc[0].coords[0][1]
    two = two.assign(from_m=84.0, to_m=88.0, geometry=two.geometry.translate(shift, rise))
    plan = dataclasses.replace(small_plan, hazards=pd.concat([one, two], ignore_index=True))
    ends = [place.chainage_m for place in key_points(plan) if place.kind == "hazard"]
    assert ends == [80.0, 88.0]


def test_ground_is_unknown_where_the_profile_is(small_plan: Plan) -> None:
    posts = {round(place.chainage_m, 1): place.ground_m for place in post_points(small_plan) if place.line_id == "A"}
    assert all(np.isnan(height) == (96.0 < at < 110.0) for at, height in posts.items())
    ground = {"A": (np.array([0.0, 10.0, 20.0, 30.0]), np.array([1.0, 2.0, np.nan, 4.0]))}
    assert ground_at(ground, "A", 5.0) == pytest.approx(1.5)
    assert np.isnan([ground_at(ground, "A", at) for at in (15.0, 25.0, 31.0, -1.0)]).all()
    assert np.isnan(ground_at(ground, "B", 5.0))


def test_what_stands_at_one_place_is_one_point_with_the_words_of_all(small_plan: Plan) -> None:
    corner = next(place for place in key_points(small_plan) if place.kind == "corner")
    assert corner.words == "corner (length); corner, turn 45.0 deg right"
    gate = next(place for place in key_points(small_plan) if place.kind == "gate")
    assert "3.60 m clear between post faces" in gate.words


@pytest.mark.parametrize(
    ("ids", "codes"),
    [
        (["A", "B"], ["A", "B"]),
        (["A", "B.1", "B.2", "C"], ["01", "02", "03", "04"]),
        (["B", "A"], ["01", "02"]),
        (["</b>"], ["01"]),
    ],
)
def test_line_codes(ids: list[str], codes: list[str]) -> None:
    assert list(line_codes(ids).values()) == codes


def test_each_line_is_a_track_through_its_corners(small_plan: Plan) -> None:
    found = tracks(small_plan)
    assert [track.name for track in found] == ["ALINE", "BLINE"]
    assert [len(track.lon_lat) for track in found] == [3, 2]
    assert lines_of(small_plan) == ["A", "B"]
    junction = next(place for place in key_points(small_plan) if place.kind == "junction")
    assert found[1].lon_lat[0].tolist() == [junction.lon_deg, junction.lat_deg]


def test_crossings_have_their_letter_and_name_and_survey_marks_are_left_to_their_pegs(register_plan: Plan) -> None:
    places = key_points(register_plan)
    crossing = [place for place in places if place.kind == "crossing"]
    assert [(place.name[-1], place.chainage_m) for place in crossing] == [("X", 5.0), ("X", 15.0)]
    assert crossing[0].short == "H8 X1 crossing begins"
    kinds = {place.short.split(" ", 1)[1].rpartition(" ")[0] for place in places if place.kind == "hazard"}
    assert {"buried service", "tree trunk", "access", "overhead power", "side slope"} <= kinds
    assert not any("survey mark" in place.short for place in places)
    assert not_in_hand(register_plan) == "flags not in this file but in the register: 1 of survey mark"


def test_of_side_slopes_only_the_longest_go_into_the_hand_and_the_file_says_so(register_plan: Plan) -> None:
    one = register_plan.hazards[register_plan.hazards["kind"] == "side slope"]
    many = [
        one.assign(hazard_id=f"S{number}", from_m=2.0 * number, to_m=2.0 * number + 0.5 + 0.05 * number)
        for number in range(25)
    ]
    plan = dataclasses.replace(register_plan, hazards=pd.concat(many, ignore_index=True))
    assert handheld_hazards(plan)["hazard_id"].tolist() == [f"S{number}" for number in range(25 - MOST_SLOPES, 25)]
    assert not_in_hand(plan) == f"flags not in this file but in the register: {25 - MOST_SLOPES} of side slope"


def test_names_stay_apart_and_in_walking_order_with_a_flag_of_every_kind(register_plan: Plan) -> None:
    places = key_points(register_plan)
    names = [place.name for place in places]
    assert len({name[:6] for name in names}) == len(names)
    assert names == sorted(names)
    for line in "AB":
        at = [place.chainage_m for place in places if place.line_id == line]
        assert at == sorted(at)

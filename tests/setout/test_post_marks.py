"""Hole marks: from the string to the hole's centre, so that faces stand true."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from fencegis.records.spec import Fence
from fencegis.records.tables import empty
from fencegis.records.timber import Timber
from fencegis.setout.post_marks import (
    behind_flat_mm,
    flat_depth_mm,
    hole_offset_mm,
    notes_on_marks,
    string_from_line_mm,
    with_marks,
)

KINDS = {"A": "post and rail", "B": "wire"}


def posts_of(*faces_mm: float, line_id: str = "A", **columns: list) -> pd.DataFrame:
    count = len(faces_mm)
    frame = {
        "line_id": [line_id] * count,
        "chainage_m": np.arange(count) * 2.4,
        "post_id": [f"{line_id}-{number:03d}" for number in range(1, count + 1)],
        "kind": ["line"] * count,
        "ground_chainage_m": np.arange(count) * 2.4,
        "tape_m": np.arange(count) * 2.4,
        "face_mm": faces_mm,
        "top_mm": [np.nan] * count,
        "sweep_mm": [np.nan] * count,
        "mass_kg": [np.nan] * count,
    }
    return pd.DataFrame(frame | columns)


def corners_of(**turn_deg_at: float) -> pd.DataFrame:
    frame = empty("corners")
    rows = {"line_id": ["A"] * len(turn_deg_at), "chainage_m": [2.4] * len(turn_deg_at)}
    return pd.DataFrame({**rows, "turn_deg": list(turn_deg_at.values())}) if turn_deg_at else frame


@pytest.mark.parametrize(("turn_deg", "offset_mm"), [(0.0, 130.0), (45.0, 140.7), (-45.0, 140.7), (90.0, 183.8)])
def test_a_corners_mark_lies_further_out_on_the_bisector(turn_deg: float, offset_mm: float) -> None:
    """240 mm posts, 10 mm gap: two lines 130 mm off two strings meet 130 ÷ cos(turn ÷ 2) from where the strings do."""
    assert float(hole_offset_mm(120.0, gap_mm=10.0, turn_deg=turn_deg)) == pytest.approx(offset_mm, abs=0.05)


@pytest.mark.parametrize("turn_deg", [10.0, 60.0, 120.0])
def test_the_bisectors_distance_by_crossing_two_lines(turn_deg: float) -> None:
    """The same from plane geometry: the centre is 130 mm square off both strings."""
    one, two = np.array([0.0, 1.0]), np.array([math.sin(math.radians(turn_deg)), math.cos(math.radians(turn_deg))])
    right = np.array([[one[1], -one[0]], [two[1], -two[0]]])
    centre = np.linalg.solve(right, [130.0, 130.0])
    assert float(hole_offset_mm(120.0, gap_mm=10.0, turn_deg=turn_deg)) == pytest.approx(float(np.hypot(*centre)))


def test_a_line_that_folds_back_has_no_mark() -> None:
    assert np.isnan(hole_offset_mm(120.0, gap_mm=10.0, turn_deg=180.0))


def test_a_tapered_post_counts_at_the_ground() -> None:
    ground = Timber(2, "T1", 2.4, 240.0, 200.0, None, 1, None, "").ground_mm(0.9)
    assert float(hole_offset_mm(ground / 2.0, gap_mm=10.0)) == pytest.approx(122.5)


@pytest.mark.parametrize(("diameter_mm", "deep_mm"), [(150.0, 19.0), (240.0, 11.0)])
def test_how_deep_a_flat_of_100_mm_is(diameter_mm: float, deep_mm: float) -> None:
    deep = float(flat_depth_mm(diameter_mm, bearing_mm=100.0))
    assert deep == pytest.approx(deep_mm, abs=0.5)
    assert math.hypot(diameter_mm / 2.0 - deep, 50.0) == pytest.approx(diameter_mm / 2.0)  # its edge is on the round
    assert deep + float(behind_flat_mm(diameter_mm, bearing_mm=100.0)) == pytest.approx(diameter_mm / 2.0)


def test_a_post_thinner_than_the_bearing_has_no_such_flat() -> None:
    assert np.isnan(flat_depth_mm(90.0, bearing_mm=100.0))


@pytest.mark.parametrize(
    ("keys", "sign"),
    [({}, 1.0), ({"rail_side": "right"}, -1.0), ({"rail_side": "right", "string_side": "left"}, 1.0)],
)
def test_holes_are_right_of_a_string_on_the_left(keys: dict, sign: float) -> None:
    marked = with_marks(posts_of(240.0, 225.0), corners_of(), kind_of_line=KINDS, fence=Fence(**keys))
    assert marked["offset_mm"].tolist() == [sign * 130.0, sign * 122.5]


def test_corner_posts_are_found_by_their_chainage() -> None:
    marked = with_marks(posts_of(240.0, 240.0, 240.0), corners_of(c=-90.0), kind_of_line=KINDS, fence=Fence())
    assert marked["offset_mm"].round(1).tolist() == [130.0, 183.8, 130.0]


def test_flatted_posts_have_one_offset_whatever_their_girth() -> None:
    """The flats lie in one plane, as far from the centres as the thinnest post takes a flat of 100 mm."""
    marked = with_marks(posts_of(150.0, 240.0, 175.0), corners_of(), kind_of_line=KINDS, fence=Fence(face="flatted"))
    assert marked["offset_mm"].to_numpy() == pytest.approx(10.0 + math.sqrt(75.0**2 - 50.0**2))
    wire = with_marks(
        posts_of(150.0, 240.0, line_id="B"), corners_of(), kind_of_line=KINDS, fence=Fence(face="flatted")
    )
    assert wire["offset_mm"].tolist() == [85.0, 130.0]  # wire needs no flat


def test_a_flat_deeper_than_a_quarter_of_the_post_is_told() -> None:
    fence = Fence(face="flatted")
    posts = with_marks(posts_of(110.0, 240.0), corners_of(), kind_of_line=KINDS, fence=fence)
    (said,) = [note for note in notes_on_marks(posts, kind_of_line=KINDS, fence=fence) if "flats" in note.text]
    assert said.severity == "doubt"
    assert "in 240 mm of A-002: more than a quarter of it" in said.text


def test_the_shift_leaves_half_a_joint_for_each_of_two_rail_ends() -> None:
    posts = posts_of(
        175.0, 225.0, 225.0, 120.0, top_mm=[np.nan, 200.0, 200.0, np.nan], sweep_mm=[np.nan, 0.0, 12.0, 30]
    )
    marked = with_marks(posts, corners_of(), kind_of_line=KINDS, fence=Fence())
    assert marked["shift_limit_mm"].tolist() == [37.5, 50.0, 38.0, 0.0]
    said = [note.text for note in notes_on_marks(marked, kind_of_line=KINDS, fence=Fence())]
    assert any(text.startswith("nothing to shift along the fence at A-004") for text in said)
    wire = with_marks(posts_of(175.0, line_id="B"), corners_of(), kind_of_line=KINDS, fence=Fence())
    assert wire["shift_limit_mm"].isna().all()


def test_a_bow_is_turned_along_the_fence_and_at_a_corner_looked_at_both_ways() -> None:
    posts = posts_of(175.0, 175.0, 175.0, sweep_mm=[10.0, 10.0, 0.0])
    marked = with_marks(posts, corners_of(c=90.0), kind_of_line=KINDS, fence=Fence())
    assert marked["turn_sweep"].fillna("").tolist() == ["along the fence", "sight along both runs", ""]


@pytest.mark.parametrize(
    ("keys", "where_mm"),
    [
        ({}, -97.5),
        ({"rail_side": "right"}, 97.5),
        ({"line_is": "face"}, -10.0),
        ({"line_is": "face", "string_gap_mm": 0.0}, 0.0),
        ({"face": "flatted", "post_mm": 150.0}, -(10.0 + math.sqrt(75.0**2 - 50.0**2))),
    ],
)
def test_where_the_string_stands_from_the_line(keys: dict, where_mm: float) -> None:
    assert string_from_line_mm(Fence(**keys)) == pytest.approx(where_mm)


def test_the_string_and_the_offset_bring_a_usual_post_back_to_the_line() -> None:
    """Line through the centres: from the line to the string and back to the hole is nothing."""
    for side in ("left", "right"):
        fence = Fence(rail_side=side)
        marked = with_marks(posts_of(fence.post_mm), corners_of(), kind_of_line=KINDS, fence=fence)
        assert string_from_line_mm(fence) + marked["offset_mm"].iloc[0] == pytest.approx(0.0)


def test_rails_between_posts_leave_half_of_what_is_let_in_to_shift() -> None:
    """25 mm in 175 mm posts; 15 mm thinner 17.5 mm is left, a bow of 4 mm comes off, a thick one gains none."""
    fence = Fence(kind="post and rail", rails_fixed="centred", housing_mm=25.0, post_mm=175.0, gate_post_mm=240.0)
    posts = posts_of(
        175.0, 160.0, 175.0, 200.0, 240.0, 120.0, kind=["line"] * 4 + ["gate", "line"], sweep_mm=[np.nan, 0, 4, 0, 0, 0]
    )
    marked = with_marks(posts, empty("corners"), kind_of_line=KINDS, fence=fence)
    assert marked["shift_limit_mm"].tolist() == pytest.approx([12.5, 8.75, 8.5, 12.5, 12.5, 0.0])
    on_face = with_marks(posts, empty("corners"), kind_of_line=KINDS, fence=Fence(kind="post and rail"))
    assert marked["offset_mm"].tolist() == on_face["offset_mm"].tolist()  # the string marks the faces all the same

"""Posts plumb or square to the ground."""

import numpy as np
import pandas as pd
import pytest

from fencegis.layout.plumb import grade_angle_deg, notes_on_stand, with_lean
from fencegis.records.spec import Fence
from fencegis.records.tables import checked

HILL = ([0.0, 60.0, 120.0], [0.0, 12.0, 6.0])  # 20 % up, 10 % down
UP, DOWN = np.degrees(np.arctan(0.2)), -np.degrees(np.arctan(0.1))


def posts_at(*chainage):
    frame = pd.DataFrame({"line_id": "A", "chainage_m": chainage, "kind": "line", "tape_m": 0.0})
    ids = [f"A-{row:03d}" for row in range(1, len(frame) + 1)]
    return checked("posts", frame.assign(post_id=ids, ground_chainage_m=frame["chainage_m"]))


def test_plumb_posts_do_not_lean(course):
    line = course((0, 0), (120, 0), profile=HILL)
    assert with_lean(posts_at(0.0, 30.0, 90.0), [line], fence=Fence())["lean_deg"].tolist() == [0.0] * 3


def test_square_posts_lean_by_the_grade_uphill_positive(course):
    line = course((0, 0), (120, 0), profile=HILL)
    leaning = with_lean(posts_at(0.0, 30.0, 60.0, 90.0, 120.0), [line], fence=Fence(posts_stand="square"))
    expected = [UP, UP, (UP + DOWN) / 2.0, DOWN, DOWN]  # on the crest between its two sides
    crest = float(line.grades.joint_m[1])
    assert crest == pytest.approx(60.0, abs=0.5)
    assert grade_angle_deg(line, np.array([crest]))[0] == pytest.approx(expected[2], abs=0.05)
    off_crest = [0, 1, 3, 4]
    assert leaning["lean_deg"][off_crest].tolist() == pytest.approx([expected[row] for row in off_crest], abs=0.05)


def test_a_loop_start_has_its_end_on_the_other_side(course):
    corners = (0, 0), (60, 0), (60, 60), (0, 60)
    loop = course(*corners, closed=True, profile=([0, 60, 240], [0, 12, 0]))
    sides = np.degrees(np.arctan([0.2, -12.0 / 180.0]))
    assert grade_angle_deg(loop, np.array([0.0]))[0] == pytest.approx(sides.mean(), abs=0.3)


def test_without_ground_the_lean_is_not_known(course):
    leaning = with_lean(posts_at(0.0, 30.0), [course((0, 0), (60, 0))], fence=Fence(posts_stand="square"))
    assert leaning["lean_deg"].isna().all()
    (note,) = notes_on_stand(leaning, fence=Fence(posts_stand="square"), height_m=1.1)
    assert "the lean of 2 posts is not known" in note.text
    assert "most at" not in note.text


def test_the_notes_say_who_prints_what_and_how_to_measure(course):
    line = course((0, 0), (120, 0), profile=HILL)
    (plumb,) = notes_on_stand(with_lean(posts_at(30.0), [line], fence=Fence()), fence=Fence(), height_m=1.1)
    assert plumb.text.startswith("posts stand plumb: so print Iowa DOT and a western US state; square")
    square = Fence(posts_stand="square")
    (note,) = notes_on_stand(with_lean(posts_at(30.0, 90.0), [line], fence=square), fence=square, height_m=1.1)
    assert "square to the ground: so prints British Columbia" in note.text
    off = 1.1 * np.sin(np.radians(UP))
    assert f"most at A-001, {UP:.1f}°, {off:.2f} m at 1.10 m" in note.text

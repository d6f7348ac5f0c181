"""Reference pegs: off the machine, off the gates, and the mark comes back by two tapes."""

import numpy as np
import pandas as pd
import pytest
import shapely

from fencegis.line.chainage import Line, directions_at, points_at
from fencegis.records.spec import Machine
from fencegis.records.tables import checked, empty
from fencegis.setout.odd_corners import notes_on_odd_corners
from fencegis.setout.reference_pegs import notes_on_reference_pegs, reference_peg_table, stand_off_m


def held(line, *at_reason, gates=()):
    strainers = checked(
        "strainers",
        pd.DataFrame(
            [
                {
                    "line_id": line.line_id,
                    "chainage_m": at,
                    "strainer_id": f"S{at:g}",
                    "reason": "corner" if reason == "second" else reason,
                    "also": also,
                    "turn_deg": 45.0 if reason == "corner" else np.nan,
                }
                for at, reason, also in at_reason
            ]
        ),
    )
    posts = checked(
        "posts",
        pd.DataFrame(
            {
                "line_id": line.line_id,
                "chainage_m": strainers["chainage_m"],
                "post_id": [f"P{at:g}" for at in strainers["chainage_m"]],
                "kind": "strainer",
                "ground_chainage_m": 0.0,
                "tape_m": 0.0,
            }
        ),
    )
    openings = empty("gates")
    if gates:
        openings = checked(
            "gates",
            pd.DataFrame(
                [
                    {"line_id": line.line_id, "from_m": begin, "to_m": end, "gate_id": "G", "opening_m": end - begin}
                    for begin, end in gates
                ]
            ),
        )
    return strainers, posts, openings


def placed(line, pegs):
    """Return each peg's point from its offsets, as the crew would lay it out."""
    at = np.array([float(post[1:]) for post in pegs["post_id"]])
    ahead = directions_at(line, at)
    along, right = pegs["along_m"].to_numpy()[:, None], pegs["offset_m"].to_numpy()[:, None]
    return points_at(line, at) + along * ahead + right * np.column_stack([ahead[:, 1], -ahead[:, 0]])


def crossing(one, two, first_m, second_m):
    """Two tapes swung from two pegs: the two places where they cross."""
    apart = two - one
    between = np.hypot(*apart)
    along = (first_m**2 - second_m**2 + between**2) / (2 * between)
    off = np.sqrt(first_m**2 - along**2)
    way = apart / between
    return [one + along * way + side * off * np.array([-way[1], way[0]]) for side in (1, -1)]


def bent(turn_deg):
    turn = np.radians(turn_deg)
    return Line("A", False, np.array([(0, 0), (0, 100), (100 * np.sin(turn), 100 + 100 * np.cos(turn))], dtype=float))


@pytest.mark.parametrize("turn_deg", [-150, -120, -90, -60, -45, -20, -3, 0.5, 10, 30, 45, 75, 90, 100, 135, 150])
def test_two_tapes_put_the_mark_back_and_pegs_keep_off_the_fence(turn_deg):
    line = bent(turn_deg)
    strainers, posts, gates = held(line, (0.0, "end", None), (100.0, "corner", None), (200.0, "end", None))
    pegs = reference_peg_table(strainers, posts, gates, lines=[line], machine=Machine(reach_m=2.5))
    assert pegs["peg"].tolist() == [1, 2] * 3
    points = placed(line, pegs)
    fence = shapely.LineString(line.corners)
    assert min(fence.distance(shapely.Point(point)) for point in points) >= 3.5 - 0.001
    for row in range(0, 6, 2):
        post = points_at(line, float(pegs["post_id"].iloc[row][1:]))[0]
        tapes = pegs["tape_mm"].to_numpy()[row : row + 2] / 1000.0
        back = crossing(points[row], points[row + 1], *tapes)
        assert min(np.hypot(*(place - post)) for place in back) < 1e-6
        arms = points[row : row + 2] - post
        sine = abs(arms[0, 0] * arms[1, 1] - arms[0, 1] * arms[1, 0]) / tapes.prod()
        assert sine >= np.sin(np.radians(45)) - 1e-6


def test_tapes_are_round_lengths():
    line = bent(30)
    strainers, posts, gates = held(line, (0.0, "end", None), (100.0, "corner", None), (200.0, "end", None))
    tapes = reference_peg_table(strainers, posts, gates, lines=[line], machine=None)["tape_mm"]
    assert (tapes / 100.0).to_numpy() == pytest.approx((tapes / 100.0).round().to_numpy())


def test_a_square_corner_has_its_pegs_on_the_lines_produced():
    line = bent(90)
    pegs = reference_peg_table(*held(line, (100.0, "corner", None)), lines=[line], machine=None)
    assert set(pegs["way"]) == {"line produced"}
    # along the run that begins there, eastward: one straight on north of it (left), one behind the corner
    assert sorted(zip(pegs["along_m"].round(6), pegs["offset_m"].round(6), strict=True)) == [(-3.0, 0.0), (0.0, -3.0)]


def test_pegs_keep_out_of_the_way_through_a_gate():
    line = Line("A", False, np.array([(0.0, 0.0), (0.0, 100.0)]))
    made = held(line, (40.0, "gate", None), (43.84, "gate", None), gates=[(40.0, 43.84)])
    pegs = reference_peg_table(*made, lines=[line], machine=None)
    assert len(pegs) == 4
    for point in placed(line, pegs):
        assert not 40.0 <= point[1] <= 43.84


def test_another_fence_beside_a_post_is_kept_off_too():
    line = bent(90)
    other = Line("B", False, np.array([(-3.0, 90.0), (-3.0, 112.0)]))
    pegs = reference_peg_table(*held(line, (100.0, "corner", None)), lines=[line, other], machine=None)
    fence = shapely.LineString(other.corners)
    assert min(fence.distance(shapely.Point(point)) for point in placed(line, pegs)) >= 3.0 - 0.001


def test_no_room_is_said():
    line = Line("A", False, np.array([(0.0, 0.0), (0.0, 100.0)]))
    walls = [
        Line("B", False, np.array([(4.0, -9.0), (4.0, 9.0)])),
        Line("C", False, np.array([(-4.0, -9.0), (-4.0, 9.0)])),
        Line("D", False, np.array([(-4.0, -4.0), (4.0, -4.0)])),
    ]
    strainers, posts, gates = held(line, (0.0, "end", None), (100.0, "end", None))
    pegs = reference_peg_table(strainers, posts, gates, lines=[line, *walls], machine=None)
    assert pegs["post_id"].tolist() == ["P100", "P100"]
    said = notes_on_reference_pegs(pegs, strainers, posts, machine=None)
    assert said[-1].text == "no room for two reference pegs at P0: tie the mark to something that stays"
    assert said[-1].severity == "doubt"


def test_only_posts_that_end_or_turn_a_line_are_held():
    line = bent(90)
    made = held(line, (0.0, "end", None), (50.0, "length", None), (60.0, "peg", "gate, grade"), (80.0, "grade", None))
    pegs = reference_peg_table(*made, lines=[line], machine=None)
    assert pegs["post_id"].unique().tolist() == ["P0", "P60"]


def test_pegs_stand_past_the_machines_reach_or_three_metres():
    assert stand_off_m(None) == stand_off_m(Machine()) == 3.0
    assert stand_off_m(Machine(reach_m=2.5)) == 3.5


def test_pegs_are_never_white():
    line = bent(90)
    strainers, posts, gates = held(line, (100.0, "corner", None))
    pegs = reference_peg_table(strainers, posts, gates, lines=[line], machine=Machine(reach_m=2.0))
    (note,) = notes_on_reference_pegs(pegs, strainers, posts, machine=Machine(reach_m=2.0))
    assert "Never paint them white: white is the common usage of boundary pegs" in note.text
    assert "3.0 m off every fence line (the machine's reach and a metre)" in note.text
    nothing = held(line, (50.0, "length", None))
    assert notes_on_reference_pegs(empty("reference_pegs"), *nothing[:2], machine=None) == []


def test_odd_corners_are_checked_plumb_both_ways():
    corners = pd.DataFrame(
        {
            "line_id": "A",
            "chainage_m": [10.0, 20.0, 30.0, 40.0],
            "corner_id": ["A-C01", "A-C02", "A-C03", "A-C04"],
            "turn_deg": [90.0, 45.0, -2.0, -88.0],
            "interior_deg": [90.0, 135.0, 178.0, 92.0],
            "held": False,
        }
    )
    (note,) = notes_on_odd_corners(checked("corners", corners))
    assert note.text.startswith("odd corners A-C02: one observer is not enough, so check the post plumb both ways")
    assert notes_on_odd_corners(checked("corners", corners.iloc[[0, 2, 3]])) == []


def test_a_corners_second_post_is_put_back_from_the_first():
    line = Line("A", closed=False, corners=np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0]]))
    strainers, posts, gates = held(line, (100.0, "corner", None), (100.2, "second", None))
    pegs = reference_peg_table(strainers, posts, gates, lines=[line], machine=None)
    assert set(pegs["post_id"]) == {"P100"}

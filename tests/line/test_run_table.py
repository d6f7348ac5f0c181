"""Bend classes at the printed boundaries, and tables of runs and corners."""

import numpy as np
import pytest

from fencegis.line.break_tables import break_table
from fencegis.line.course import course_of
from fencegis.line.network import Meeting, network
from fencegis.line.run_table import bend_class, corner_table, node_table, profile_table
from fencegis.records.site import DrawnLine
from fencegis.records.spec import Spec


def course_on(profile=None, *corners):
    drawn = DrawnLine("A", "", "feature 1", "wire", None, False, np.array(corners, dtype=float), 1.0)
    (planned,) = network([drawn], pegs=np.zeros((0, 2)), spec=Spec()).lines
    ground = None if profile is None else (lambda points: np.interp(points[:, 0], *profile))
    return course_of(planned, nodes={}, owned=frozenset(), ground=ground, cell_m=1.0, vertical_error_m=0.05)


def test_corners_turn_right_positive():
    table = corner_table([course_on(None, (0, 0), (100, 0), (100, -80), (200, -80))], bend_rule="item-607")
    assert table["turn_deg"].tolist() == pytest.approx([90.0, -90.0])
    assert table["interior_deg"].tolist() == pytest.approx([90.0, 90.0])
    assert table["corner_id"].tolist() == ["A-C01", "A-C02"]
    assert table["rule_class"].tolist() == ["corner", "corner"]
    assert table["sigma_m"].between(0.5, 1.5).all()


@pytest.mark.parametrize(
    ("post", "turn", "asks"),
    [
        ("steel", 5.0, "alignment angle"),
        ("steel", 5.1, "corner"),
        ("wood", 15.0, "alignment angle"),
        ("wood", 15.1, "corner"),
    ],
)
def test_the_bend_rule_that_asks_for_the_post(post, turn, asks):
    assert bend_class(turn, "caltrans-80-2", post=post) == asks


def test_breaks_and_profile_tell_the_ground():
    course = course_on(([0, 100, 200], [10, 10, 20]), (0, 0), (200, 0))
    breaks = break_table([course])
    assert breaks[["kind"]].values.tolist() == [["dip"]]
    assert breaks["change_pct"].iloc[0] == pytest.approx(10.0, abs=0.2)
    profile = profile_table([course])
    assert profile["chainage_m"].is_monotonic_increasing
    assert profile["ground_m"].to_numpy() == pytest.approx(
        np.interp(profile["chainage_m"], [0, 100, 200], [10, 10, 20])
    )
    assert np.abs(profile["ground_m"] - profile["fitted_m"]).max() < 0.1


def test_a_node_has_a_row_for_each_line():
    table = node_table([Meeting("N01", "A", 5.0), Meeting("N01", "B", 0.0)])
    assert table.values.tolist() == [["A", 5.0, "N01"], ["B", 0.0, "N01"]]
    assert len(node_table([])) == 0

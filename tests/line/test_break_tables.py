"""The tables of changes of grade: those fitted, and those that noise could have made."""

import numpy as np
import pytest

from fencegis.line.break_tables import break_table, faint_break_table
from fencegis.line.course import course_of
from fencegis.line.grade import stations_m
from fencegis.line.network import network
from fencegis.records.site import DrawnLine
from fencegis.records.spec import Spec


def course_on(chainage, height, *, vertical_error_m):
    drawn = DrawnLine("A", "", "feature 1", "wire", None, False, np.array([[0.0, 0.0], [chainage[-1], 0.0]]), 1.0)
    (planned,) = network([drawn], pegs=np.zeros((0, 2)), spec=Spec()).lines
    return course_of(
        planned,
        nodes={},
        owned=frozenset(),
        ground=lambda points: np.interp(points[:, 0], chainage, height),
        cell_m=1.0,
        vertical_error_m=vertical_error_m,
    )


def test_a_break_has_its_place_with_its_error():
    station = stations_m(800.0, 1.0)
    noise = np.random.default_rng(6).normal(0.0, 0.15, len(station))
    course = course_on(station, np.interp(station, [0, 300, 800], [50, 50, 70]) + noise, vertical_error_m=0.15)
    table = break_table([course])
    assert table["kind"].tolist() == ["dip"]
    assert abs(table["chainage_m"].iloc[0] - 300.0) < 3.0 * table["sigma_chainage_m"].iloc[0] < 10.0
    assert table["change_pct"].iloc[0] == pytest.approx(4.0, abs=4.0 * table["sigma_pct"].iloc[0])
    assert table["strainer_id"].isna().all()


def test_faint_breaks_say_how_faint_they_are(profiles):
    one = profiles.profile(size=4.0, alike_m=0.0, seed=2)
    course = course_on(one.station_m, one.ground_m, vertical_error_m=profiles.SIGMA_M)
    table = faint_break_table([course])
    assert len(table) == len(course.grades.faint) >= 1
    for row in table.itertuples():
        size = abs(row.change_pct) / row.sigma_pct
        assert row.says == f"{size:.1f} standard errors: noise alone makes as much; look on the walk"
        assert row.kind == ("crest" if row.change_pct < 0 else "dip")


def test_no_ground_and_a_plain_slope_have_no_rows():
    station = stations_m(200.0, 1.0)
    course = course_on(station, 0.1 * station, vertical_error_m=0.15)
    assert len(break_table([course])) == len(faint_break_table([course])) == 0

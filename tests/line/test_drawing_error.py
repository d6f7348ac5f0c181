"""What a drawing tells of its own wobble, on drawings whose wobble is known."""

import json
import math
import time

import numpy as np
import pytest

from fencegis import plan_site, read_site
from fencegis.line.drawing_error import drawing_error_m, told_by_drawing
from fencegis.line.runs import fitted_line
from fencegis.records.site import DrawnLine
from fencegis.records.spec import Boundary, Spec

NO_PEGS = np.zeros((0, 2))
SIGMAS_M = (0.3, 0.7, 1.5)
MANY = 12


@pytest.fixture(scope="session")
def told(drawings):
    """Return drawings of a cell, and what each tells."""

    def of_cell(kind, sigma, *, closed=False, count=MANY, assumed=1.0):
        cell = [drawings.drawing(kind, sigma_m=sigma, closed=closed, seed=seed) for seed in range(count)]
        return cell, [drawing_error_m(one.points, closed=closed, assumed_m=assumed) for one in cell]

    return of_cell


@pytest.mark.parametrize(("sigma", "closed"), [(0.3, False), (0.7, True), (1.5, False)])
def test_a_traced_line_tells_its_wobble_as_well_as_it_says(told, sigma, closed):
    _, errors = told("dense", sigma, closed=closed)
    assert all(error.told and not error.together for error in errors)
    off = [math.log(error.sigma_m / sigma) / error.relative for error in errors]
    # the mean of many to three of its standard errors; their spread is chi-square, here within 1 in 1000
    assert abs(np.mean(off)) < 3.0 / math.sqrt(MANY)
    assert np.sum(np.square(off)) < 32.9
    assert max(error.relative for error in errors) < 0.15


@pytest.mark.parametrize("sigma", SIGMAS_M)
def test_a_few_stray_clicks_tell_a_little_and_say_how_little(told, sigma):
    _, errors = told("mixed", sigma, count=30)
    off = np.array([math.log(error.sigma_m / sigma) / error.relative for error in errors if error.told])
    assert len(off) > MANY
    assert np.sqrt(np.mean(off**2)) < 1.4
    assert min(error.relative for error in errors) > 0.1


@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("sigma", SIGMAS_M)
def test_a_drawing_with_a_vertex_at_each_corner_cannot_tell(told, sigma, closed):
    _, errors = told("sparse", sigma, closed=closed)
    assert not any(error.told for error in errors)
    assert {error.sigma_m for error in errors} == {1.0}


@pytest.mark.parametrize("times", [1 / 3, 3.0])
def test_where_it_starts_from_does_not_matter(told, times):
    _, right = told("dense", 0.7, count=4, assumed=0.7)
    _, wrong = told("dense", 0.7, count=4, assumed=0.7 * times)
    for one, other in zip(right, wrong, strict=True):
        assert one.sigma_m == pytest.approx(other.sigma_m, rel=0.05)


@pytest.mark.parametrize(("kind", "sigma"), [("sparse", 0.7), ("mixed", 0.7), ("dense", 1.5)])
def test_as_many_corners_are_found_as_with_the_wobble_given(told, kind, sigma):
    cell, errors = told(kind, sigma, count=6)
    for one, error in zip(cell, errors, strict=True):
        assert runs_of(one, error.sigma_m) == runs_of(one, sigma)


def test_a_large_wobble_makes_fewer_corners_than_what_would_be_assumed(told):
    cell, errors = told("mixed", 1.5, count=40)
    true = [len(one.corners) - 1 for one in cell]
    by_told = [runs_of(one, error.sigma_m) for one, error in zip(cell, errors, strict=True)]
    by_assumed = [runs_of(one, 1.0) for one in cell]
    assert sum(np.equal(by_told, true)) > sum(np.equal(by_assumed, true))


def runs_of(one, sigma_m):
    return len(fitted_line("A", one.points, closed=one.closed, sigma_m=sigma_m, pegs=NO_PEGS).corners) - 1


def test_a_drawn_curve_does_not_pass_for_wobble():
    rng = np.random.default_rng(3)
    turn = np.arange(0.0, 2.0, 0.05)
    curve = 100.0 * np.column_stack([np.sin(turn), 1.0 - np.cos(turn)]) + rng.normal(0.0, 0.3, (len(turn), 2))
    assert drawing_error_m(curve, closed=False, assumed_m=1.0).sigma_m == pytest.approx(0.3, rel=0.35)


def smooth(line, sigma, over, rng):
    """Return the line off by a wobble that is alike over so many vertices."""
    weight = np.hanning(over + 2)
    weight /= np.sqrt((weight**2).sum())
    white = rng.normal(0.0, sigma, (len(line) + over + 1, 2))
    return line + np.column_stack([np.convolve(white[:, axis], weight, "valid")[: len(line)] for axis in (0, 1)])


def traced_line():
    at = np.arange(0.0, 2400.0, 4.0)
    bends = np.array([[0.0, 0.0], [800.0, 0.0], [1400.0, 500.0], [2200.0, 500.0]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(bends, axis=0).T))])
    return np.column_stack([np.interp(at, along, bends[:, axis]) for axis in (0, 1)])


def test_a_hand_that_strays_slowly_shows_the_least_of_its_error():
    rng = np.random.default_rng(5)
    error = drawing_error_m(smooth(traced_line(), 0.7, 9, rng), closed=False, assumed_m=1.0)
    assert error.told
    assert error.together


def test_vertices_set_by_a_machine_tell_nothing():
    error = drawing_error_m(traced_line(), closed=False, assumed_m=1.0)
    assert (error.told, error.sigma_m) == (False, 1.0)
    assert drawing_error_m(traced_line().round(1), closed=False, assumed_m=1.0).sigma_m == 1.0


def test_vertices_put_on_pegs_do_not_make_the_hand_look_steady():
    rng = np.random.default_rng(8)
    straight = np.column_stack([10.0 * np.arange(120), np.zeros(120)])
    drawn = straight + rng.normal(0.0, 0.8, straight.shape)
    pegs = straight[::2]
    drawn[::2] = pegs
    assert drawing_error_m(drawn, closed=False, assumed_m=1.0).sigma_m < 0.7
    error = drawing_error_m(drawn, closed=False, assumed_m=1.0, pegs=pegs)
    assert error.sigma_m == pytest.approx(0.8, rel=3.0 * error.relative)
    assert error.vertices == 60


def test_ten_thousand_vertices_are_asked_in_a_moment():
    rng = np.random.default_rng(1)
    drawn = np.column_stack([10.0 * np.arange(10_000), np.zeros(10_000)]) + rng.normal(0.0, 0.6, (10_000, 2))
    begin = time.process_time()
    error = drawing_error_m(drawn, closed=False, assumed_m=1.0)
    assert time.process_time() - begin < 1.0
    assert error.sigma_m == pytest.approx(0.6, rel=0.15)


def line(line_id, points, closed=False):
    return DrawnLine(line_id, "", f"feature {line_id}", "wire", None, closed, points, 1.0)


def by(**boundary):
    return Spec(boundary=Boundary(**boundary))


@pytest.fixture(scope="session")
def dense(drawings):
    """Return the vertices of a traced line."""
    return lambda seed, sigma: drawings.drawing("dense", sigma_m=sigma, closed=False, seed=seed).points


@pytest.mark.parametrize("spec", [by(drawn_from="survey"), by(position_error_m=0.4)])
def test_a_survey_and_a_given_error_are_left_alone(dense, spec):
    drawn = (line("A", dense(0, 0.3)),)
    assert told_by_drawing(drawn, spec) == (drawn, [])


def test_each_line_that_can_tells_its_own_and_the_others_together(drawings, dense):
    mixed = [drawings.drawing("mixed", sigma_m=0.7, closed=False, seed=seed).points for seed in range(6)]
    drawn = [line("A", dense(0, 0.3)), *(line(name, points) for name, points in zip("BCDEFG", mixed, strict=True))]
    lines, notes = told_by_drawing(drawn, by())
    assert [one.line_id for one in lines] == list("ABCDEFG")
    assert lines[0].sigma_m == pytest.approx(0.3, rel=0.15)
    assert len({one.sigma_m for one in lines[1:]}) == 1
    assert lines[1].sigma_m == pytest.approx(0.7, rel=0.35)
    assert [note.line_id for note in notes] == ["A", None]
    assert notes[1].text.startswith("position error not given (B, C, D, E, F, G): the drawing itself wobbles by 0.")
    assert drawn[0].sigma_m == 1.0  # as read


def test_the_note_says_how_much_from_how_many_and_what_for(dense):
    (only,), (note,) = told_by_drawing([line("A", dense(3, 0.3))], by())
    error = drawing_error_m(dense(3, 0.3), closed=False, assumed_m=1.0)
    assert only.sigma_m == error.sigma_m
    assert note.severity == "default"
    assert note.text == (
        f"position error not given: the drawing itself wobbles by {error.sigma_m:.2f} m ±"
        f" {error.sigma_m * error.relative:.2f} (one standard deviation in east and in north, each; from"
        f" {error.vertices} vertices inside runs); used to find runs, while clearances and waypoints go by 1.0 m"
    )


def test_a_wobble_above_what_clearances_go_by_is_a_doubt(dense):
    (only,), (note,) = told_by_drawing([line("A", dense(3, 3.0))], by())
    assert only.sigma_m == pytest.approx(3.0, rel=0.2)
    assert note.severity == "doubt"
    assert note.text.endswith("But clearances and waypoints go by 1.0 m: give position_error_m")


def test_the_wobble_of_walked_marks_is_the_least_their_error_can_be(dense):
    (small,), (note,) = told_by_drawing([line("A", dense(3, 0.3))], by(drawn_from="walked"))
    assert small.sigma_m == 1.0
    assert note.text.endswith("the least it can be, as neighbours are off together; 1.0 m assumed")
    (large,), _ = told_by_drawing([line("A", dense(3, 2.0))], by(drawn_from="walked"))
    assert large.sigma_m == pytest.approx(2.0, rel=0.2)


def test_what_cannot_be_told_is_assumed_and_said(drawings):
    sparse = drawings.drawing("sparse", sigma_m=0.7, closed=True, seed=1).points
    (only,), (note,) = told_by_drawing([line("A", sparse, closed=True)], by())
    assert only.sigma_m == 1.0
    assert note.text == (
        "position error not given: a drawing with a vertex at each corner cannot tell it; 1.0 m assumed"
    )
    _, (exact,) = told_by_drawing([line("A", traced_line())], by())
    assert exact.text == (
        "position error not given: the vertices lie as no hand sets them, too well or too badly in line; 1.0 m assumed"
    )


def test_a_site_is_planned_with_what_its_drawing_tells(tmp_path, dense):
    drawn = dense(3, 0.3) * 1e-5 + np.array([148.15, -0.01])  # near the equator a degree is as long either way
    feature = {
        "type": "Feature",
        "properties": {"name": "North side"},
        "geometry": {"type": "LineString", "coordinates": drawn.tolist()},
    }
    (tmp_path / "boundary.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    site = read_site(tmp_path)
    plan = plan_site(site)
    (said,) = [text for text in plan.notes["text"] if text.startswith("position error not given")]
    assert "wobbles by 0.3" in said
    assert [one.sigma_m for one in plan.site.drawn] == [1.0]
    (tmp_path / "site.toml").write_text("[boundary]\nposition_error_m = 1.0\n")
    given = plan_site(read_site(tmp_path))
    assert not given.notes["text"].str.startswith("position error not given").any()
    assert len(given.corners) == len(plan.corners)
    assert plan.corners["sigma_m"].max() < 0.5 * given.corners["sigma_m"].max()


def odd_drawings():
    """Return how drawings are made that are like no other, with their true corners; each wobbles by 0.5 m."""
    wide = np.array([[0.0, 0.0], [800.0, 0.0], [1400.0, 500.0], [2200.0, 500.0]])
    every_2_m = traced_line().repeat(2, axis=0)[:-1]
    every_2_m[1::2] = (every_2_m[0:-1:2] + every_2_m[2::2]) / 2.0
    clicked = np.array([[-1200.0, 300.0], [-700.0, 300.0], [-500.0, 100.0], [-200.0, 300.0]])
    two_densities = np.vstack([clicked, traced_line()])
    pen = 10.0 * np.array([[0.0, 0.0], [0.0, 1.0], [1.0, 1.0], [1.0, 0.0]])
    return {
        "every 2 m": (every_2_m, False, wide),
        "half clicked, half traced": (two_densities, False, np.vstack([clicked, wide])),
        "pen of 10 m": (pen, True, pen),
        "three vertices": (wide[:3], False, wide[:3]),
        "double clicks": (np.repeat(clicked, 2, axis=0), False, clicked),
    }


@pytest.mark.parametrize("name", odd_drawings())
def test_odd_drawings_are_planned_with_their_true_corners(name):
    rng = np.random.default_rng(11)
    meant, closed, corners = odd_drawings()[name]
    points = meant + rng.normal(0.0, 0.5, meant.shape)
    error = drawing_error_m(points, closed=closed, assumed_m=1.0)
    fit = fitted_line("A", points, closed=closed, sigma_m=error.sigma_m, pegs=NO_PEGS)
    assert len(fit.corners) == len(corners)
    gap = np.hypot(*(fit.corners - corners).T)
    assert (gap < np.maximum(4.0 * fit.sigma_m, 2.0)).all()

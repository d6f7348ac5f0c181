"""The fitted profile: planes have no breaks, breaks are found where they are, unknown ground stays unknown."""

import numpy as np
import pytest

from fencegis.line.grade import fitted_grades, flat, stations_m
from fencegis.line.joint_fit import fit_joints, height_sigma

SIGMA = 0.15


def noisy(height, seed):
    return height + np.random.default_rng(seed).normal(0, SIGMA, len(height))


def test_a_noisy_plane_has_one_grade():
    station = stations_m(2_000.0, 1.0)
    for seed in range(10):
        grades = fitted_grades(station, noisy(0.05 * station, seed), vertical_error_m=SIGMA)
        assert len(grades.joint_m) == 2
        assert grades.grade_pct[0] == pytest.approx(5.0, abs=0.01)


def test_breaks_are_found_where_they_are_with_their_size_and_sign():
    joint, height = np.array([0.0, 300.0, 520.0, 800.0]), np.array([50.0, 50.0, 72.0, 65.0])
    station = stations_m(800.0, 1.0)
    grades = fitted_grades(station, noisy(np.interp(station, joint, height), 4), vertical_error_m=SIGMA)
    assert grades.joint_m[1:-1] == pytest.approx([300.0, 520.0], abs=1.5)
    assert grades.change_pct[1:-1] == pytest.approx([10.0, -12.5], abs=0.3)
    off = (grades.change_pct[1:-1] - [10.0, -12.5]) / grades.change_sigma_pct[1:-1]
    assert np.abs(off).max() < 4.0
    assert grades.along_ground(800.0) == pytest.approx(300 + np.hypot(220, 22) + np.hypot(280, 7), abs=0.05)
    assert grades.chainage_at(grades.along_ground([55.0, 700.0])) == pytest.approx([55.0, 700.0])


def test_fitted_heights_are_as_sure_as_they_say():
    station = stations_m(600.0, 1.0)
    truth = np.interp(station, [0, 250, 600], [10.0, 30.0, 12.0])
    off = []
    for seed in range(60):
        grades = fitted_grades(station, noisy(truth, seed), vertical_error_m=SIGMA)
        assert len(grades.joint_m) == 3
        off.append((grades.fitted_m[[0, 2]] - truth[[0, -1]]) / grades.sigma_m[[0, 2]])
    assert np.sqrt(np.mean(np.square(off))) == pytest.approx(1.0, abs=0.2)


def test_unknown_ground_is_nan_advances_level_and_is_told():
    station = stations_m(100.0, 1.0)
    ground = 10.0 + 0.3 * station
    ground[:5] = ground[40:61] = np.nan
    grades = fitted_grades(station, ground, vertical_error_m=SIGMA)
    assert grades.unknown_m == [(0.0, 5.0), (39.0, 61.0)]
    assert np.isnan(grades.fitted_at([2.0, 50.0])).all()
    assert grades.fitted_at([5.0, 39.0, 61.0, 80.0]) == pytest.approx(10.0 + 0.3 * np.array([5, 39, 61, 80]), abs=1e-6)
    slope = np.hypot(1.0, 0.3)
    assert grades.along_ground(100.0) == pytest.approx(5 + 34 * slope + 22 + 39 * slope)


def test_no_ground_at_all_is_flat_and_unknown():
    grades = flat(30.0)
    assert grades.along_ground([0.0, 12.5, 30.0]).tolist() == [0.0, 12.5, 30.0]
    assert np.isnan(grades.grade_pct).all()


def test_joint_heights_have_the_errors_of_the_whole_normal_matrix():
    chainage, joint = np.linspace(0, 100, 101), np.array([0.0, 17.0, 60.0, 100.0])
    shares = np.column_stack([np.interp(chainage, joint, unit) for unit in np.eye(4)])
    assert height_sigma(chainage, joint) == pytest.approx(np.sqrt(np.diag(np.linalg.inv(shares.T @ shares))), rel=1e-6)


def test_joints_move_to_where_the_grades_meet():
    chainage = np.linspace(0, 100, 101)
    height = np.interp(chainage, [0, 42.5, 100], [0.0, 8.0, 1.0])
    joint, level = fit_joints(chainage, height, np.array([0.0, 50.0, 100.0]))
    assert joint[1] == pytest.approx(42.5, abs=0.05)
    assert level == pytest.approx([0.0, 8.0, 1.0], abs=0.02)


@pytest.mark.parametrize("alike_m", [0.0, 3.0])
def test_noise_makes_no_breaks_whether_its_neighbours_are_alike_or_not(profiles, alike_m):
    false = 0
    for seed in range(1000, 1003):
        station, ground = profiles.plane(alike_m=alike_m, seed=seed)
        false += len(fitted_grades(station, ground, vertical_error_m=profiles.SIGMA_M).joint_m) - 2
    assert false <= 1


@pytest.mark.parametrize("alike_m", [0.0, 3.0])
def test_breaks_of_eight_standard_errors_are_found(profiles, alike_m):
    one = profiles.profile(size=8.0, alike_m=alike_m, seed=1000)
    found = fitted_grades(one.station_m, one.ground_m, vertical_error_m=profiles.SIGMA_M).joint_m[1:-1]
    off = np.abs(found[:, None] - one.break_m).min(axis=0) / one.break_sigma_m
    assert np.mean(off < 4.0) >= 0.95
    assert abs(len(found) - len(one.break_m)) <= 2


@pytest.mark.parametrize("alike_m", [0.0, 3.0])
def test_a_change_is_as_sure_as_it_says_whether_neighbours_are_alike_or_not(profiles, alike_m):
    station, off = stations_m(600.0, 1.0), []
    for seed in range(40):
        noise = profiles.alike_noise(len(station), alike_m, np.random.default_rng(seed))
        truth = np.interp(station, [0, 250, 600], [10.0, 30.0, 12.0])
        grades = fitted_grades(station, truth + noise, vertical_error_m=profiles.SIGMA_M)
        size = 100.0 * (-18.0 / 350.0 - 20.0 / 250.0)
        middle = np.abs(grades.joint_m[1:-1] - 250.0).argmin() + 1
        off.append((grades.change_pct[middle] - size) / grades.change_sigma_pct[middle])
    assert np.sqrt(np.mean(np.square(off))) == pytest.approx(1.0, abs=0.25)


def test_the_error_of_a_change_is_that_of_generalised_least_squares(profiles):
    # whitened straights, as the profiles are made, against the plain sandwich with the whole covariance matrix
    count, near = 81, profiles.correlation(3.0)
    rows = np.column_stack([np.ones(count), np.arange(count)])
    lag = np.abs(np.subtract.outer(np.arange(count), np.arange(count)))
    whole = profiles.SIGMA_M**2 * near**lag
    assert profiles.leg_covariance(80, 3.0) == pytest.approx(np.linalg.inv(rows.T @ np.linalg.inv(whole) @ rows))

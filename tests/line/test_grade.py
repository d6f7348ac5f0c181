"""The fitted profile: planes have no breaks, breaks are found where they are, unknown ground stays unknown."""

import numpy as np
import pytest

from fencegis.line.grade import fitted_grades, flat, stations_m
from fencegis.line.joint_fit import height_sigma, joint_heights, place_joints, settled_joints
from fencegis.line.joint_place import likely_places

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
        if len(grades.joint_m) == 3:
            off.append((grades.fitted_m[[0, 2]] - truth[[0, -1]]) / grades.sigma_m[[0, 2]])
    assert len(off) >= 57  # noise makes a break in about one leg of a hundred
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


def test_joints_rise_whatever_the_ground():
    """Short lines, coarse cells, gaps, and heights far rougher than their error says."""
    rng = np.random.default_rng(0)
    for _ in range(150):
        station = rng.choice([1.0, 5.0, 30.0]) * np.arange(rng.integers(4, 60))
        ground = 100.0 + rng.choice([0.0, 0.01, 1.0, 30.0]) * rng.normal(size=len(station)).cumsum()
        ground[rng.random(len(station)) < 0.05] = np.nan
        grades = fitted_grades(station, ground, vertical_error_m=rng.choice([0.001, 0.2, 2.0]))
        assert (np.diff(grades.joint_m) > 0).all()
        told = ~np.isnan(grades.change_pct)
        assert (grades.place_sigma_m[told] > 0).all()
        assert len(grades.known) == len(grades.joint_m) - 1


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
    joint, place_sigma, gain = place_joints(chainage, height, np.array([0.0, 60.0, 100.0]), sigma=0.01)
    assert joint == pytest.approx([0.0, 42.5, 100.0], abs=0.02)
    assert np.isnan(place_sigma).tolist() == [True, False, True]
    assert gain[1] > 1000.0
    assert joint_heights(chainage, height, joint) == pytest.approx([0.0, 8.0, 1.0], abs=0.02)


def test_the_place_of_a_joint_is_the_mean_of_its_likelihood_by_plain_regression():
    rng = np.random.default_rng(3)
    chainage = np.linspace(0, 80, 81)
    height = np.interp(chainage, [0, 30, 80], [0.0, 1.2, 0.4]) + rng.normal(0, SIGMA, 81)
    places = np.linspace(8, 72, 641)
    misfit = []
    for place in places:
        rows = np.column_stack([np.ones(81), np.minimum(chainage - place, 0), np.maximum(chainage - place, 0)])
        misfit.append(np.linalg.lstsq(rows, height, rcond=None)[1][0])
    weight = np.exp(-(np.array(misfit) - min(misfit)) / (2 * SIGMA**2))
    weight /= weight.sum()
    mean = weight @ places
    ours = likely_places(chainage, height, np.array([0.0]), np.array([80.0]), sigma=SIGMA)
    assert ours[0] == pytest.approx(mean, abs=0.05)
    assert ours[1] == pytest.approx(np.sqrt(weight @ (places - mean) ** 2), rel=0.02)


@pytest.mark.parametrize("size", [5.0, 8.0, 20.0, 400.0])
def test_the_place_of_a_lone_break_is_as_sure_as_it_says(size):
    """A level, then a grade: twice the standard error holds the truth in 95 %, however plain the break is."""
    station, rng, off = np.arange(-60.0, 101.0), np.random.default_rng(9), []
    change = size * SIGMA * np.hypot(np.sqrt(12 / 60**3), np.sqrt(12 / 100**3))
    for _ in range(300):
        ground = change * np.maximum(station - 0.3, 0) + rng.normal(0, SIGMA, len(station))
        place, place_sigma = settled_joints(station, ground, np.array([-60.0, 10.0, 100.0]), sigma=SIGMA)
        off.append((place[1] - 0.3) / place_sigma[1])
    assert 0.915 <= np.mean(np.abs(off) <= 2.0) <= 0.985  # 95.4 %, give or take three of its own errors
    assert np.mean(off) == pytest.approx(0.0, abs=0.25)


def test_what_noise_could_have_made_is_told_apart_from_the_breaks(profiles):
    one = profiles.profile(size=4.0, alike_m=0.0, seed=2)
    grades = fitted_grades(one.station_m, one.ground_m, vertical_error_m=profiles.SIGMA_M)
    size = np.abs(grades.faint[:, 1]) / grades.faint[:, 2]
    assert len(size) >= 1
    assert ((size >= 2.0) & (size < 2.6)).all()
    apart = np.abs(grades.faint[:, :1] - grades.joint_m[1:-1])
    assert apart.min() >= 25.0
    assert (np.diff(grades.faint[:, 0]) >= 25.0).all()


def test_a_noisy_plane_has_few_candidates_to_tell(profiles):
    told = 0
    for seed in range(1000, 1005):
        station, ground = profiles.plane(alike_m=0.0, seed=seed)
        told += len(fitted_grades(station, ground, vertical_error_m=profiles.SIGMA_M).faint)
    assert told <= 10  # in 50 km


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
    grades = fitted_grades(one.station_m, one.ground_m, vertical_error_m=profiles.SIGMA_M)
    found, sigma = grades.joint_m[1:-1], grades.place_sigma_m[1:-1]
    gap = np.abs(found[:, None] - one.break_m)
    off = (gap / sigma[:, None])[gap.argmin(axis=0), np.arange(len(one.break_m))]
    assert np.mean(off <= 2.0) >= 0.88
    assert np.mean(off <= 4.0) >= 0.95
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

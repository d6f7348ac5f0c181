"""Drift, sag and reach of a string, and the height that carries it over the ground."""

import math

import numpy as np
import pytest

from fencegis.catalogue import rows
from fencegis.line.hanging import drop
from fencegis.records.spec import Fence, StringLine
from fencegis.setout.string_line import Cord, bottom_wire, cord_named, low_string_m, strung, value_of

CORD = cord_named("cord 1.5 mm", tension_n=100.0)


def test_a_string_of_the_greatest_length_drifts_just_the_limit():
    for breeze in (1.0, 2.0, 5.0):
        longest = CORD.greatest_length_m(breeze_m_s=breeze, drift_mm=10.0)
        assert CORD.drift_mm(longest, breeze_m_s=breeze) == pytest.approx(10.0)
    assert CORD.sag_mm(CORD.greatest_level_m(sag_mm=25.0)) == pytest.approx(25.0)
    assert CORD.greatest_length_m(breeze_m_s=0.0, drift_mm=10.0) == math.inf


def test_drift_grows_with_the_square_of_breeze_and_length_and_falls_with_the_pull():
    once = CORD.drift_mm(30.0, breeze_m_s=2.0)
    assert CORD.drift_mm(60.0, breeze_m_s=2.0) == pytest.approx(4.0 * once)
    assert CORD.drift_mm(30.0, breeze_m_s=4.0) == pytest.approx(4.0 * once)
    assert cord_named("cord 1.5 mm", tension_n=50.0).drift_mm(30.0, breeze_m_s=2.0) == pytest.approx(2.0 * once)


def test_drift_is_the_middle_of_a_loaded_string_solved_bit_by_bit():
    """A twin without the parabola: T y'' = −drag, solved as a chain of 200 small pieces."""
    length, pieces = 43.0, 200
    step = length / pieces
    stiff = (
        np.diag(np.full(pieces - 1, 2.0)) - np.diag(np.ones(pieces - 2), 1) - np.diag(np.ones(pieces - 2), -1)
    ) / step
    off = np.linalg.solve(CORD.tension_n * stiff, np.full(pieces - 1, CORD.drag_n_m(2.0) * step))
    assert 1000.0 * off.max() == pytest.approx(CORD.drift_mm(length, breeze_m_s=2.0), rel=1e-9)


@pytest.mark.parametrize(("length", "pins"), [(20.0, 0), (43.0, 0), (43.7, 1), (86.0, 1), (90.0, 2)])
def test_pins_keep_every_part_within_the_drift_as_it_is_read(length, pins):
    assert CORD.pins(length, breeze_m_s=2.0, drift_mm=10.0) == pins
    assert CORD.drift_mm(length / (pins + 1), breeze_m_s=2.0) <= 10.5
    if pins:
        assert CORD.drift_mm(length / pins, breeze_m_s=2.0) > 10.5


def test_no_pin_in_still_air():
    assert CORD.pins(500.0, breeze_m_s=0.0, drift_mm=10.0) == 0


def test_a_cord_that_is_not_in_the_catalogue_is_named():
    with pytest.raises(KeyError, match=r"strings\.csv has no cord 'twine'"):
        cord_named("twine", tension_n=100.0)
    with pytest.raises(KeyError, match=r"wind\.csv has no item 'nothing'"):
        value_of("wind", "nothing")


def test_wire_is_its_own_string():
    wire = strung("wire", fence=Fence(tension_kn=1.1), string=StringLine())
    assert (wire.name, wire.tension_n) == ("bottom wire", 1100.0)
    assert wire.weight_n_m == pytest.approx(7850 * math.pi / 4 * 0.0025**2 * 9.80665)
    assert strung("post and rail", fence=Fence(), string=StringLine()) == CORD


def test_thicker_cords_in_the_catalogue_are_heavier_and_stronger():
    cords = [row for row in rows("strings") if row["cord"].startswith("cord")]
    assert [float(row["mass_g_m"]) for row in cords] == sorted(float(row["mass_g_m"]) for row in cords)
    assert [float(row["greatest_n"]) for row in cords] == sorted(float(row["greatest_n"]) for row in cords)


def lowest_by_trying(station, ground, begin, end, sag, clear):
    """The twin: raise the string a millimetre at a time until no point of the ground comes nearer than `clear`."""
    at = [point for point in station if begin < point < end]
    level = dict(zip(station, ground, strict=True))
    first, last = np.interp([begin, end], station, ground)
    for step in range(20_000):
        height = clear + 0.001 * step
        if all(
            first
            + (point - begin) / (end - begin) * (last - first)
            + height
            - float(drop((point - begin) / (end - begin), sag_m=sag))
            >= level[point] + clear - 1e-12
            for point in at
        ):
            return height
    raise AssertionError


@pytest.mark.parametrize("seed", range(12))
def test_the_foot_string_is_the_lowest_that_passes_over_the_ground(seed):
    dice = np.random.default_rng(seed)
    station = np.arange(0.0, 61.0)
    ground = np.cumsum(dice.normal(0.0, 0.1, len(station)))
    begin, end = np.array([0.0, 20.3, 41.0]), np.array([20.3, 39.7, 60.0])
    sag = dice.uniform(0.0, 0.05, 3)
    low = low_string_m(station, ground, begin_m=begin, end_m=end, sag_m=sag, clear_m=0.1)
    tried = [lowest_by_trying(station, ground, *one, 0.1) for one in zip(begin, end, sag, strict=True)]
    assert low == pytest.approx(tried, abs=0.00101)
    assert (low <= np.array(tried) + 1e-9).all()


def test_lowering_a_hump_never_lifts_the_string():
    station = np.arange(0.0, 41.0)
    span = {"begin_m": np.array([0.0]), "end_m": np.array([40.0]), "sag_m": np.zeros(1), "clear_m": 0.1}
    hump = np.exp(-(((station - 17.0) / 4.0) ** 2))
    heights = [low_string_m(station, high * hump, **span)[0] for high in (0.0, 0.2, 0.5, 1.0)]
    assert heights == sorted(heights)
    assert heights[0] == 0.1


def test_unknown_ground_leaves_the_height_unknown_and_only_there():
    station = np.arange(0.0, 41.0)
    ground = np.where((station > 25) & (station < 30), np.nan, 0.0)
    two = {"begin_m": np.array([0.0, 20.0]), "end_m": np.array([20.0, 40.0]), "sag_m": np.zeros(2), "clear_m": 0.1}
    low = low_string_m(station, ground, **two)
    assert low[0] == pytest.approx(0.1)
    assert np.isnan(low[1])


def test_a_cord_is_a_plain_record():
    assert Cord("x", 1.0, 0.01, 10.0, 20.0).sag_mm(8.0) == pytest.approx(1000 * 0.01 * 64 / 80)
    assert bottom_wire(tension_kn=1.0).greatest_n == math.inf

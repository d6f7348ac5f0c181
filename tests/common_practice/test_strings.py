"""Common practice: what a string does in a breeze, what an eye tells apart. Computed figures, no print found."""

from __future__ import annotations

import pytest

from fencegis.records.spec import Fence, StringLine
from fencegis.setout.sighting import eye_mm, out_of_plumb_mm
from fencegis.setout.string_line import bottom_wire, cord_named


@pytest.mark.parametrize(
    ("pull_n", "breeze_m_s", "reach_m"), [(100.0, 2.0, 43.0), (50.0, 3.0, 20.0), (50.0, 1.0, 60.0)]
)
def test_ten_millimetres_of_drift(pull_n: float, breeze_m_s: float, reach_m: float) -> None:
    cord = cord_named("cord 1.5 mm", tension_n=pull_n)
    assert round(cord.greatest_length_m(breeze_m_s=breeze_m_s, drift_mm=10.0)) == reach_m


@pytest.mark.parametrize(("length_m", "hangs_mm"), [(20.0, 10.0), (50.0, 61.0), (100.0, 245.0)])
def test_a_gram_a_metre_at_fifty_newtons_sags(length_m: float, hangs_mm: float) -> None:
    assert round(cord_named("cord 1.5 mm", tension_n=50.0).sag_mm(length_m)) == hangs_mm


def test_strained_wire_stays_where_cord_drifts() -> None:
    cord = cord_named("cord 1.5 mm", tension_n=50.0)
    assert round(cord.drift_mm(100.0, breeze_m_s=3.0)) == 248
    assert round(bottom_wire(tension_kn=1.0).drift_mm(100.0, breeze_m_s=3.0)) == 21


def test_the_usual_cord_holds_the_usual_string() -> None:
    string = StringLine()
    cord = cord_named(string.cord, tension_n=string.tension_n)
    assert round(cord.drift_mm(Fence().string_m, breeze_m_s=string.breeze_m_s)) == string.drift_mm


def test_an_eye_is_no_string() -> None:
    assert round(float(eye_mm(100.0))) == 29
    assert round(out_of_plumb_mm(2.0)) == 35
    assert round(out_of_plumb_mm(0.3)) == 5

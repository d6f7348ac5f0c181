"""Pull and lift of strained wires."""

import numpy as np
import pytest

from fencegis.strength.wire import lift_kn, lift_of_turn_kn, resultant_kn


def test_sixty_degrees_pull_as_one_wire_does():
    assert resultant_kn(60.0, wires=1, tension_kn=1.1) == pytest.approx(1.1)
    assert resultant_kn(-60.0, wires=1, tension_kn=1.1) == pytest.approx(1.1)


def test_a_dip_lifts_and_a_crest_does_not():
    five = 100.0 * np.tan(np.radians(5.0))
    assert lift_kn(-five, five, wires=6, tension_kn=1.1) == pytest.approx(1.150, abs=0.0005)  # six wires, 5° each side
    assert lift_kn(five, -five, wires=6, tension_kn=1.1) == 0.0
    assert lift_of_turn_kn([-3.0, 0.0], wires=6, tension_kn=1.1).tolist() == [0.0, 0.0]


def test_unknown_ground_gives_unknown_lift():
    assert np.isnan(lift_kn(np.nan, 5.0, wires=6, tension_kn=1.1))

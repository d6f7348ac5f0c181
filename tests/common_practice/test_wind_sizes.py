"""Common practice: sizes of what the wind blows against, where site.toml gives none."""

from __future__ import annotations

from fencegis.records.spec import Fence
from fencegis.strength.values import value_of


def test_a_wire_is_the_usual_high_tensile_size() -> None:
    """Common practice: 2.5 mm, gauge 12½ to the nearest twentieth."""
    assert value_of("wind", "wire") == 2.5
    assert abs(value_of("wind", "wire") - 0.099 * 25.4) < 0.05


def test_a_dropper_is_a_slat_of_some_four_centimetres() -> None:
    """Common practice: sawn 38 to 50 mm wide, or steel that is narrower."""
    assert 38.0 <= value_of("wind", "dropper") <= 50.0


def test_a_fence_of_three_rails_is_breast_high() -> None:
    """Common practice: 1.2 to 1.4 m to the top of the top rail."""
    assert 1.2 <= Fence().height_m <= 1.4

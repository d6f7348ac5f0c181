"""Defaults that follow from other keys."""

import pytest

from fencegis.records.spec import Boundary, Fence


@pytest.mark.parametrize(
    ("given", "vertex", "shift", "touch"),
    [
        ({}, 1.0, 3.0, 2.0),
        ({"drawn_from": "survey"}, 0.0, 0.0, 0.02),
        ({"drawn_from": "walked", "position_error_m": 2.0}, 2.0, 0.0, 4.0),
        ({"imagery_error_m": 0.5, "position_error_m": 0.01}, 0.01, 0.5, 0.05),
        ({"datum": "unknown", "imagery_error_m": 0.0}, 1.0, 2.0, 2.0),
    ],
)
def test_the_drawings_errors(given, vertex, shift, touch):
    boundary = Boundary.model_validate(given)
    assert (boundary.vertex_sigma_m, boundary.shift_sigma_m, boundary.touch_m) == (vertex, shift, touch)


def test_rails_between_posts_go_over_one_bay_whatever_is_asked():
    assert [Fence(rail_bays=bays).bays_per_rail for bays in (1, 2)] == [1, 2]
    assert Fence(rail_bays=2, rails_fixed="centred").bays_per_rail == 1

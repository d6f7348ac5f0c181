"""Common practice: how posts stand in the ground, where no print was found."""

from __future__ import annotations

import pytest

from fencegis.catalogue import rows
from fencegis.strength.footing import soil_named, unbraced_depth_m
from fencegis.strength.values import value_of


def test_loam_counts_as_the_weakest_row_of_the_building_codes_table() -> None:
    """Common practice: the table does not name loam."""
    printed = [soil_named(row["soil"]).lateral_kpa_m for row in rows("soils") if row["lateral_kpa_m"]]
    assert soil_named("loam").lateral_kpa_m == min(printed)


def test_the_sides_of_a_bored_hole_count_as_those_of_a_dug_one() -> None:
    """Common practice: both are filled in round the post."""
    assert value_of("footing", "bored") == value_of("footing", "dug") < value_of("footing", "driven") == 1.0


def test_a_post_in_sand_is_taken_no_shallower_than_in_loam() -> None:
    """Common practice: the code's table has sand above clay, and everyone who fences sets posts deeper in it."""
    depths = [
        float(unbraced_depth_m(3.0, height_m=0.75, width_m=0.175, soil=soil)) for soil in ("sand", "loam", "gravel")
    ]
    assert depths[0] == pytest.approx(depths[1])
    assert depths[2] < depths[0]

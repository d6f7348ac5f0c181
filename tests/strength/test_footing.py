"""Depth against pull, height, width and soil. What stands in print is held in tests/published."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from fencegis.catalogue import rows
from fencegis.strength.footing import (
    bearing_length_m,
    brace_depth_m,
    depth_asked_m,
    depth_m,
    diagonal_m,
    ratio_band,
    soil_named,
    unbraced_depth_m,
)
from fencegis.strength.values import value_of

POST = {"height_m": 0.75, "width_m": 0.175, "lateral_kpa_m": 23.56}


def depth(pull_kn: float = 1.0, **other: float | bool) -> float:
    return float(depth_m(pull_kn, **{**POST, **other}))


@given(
    pull=st.floats(0.01, 50.0),
    height=st.floats(0.0, 5.0),
    width=st.floats(0.05, 1.0),
    lateral=st.floats(5.0, 200.0),
)
def test_the_depth_asks_for_itself(pull: float, height: float, width: float, lateral: float) -> None:
    """Against a root finder, with the equation written out anew and the pressure counted to 12 ft."""

    def over(trial: float) -> float:
        length = 2.34 * pull / (lateral * min(trial, 12 * 0.3048) / 3.0 * width)
        return length / 2.0 * (1.0 + np.sqrt(1.0 + 4.36 * height / length)) - trial

    ours = float(depth_m(pull, height_m=height, width_m=width, lateral_kpa_m=lateral))
    assert ours == pytest.approx(brentq(over, 1e-3, 1e5, xtol=1e-12), rel=1e-8)


@pytest.mark.parametrize("held", [False, True])
def test_depth_rises_with_pull_and_height_and_falls_with_soil_and_width(held: bool) -> None:
    usual = depth(held_at_ground=held)
    assert depth(2.0, held_at_ground=held) > usual
    assert depth(height_m=1.5, held_at_ground=held) > usual
    assert depth(lateral_kpa_m=31.4, held_at_ground=held) < usual
    assert depth(width_m=0.24, held_at_ground=held) < usual


def test_a_post_held_at_the_ground_stands_shallower_and_so_does_an_isolated_pole() -> None:
    assert depth(held_at_ground=True) < depth()
    assert depth(isolated=True) == pytest.approx(depth(lateral_kpa_m=2.0 * POST["lateral_kpa_m"]))


def test_nothing_to_hold_asks_for_no_depth() -> None:
    depths = depth_m([0.0, 1.0, np.nan], **POST)
    assert depths[0] == 0.0
    assert depths[1] == pytest.approx(depth())
    assert np.isnan(depths[2])
    assert depth(height_m=0.0, held_at_ground=True) == 0.0


def test_pressure_counts_to_twelve_feet() -> None:
    most = value_of("footing", "pressure depth")
    assert most == pytest.approx(12 * 0.3048)
    assert bearing_length_m(5.0, at_depth_m=9.0, width_m=0.2, lateral_kpa_m=20.0) == bearing_length_m(
        5.0, at_depth_m=most, width_m=0.2, lateral_kpa_m=20.0
    )
    assert depth_asked_m(5.0, at_depth_m=9.0, height_m=1.0, width_m=0.2, lateral_kpa_m=20.0) < depth_asked_m(
        5.0, at_depth_m=1.0, height_m=1.0, width_m=0.2, lateral_kpa_m=20.0
    )


def test_a_square_post_counts_by_its_diagonal() -> None:
    assert diagonal_m(4 * 0.0254) / 0.3048 == pytest.approx(0.471, abs=0.0005)  # a post of 4 × 4 in, in feet
    assert diagonal_m(0.3) == pytest.approx(np.hypot(0.3, 0.3))


@pytest.mark.parametrize("wrong", [{"width_m": 0.0}, {"lateral_kpa_m": 0.0}, {"height_m": -0.1}, {"pull_kn": -1.0}])
def test_what_makes_no_sense_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="a footing needs"):
        depth(**wrong)


@given(pull=st.floats(0.0, 30.0), height=st.floats(0.1, 2.0), width=st.floats(0.05, 0.5))
def test_sand_is_never_shallower_than_loam(pull: float, height: float, width: float) -> None:
    for how in ("driven", "bored", "dug"):
        sand, loam = (
            float(unbraced_depth_m(pull, height_m=height, width_m=width, soil=soil, post_set=how))
            for soil in ("sand", "loam")
        )
        assert sand >= loam
    assert brace_depth_m("sand") > brace_depth_m("loam")


def test_the_deeper_of_code_and_brace_rule_is_taken() -> None:
    slight, strong = unbraced_depth_m([0.01, 5.0], height_m=0.75, width_m=0.175, soil="loam")
    assert slight == brace_depth_m("loam")
    assert strong == pytest.approx(depth(5.0, lateral_kpa_m=soil_named("loam").lateral_kpa_m))


def test_refilled_ground_bears_less() -> None:
    driven, dug = (
        float(unbraced_depth_m(3.0, height_m=0.75, width_m=0.175, soil="gravel", post_set=how))
        for how in ("driven", "dug")
    )
    assert dug > driven


def test_an_unknown_soil_is_answered_with_those_there_are() -> None:
    with pytest.raises(ValueError, match=r"soil 'peat' is none of crystalline rock, rock, gravel, loam, clay, sand"):
        brace_depth_m("peat")


def test_every_soil_leads_to_others_that_are_there() -> None:
    for row in rows("soils"):
        soil = soil_named(row["soil"])
        assert brace_depth_m(soil.name) > 0.0
        if soil.not_shallower_than:
            assert soil_named(soil.not_shallower_than).lateral_kpa_m < soil.lateral_kpa_m


@pytest.mark.parametrize(
    ("kind", "from_share", "to_share"),
    [("line", 0.30, 0.39), ("strainer", 0.37, 0.46), ("sand or bog", 0.49, 0.51)],
)
def test_shares_in_the_ground_lie_where_agencies_have_them(kind: str, from_share: float, to_share: float) -> None:
    """The bands were read off the same prints by someone else."""
    least, most = ratio_band(kind)
    assert from_share <= least < most <= to_share

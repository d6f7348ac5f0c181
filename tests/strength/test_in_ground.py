"""Depths that follow from a height above the ground. The prints behind them are held in tests/published."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fencegis.line.zones import soil_names
from fencegis.strength.footing import brace_depth_m, ratio_band
from fencegis.strength.in_ground import depth_of_share_m, end_depth_m, line_depth_m, of_each, printed_share


@given(st.floats(0.05, 0.7), st.floats(0.3, 3.0))
def test_the_share_of_the_whole_post_is_in_the_ground(share: float, height_m: float) -> None:
    depth = depth_of_share_m(share, height_m=height_m)
    assert depth / (depth + height_m) == pytest.approx(share)


@pytest.mark.parametrize("soil", soil_names())
def test_a_corner_post_stands_deeper_than_a_line_post(soil: str) -> None:
    assert end_depth_m(soil, height_m=1.2) > line_depth_m(soil, height_m=1.2) > 0.0


@pytest.mark.parametrize("depth_of", [line_depth_m, end_depth_m])
def test_sand_and_bog_are_deeper_than_firm_ground(depth_of) -> None:
    firm = [depth_of(soil, height_m=1.1) for soil in soil_names() if soil not in {"sand", "bog"}]
    assert min(depth_of(soil, height_m=1.1) for soil in ("sand", "bog")) > max(firm)


def test_shares_lie_in_the_bands_of_their_kind() -> None:
    least, most = ratio_band("line")
    depth = line_depth_m("loam", height_m=1.0)
    assert least <= depth / (depth + 1.0) <= most + 1e-12
    least, most = ratio_band("strainer")
    depth = end_depth_m("loam", height_m=1.0)
    assert least <= depth / (depth + 1.0) <= most


def test_a_braced_post_in_bog_is_no_shallower_than_in_sand() -> None:
    assert brace_depth_m("bog") >= brace_depth_m("sand")


def test_what_is_not_in_the_catalogue_is_refused() -> None:
    with pytest.raises(ValueError, match="soil 'moss' is none of"):
        line_depth_m("moss", height_m=1.0)
    with pytest.raises(ValueError, match=r"embedment\.csv has no row 'nowhere'"):
        printed_share("nowhere")


def test_each_soil_is_worked_out_once() -> None:
    asked: list[str] = []

    def depth_of(soil: str) -> float:
        asked.append(soil)
        return {"sand": 2.0, "loam": 1.0}[soil]

    assert of_each(depth_of, ["sand", "loam", "sand"]).tolist() == [2.0, 1.0, 2.0]
    assert sorted(asked) == ["loam", "sand"]

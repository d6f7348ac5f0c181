"""Wind: pressures, coefficients and loads of posts as others printed them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pytest

from fencegis.records.spec import Fence
from fencegis.records.tables import checked, empty
from fencegis.strength.values import value_of
from fencegis.strength.wind import gust_kpa, open_coefficient, screen_coefficient, solidity
from fencegis.strength.wind_posts import WindLoad, wind_load

if TYPE_CHECKING:
    from collections.abc import Callable

ASCE_DENSITY = 2.0 * 0.613  # its velocity pressure is 0.613 V² in N/m²


@pytest.mark.published(source="steel-europe-wind", where="step 3: 26 m/s, 1.25 kg/m³, in N/m²")
def test_pressure_with_the_density_we_take(compare: Callable) -> None:
    compare(value_of("wind", "air density"), "1.25")
    compare(float(gust_kpa(26.0)) * 1000.0, "422.5")


@pytest.mark.published(source="en-wind-sheet", where="basic velocity pressure at 40.9 m/s, in kPa")
def test_pressure_of_a_gale(compare: Callable) -> None:
    compare(float(gust_kpa(40.9)), "1.046")


@pytest.mark.published(source="billboard-force", where="example 1: 10 m², 15 m/s, 1.225 kg/m³, in N")
def test_force_of_the_pressure_alone(compare: Callable) -> None:
    compare(float(gust_kpa(15.0, density_kg_m3=1.225)) * 10.0 * 1000.0, "1378.125")


@pytest.mark.parametrize(
    ("solid", "flat", "round_"),
    [
        (0.0, "2.0", "1.2"),
        (0.099, "2.0", "1.2"),
        (0.1, "1.8", "1.3"),
        (0.29, "1.8", "1.3"),
        (0.3, "1.6", "1.5"),
        (0.7, "1.6", "1.5"),
    ],
)
@pytest.mark.published(
    source="asce-7-16-29-4-2", where="flat-sided, and rounded up to D √q = 5.3: < 0.1, 0.1 to 0.29, 0.3 to 0.7"
)
def test_the_table_of_open_frames(compare: Callable, solid: float, flat: str, round_: str) -> None:
    compare(float(open_coefficient(solid, shape="flat")), flat)
    compare(float(open_coefficient(solid, shape="round")), round_)


@pytest.mark.published(source="asce-7-16-29-4-2", where="example on the same page: a solidity of 0.153, flat sides")
def test_the_coefficient_of_a_carport(compare: Callable) -> None:
    compare(float(open_coefficient(0.153, shape="flat")), "1.8")


@pytest.mark.published(
    source="aero-data-book-95", where="long flat plate at 90°; endless cylinder at right angles to flow"
)
def test_lone_members_agree_with_a_table_of_drag(compare: Callable, printed: type) -> None:
    """The code rounds the plate up by a hundredth part."""
    compare(float(open_coefficient(0.0, shape="flat")), printed("1.98", 0.03))
    compare(float(open_coefficient(0.0, shape="round")), "1.20")


@pytest.mark.parametrize(("from_end", "solid_wall"), [(0.15, "3.4"), (1.0, "2.1"), (3.0, "1.7"), (4.5, "1.2")])
@pytest.mark.published(
    source="en-1991-1-4-7-9", where="no return corner, ten heights long: zones A, B, C, D; solidity 0.8"
)
def test_zones_of_a_screen(compare: Callable, from_end: float, solid_wall: str) -> None:
    """The four places are those at which the library tries its zones: in heights from the free end."""
    compare(float(screen_coefficient(1.0, from_end=from_end)), solid_wall)
    compare(float(screen_coefficient(0.8, from_end=from_end)), "1.2")


def post(top_m: float, diameter_mm: float, pressure_kpa: float) -> WindLoad:
    """A post by itself, in the gust that has this pressure."""
    row = {"line_id": ["A"], "chainage_m": [0.0], "post_id": ["A1"], "kind": ["line"], "ground_chainage_m": [0.0]}
    posts = checked("posts", pd.DataFrame({**row, "tape_m": [0.0], "top_m": [top_m]}))
    speed = float(np.sqrt(2000.0 * pressure_kpa / value_of("wind", "air density")))
    load = wind_load(
        posts,
        empty("bays"),
        strainers=empty("strainers"),
        kind_of_line={"A": "wire"},
        fence=Fence(post_mm=diameter_mm),
        speed_m_s=speed,
    )
    assert load is not None
    return load


@pytest.mark.published(
    source="mesh-fence-2m", where="4.2: 44.4 m/s, Kz 0.57, I 0.87: 0.599 kPa, 0.32 kN/m, 0.64 kNm, 0.64 kN"
)
def test_a_post_of_a_mesh_fence_two_metres_high(compare: Callable, printed: type) -> None:
    """They take 1.2 on a fifth solid of 2 m and on the post of 48 mm: a post of 448 mm; then work on with 0.32."""
    pressure = float(gust_kpa(44.4, density_kg_m3=ASCE_DENSITY)) * 0.57 * 0.87
    compare(pressure * 1000.0, "599")
    load = post(2.0, 0.2 * 2000.0 + 48.0, 0.6)
    compare(float(load.force_kn[0]) / 2.0, "0.32")
    compare(float(load.force_kn[0]), printed("0.64", 0.01))
    compare(float(load.moment_knm[0]), printed("0.64", 0.01))
    compare(float(load.height_m[0]), "1")


@pytest.mark.published(
    source="mesh-fence-2m5", where="45 m/s, Kd 0.85, Kz 0.57, I 0.87: 0.52 kPa, 0.39 kN/m, 1.22 kNm, 0.98 kN"
)
def test_a_post_of_a_mesh_fence_two_and_a_half_metres_high(compare: Callable, printed: type) -> None:
    """The same way, 19 % of 3 m and a post of 60 mm; they work on with 0.39, a hundredth part less."""
    pressure = float(gust_kpa(45.0, density_kg_m3=ASCE_DENSITY)) * 0.85 * 0.57 * 0.87
    compare(pressure, "0.52")
    load = post(2.5, 0.19 * 3000.0 + 60.0, 0.52)
    compare(float(load.force_kn[0]) / 2.5, "0.39")
    compare(float(load.force_kn[0]), printed("0.98", 0.01))
    compare(float(load.moment_knm[0]), printed("1.22", 0.015))


@pytest.mark.published(source="mesh-fence-2m", where="blockage: 40 wires of 4.75 mm in a square metre are 19 %")
def test_solidity_of_mesh(compare: Callable) -> None:
    compare(float(solidity(40, size_m=0.00475, height_m=1.0)), "0.19")

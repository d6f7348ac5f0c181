"""Wire beside high voltage: how near, for how long, of which lines; and rails, which have none."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from fencegis.hazards.parallel import electric_fence, parallel
from fencegis.line.chainage import Line
from fencegis.records.tables import checked

if TYPE_CHECKING:
    from collections.abc import Callable

    import geopandas as gpd

    from fencegis.hazards.found import Found
    from fencegis.records.spec import Spec

    Layers = Callable[..., gpd.GeoDataFrame]
    Specs = Callable[..., Spec]

NARROW = {"half_width_m": 0.0}


@pytest.fixture
def long() -> Line:
    """A line of 400 m due east."""
    return Line("A", closed=False, corners=np.array([[0.0, 0.0], [400.0, 0.0]]))


def statuses(found: Found) -> set[str]:
    checked("checks", found.checks)
    checked("hazards", found.hazards.assign(hazard_id="H"))
    assert set(found.checks["kind"]) == {"parallel power"}
    return set(found.checks["status"])


@pytest.mark.parametrize(
    ("voltage_kv", "away_m", "flagged"),
    [
        (0.4, 2.0, False),
        (1.0, 2.0, False),
        (11.0, 9.9, True),
        (11.0, 10.1, False),
        (33.0, 10.1, False),
        (66.0, 29.9, True),
        (66.0, 30.1, False),
        (math.nan, 29.9, True),
    ],
)
def test_how_near_goes_by_the_voltage(
    voltage_kv: float, away_m: float, flagged: bool, long: Line, conductor_layer: Layers, exact_spec: Specs
) -> None:
    wire = [[-50.0, away_m], [450.0, away_m]]
    layer = conductor_layer((wire, {"voltage_kv": voltage_kv, **NARROW}))
    found = parallel([long], layer=layer, spec=exact_spec())
    assert len(found.hazards) == flagged
    assert statuses(found) == ({"flagged"} if flagged else {"clear"})


@pytest.mark.parametrize(("length_m", "flagged"), [(77.0, False), (81.0, True)])
def test_a_short_run_beside_a_line_is_none(
    length_m: float, flagged: bool, long: Line, conductor_layer: Layers, exact_spec: Specs
) -> None:
    """Straight beside the line, and as far again as √(30² − 28²) = 10.8 m round each end of it."""
    wire = [[100.0, 28.0], [100.0 + length_m, 28.0]]
    layer = conductor_layer((wire, {"voltage_kv": 132.0, **NARROW}))
    found = parallel([long], layer=layer, spec=exact_spec())
    assert len(found.hazards) == flagged
    if flagged:
        (row,) = found.hazards.itertuples()
        assert (row.from_m, row.to_m) == pytest.approx((100 - 10.77, 100 + length_m + 10.77), abs=0.1)
        assert math.isnan(row.required_m)
        assert math.isnan(row.clearance_m)
        assert row.basis.startswith(f"{row.to_m - row.from_m:.0f} m of wire beside high voltage; overhead.geojson, ")
        assert "nearest 28 m in plan as drawn" in row.basis
        assert "wires and leads 8 m off" in row.basis
        assert all(word in row.advice for word in ("owner", "local code", "licensed", "Earthing", "gaps"))


def test_a_square_crossing_is_no_run_beside_and_a_slanting_one_is(
    long: Line, conductor_layer: Layers, exact_spec: Specs
) -> None:
    for turn_deg, flagged in ((90.0, 0), (45.0, 0), (30.0, 1)):
        away = 300.0 * np.array([math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))])
        middle = np.array([200.0, 0.0])
        layer = conductor_layer(((np.array([middle - away, middle + away])).tolist(), {"voltage_kv": 132.0, **NARROW}))
        assert len(parallel([long], layer=layer, spec=exact_spec()).hazards) == flagged


def test_lines_that_follow_each_other_count_together(long: Line, conductor_layer: Layers, exact_spec: Specs) -> None:
    parts = [([[at, 5.0], [at + 60.0, 5.0]], {"voltage_kv": 11.0, **NARROW}) for at in (100.0, 160.0)]
    (row,) = parallel([long], layer=conductor_layer(*parts), spec=exact_spec()).hazards.itertuples()
    assert (row.from_m, row.to_m) == pytest.approx((100 - math.sqrt(75), 220 + math.sqrt(75)), abs=0.1)
    assert row.basis.count("overhead.geojson") == 2
    assert len(parallel([long], layer=conductor_layer(parts[0]), spec=exact_spec()).hazards) == 0


def test_a_run_over_a_loops_start_is_one_hazard(conductor_layer: Layers, exact_spec: Specs) -> None:
    loop = Line(
        "L", closed=True, corners=np.array([[200.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0], [0.0, 0.0]])
    )
    layer = conductor_layer(([[130.0, 2.0], [270.0, 2.0]], {"voltage_kv": 11.0, **NARROW}))
    found = parallel([loop], layer=layer, spec=exact_spec()).hazards
    assert len(found) == 2
    assert set(found.index) == {0}


def test_half_width_and_drawing_are_taken_off(long: Line, conductor_layer: Layers, exact_spec: Specs) -> None:
    wire = [[-50.0, 13.0], [450.0, 13.0]]
    spec = exact_spec(boundary={"drawn_from": "walked", "position_error_m": 1.0})
    layer = conductor_layer((wire, {"voltage_kv": 11.0}))
    assert len(parallel([long], layer=layer, spec=spec).hazards) == 1
    assert len(parallel([long], layer=layer, spec=exact_spec()).hazards) == 0


def test_the_answer_is_not_checked_without_layer_walk_or_lines_between_poles(
    long: Line, conductor_layer: Layers, exact_spec: Specs
) -> None:
    far = conductor_layer(([[0.0, 900.0], [400.0, 900.0]], {}))
    assert statuses(parallel([long], layer=None, spec=exact_spec())) == {"not checked"}
    assert statuses(parallel([long], layer=far, spec=exact_spec(walked={}))) == {"not checked"}
    found = parallel([long], layer=far, spec=exact_spec())
    assert statuses(found) == {"clear"}
    assert found.checks["basis"].tolist() == [
        "none found in overhead.geojson (1 feature) — walked 2026-03-04, along the whole line"
    ]
    far.geometry = [shapely.Point(0.0, 900.0)]
    found = parallel([long], layer=far, spec=exact_spec())
    assert statuses(found) == {"not checked"}
    assert "poles given without the line between them" in found.checks["basis"].iloc[0]


def test_rails_have_no_wire_unless_mesh_hangs_on_them(long: Line, conductor_layer: Layers, exact_spec: Specs) -> None:
    layer = conductor_layer(([[0.0, 5.0], [400.0, 5.0]], {}))
    for given in (layer, None):
        found = parallel([long], layer=given, spec=exact_spec(), kinds=["post and rail"])
        assert found.hazards.empty
        assert found.checks["basis"].tolist() == ["no wire: post and rail"]
    mesh = exact_spec(fence={"mesh_m": 0.9})
    assert len(parallel([long], layer=layer, spec=mesh, kinds=["post and rail"]).hazards) == 1


@pytest.mark.parametrize(
    ("voltage_kv", "off", "beside"),
    [
        (1.0, "3 m", "2 m"),
        (1.1, "4 m", "15 m"),
        (33.0, "4 m", "15 m"),
        (33.1, "8 m", "15 m"),
        (math.nan, "8 m", "15 m"),
    ],
)
def test_an_electric_fence_keeps_off_by_the_voltage(voltage_kv: float, off: str, beside: str) -> None:
    """IEC 60335-2-76, annex on electric fences, as quoted in instruction sheets."""
    said = electric_fence(voltage_kv)
    assert f"wires and leads {off} off, none higher than 3 m within {beside} in plan" in said
    assert "second hand" in said

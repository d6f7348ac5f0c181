"""Poles without the line between them: which two a wire may hang between, and what is taken from their rows."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely

from fencegis.hazards.poles import cannot_be_placed, strung, wires_between

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import geopandas as gpd


def wires(points: Sequence[Sequence[float]], span_m: float = 200.0) -> set[tuple[int, int]]:
    at = np.array(points, dtype=float)
    return {(int(one), int(other)) for one, other in wires_between(at, np.full(len(at), span_m))}


@pytest.fixture
def poles(conductor_layer: Callable[..., gpd.GeoDataFrame]) -> Callable[..., gpd.GeoDataFrame]:
    """Make a layer of poles: (place, columns that differ from an 11 kV pole of unknown height)."""

    def make(*rows: tuple[Sequence[float], dict[str, Any]]) -> gpd.GeoDataFrame:
        layer = conductor_layer(*[([[0.0, 0.0], [1.0, 0.0]], own) for _, own in rows])
        layer.geometry = [shapely.Point(at) for at, _ in rows]
        return layer

    return make


def test_poles_along_a_line_are_joined_in_their_order_round_its_bends() -> None:
    line = [[0, 0], [100, 5], [195, 0], [240, 90], [250, 190]]
    shuffled = [3, 0, 4, 2, 1]
    place = {old: new for new, old in enumerate(shuffled)}
    expected = {tuple(sorted((place[one], place[one + 1]))) for one in range(4)}
    assert wires([line[old] for old in shuffled]) == expected


def test_no_wire_is_longer_than_the_longest_span() -> None:
    assert wires([[0, 0], [199, 0], [400, 0]]) == {(0, 1)}
    assert wires([[0, 0], [199, 0], [400, 0]], span_m=400.0) == {(0, 1), (1, 2)}


def test_of_two_lines_side_by_side_no_wire_that_there_may_be_is_left_out() -> None:
    """Spans of 100 m, 30 m apart: the wires along are there though the poles across are nearer."""
    found = wires([[100 * along, 30 * across] for across in (0, 1) for along in range(3)])
    assert {(0, 1), (1, 2), (3, 4), (4, 5)} <= found
    assert (0, 2) not in found


def test_a_chain_is_one_line_and_a_branch_starts_another(poles: Callable[..., gpd.GeoDataFrame]) -> None:
    straight = strung(poles(*[([60.0 * step, 0.0], {}) for step in range(4)]))
    assert [shapely.get_num_points(one.shape) for one in straight] == [4]
    assert straight[0].rows == (0, 1, 2, 3)
    assert straight[0].label == "feature 1 and 3 more, 4 poles joined by us, look up"
    branched = strung(poles(*[(at, {}) for at in ([0, 0], [60, 0], [120, 0], [60, 70])]))
    assert sorted(shapely.length([one.shape for one in branched])) == pytest.approx([60, 60, 70])
    assert {one.joined for one in branched} == {4}


def test_heights_stay_when_every_pole_has_one(poles: Callable[..., gpd.GeoDataFrame]) -> None:
    (high,) = strung(poles(([0, 0, 310.0], {}), ([80, 0, 312.0], {})))
    assert shapely.get_coordinates(high.shape, include_z=True)[:, 2].tolist() == [310.0, 312.0]
    (flat,) = strung(poles(([0, 0, 310.0], {}), ([80, 0], {})))
    assert not flat.shape.has_z


def test_what_raises_most_flags_is_taken_of_several_poles(poles: Callable[..., gpd.GeoDataFrame]) -> None:
    first = {"voltage_kv": 11.0, "height_m": 7.0, "insulated": True, "height_from": "owner"}
    (one,) = strung(
        poles(([0, 0], first), ([80, 0], {**first, "voltage_kv": 22.0, "height_m": 6.0, "support": "tower"}))
    )
    assert (one.cells["voltage_kv"], one.cells["height_m"], one.cells["support"]) == (22.0, 6.0, "tower")
    assert (one.cells["insulated"], one.cells["height_from"]) == (True, "owner")
    second = {"voltage_kv": math.nan, "height_m": math.nan, "insulated": False, "height_from": "eye"}
    (one,) = strung(poles(([0, 0], first), ([80, 0], second)))
    assert math.isnan(one.cells["voltage_kv"])
    assert math.isnan(one.cells["height_m"])
    assert (one.cells["insulated"], one.cells["height_from"]) == (False, "eye")


def test_power_and_phone_are_not_joined(poles: Callable[..., gpd.GeoDataFrame]) -> None:
    apart = strung(poles(([0, 0], {}), ([50, 0], {"kind": "phone"})))
    assert all(isinstance(one.shape, shapely.Point) for one in apart)


def test_a_pole_of_a_drawn_line_is_its_own_and_leads_on_to_others(
    conductor_layer: Callable[..., gpd.GeoDataFrame],
) -> None:
    layer = conductor_layer(*[([[0.0, 0.0], [1.0, 0.0]], {})] * 4)
    layer.geometry = [shapely.LineString([[0, 0], [300, 0]]), *map(shapely.Point, [[100, 3], [200, 0], [105, 60]])]
    drawn, branch = strung(layer)
    assert (drawn.joined, drawn.rows) == (0, (0,))
    assert branch.rows == (1, 3)
    assert shapely.length(branch.shape) == pytest.approx(math.hypot(5, 57))


def test_only_lines_and_poles_can_be_placed(poles: Callable[..., gpd.GeoDataFrame]) -> None:
    layer = poles(([0, 0], {}), ([50, 0], {}))
    assert not cannot_be_placed(layer)
    layer.geometry = [layer.geometry.iloc[0], None]
    assert cannot_be_placed(layer)

"""Gates on the planned line."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

from fencegis.errors import InputError
from fencegis.layout.gates import gate_table, hung
from fencegis.records.spec import Spec


def layer(*places, opening=3.6):
    given = [
        {
            "feature": f"feature {number}",
            "name": None,
            "opening_m": opening,
            "leaf_m": np.nan,
            "leaves": np.nan,
            "hinge": None,
            "swing_side": None,
            "setback_m": np.nan,
            "wing_m": np.nan,
            "gate_post_mm": np.nan,
        }
        for number in range(1, len(places) + 1)
    ]
    return gpd.GeoDataFrame(given, geometry=[shapely.Point(place) for place in places])


def test_the_span_is_the_opening_and_half_of_each_post(course):
    one = course((0, 0), (100, 0))
    found = hung([one], gates=layer((40.0, 0.5)), spec=Spec())
    assert (found.gates[0].from_m, found.gates[0].to_m) == pytest.approx((40 - 1.92, 40 + 1.92))
    assert found.notes[0].text == "feature 1: gate drawn 0.50 m off, moved onto the line"
    table = gate_table(found, [one], gates=layer((40.0, 0.5)))
    assert table[["gate_id", "opening_m"]].values.tolist() == [["A-G1", 3.6]]


@pytest.mark.parametrize(
    ("drawn_at", "from_m"), [(1.0, 0.0), (60.5, 60.0), (59.0, 60 - 3.84), (62.2, 60.0), (63.0, 61.08)]
)
def test_a_gate_at_a_corner_or_end_takes_its_post_there(course, drawn_at, from_m):
    one = course((0, 0), (60, 0), (60, 60))
    point = (drawn_at, 0) if drawn_at < 60 else (60, drawn_at - 60)
    found = hung([one], gates=layer(point), spec=Spec())
    assert found.gates[0].from_m == pytest.approx(from_m)


def test_a_gate_at_the_far_end_stays_on_the_line(course):
    found = hung([course((0, 0), (50, 0))], gates=layer((49.0, 0)), spec=Spec())
    assert found.gates[0].to_m == pytest.approx(50.0)


def test_a_gate_wider_than_its_run_is_a_fault(course):
    with pytest.raises(InputError) as error:
        hung([course((0, 0), (3, 0), (3, 40))], gates=layer((1.5, 0)), spec=Spec())
    assert str(error.value) == (
        "gates.geojson, feature 1: needs 3.84 m between post centres, more than its straight run has. "
        "Fix: Move it to a longer run, or make the opening narrower."
    )


def test_two_gates_in_one_place_are_a_fault(course):
    with pytest.raises(InputError) as error:
        hung([course((0, 0), (100, 0))], gates=layer((40, 0), (42, 0)), spec=Spec())
    assert "gates.geojson, feature 2: overlaps feature 1 by 1.84 m on the planned line." in str(error.value)


def test_no_gates_no_spans(course):
    assert hung([course((0, 0), (100, 0))], gates=None, spec=Spec()).gates == ()

"""Geometry follows from chainage."""

import numpy as np
import pandas as pd

from fencegis.line.chainage import Line
from fencegis.line.geometry import with_geometry
from fencegis.records.tables import checked, empty

LINES = [
    Line("A", closed=False, corners=np.array([[0.0, 0.0], [0.0, 100.0], [50.0, 100.0]])),
    Line("B", closed=True, corners=np.array([[0.0, 0.0], [0.0, 10.0], [10.0, 10.0]])),
]
CRS = "EPSG:32755"


def test_stations_are_points_and_spans_keep_the_corners_between():
    nodes = checked("nodes", pd.DataFrame({"line_id": ["A", "B"], "chainage_m": [120, 5], "node_id": ["N1", "N2"]}))
    shaped = with_geometry("nodes", nodes, lines=LINES, crs=CRS)
    assert [point.coords[0] for point in shaped.geometry] == [(20.0, 100.0), (0.0, 5.0)]
    spans = {"line_id": ["A", "A", "B"], "from_m": [10, 90, 0], "to_m": [20, 120, 10]}
    gates = checked("gates", pd.DataFrame({**spans, "gate_id": list("abc"), "opening_m": [3.6] * 3}))
    shaped = with_geometry("gates", gates, lines=LINES, crs=CRS)
    assert [list(line.coords) for line in shaped.geometry] == [
        [(0, 10), (0, 20)],
        [(0, 90), (0, 100), (20, 100)],
        [(0, 0), (0, 10)],
    ]
    assert shaped.crs == CRS


def test_an_empty_layer_has_a_geometry_column_and_the_grid():
    shaped = with_geometry("rails", empty("rails"), lines=LINES, crs=CRS)
    assert len(shaped) == 0
    assert shaped.crs == CRS

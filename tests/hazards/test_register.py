"""All hazards numbered, and a word for every kind that nobody looked at."""

from types import SimpleNamespace

import numpy as np
import pandas as pd

from fencegis.hazards import register
from fencegis.hazards.found import Ban, Found, Stand
from fencegis.hazards.register import (
    LAYERS_OF_HAZARDS,
    check_table,
    forbidden,
    hazard_table,
    own_layers,
    stands,
)
from fencegis.line.chainage import Line
from fencegis.records.tables import empty

WORDS = {"kind": "tree limb", "basis": "trees.geojson", "advice": "look up"}
LINE = Line("A", closed=True, corners=np.array([[0.0, 0.0], [0.0, 100.0], [100.0, 100.0]]))


def found(rows, index):
    return Found(pd.DataFrame([{"line_id": "A", **WORDS, **row} for row in rows], index=index), empty("checks"), ())


def test_rows_of_one_hazard_cut_at_a_loops_start_share_a_number():
    spans = [{"from_m": 0.0, "to_m": 4.0}, {"from_m": 330.0, "to_m": 341.0}, {"from_m": 50.0, "to_m": 60.0}]
    table = hazard_table([found(spans, [0, 0, 1]), found([{"from_m": 10.0, "to_m": 20.0}], [0])])
    assert table["from_m"].tolist() == [0.0, 10.0, 50.0, 330.0]
    assert table["hazard_id"].tolist() == ["H01", "H02", "H03", "H01"]  # in walking order, whichever step found them


def test_nothing_found_is_an_empty_layer():
    assert len(hazard_table([found([], [])])) == 0


def test_what_is_not_looked_at_is_not_checked_over_the_whole_line(monkeypatch):
    monkeypatch.setattr(register, "NOT_BUILT", ("a kind of tomorrow",))
    course = SimpleNamespace(line_id="A", line=LINE)
    table = check_table([found([], [])], [course])
    assert set(table["kind"]) == {"a kind of tomorrow"}
    assert set(table["status"]) == {"not checked"}
    assert (table["from_m"] == 0.0).all()
    assert (table["to_m"] == LINE.length_m).all()


def test_layout_is_told_by_line_and_reason_where_nothing_should_stand_and_where_work_ends():
    bans = (Ban("A", (5.0, 9.0), "overhead", "strainers"), Ban("A", (1.0, 2.0), "keep-out", "posts"))
    one = Found(pd.DataFrame(), empty("checks"), (), bans=bans, stands=(Stand("A", 12.0, "crossing"),))
    assert forbidden([one, found([], [])], "strainers") == {"A": {"overhead": [(5.0, 9.0)]}}
    assert forbidden([one], "posts") == {"A": {"keep-out": [(1.0, 2.0)]}}
    assert stands([one]) == {"A": [(12.0, "crossing")]}


def test_a_layer_that_no_step_fills_is_there_and_empty():
    layers = own_layers([found([], [])])
    assert set(layers) == set(LAYERS_OF_HAZARDS)
    assert all(len(table) == 0 for table in layers.values())

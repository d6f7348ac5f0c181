"""Tables are what the layer says, or a bug is named."""

import pandas as pd
import pytest

from fencegis.records.tables import LAYERS, checked, empty

STATION = {"line_id": ["B", "A", "B"], "chainage_m": [5.0, 1.0, 2.0], "node_id": ["N1", "N2", "N3"]}


def test_rows_come_by_line_as_first_met_and_by_chainage():
    table = checked("nodes", pd.DataFrame(STATION))
    assert table["node_id"].tolist() == ["N3", "N1", "N2"]


def test_columns_that_may_be_empty_are_filled_with_nothing():
    corners = checked(
        "corners",
        pd.DataFrame(
            {
                "line_id": ["A"],
                "chainage_m": [1],
                "corner_id": ["A-C01"],
                "turn_deg": [90],
                "interior_deg": [90],
                "held": [False],
            }
        ),
    )
    assert list(corners.columns) == [column.name for column in LAYERS["corners"].columns]
    assert corners["sigma_m"].isna().all()
    assert corners["rule_class"].isna().all()


@pytest.mark.parametrize("layer", LAYERS)
def test_an_empty_layer_has_all_its_columns_and_types(layer):
    table = empty(layer)
    assert len(table) == 0
    assert list(table.columns) == [column.name for column in LAYERS[layer].columns]
    assert table.dtypes.equals(checked(layer, table).dtypes)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"colour": ["red"] * 3}, "nodes: no such column: colour"),
        ({"node_id": [None, "N2", "N3"]}, "nodes: column node_id has an empty cell"),
    ],
)
def test_a_table_that_is_not_so_names_layer_and_column(change, message):
    with pytest.raises(ValueError, match=message):
        checked("nodes", pd.DataFrame(STATION | change))


def test_a_missing_column_and_a_span_that_runs_backwards_are_named():
    with pytest.raises(ValueError, match="nodes: column node_id is missing"):
        checked("nodes", pd.DataFrame(STATION).drop(columns="node_id"))
    span = {"line_id": ["A"], "from_m": [5.0], "to_m": [1.0], "gate_id": ["G"], "opening_m": [3.6]}
    with pytest.raises(ValueError, match="gates: a span runs backwards"):
        checked("gates", pd.DataFrame(span))

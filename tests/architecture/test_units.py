"""The unit is the tail of the name."""

from __future__ import annotations

import typing
from typing import TYPE_CHECKING

import pandas as pd
import pytest
from pydantic import BaseModel

from fencegis.records.spec import Spec
from fencegis.records.tables import LAYERS, Column, checked, empty

if TYPE_CHECKING:
    from collections.abc import Iterator

TAILS = ("_m", "_km", "_mm", "_m2", "_m3", "_deg", "_pct", "_kn", "_kg", "_l", "_kv", "_m_s", "_n", "_h")
# A stock length by its name in the yard; in the unit that the row names.
BARE = {"stick", "exact", "pack", "quantity", "planned", "p10", "p50", "p90"}
SHARES = ("_solidity",)  # of one, so without a unit

COLUMNS = [(layer.name, column) for layer in LAYERS.values() for column in layer.columns]


@pytest.mark.parametrize(("layer", "column"), COLUMNS, ids=[f"{layer}.{column.name}" for layer, column in COLUMNS])
def test_a_number_ends_in_its_unit_and_nothing_else_does(layer: str, column: Column) -> None:
    if column.kind == "number":
        assert column.name.endswith(TAILS) or column.name in BARE
    else:
        assert not column.name.endswith(TAILS)
    assert column.name not in {"x", "y", "z"}
    assert column.meaning


def keys(table: type[BaseModel], path: str = "") -> Iterator[tuple[str, object]]:
    for name, field in table.model_fields.items():
        inner = [t for t in (field.annotation, *typing.get_args(field.annotation)) if isinstance(t, type)]
        below = [t for t in inner if issubclass(t, BaseModel)]
        if below:
            yield from keys(below[0], f"{path}{name}.")
        else:
            yield f"{path}{name}", field.annotation


def test_a_measure_in_site_toml_ends_in_its_unit() -> None:
    measures = [path for path, kind in keys(Spec) if "float" in str(kind)]
    assert len(measures) > 20
    assert [path for path in measures if not path.endswith((*TAILS, *SHARES))] == []


@pytest.mark.parametrize("layer", LAYERS)
def test_an_empty_layer_is_one_of_its_own(layer: str) -> None:
    frame = empty(layer)
    assert list(frame.columns) == [column.name for column in LAYERS[layer].columns]
    pd.testing.assert_frame_equal(checked(layer, frame), frame)

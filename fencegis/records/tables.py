"""Every layer of a plan: its shape, its columns, their units and meaning. A table that is not so is a bug of ours.

A **station** has `line_id, chainage_m`; a **span** has `line_id, from_m, to_m`; nothing else has geometry. Turns and
offsets are right positive walking with rising chainage, grades uphill positive. Numbers keep their full precision
here and are rounded once, in `exports`.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from importlib.resources import files
from typing import TYPE_CHECKING, Literal, cast

if TYPE_CHECKING:
    import pandas as pd

Shape = Literal["station", "span", "table"]
Kind = Literal["text", "number", "whole", "flag"]


@dataclass(frozen=True)
class Column:
    """One column: its name (the unit is the name's tail), what it holds, and whether it may be empty."""

    name: str
    kind: Kind
    meaning: str
    required: bool = False


@dataclass(frozen=True)
class Layer:
    """One table of the plan."""

    name: str
    shape: Shape
    about: str
    own: tuple[Column, ...]

    @property
    def columns(self) -> tuple[Column, ...]:
        """The shape's columns, then the layer's own."""
        return SHAPES[self.shape] + self.own


def _text(name: str, meaning: str, *, required: bool = False) -> Column:
    return Column(name, "text", meaning, required)


def _number(name: str, meaning: str, *, required: bool = False) -> Column:
    return Column(name, "number", meaning, required)


LINE_ID = _text("line_id", "the line", required=True)
SHAPES: dict[Shape, tuple[Column, ...]] = {
    "station": (LINE_ID, _number("chainage_m", "horizontal distance from the line's start", required=True)),
    "span": (
        LINE_ID,
        _number("from_m", "chainage where it begins", required=True),
        _number("to_m", "chainage where it ends", required=True),
    ),
    "table": (),
}


def _read_layers() -> dict[str, Layer]:
    """Read `layers.csv` and `columns.csv` beside this file: a table's columns are themselves a table."""
    own: dict[str, list[Column]] = {}
    for row in _rows("columns.csv"):
        column = Column(row["column"], cast("Kind", row["kind"]), row["meaning"], row["empty"] == "never")
        own.setdefault(row["layer"], []).append(column)
    return {
        row["layer"]: Layer(row["layer"], cast("Shape", row["shape"]), row["about"], tuple(own[row["layer"]]))
        for row in _rows("layers.csv")
    }


def _rows(name: str) -> list[dict[str, str]]:
    text = (files("fencegis.records") / name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


LAYERS = _read_layers()


def checked(layer: str, frame: pd.DataFrame) -> pd.DataFrame:
    """Return `frame` as the layer's table: columns in order and typed, rows by line (as they come) and chainage.

    Columns that may be empty may be missing; a geometry column is kept. Raises ValueError, naming the layer and the
    column, for a column that the layer does not have, a required one that is missing or holds an empty cell, and a
    span that runs backwards.
    """
    columns = LAYERS[layer].columns
    names = [column.name for column in columns]
    strange = [name for name in frame.columns if name not in names and name != "geometry"]
    if strange:
        raise ValueError(f"{layer}: no such column: {', '.join(map(str, strange))}")
    frame = _in_walking_order(layer, _typed(layer, frame, columns))
    if LAYERS[layer].shape == "span" and not (frame["from_m"] <= frame["to_m"]).all():
        raise ValueError(f"{layer}: a span runs backwards")
    return frame


def empty(layer: str) -> pd.DataFrame:
    """Return the layer with all its columns and no row: not computed, or nothing there."""
    import pandas as pd

    columns = LAYERS[layer].columns
    return _typed(
        layer, pd.DataFrame({column.name: pd.Series(dtype=_DTYPES[column.kind]) for column in columns}), columns
    )


_DTYPES: dict[Kind, str] = {"text": "str", "number": "float64", "whole": "Int64", "flag": "bool"}


def _typed(layer: str, frame: pd.DataFrame, columns: tuple[Column, ...]) -> pd.DataFrame:
    import pandas as pd

    cells = {}
    for column in columns:
        if column.name in frame:
            cells[column.name] = frame[column.name].astype(pd.api.types.pandas_dtype(_DTYPES[column.kind]))
        elif column.required:
            raise ValueError(f"{layer}: column {column.name} is missing")
        elif column.kind == "flag":
            cells[column.name] = pd.Series(data=False, index=frame.index)
        else:
            cells[column.name] = (
                pd.Series(pd.NA, index=frame.index, dtype=_DTYPES[column.kind])
                if column.kind != "number"
                else pd.Series(float("nan"), index=frame.index)
            )
        if column.required and cells[column.name].isna().any():
            raise ValueError(f"{layer}: column {column.name} has an empty cell")
    if "geometry" in frame:
        return frame.assign(**cells)[[*cells, "geometry"]]
    return pd.DataFrame(cells, index=frame.index)


def _in_walking_order(layer: str, frame: pd.DataFrame) -> pd.DataFrame:
    along = {"station": ["chainage_m"], "span": ["from_m", "to_m"], "table": []}[LAYERS[layer].shape]
    if not along:
        return frame.reset_index(drop=True)
    line_order = frame["line_id"].map({name: rank for rank, name in enumerate(frame["line_id"].unique())})
    order = frame[along].assign(line=line_order).sort_values(["line", *along], kind="stable").index
    return frame.loc[order].reset_index(drop=True)


def as_markdown() -> str:
    """Return every layer's columns as Markdown tables, as they stand in DEVELOPERS.md."""
    parts = []
    for layer in LAYERS.values():
        rows = [f"| `{column.name}` | {column.kind} | {column.meaning} |" for column in layer.own]
        head = f"### `{layer.name}` ({layer.shape})\n\n{layer.about[0].upper()}{layer.about[1:]}.\n"
        parts.append("\n".join([head, "| column | holds | meaning |", "| --- | --- | --- |", *rows]))
    return "\n\n".join(parts) + "\n"

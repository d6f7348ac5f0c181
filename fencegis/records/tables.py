"""Every layer of a plan: its shape, its columns, their units and meaning. A table that is not so is a bug of ours.

A **station** has `line_id, chainage_m`; a **span** has `line_id, from_m, to_m`; nothing else has geometry. Turns and
offsets are right positive walking with rising chainage, grades uphill positive. Numbers keep their full precision
here and are rounded once, in `exports`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

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

LAYERS: dict[str, Layer] = {
    layer.name: layer
    for layer in (
        Layer(
            "runs",
            "span",
            "straight stretches, each built along one string or sight line",
            (
                _text("run_id", "name on the map and the sheets", required=True),
                _text("kind", "straight or arc", required=True),
                _number("radius_m", "of an arc, right positive; empty when straight"),
                _text("label", "boundary, agreed (off the boundary by agreement) or internal; empty when nobody said"),
                _number("length_m", "horizontal", required=True),
                _number("ground_length_m", "along the fitted grades", required=True),
                _number("sigma_length_m", "one standard error of the length, from the drawing"),
                _number("bearing_true_deg", "clockwise from true north, at the run's start"),
                _number("bearing_grid_deg", "clockwise from north of the official grid of the points file"),
                _number("bearing_magnetic_deg", "clockwise from magnetic north on the day of the work"),
                _number("offset_left_m", "furthest drawn vertex left of the run", required=True),
                _number("offset_right_m", "furthest drawn vertex right of the run", required=True),
            ),
        ),
        Layer(
            "corners",
            "station",
            "where the line turns from one run to the next; not at ends",
            (
                _text("corner_id", "name on the map and the sheets", required=True),
                _number("turn_deg", "change of direction, right positive", required=True),
                _number("interior_deg", "180 less the size of the turn", required=True),
                Column("held", "flag", "a peg stands here, so the drawing did not decide", required=True),
                _number("sigma_m", "one standard error of the position, largest direction"),
                _text("rule_class", "what the chosen bend rule asks of it"),
            ),
        ),
        Layer(
            "breaks",
            "station",
            "changes of grade in the fitted profile",
            (
                _number("change_pct", "grade after less grade before: a crest is negative", required=True),
                _number("sigma_pct", "one standard error of the change", required=True),
                _text("kind", "crest or dip", required=True),
                _text("strainer_id", "the strainer that takes it; empty when none does"),
            ),
        ),
        Layer(
            "nodes",
            "station",
            "where lines meet; one row for each line that meets there",
            (_text("node_id", "one name for all rows of one place", required=True),),
        ),
        Layer(
            "strainers",
            "station",
            "posts that hold an end of the work: strainers in wire, end, corner and gate posts in rail",
            (
                _text("strainer_id", "name on the map and the sheets", required=True),
                _text("node_id", "the node it stands on"),
                _text(
                    "reason",
                    "the first that holds of end, junction, corner, peg, gate, crossing, grade, length",
                    required=True,
                ),
                _text("also", "the other reasons that hold"),
                _number("turn_deg", "change of direction here, right positive"),
                _number("change_pct", "change of grade here, crest negative"),
                _number("pull_kn", "resultant pull of the wires"),
                _number("embed_m", "depth in the ground"),
                _number("ground_m", "ground height"),
            ),
        ),
        Layer(
            "posts",
            "station",
            "every post, once",
            (
                _text("post_id", "name on the map and the sheets", required=True),
                _text("node_id", "the node it stands on"),
                _text("kind", "the first that holds of strainer, gate, junction, brace, key, line", required=True),
                _number("ground_chainage_m", "distance from the line's start along the fitted grades", required=True),
                _number("tape_m", "running from the run's first post centre along the string", required=True),
                _number("ground_m", "ground height"),
                _number("top_m", "height of the top rail above ground"),
                _number("length_m", "of the post"),
                _number("embed_m", "depth in the ground"),
                _number("uplift_kn", "lift of the wires at this post, from the fitted grades"),
                _text("tie_down", "what holds it down where the ground alone does not"),
                _number("mass_kg", "of the post"),
                _number("offset_mm", "string to hole centre at ground, square to the run, right positive"),
                _text("timber_id", "the stick in the yard chosen for it"),
            ),
        ),
        Layer(
            "bays",
            "span",
            "from post to post",
            (
                _text("bay_id", "name", required=True),
                _text("from_post", "post_id", required=True),
                _text("to_post", "post_id", required=True),
                _number("length_m", "horizontal", required=True),
                _number("ground_length_m", "along the fitted grades", required=True),
                _number("grade_pct", "uphill positive; empty where the ground is unknown"),
            ),
        ),
        Layer(
            "profile",
            "station",
            "the ground along each line, and the straight grades fitted to it",
            (
                _number("ground_m", "from the raster; empty where there is none"),
                _number("fitted_m", "the fitted grades; empty where the ground is unknown"),
                _number("sigma_m", "one standard error of the fitted height"),
            ),
        ),
        Layer(
            "rails",
            "span",
            "every rail",
            (
                _text("rail_id", "name", required=True),
                Column("row", "whole", "from the top, 1 first", required=True),
                _number("cut_m", "long point to long point"),
                _number("stick", "which stock length it is cut from"),
                _number("mitre_from_deg", "cut in plan at its start"),
                _number("mitre_to_deg", "cut in plan at its end"),
                _number("plumb_from_deg", "cut for the grade at its start"),
                _number("plumb_to_deg", "cut for the grade at its end"),
            ),
        ),
        Layer(
            "divide",
            "table",
            "bays by the string length as measured on site, face to face",
            (
                _text("run_id", "the run", required=True),
                _text("from_post", "post_id where the string starts", required=True),
                _text("to_post", "post_id where the string ends", required=True),
                Column("bays", "whole", "equal bays to share it into", required=True),
                _number("from_m", "shortest measured length for that many", required=True),
                _number("to_m", "longest measured length for that many", required=True),
            ),
        ),
        Layer(
            "gates",
            "span",
            "from gate post centre to gate post centre",
            (
                _text("gate_id", "name on the map and the sheets", required=True),
                _text("name", "as given"),
                _number("opening_m", "clear between post faces", required=True),
                _number("leaf_m", "width of one leaf"),
                Column("leaves", "whole", "how many leaves"),
                _text("hinge", "from or to: the end it hangs on"),
                _text("swing_side", "left or right"),
                _number("setback_m", "of the gate from the line"),
                _number("wing_m", "length of each splayed wing"),
            ),
        ),
        Layer(
            "hazards",
            "span",
            "what can hurt somebody or stop the machine: every row is a flag",
            (
                _text("hazard_id", "name on the map and the sheets", required=True),
                _text(
                    "kind",
                    "overhead power, overhead phone, tree limb, side slope, crossing, buried service, keep-out",
                    required=True,
                ),
                _number("clearance_m", "after allowances; the flag uses it; empty when it cannot be known"),
                _number("clearance_given_m", "as the data has it"),
                _number("clearance_sigma_m", "one standard error of the clearance as given"),
                _number("required_m", "the distance asked for; empty when the line's owner has to set it"),
                _text("rule", "the rule set and its source"),
                _text("basis", "what the answer rests on", required=True),
                _text("advice", "what to do, in general words", required=True),
            ),
        ),
        Layer(
            "checks",
            "span",
            "for every line and kind of hazard what was found, and what was not looked at",
            (
                _text("kind", "as in hazards", required=True),
                _text("status", "flagged, clear or not checked; a person reads `basis`, never this", required=True),
                _text("basis", "what the answer rests on, as it is printed", required=True),
            ),
        ),
        Layer(
            "notes",
            "table",
            "every doubt, repair and default worth knowing on site",
            (
                _text("line_id", "the line; empty when it is about a file"),
                _number("chainage_m", "where; empty when it is about a file or a whole line"),
                _text("severity", "repair, default, doubt or seen (on the walk)", required=True),
                _text("text", "what to know", required=True),
            ),
        ),
    )
}


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

"""Layers of the plan as printed tables: what a crew reads, rounded as it is measured, posts named where spans end."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING

from fencegis.exports.rounding import printed
from fencegis.exports.sheets.flow import heading, paragraph, table
from fencegis.exports.words import number
from fencegis.records.tables import LAYERS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from fencegis.exports.sheets.flow import Line
    from fencegis.exports.sheets.posts import Walk
    from fencegis.records.plan import Plan

    Cells = dict[str, list[str]]  # a table's columns as printed
    Stations = Mapping[tuple[str, str], str]  # posts by line and chainage as printed

# Layers that stand with each run, with their titles.
WITH_RUNS = {"strings": "STRINGS", "sights": "SIGHTS", "reference_pegs": "REFERENCE PEGS"}
MOST_ROWS = 600  # of one layer's table; nobody reads more on paper
PLACES = ("line_id", "from_m", "to_m", "chainage_m")
SPAN = ("from_m", "to_m")
STATIONED = {"spots"}  # their ends are no posts
SAID_BY_POSTS = {"rails": ("row", "bays"), "gaps": ("bay_id",)}  # said by a row's posts, or by its name


def run_tables(plan: Plan, walks: Sequence[Walk]) -> dict[str, list[Line]]:
    """Return for every run the tables of its strings, sights and reference pegs as lines.

    A peg goes to the run that begins at its post; at the end of a line or inside a run to that run.
    """
    home: dict[tuple[str, str], str] = {}
    for walk in walks:
        for place, name in enumerate(walk.posts):
            if not place or (str(walk.run.line_id), name) not in home:
                home[str(walk.run.line_id), name] = str(walk.run.run_id)
    found: dict[str, list[Line]] = {str(walk.run.run_id): [] for walk in walks}
    for name, title in WITH_RUNS.items():
        cells = cells_of(getattr(plan, name), name)
        run_of = cells.pop("run_id", None)
        lines = cells.pop("line_id", [])
        if run_of is None:
            run_of = [home.get(key, "") for key in zip(lines, cells.get("post_id", []), strict=True)]
        places: dict[str, list[int]] = {}
        for place, run_id in enumerate(run_of):
            places.setdefault(run_id, []).append(place)
        for run_id, rows in places.items():
            if run_id in found:
                own = {column: [texts[place] for place in rows] for column, texts in cells.items()}
                found[run_id] += cell_lines(own, name, title, part=f"run {run_id}", size=10.5)
    return found


def post_at(plan: Plan) -> Stations:
    """Return each bay's posts by line and chainage as printed: rails and gaps run from post to post."""
    bays = plan.bays
    found: dict[tuple[str, str], str] = {}
    for at, post in (("from_m", "from_post"), ("to_m", "to_post")):
        found |= zip(zip(bays["line_id"], printed(bays[at], at), strict=True), bays[post], strict=True)
    return found


def layer_table(plan: Plan, name: str, title: str, *, posts: Stations | None = None) -> list[Line]:
    """Return a layer as a table under its title; nothing where the plan has no such layer, or no row in it.

    With `posts`, a span that runs from post to post is told by them.
    """
    if name not in LAYERS or not len(getattr(plan, name)):
        return []
    frame = getattr(plan, name)
    cells = cells_of(frame.iloc[:MOST_ROWS], name)
    if posts and name not in STATIONED:
        cells = _by_posts(cells, posts, SAID_BY_POSTS.get(name, ()))
    lines = cell_lines(cells, name, title, part=title.lower(), size=13.0)
    if len(frame) > MOST_ROWS:
        more = f"{number(len(frame) - MOST_ROWS, 0)} more rows are in plan.gpkg, layer {name}."
        lines += paragraph(more, size=8.5, font="bold", part=title.lower())
    return lines


def cells_of(frame: pd.DataFrame, name: str) -> Cells:
    """Return the rows of a layer as printed, by column, geometry left out."""
    return {column.name: _printed(frame, column.name) for column in LAYERS[name].columns}


def cell_lines(cells: Cells, name: str, title: str, *, part: str, size: float) -> list[Line]:
    """Return printed columns as a table under a title.

    A column that holds nothing is left out. What is the same in every row is said once; where a row names its posts,
    its chainages are left out.
    """
    by_post = {"from_post", "to_post"} <= {column for column, texts in cells.items() if any(texts)}
    kept = {column: texts for column, texts in cells.items() if any(texts) and not (by_post and column in PLACES)}
    same = [column for column, texts in kept.items() if len(texts) > 1 and len(set(texts)) == 1]
    shown = {column: texts for column, texts in kept.items() if column not in same}
    numbers = {column.name for column in LAYERS[name].columns if column.kind == "number"}
    told = [column for column in SPAN if column in shown and not shown[column][0].replace(".", "").isdigit()]
    left = [place for place, column in enumerate(shown) if column not in numbers or column in told]
    lines = heading(title, part, size=size)
    if same:
        said = "; ".join(f"{column.replace('_', ' ')} {kept[column][0]}" for column in same)
        lines += paragraph(f"In every row: {said}.", size=8.5, part=part)
    names = [column[:-2] if column in told else column for column in shown]
    rows = islice(zip(*shown.values(), strict=True), MOST_ROWS)
    return [*lines, *table([column.replace("_", " ") for column in names], rows, left=left, part=part)]


def _by_posts(cells: Cells, posts: Stations, said: Sequence[str]) -> Cells:
    """Return the columns with the spans' ends told by posts; as they are where one does not end at a post."""
    if not {"line_id", *SPAN} <= set(cells):
        return cells
    ends = {at: [posts.get(key) for key in zip(cells["line_id"], cells[at], strict=True)] for at in SPAN}
    if any(name is None for names in ends.values() for name in names):
        return cells
    kept = {column: texts for column, texts in cells.items() if column not in said}
    return kept | {at: [str(name) for name in names] for at, names in ends.items()}


def _printed(frame: pd.DataFrame, column: str) -> list[str]:
    """Return a column as text: nobody cuts or sights to less than a tenth of a degree, or reads half a millimetre."""
    if column.endswith("_mm"):
        return ["" if value != value else f"{round(value)}" for value in frame[column].tolist()]
    if column.endswith("_deg"):
        return ["" if value != value else f"{round(value, 1) + 0.0:.1f}" for value in frame[column].tolist()]
    return printed(frame[column], column)

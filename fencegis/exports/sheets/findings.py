"""What hazard steps found besides flags, as printed tables: crossings, trees, clearing, air, ways, moves, proof."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fencegis.catalogue import rows as catalogue_rows
from fencegis.exports.post_places import PostPlaces
from fencegis.exports.sheets.flow import Line, heading, paragraph, table
from fencegis.exports.words import beside, each, number, present

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import pandas as pd

    from fencegis.records.plan import Plan

TREES_FIRST = ("to go", "to limb", "to look at", "to keep")
LETTERS = 8.5  # points; a longer text goes on below
MOST_ROWS = 400  # of one table; nobody reads more on paper
TREES_SAY = (
    "A proposal from the layer: somebody competent looks at each tree, and its owner agrees, before it is touched."
)
AIR_SAYS = "Of limbs only, less two standard errors of a height: look up before every post. It says nothing of wires."
PROOF_SAYS = (
    "From the nearest post's face to the thing, in plan. What plan and drawing are off on the ground is not in it."
)


def finding_lines(plan: Plan, *, part: str) -> list[Line]:
    """Return the tables that hold a row, and last the names of those that hold none."""
    posts, none = PostPlaces(plan), []
    lines: list[Line] = []
    for name, (title, draw) in TABLES.items():
        frame = getattr(plan, name)
        if len(frame):
            lines += [*heading(title, part, size=11.0), *draw(frame.iloc[:MOST_ROWS], posts, part)]
            if len(frame) > MOST_ROWS:
                more = f"{number(len(frame) - MOST_ROWS, 0)} more rows are in plan.gpkg, layer {name}."
                lines += paragraph(more, size=8.5, font="bold", part=part)
        else:
            none.append(title.lower())
    if none:
        lines += paragraph(f"Nothing is listed of: {'; '.join(none)}. That is no finding.", size=9.0, part=part)
    return lines


def _rows(names: Sequence[str], cells: Sequence[Sequence[str]], *, left: Sequence[int], part: str) -> list[Line]:
    """Return a table with room below it, without the column of lines where all is on one."""
    line = names.index("line") if "line" in names else -1
    if line >= 0 and len({row[line] for row in cells}) == 1:
        names, cells = _without(names, line), [_without(row, line) for row in cells]
        left = [place - (place > line) for place in left if place != line]
    return [*table(names, cells, left=left, part=part, least=LETTERS), Line("", gap_mm=2.5, part=part)]


def _without(cells: Sequence[str], place: int) -> list[str]:
    return [*cells[:place], *cells[place + 1 :]]


def _number(value: Any, digits: int = 1) -> str:
    return number(value, digits) if present(value) else ""


def _crossings(frame: pd.DataFrame, posts: PostPlaces, part: str) -> list[Line]:
    """Return banks, bed, span, drop and angle of each crossing, and under it how it is fenced."""
    names = ("name", "water", "line", "from m", "to m", "bank m", "bank m", "bed m", "bed at m", "span m", "drop m",
             "angle deg", "flood m")  # fmt: skip
    numbers = (
        "from_m",
        "to_m",
        "from_bank_m",
        "to_bank_m",
        "bed_m",
        "bed_at_m",
        "span_m",
        "drop_m",
        "angle_deg",
        "flood_m",
    )
    cells = [
        (row.crossing_id, row.feature, row.line_id, *(_number(getattr(row, column)) for column in numbers))
        for row in each(frame)
    ]
    lines = _rows(names, cells, left=(0, 1, 2), part=part)
    words = {row["treatment"]: row["words"] for row in catalogue_rows("crossings")}
    for row in each(frame):
        ends = "; the fence ends on an assembly of its own on both sides" if row.own_ends else ""
        where = posts.words(row.line_id, row.from_m, row.to_m)
        fenced = f"{words.get(row.treatment, row.treatment)}{ends}"
        text = f"{row.crossing_id}, {row.kind}, line {row.line_id}, {where}: {fenced}."
        lines += paragraph(text, size=9.0, tick=True, part=part)
    return lines


def _trees(frame: pd.DataFrame, posts: PostPlaces, part: str) -> list[Line]:
    """Return the trees, those to go first, each lot in walking order."""
    rank = {what: place for place, what in enumerate(TREES_FIRST)}
    order = frame.sort_values("what", key=lambda what: what.map(rank).fillna(len(rank)), kind="stable")
    names = ("tree", "what", "line", "at m", "by post", "beside the line", "high m", "limb m", "limb to m", "why")
    cells = [
        (row.tree_id, row.what, row.line_id, _number(row.chainage_m), posts.near(row.line_id, row.chainage_m),
         beside(row.offset_m), *map(_number, (row.height_m, row.limb_m, row.limb_to_m)), row.why)
        for row in each(order)
    ]  # fmt: skip
    counts = ", ".join(
        f"{(frame['what'] == what).sum()} {what}" for what in TREES_FIRST if (frame["what"] == what).any()
    )
    lines = paragraph(f"{counts}. {TREES_SAY}", size=9.0, part=part)
    return [*lines, *_rows(names, cells, left=(0, 1, 2, 4, 5, 9), part=part)]


def _clearing(frame: pd.DataFrame, posts: PostPlaces, part: str) -> list[Line]:
    """Return the ground to clear on each side of each line by density, and its sum."""
    del posts
    own = frame.assign(long_m=frame["to_m"] - frame["from_m"])
    sums = own.groupby(["line_id", "side", "density", "width_m"], sort=False)[["long_m", "area_m2"]].sum().reset_index()
    classes = {row["name"]: float(row["value"]) for row in catalogue_rows("trees") if row["unit"] == "of the ground"}
    sums = sums.sort_values(["line_id", "side", "density"], key=lambda cells: cells.map(classes).fillna(0.0)
                            if cells.name == "density" else cells, kind="stable")  # fmt: skip
    cells = [
        (row.line_id, row.side, row.density, _number(row.width_m), _number(row.long_m, 0), _number(row.area_m2, 0))
        for row in each(sums)
    ]
    whole = own.groupby(["line_id", "side"], sort=False)["area_m2"].sum().reset_index()
    cells += [(row.line_id, row.side, "in all", "", "", _number(row.area_m2, 0)) for row in each(whole)]
    said = ", ".join(f"{name} up to {round(share * 100)} %" for name, share in classes.items())
    bases = "; ".join(dict.fromkeys(frame["basis"].astype(str)))
    lines = paragraph(
        f"Density is the share of ground that is covered: {said}. Rests on: {bases}.", size=9.0, part=part
    )
    names = ("line", "side", "density", "wide m", "along m", "covered m2")
    return [*lines, *_rows(names, cells, left=(0, 1, 2), part=part)]


def _headroom(frame: pd.DataFrame, posts: PostPlaces, part: str) -> list[Line]:
    """Return the least air under limbs by stretch, and the machines that the catalogue has for it."""
    cells = []
    for row in each(frame):
        least = _number(row.least_m) if present(row.least_m) else "not known"
        machines = row.machines if present(row.machines) else "none told"
        span = (*posts.between(row.line_id, row.from_m, row.to_m), _number(row.from_m), _number(row.to_m))
        cells.append((row.line_id, *span, least, _number(row.least_at_m), machines))
    names = ("line", "from post", "to post", "from m", "to m", "least m", "at m", "work under it by these heights")
    return [*paragraph(AIR_SAYS, size=9.0, part=part), *_rows(names, cells, left=(0, 1, 2, 7), part=part)]


def _access(frame: pd.DataFrame, posts: PostPlaces, part: str) -> list[Line]:
    """Return where the machine finds no way, with the room that is left and the room that it needs."""
    names = ("what", "side", "line", "from post", "to post", "from m", "to m", "left m", "needed m", "rests on")
    cells = [
        (row.kind, row.side if present(row.side) else "", row.line_id,
         *posts.between(row.line_id, row.from_m, row.to_m),
         *map(_number, (row.from_m, row.to_m, row.free_m, row.needed_m)), row.basis)
        for row in each(frame)
    ]  # fmt: skip
    return _rows(names, cells, left=(0, 1, 2, 3, 4, 9), part=part)


def _moves(frame: pd.DataFrame, posts: PostPlaces, part: str) -> list[Line]:
    """Return what would take a flag away, each with its flag and place."""
    lines = []
    for row in each(frame):
        where = f"line {row.line_id}, {posts.words(row.line_id, row.from_m, row.to_m)}"
        text = f"{row.hazard_id}, {row.kind}, {where}: {row.how}: {row.says}."
        lines += paragraph(text, size=9.0, tick=True, part=part)
    return lines


def _proof(frame: pd.DataFrame, posts: PostPlaces, part: str) -> list[Line]:
    """Return the nearest post to each thing with its distance, and whether the distance asked for is kept."""
    del posts
    names = ("no", "what", "nearest post", "distance m", "asked m", "kept")
    cells = [
        (
            str(place),
            row.kind,
            row.post_id,
            _number(row.least_m, 2),
            _number(row.required_m, 2),
            "yes" if row.kept else "NO",
        )
        for place, row in enumerate(each(frame), start=1)
    ]
    lines = [*paragraph(PROOF_SAYS, size=9.0, part=part), *_rows(names, cells, left=(0, 1, 2, 5), part=part)]
    for place, row in enumerate(each(frame), start=1):
        lines += paragraph(f"{place}: {row.thing}: {row.basis}.", size=8.5, part=part)
    return lines


TABLES: dict[str, tuple[str, Callable[[pd.DataFrame, PostPlaces, str], list[Line]]]] = {
    "crossings": ("Crossings of water", _crossings),
    "trees": ("Trees", _trees),
    "clearing": ("Clearing, each side", _clearing),
    "headroom": ("Air under limbs", _headroom),
    "access": ("Where the machine finds no way", _access),
    "moves": ("Moves that help", _moves),
    "clearances": ("Proof of distances: the nearest post to each thing", _proof),
}

"""The sheet for the truck: where each stack is set down, what lies in it, how heavy it is and whom it serves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fencegis.exports.page_text import plain
from fencegis.exports.post_places import PostPlaces
from fencegis.exports.sheets.flow import Line, heading, paragraph, table
from fencegis.exports.sheets.posts import rows_of
from fencegis.exports.words import number, present

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

PART = "stacks"
SIZE = 9.0
MOST_STACKS = 150  # on paper
HEADINGS = ("stack", "beside", "at m", "serves posts", "carry m", "uphill m", "kg", "what", "water l", "put")
WATER = HEADINGS.index("water l")
LAID = (
    "On bearers, off the line and out of the machine's way. Set nothing down under a power line, over a buried service,"
    " in a keep-out or between a creek's banks. Whether a truck gets there is not checked: look at the way in, the"
    " ground and what is overhead before it backs."
)
HEAVY = "kg is of the pieces whose mass is known, without water and spares: weigh or ask before a load is made up."


def drop_lines(plan: Plan) -> list[Line]:
    """Return the stacks in walking order as lines; nothing where nothing is carried."""
    drops = plan.drops
    if not len(drops):
        return []
    posts = PostPlaces(plan)
    carry = number(plan.site.spec.crew.carry_m, 0)
    title = f"{len(drops)} stacks, the fewest with no carry over {carry} m along the ground."
    cells = [_cells(row, posts) for row in rows_of(drops)[:MOST_STACKS]]
    kept = [place for place in range(len(HEADINGS)) if place != WATER or any(row[WATER] for row in cells)]
    told = [[row[place] for place in kept] for row in cells]
    lines = [
        *heading("WHERE THINGS ARE SET DOWN", PART, size=16.0, breaks=True),
        *paragraph(title, size=SIZE, font="bold", part=PART),
        *paragraph(LAID, size=SIZE, part=PART),
        *paragraph(HEAVY, size=SIZE, part=PART),
        *table([HEADINGS[place] for place in kept], told, left=(0, 1, 3, 7), part=PART),
    ]
    if len(drops) > MOST_STACKS:
        rest = f"{len(drops) - MOST_STACKS} more are in the layer drops of plan.gpkg."
        lines += paragraph(rest, size=SIZE, font="bold", part=PART)
    return lines


def _cells(row: Any, posts: PostPlaces) -> tuple[str, ...]:
    first, last = (posts.near(row.line_id, at_m) for at_m in (row.serves_from_m, row.serves_to_m))
    return (
        plain(row.drop_id),
        plain(row.post_id),
        number(row.chainage_m, 0),
        first if first == last else f"{first} to {last}",
        number(row.carry_m, 0),
        number(row.above_m) if present(row.above_m) else "",
        number(row.mass_kg, 0) if row.mass_kg > 0.0 else "",
        row.load,
        number(row.water_l, 0) if row.water_l >= 0.5 else "",
        "[ ]",
    )

"""Where each tree of the plan stands on the ground."""

from __future__ import annotations

from typing import TYPE_CHECKING

import shapely

from fencegis.exports.words import each
from fencegis.hazards.given import label

if TYPE_CHECKING:
    from fencegis.exports.courses import Courses
    from fencegis.records.plan import Plan


def stems(plan: Plan, courses: Courses) -> list[tuple[float, float]]:
    """Return each tree's easting and northing: as its file has it, else as far off the line as the plan says.

    Of a stand it is the edge nearest to the line.
    """
    layer = plan.site.trees
    rows = [] if layer is None else layer.to_dict("records")
    names = [label(row) for row in rows]
    given = {name: row["geometry"] for name, row in zip(names, rows, strict=True) if names.count(name) == 1}
    told = plan.trees["feature"].value_counts()
    places = []
    for tree in each(plan.trees):
        shape = given.get(tree.feature) if told[tree.feature] == 1 else None
        if shape is None:
            place = courses.beside(str(tree.line_id), [tree.chainage_m], [tree.offset_m])[0]
        else:
            place = shapely.get_coordinates(shapely.shortest_line(shape, tree.geometry))[0]
        places.append((float(place[0]), float(place[1])))
    return places

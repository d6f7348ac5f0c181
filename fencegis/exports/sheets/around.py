"""What lies round a run on the ground: other runs, and what the site's files have beside the line, found by place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import shapely

from fencegis.exports.sheets.posts import rows_of
from fencegis.exports.sheets.words import site_layers

if TYPE_CHECKING:
    from fencegis.exports.sheets.sketch import View
    from fencegis.records.plan import Plan


class Around:
    """What lies on the ground of a site, to be found quickly by place: the runs, and what the files have beside."""

    def __init__(self, plan: Plan) -> None:
        """Sort the rows of each layer by their place."""
        layers = [("runs", plan.runs), *site_layers(plan)]
        self._rows = {name: rows_of(layer) for name, layer in layers}
        self._trees = {name: shapely.STRtree(layer.geometry.to_numpy()) for name, layer in layers}

    def near(self, name: str, view: View) -> list[Any]:
        """Return the rows of a layer that may reach onto the view, in their order; none of a layer not there."""
        if name not in self._trees:
            return []
        found = self._trees[name].query(shapely.box(*view.corners()))
        return [self._rows[name][place] for place in sorted(found.tolist())]

"""Old fence that comes down: what stands in the way before posts go in, the rest not before the new one holds stock."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.line.chainage import nearest_line
from fencegis.quantities.output import share_value
from fencegis.quantities.work import Work, work

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from shapely.geometry.base import BaseGeometry

    from fencegis.line.chainage import Line
    from fencegis.records.site import Site


def old_fence_work(site: Site, *, lines: Sequence[Line]) -> Iterator[Work]:
    """Yield the pulling of old fence, and temporary fence as long as what comes down before the new one stands.

    An old fence is in the way where it lies nearer to the new one's middle than the catalogue says. A piece's chainages
    are those of the places nearest to its ends. Nothing without `existing.geojson`: not checked, never nothing there.
    """
    if site.existing is None or not lines:
        return
    near = shapely.union_all([
        shapely.buffer(shapely.LineString(line.path), share_value("in the way"), cap_style="flat") for line in lines
    ])  # fmt: skip
    for old in site.existing[site.existing["kind"] == "pull"].geometry:
        parts = (("old fence in the way", old.intersection(near)), ("old fence", old.difference(near)))
        for activity, part in parts:
            if part.length > 0.0:
                yield from _pulled(activity, part, lines)


def _pulled(activity: str, part: BaseGeometry, lines: Sequence[Line]) -> Iterator[Work]:
    place, at, _ = nearest_line(lines, shapely.get_coordinates(part))
    line = int(np.bincount(place).argmax())  # the one that most of it lies along
    along = at[place == line]
    spans = (lines[line].line_id, [float(along.min())], [float(along.max())])
    if activity == "old fence in the way":
        yield work("temporary fence", *spans, quantity=part.length)
    yield work(activity, *spans, quantity=part.length)

"""Rails on the long section: the top line, and the under edge of the bottom rail, bay by bay."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.rail_rows import bottom_drop_m

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    from fencegis.exports.section.paper import Paper
    from fencegis.exports.section.scales import Row
    from fencegis.records.plan import Plan

    Floats = npt.NDArray[np.float64]

TICK_MM = 2.0  # a post whose top is not known


@dataclass(frozen=True, eq=False)
class Rails:
    """The bays of one line between posts whose tops are known (b,): chainages and heights of the top line.

    `post_m` (n,) and `level_m` (n,) are the posts that are the line's own, NaN where their top is not known.
    """

    from_m: Floats
    to_m: Floats
    from_level_m: Floats
    to_level_m: Floats
    drop_m: float  # from the top line down to the bottom rail's under edge
    tallest_m: float
    post_m: Floats
    level_m: Floats


def rails_of(plan: Plan, line_id: str) -> Rails | None:
    """Return what is drawn of one line's rails, None without any whose height is known."""
    bays = plan.bays[plan.bays["line_id"] == line_id]
    level = (plan.posts["ground_m"] + plan.posts["top_m"]).set_axis(plan.posts["post_id"])
    ends = [bays[name].map(level).to_numpy(dtype=float) for name in ("from_post", "to_post")]
    known = np.isfinite(ends[0] + ends[1])
    if not known.any():
        return None
    own = plan.posts[plan.posts["line_id"] == line_id]
    return Rails(
        bays["from_m"].to_numpy(dtype=float)[known],
        bays["to_m"].to_numpy(dtype=float)[known],
        ends[0][known],
        ends[1][known],
        bottom_drop_m(plan.site.spec.fence),
        float(own["top_m"].max()),
        own["chainage_m"].to_numpy(dtype=float),
        (own["ground_m"] + own["top_m"]).to_numpy(dtype=float),
    )


def over_m(rails: Rails | None) -> float:
    """Return how far a line's rails stand over the ground at most."""
    return 0.0 if rails is None or np.isnan(rails.tallest_m) else rails.tallest_m


def draw_rails(paper: Paper, rails: Rails | None, row: Row, level_mm: Callable[[float], float]) -> None:
    """Draw the bays that lie in a row, cut off at its edges; `level_mm` gives a height's place down the sheet."""
    if rails is None:
        return
    begin, end = np.maximum(rails.from_m, row.from_m), np.minimum(rails.to_m, row.to_m)
    grade = (rails.to_level_m - rails.from_level_m) / (rails.to_m - rails.from_m)
    for place in np.flatnonzero(end - begin > 1e-6).tolist():
        at = np.array([begin[place], end[place]])
        level = rails.from_level_m[place] + grade[place] * (at - rails.from_m[place])
        for pen, drop_m in (("rail", 0.0), ("under", rails.drop_m)):
            ends = zip(at.tolist(), (level - drop_m).tolist(), strict=True)
            paper.line(pen, [(row.right_mm(chainage), level_mm(height)) for chainage, height in ends])


def post_heads(
    rails: Rails | None, chainage_m: Floats, *, foot_mm: Floats, level_mm: Callable[[float], float]
) -> Floats:
    """Return how far down the sheet the heads of posts at these chainages (n,) are: a tick where none is known."""
    heads = foot_mm - TICK_MM
    if rails is None:
        return heads
    place = np.searchsorted(rails.post_m, chainage_m - 1e-6)
    level = rails.level_m[np.minimum(place, len(rails.level_m) - 1)]
    known = np.isfinite(level)
    heads[known] = [level_mm(float(height)) for height in level[known]]
    return heads

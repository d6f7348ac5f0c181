"""The stretches that bays are shared out over, each with its length and how many bays another length would take.

In rail they go from post that holds to post that holds, in wire from key post to key post too. Nothing is planned
again: a stretch takes the fewest whole bays none of which is longer than its greatest.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.quantities.plan_places import fenced
from fencegis.quantities.work import WIRE, ground_under

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt

    from fencegis.records.spec import Fence

    Floats = npt.NDArray[np.float64]

A_HAIR = 1e-9


@dataclass(frozen=True, eq=False)
class Stretches:
    """(n,) each: its line, chainages, length along the ground, bays, whether in wire.

    `greatest_m` is the greatest bay, the tolerance in it; NaN where bays are not shared out by it, since posts were
    moved: such a stretch takes as many more bays as go into what it is longer. `fixed` ones, over an opening, stay.
    """

    line_id: npt.NDArray[np.object_]
    from_m: Floats
    to_m: Floats
    length_m: Floats
    bays: Floats
    wire: npt.NDArray[np.bool_]
    greatest_m: Floats
    fixed: npt.NDArray[np.bool_]

    def more_bays(self, longer_m: npt.ArrayLike, *, wider_m: npt.ArrayLike = 0.0) -> Floats:
        """Return how many bays more (k, n) each stretch takes when it is so much longer (k, n), below 0 for fewer.

        `wider_m` (k, 1) is what its greatest bay is more, up or down.
        """
        longer = np.asarray(longer_m, dtype=float)
        known = np.isfinite(self.greatest_m)
        greatest = np.where(known, self.greatest_m, 1.0)
        length = self.length_m + longer
        shared = np.ceil(length / (greatest + np.asarray(wider_m, dtype=float)) - A_HAIR) - self.bays
        own_m = self.length_m / self.bays
        along = np.rint(length / (own_m + np.asarray(wider_m, dtype=float)) - self.bays)
        more = np.where(self.fixed, 0.0, np.where(known, shared, along))
        return np.asarray(np.maximum(more, 1.0 - self.bays), dtype=float)


def stretches(tables: Mapping[str, pd.DataFrame], *, kind_of_line: Mapping[str, str], fence: Fence) -> Stretches:
    """Return the stretches of a plan from its layers `posts`, `nodes`, `bays`, `gates` and `divide`; gates are none."""
    ground = ground_under(tables, kind_of_line=kind_of_line)
    divide = tables["divide"].groupby("from_post").agg({"bays": "median", "from_m": "min", "to_m": "min"})
    own_m = (divide["to_m"] - divide["from_m"]).to_dict()
    posts = tables["posts"]
    keys = posts[posts["kind"] == "key"]
    parts = []
    for line, bays in fenced(tables["bays"], tables["gates"]).groupby("line_id", sort=False):
        middle = (bays["from_m"] + bays["to_m"]).to_numpy() / 2.0
        at = ground.stretch_m(str(line), middle)
        if ground.kind[str(line)] == WIRE:
            key = np.concatenate([[-np.inf], keys.loc[keys["line_id"] == line, "chainage_m"].sort_values()])
            at = np.maximum(at, key[np.searchsorted(key, middle) - 1])
        spans = bays.assign(stretch=at).groupby("stretch").agg(
            from_m=("from_m", "min"), to_m=("to_m", "max"), length_m=("ground_length_m", "sum"),
            bays=("bay_id", "count"), post=("from_post", "first"),
        )  # fmt: skip
        parts.append(spans.assign(line_id=str(line), wire=ground.kind[str(line)] == WIRE))
    if not parts:
        none = np.zeros(0)
        return Stretches(none.astype(object), none, none, none, none, none.astype(bool), none, none.astype(bool))
    every = pd.concat(parts, ignore_index=True)
    length, bays_now = every["length_m"].to_numpy(dtype=float), every["bays"].to_numpy(dtype=float)
    wire = every["wire"].to_numpy(dtype=bool)
    greatest = np.where(wire, fence.post_spacing_m, every["post"].map(own_m).to_numpy(dtype=float))
    greatest = greatest + fence.bay_tolerance_mm / 1000.0
    by_it = np.ceil(length / np.where(np.isfinite(greatest), greatest, 1.0) - A_HAIR) == bays_now
    opening = (bays_now == 1.0) & ~by_it & (length > fence.post_spacing_m)
    return Stretches(
        line_id=every["line_id"].to_numpy(dtype=object),
        from_m=every["from_m"].to_numpy(dtype=float),
        to_m=every["to_m"].to_numpy(dtype=float),
        length_m=length,
        bays=bays_now,
        wire=wire,
        greatest_m=np.where(by_it, greatest, np.nan),
        fixed=opening,
    )

"""The layers `gaps` and `spots`: what is under the bottom rail, and where the ground is cut or filled for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.layout.rail_rows import rail_number
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.layout.railed import Railed

    Floats = npt.NDArray[np.float64]

LEAST_SPAN_M = 0.1


def gap_table(lines: Sequence[Railed], *, bays: pd.DataFrame) -> pd.DataFrame:
    """Return the layer `gaps`, a row for each row of the layer `bays` on lines of rails; gates have no gap."""
    frames = []
    for one in lines:
        own = bays[bays["line_id"] == one.line_id]
        gaps = None if one.heights is None else one.heights.gaps
        shut = ~one.bays.opens
        columns = {
            name: np.full(len(own), np.nan) if gaps is None else getattr(gaps, name)[shut]
            for name in ("least_m", "least_at_m", "greatest_m", "greatest_at_m")
        }
        frames.append(own[["line_id", "from_m", "to_m", "bay_id"]].assign(**columns))
    return checked("gaps", pd.concat(frames, ignore_index=True)) if frames else empty("gaps")


def spot_table(lines: Sequence[Railed]) -> pd.DataFrame:
    """Return the layer `spots`; a spot shorter than a span may be is drawn as long as one must be, about its middle."""
    frames = []
    for one in lines:
        if one.heights is None or not len(one.heights.spots.from_m):
            continue
        spots, length = one.heights.spots, one.laid_out.course.line.length_m
        from_m, to_m = _as_spans(spots.from_m, spots.to_m, length)
        frames.append(
            pd.DataFrame(
                {
                    "line_id": one.line_id,
                    "from_m": from_m,
                    "to_m": to_m,
                    "kind": np.where(spots.cut, "cut", "fill"),
                    "deepest_m": spots.deepest_m,
                    "deepest_at_m": spots.deepest_at_m,
                    "width_m": rail_number("width to fill or cut"),
                    "volume_m3": spots.volume_m3,
                }
            )
        )
    return checked("spots", pd.concat(frames, ignore_index=True)) if frames else empty("spots")


def _as_spans(from_m: Floats, to_m: Floats, length_m: float) -> tuple[Floats, Floats]:
    middle = (from_m + to_m) / 2.0
    half = np.maximum(to_m - from_m, LEAST_SPAN_M) / 2.0
    middle = np.clip(middle, half, length_m - half)
    return middle - half, middle + half

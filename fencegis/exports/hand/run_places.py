"""Which run a place stands on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.exports.key_points import SAME_PLACE_M

if TYPE_CHECKING:
    from fencegis.exports.key_points import Place
    from fencegis.records.plan import Plan


class RunPlaces:
    """The runs of every line by where they begin."""

    def __init__(self, plan: Plan) -> None:
        """Read the runs' beginnings."""
        runs = plan.runs.sort_values("from_m", kind="stable")
        self._runs = {
            str(line_id): (on["from_m"].to_numpy(), [str(name) for name in on["run_id"]])
            for line_id, on in runs.groupby("line_id", sort=False)
        }

    def at(self, place: Place) -> str:
        """Return the run's name; what stands at a corner is at the beginning of the run behind it."""
        begins, names = self._runs[place.line_id]
        behind = int(np.searchsorted(begins, place.chainage_m + SAME_PLACE_M, side="right"))
        return names[max(behind - 1, 0)]

"""A plan's numbers and places in the words of the trade, as the map and the long section print them."""

from __future__ import annotations

import math
from collections import namedtuple
from typing import TYPE_CHECKING, Any

import numpy as np

from fencegis.exports.page_text import plain
from fencegis.quantities.takeoff import fence_kinds

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

    from fencegis.records.plan import Plan

SAME_PLACE_M = 0.05
RUN_LABELS = {
    "boundary": "boundary",
    "agreed": "off the boundary by agreement",
    "internal": "internal fence",
}
POINTS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


def number(value: float, digits: int = 1) -> str:
    """Return the value rounded, thousands apart by a narrow space, never −0."""
    rounded = round(float(value), digits) + 0.0
    return f"{rounded:,.{digits}f}".replace(",", "\u202f").replace("-", "\u2212")


def metres(value: float, digits: int = 1) -> str:
    """Return a length in metres with its unit; a length that is not known says so."""
    return f"{number(value, digits)}\u00a0m" if math.isfinite(value) else "not known"


def degrees(value: float) -> str:
    """Return a bearing as whole degrees, three digits, 360 written 000."""
    return f"{round(value) % 360:03d}°"


def compass(bearing_deg: float) -> str:
    """Return the nearest of the eight points of the compass."""
    return POINTS[round(bearing_deg / 45.0) % 8]


def turn(turn_deg: float) -> str:
    """Return a turn in whole degrees and its side, walking with rising chainage; right is positive."""
    return f"{abs(round(turn_deg))}° to the {'right' if turn_deg > 0 else 'left'}"


def beside(offset_m: float) -> str:
    """Return an offset from the line and its side, walking with rising chainage; right is positive."""
    return f"{metres(abs(offset_m))} {'right' if offset_m > 0 else 'left'}"


def slope(grade_pct: float) -> str:
    """Return a grade in percent in words; uphill is positive."""
    if not math.isfinite(grade_pct):
        return "not known"
    if abs(grade_pct) < 0.05:
        return "level"
    return f"{number(abs(grade_pct))}\u00a0% {'up' if grade_pct > 0 else 'down'}"


def present(value: object) -> bool:
    """Return whether a cell of a table holds something."""
    return value is not None and str(value) not in {"<NA>", "nan", "NaT", ""}


def each(frame: pd.DataFrame) -> Iterator[Any]:
    """Return a table's rows one by one, their cells by the names of the columns, `Index` first.

    Read column by column: a GeoDataFrame's own way to its rows takes ten times as long.
    """
    row = namedtuple("row", ["Index", *frame.columns])  # type: ignore[misc]
    cells = (frame[name].to_numpy().tolist() for name in frame.columns)
    return map(row._make, zip(frame.index.tolist(), *cells, strict=True))


def counted(count: int, singular: str, plural: str = "") -> str:
    """Return a count with its noun."""
    return f"{number(count, 0)} {singular if count == 1 else plural or singular + 's'}"


def holder(plan: Plan, line_id: str | None = None) -> str:
    """Return the trade's word for a post that holds an end: of this line, or of all when no line is named."""
    kinds = {line.kind for line in plan.site.drawn} if line_id is None else set(fence_kinds(plan.site, [line_id]))
    return "strainer" if "wire" in kinds else "holding post"


class Places:
    """What stands where: names a station by the corner, gate, junction or end that is there."""

    def __init__(self, plan: Plan) -> None:
        """Gather the named stations of each line, and where each line ends."""
        self._names = {line.line_id: plain(line.name) for line in plan.site.drawn}
        self._closed = {line.line_id for line in plan.site.drawn if line.closed}
        self._length = plan.runs.groupby("line_id", sort=False)["to_m"].max().to_dict()
        self._named: dict[str, list[tuple[float, str]]] = {}
        for at in each(plan.nodes):
            self._add(at.line_id, at.chainage_m, f"junction {plain(at.node_id)}")
        for at in each(plan.corners):
            self._add(at.line_id, at.chainage_m, f"corner {plain(at.corner_id)}")
        for gate in each(plan.gates):
            for end in (gate.from_m, gate.to_m):
                self._add(gate.line_id, end, f"gate {plain(gate.gate_id)}")

    def _add(self, line_id: str, chainage_m: float, name: str) -> None:
        self._named.setdefault(line_id, []).append((float(chainage_m), name))

    def line(self, line_id: str) -> str:
        """Return `line A (North side)`; the part `B.1` of a line goes by the name of `B`."""
        name = self._names.get(line_id) or self._names.get(line_id.rpartition(".")[0], "")
        shown = plain(line_id)
        return f"line {shown} ({name})" if name and name != line_id else f"line {shown}"

    def ends(self, line_id: str) -> tuple[str, str]:
        """Return the names of a line's start and end."""
        return self.at(line_id, 0.0), self.at(line_id, self._length.get(line_id, 0.0))

    def at(self, line_id: str, chainage_m: float) -> str:
        """Return the name of what stands at the chainage; the chainage itself where nothing is named."""
        for at, name in self._named.get(line_id, []):
            if abs(at - chainage_m) <= SAME_PLACE_M:
                return name
        length = self._length.get(line_id, math.inf)
        shown = plain(line_id)
        if chainage_m <= SAME_PLACE_M or chainage_m >= length - SAME_PLACE_M:
            if line_id in self._closed:
                return f"start and end of loop {shown}"
            return f"{'start' if chainage_m <= SAME_PLACE_M else 'end'} of line {shown}"
        return f"{metres(chainage_m)} of line {shown}"


def runs_of(plan: Plan, stations: pd.DataFrame) -> np.ndarray:
    """Return for each station the row of the run that it stands on, −1 where none does; a corner is on the next run."""
    run_row = np.full(len(stations), -1)
    stand = stations["line_id"].to_numpy()
    chainage = stations["chainage_m"].to_numpy(dtype=float)
    for line_id, runs in plan.runs.groupby("line_id", sort=False):
        here = np.flatnonzero(stand == line_id)
        order = np.searchsorted(runs["from_m"].to_numpy(), chainage[here] + SAME_PLACE_M, side="right") - 1
        run_row[here] = runs.index.to_numpy()[np.clip(order, 0, None)]
    return run_row

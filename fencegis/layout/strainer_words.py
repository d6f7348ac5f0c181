"""Each strainer in a line of words: why it stands, why there, what it takes, and the strains either side of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fencegis.layout.strain_chain import A_HAIR_DEG
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Mapping, Sequence

    from fencegis.layout.post_tables import LaidOut
    from fencegis.layout.standing import Chain, Stop

NEAR_M = 1.05  # candidates stand two metres apart: nearer than half of that to an even place is even
WHERE = {
    "overhead": "under the conductor",
    "crossing": "in the crossing",
    "keep-out": "in the keep-out",
    "buried service": "beside the buried service",
    "too steep": "on ground too steep for the machine",
}


@dataclass(frozen=True, eq=False)
class Brace:
    """The brace that words are given for: its name, and the lift it gives a strainer for a pull, both in kN."""

    name: str
    lift_kn: Callable[[float], float]


def words_on_strainers(
    lines: Sequence[LaidOut],
    strainers: pd.DataFrame,
    posts: pd.DataFrame,
    *,
    strain_m: float,
    turning_deg: float,
    brace: Brace,
) -> list[Note]:
    """Return one note for each strainer of wire, and for each end, corner, junction and gate post of rail."""
    ends = posts[posts["kind"].eq("strainer")]
    lift = dict(zip(zip(ends["line_id"], ends["chainage_m"], strict=True), ends["uplift_kn"], strict=True))
    of_line = {one.course.line_id: one for one in lines}
    notes = []
    for line_id, on_line in strainers.groupby("line_id", sort=False):
        one = of_line[str(line_id)]
        told = _Told(one, on_line, strain_m=strain_m, turning_deg=turning_deg) if one.course.kind == "wire" else None
        for row in on_line.to_dict("records"):
            place, change = row["chainage_m"], _change(row["change_pct"])
            parts = _takes(row, lift.get((line_id, place), np.nan), brace)
            if told is not None:
                why = told.place(place, change)
                parts = [*why, *parts, *told.strains(place)]
                change = "" if any(change in part for part in why) else change
            parts = [change, *parts] if change else parts
            text = f"{_why(row)}: {'; '.join(parts)}" if parts else _why(row)
            notes.append(Note("default", text, str(line_id), place))
    return notes


class _Told:
    """The strains and chains of one line, found by chainage."""

    def __init__(self, one: LaidOut, strainers: pd.DataFrame, *, strain_m: float, turning_deg: float) -> None:
        self.limits = strain_m, turning_deg
        self.closed_m = one.course.line.length_m if one.course.line.closed else None
        self.ending = {self._post(strain.to_m): strain for strain in one.fixed.strains}
        self.beginning = {strain.from_m: strain for strain in one.fixed.strains}
        self.stop = {stop.chainage_m: (chain, stop) for chain in one.fixed.chains for stop in chain.stops}
        nodes = zip(one.row.chainage_m, one.node_id, strict=True)
        self.name = {float(chainage): node for chainage, node in nodes if node is not None}
        names = zip(strainers["chainage_m"], strainers["strainer_id"], strict=True)
        self.name |= {chainage: _short(name) for chainage, name in names}

    def place(self, chainage_m: float, change: str) -> list[str]:
        """Return why a strainer between two that have to stand is there and nowhere else."""
        found = self.stop.get(chainage_m)
        if found is None:
            return []
        chain, stop = found
        on = f"{'in' if stop.on == 'dip' else 'on'} {f'a {change}' if stop.on in change else f'the {stop.on}'}"
        where = _where(chain, stop, on=on if stop.on else "", turning_deg=self.limits[1])
        return [self._number_of_strains(chain), where]

    def strains(self, chainage_m: float) -> list[str]:
        """Return the strain before and the one after, each with what it turns of what it may."""
        ends = ("before", self.ending), ("after", self.beginning)
        found = [(word, of_place.get(chainage_m)) for word, of_place in ends]
        told = [f"{word} {one.length_m:.0f} m turning {one.turned_deg:.0f}°" for word, one in found if one is not None]
        if not told:
            return []
        limit = f" of {self.limits[1]:.0f}°" if np.isfinite(self.limits[1]) else ""
        return [f"{', '.join(told)}{limit}"]

    def _number_of_strains(self, chain: Chain) -> str:
        count, strain = len(chain.stops) + 1, chain.strain
        begin, end = (self.name.get(self._post(place), "node") for place in (strain.from_m, strain.to_m))
        more = "" if count == chain.by_length else f", {chain.by_length} by length alone"
        return f"{count} strains ≤ {self.limits[0]:.0f} m{more}, {begin} to {end} {strain.length_m:.0f} m"

    def _post(self, chainage_m: float) -> float:
        """Return the chainage of the post there: a loop ends at its first."""
        return 0.0 if chainage_m == self.closed_m else chainage_m


def _why(row: Mapping[Hashable, Any]) -> str:
    also = "" if pd.isna(row["also"]) else f", also {row['also']}"
    return f"{row['strainer_id']} ({row['reason']}{also})"


def _where(chain: Chain, stop: Stop, *, on: str, turning_deg: float) -> str:
    """Return why a strainer stands off its even place, and what the even places would cost."""
    if stop.banned:
        return f"has to stand {WHERE.get(stop.banned, f'where none should ({stop.banned})')}"
    if abs(stop.off_m) < NEAR_M:
        return f"evenly, {on}" if on else "evenly"
    moved = f"{abs(stop.off_m):.0f} m {'on' if stop.off_m > 0.0 else 'back'} from even"
    if stop.even_banned:
        return f"{moved}, which is {WHERE.get(stop.even_banned, f'where none should stand ({stop.even_banned})')}"
    if chain.even_turned_deg > turning_deg + A_HAIR_DEG:
        return f"{moved}, {on or 'with its neighbours'}: even ones turn {chain.even_turned_deg:.0f}°"
    if not on or chain.dearer >= 1.0:  # dearer by a strainer and more: another even place is forbidden
        return f"{moved}, {on or 'with its neighbours'}"
    return f"{moved}, {on}" + (f", saves {chain.dearer:.2f} strainer" if chain.dearer >= 0.005 else "")


def _change(change_pct: float) -> str:
    return f"{'crest' if change_pct < 0.0 else 'dip'} of {abs(change_pct):.1f} %" if abs(change_pct) >= 0.05 else ""


def _takes(row: Mapping[Hashable, Any], lift_kn: float, brace: Brace) -> list[str]:
    """Return what a strainer takes and how deep it stands."""
    turn, pull, depth = (float(row[name]) for name in ("turn_deg", "pull_kn", "embed_m"))
    told = []
    if abs(turn) >= 0.05:
        told.append(f"turns {abs(turn):.1f}° {'right' if turn > 0.0 else 'left'}")
    if lift_kn >= 0.005:
        told.append(f"wires lift {lift_kn:.2f} kN")
    if pull >= 0.005:
        told.append(f"pull {pull:.1f} kN, {brace.name} lift {brace.lift_kn(pull):.1f} kN")
    if depth > 0.0:
        told.append(f"{depth:.2f} m deep")
    return told


def _short(name: str) -> str:
    return name.rsplit("-", 1)[-1]

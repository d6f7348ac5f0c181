"""What was looked at: rows that tile every line from its start to its end, one status each."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np

from fencegis.hazards.near import LEAST_M, joined
from fencegis.line.chainage import points_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.hazards.envelope import Envelope
    from fencegis.hazards.found import Ground, Stretch
    from fencegis.line.chainage import Line

Status = Literal["flagged", "clear", "not checked"]
_GRAVITY: dict[Status, int] = {"clear": 0, "not checked": 1, "flagged": 2}
_LOOK_M = 2.5  # between looks at whether there is ground at all


@dataclass(frozen=True)
class Part:
    """A stretch with what is known of it; `basis` is what a person reads."""

    stretch: Stretch
    status: Status
    basis: str


def tiled(rest: Part, parts: Sequence[Part]) -> list[Part]:
    """Return parts that tile the stretch of `rest`: the gravest status wins, and what it rests on is joined.

    Flagged is graver than not checked, that graver than clear. No part is shorter than a span may be.
    """
    start, end = rest.stretch
    edges = sorted({start, end, *(min(max(edge, start), end) for part in parts for edge in part.stretch)})
    tiles = [_gravest((low, high), rest, parts) for low, high in pairwise(edges)]
    return _merged(_without_slivers(tiles))


def rest_of(
    line: Line, *, features: int, file: str, walked: str | None, envelope: Envelope, lacking: Sequence[str]
) -> Part:
    """Return the answer for all of a line where nothing is flagged: `clear` only when all that it needs was given.

    It needs somebody who walked and looked, a machine whose working height and reach were taped, and nothing
    `lacking` (in words: no ground heights, a feature that cannot be placed).
    """
    count = f"{features} feature" + ("" if features == 1 else "s")
    seen = walked.strip() if walked else ""
    basis = f"none found in {file} ({count}) — " + (f"walked {seen}" if seen else "not walked")
    if not envelope.taped:
        basis += "; machine's working height and reach not both given"
    basis = "; ".join([basis, *lacking])
    status: Status = "clear" if seen and envelope.taped and not lacking else "not checked"
    return Part((0.0, line.length_m), status, basis)


def rest_as_walked(
    line: Line, *, features: int, file: str, walked: str | None, lacking: Sequence[str] = ()
) -> Part:
    """Return the answer for all of a line where nothing is flagged and no machine has a say in it.

    `clear` only when somebody walked and looked, and nothing is `lacking`.
    """
    count = f"{features} feature" + ("" if features == 1 else "s")
    seen = walked.strip() if walked else ""
    basis = f"none found in {file} ({count}) — " + (f"walked {seen}" if seen else "not walked")
    status: Status = "clear" if seen and not lacking else "not checked"
    return Part((0.0, line.length_m), status, "; ".join([basis, *lacking]))


def absent(line: Line, *, file: str) -> Part:
    """Return the answer for all of a line when the layer's file is not there."""
    return Part((0.0, line.length_m), "not checked", f"no {file}")


def without_ground(line: Line, *, ground: Ground, rest: Part) -> list[Part]:
    """Return the parts of `rest` on which a look every few metres, and at each corner, found no ground height.

    Only a `clear` is taken back, so nothing is looked at where there is none.
    """
    if rest.status != "clear":
        return []
    looks = np.union1d(np.linspace(0.0, line.length_m, int(np.ceil(line.length_m / _LOOK_M)) + 1), line.chainage_m)
    missing = np.flatnonzero(np.isnan(ground(points_at(line, looks))))
    before, after = looks[np.maximum(missing - 1, 0)], looks[np.minimum(missing + 1, len(looks) - 1)]
    stretches = joined(zip(before.tolist(), after.tolist(), strict=True), length_m=line.length_m)
    return [Part(stretch, "not checked", f"{rest.basis}; no ground heights here") for stretch in stretches]


def _gravest(stretch: Stretch, rest: Part, parts: Sequence[Part]) -> Part:
    middle = sum(stretch) / 2.0
    here = [part for part in parts if part.stretch[0] <= middle <= part.stretch[1]] or [rest]
    gravest = max((part.status for part in here), key=_GRAVITY.__getitem__)
    basis = dict.fromkeys(part.basis for part in here if part.status == gravest)
    return Part(stretch, gravest, "; ".join(basis))


def _without_slivers(tiles: list[Part]) -> list[Part]:
    """Give what is too short for a span to its graver neighbour."""
    tiles = list(tiles)
    while len(tiles) > 1:
        short = next((place for place, tile in enumerate(tiles) if tile.stretch[1] - tile.stretch[0] < LEAST_M), None)
        if short is None:
            break
        beside = [place for place in (short - 1, short + 1) if 0 <= place < len(tiles)]
        taker = max(beside, key=lambda place: _GRAVITY[tiles[place].status])
        low, high = sorted((short, taker))
        tiles[low : high + 1] = [_together(tiles[taker], tiles[short])]
    return tiles


def _together(taker: Part, sliver: Part) -> Part:
    stretch = min(taker.stretch[0], sliver.stretch[0]), max(taker.stretch[1], sliver.stretch[1])
    if _GRAVITY[sliver.status] < _GRAVITY[taker.status]:
        return Part(stretch, taker.status, taker.basis)
    bases = (taker.basis, sliver.basis) if sliver.status == taker.status else (sliver.basis,)
    return Part(stretch, sliver.status, "; ".join(dict.fromkeys(bases)))


def _merged(tiles: Sequence[Part]) -> list[Part]:
    whole: list[Part] = []
    for tile in tiles:
        if whole and (whole[-1].status, whole[-1].basis) == (tile.status, tile.basis):
            whole[-1] = Part((whole[-1].stretch[0], tile.stretch[1]), tile.status, tile.basis)
        else:
            whole.append(tile)
    return whole

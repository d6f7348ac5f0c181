"""From what the plan takes to what is ordered: waste once for a whole material, then whole packs.

Nothing is rounded before the pack. What is bought piece by piece gets whole spares for the material, shared out among
its sizes by their number, so that ten sizes do not buy ten spares.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

A_HAIR = 1e-9  # rounding of the machine: not another pack


@dataclass(frozen=True)
class Order:
    """What is ordered: `packs` and `left_pct` None where it comes loose; `ordered` in the material's unit."""

    packs: int | None
    left_pct: float | None
    ordered: float


def in_packs(exact: float, *, waste_pct: float, pack: float | None) -> Order:
    """Return the whole packs that hold an amount and its waste, and the share in per cent left over of them.

    Loose where `pack` is None. Raises ValueError for a pack of nothing or a negative waste.
    """
    _check(waste_pct, pack)
    wanted = exact * (1.0 + waste_pct / 100.0)
    if pack is None:
        return Order(None, None, wanted)
    packs = math.ceil(wanted / pack - A_HAIR)
    ordered = packs * pack
    return Order(packs, 100.0 * max(0.0, ordered - wanted) / ordered if ordered else 0.0, ordered)


def with_spares(exact: Sequence[float], *, waste_pct: float) -> list[Order]:
    """Return what is ordered of the sizes of one material that is bought piece by piece.

    The spares are the whole material's waste, up to the next whole piece, shared out by largest remainder; of sizes
    alike the later in the list is first, which is to be the longer: it can be cut down for the others.
    """
    _check(waste_pct, 1.0)
    pieces = [math.ceil(amount - A_HAIR) for amount in exact]
    spares = shared_out(np.array(exact), math.ceil(sum(exact) * waste_pct / 100.0 - A_HAIR))
    return [Order(piece + more, 0.0, float(piece + more)) for piece, more in zip(pieces, spares, strict=True)]


def shared_out(weights: npt.NDArray[np.float64], whole: int) -> list[int]:
    """Return `whole` things shared out by weight, largest remainder first, of those alike the last first."""
    if whole == 0 or not weights.sum():
        return [0] * len(weights)
    due = weights / weights.sum() * whole
    given = np.floor(due + A_HAIR).astype(int)
    rest = np.round(due - given, 9)
    last_first = sorted(range(len(weights)), key=lambda place: (-rest[place], -place))
    for place in last_first[: whole - int(given.sum())]:
        given[place] += 1
    return [int(each) for each in given]


def _check(waste_pct: float, pack: float | None) -> None:
    if waste_pct < 0.0:
        raise ValueError(f"waste is not below nothing: {waste_pct} %")
    if pack is not None and pack <= 0.0:
        raise ValueError(f"a pack holds something: {pack}")

"""How a post comes into each soil: driven, bored or dug; how wide a hole; how much water to carry to it.

Rules and figures are rows of `catalogue/holes.csv`, a row that names no soil being for all that have none of their own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows
from fencegis.strength.in_ground import of_each

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

LITRES = 1000.0  # in a cubic metre


def set_by(soil: str, *, post_set: str) -> str:
    """Return driven, bored or dug: as `[fence] post_set` has it, unless the soil asks for another."""
    return _value("set by", soil) or post_set


def over_post_mm(soil: str, *, how: str) -> float:
    """Return how much wider than the post its hole is; NaN for a driven post, which has none."""
    return float("nan") if how == "driven" else number(f"{how} over post", soil)


def hole_mm(soils: npt.ArrayLike, how: npt.ArrayLike, *, post_mm: npt.ArrayLike) -> Floats:
    """Return the diameter of each post's hole (n,), NaN where it is driven without a pilot."""
    over = {(soil, way): over_post_mm(soil, how=way) for soil, way in _pairs(soils, how)}
    return np.asarray(np.array([over[pair] for pair in _pairs(soils, how)]) + np.asarray(post_mm, dtype=float))


def water_l(soils: npt.ArrayLike, *, hole_mm: npt.ArrayLike, post_mm: npt.ArrayLike, embed_m: npt.ArrayLike) -> Floats:
    """Return the litres of water for each hole (n,): the share of the ring that water fills, as often as it is wetted.

    At least the catalogue's least for a hole that takes water; 0 for a driven post and in soils that take none.
    """
    names = np.atleast_1d(np.asarray(soils, dtype=object))
    times = of_each(lambda soil: number("times wetted", soil), names)
    hole, post = np.asarray(hole_mm, dtype=float), np.asarray(post_mm, dtype=float)
    litres = times * number("ring water") * ring_l(hole, post_mm=post, embed_m=embed_m)
    takes = (times > 0.0) & np.isfinite(hole)
    return np.where(takes, np.maximum(litres, number("least water")), 0.0)


def ring_l(hole_mm: npt.ArrayLike, *, post_mm: npt.ArrayLike, embed_m: npt.ArrayLike) -> Floats:
    """Return the litres between a round hole and the round post in it."""
    hole, post = (np.asarray(mm, dtype=float) / 1000.0 for mm in (hole_mm, post_mm))
    return np.asarray(np.pi / 4.0 * (hole**2 - post**2) * np.asarray(embed_m, dtype=float) * LITRES)


def number(item: str, soil: str = "") -> float:
    """Return a figure of `catalogue/holes.csv` for a soil. Raises KeyError when there is no such item."""
    value = _value(item, soil)
    if value is None:
        raise KeyError(f"holes.csv has no {item!r} for {soil!r}")
    return float(value)


def _value(item: str, soil: str) -> str | None:
    of_item = {row["soil"]: row["value"] for row in rows("holes") if row["item"] == item}
    return of_item.get(soil, of_item.get(""))


def _pairs(soils: npt.ArrayLike, how: npt.ArrayLike) -> list[tuple[str, str]]:
    return list(zip(np.asarray(soils, dtype=object).tolist(), np.asarray(how, dtype=object).tolist(), strict=True))

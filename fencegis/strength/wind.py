"""Wind on a fence: the pressure of a gust, and its force on rails, wires, posts, mesh and screens by their solidity.

Up to seven tenths solid the force goes with the solid area, by the table of open signs of ASCE 7; denser is a screen,
whose whole area counts, more near a free end, by EN 1991-1-4. All numbers stand in `catalogue/wind.csv`. Neither code
is applied whole: the speed is the gust at the fence, so exposure, height, shelter and importance are left to whoever
names it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

from fencegis.strength.values import value_of

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

Shape = Literal["flat", "round"]
_SOLIDITY = "a solidity is from 0 to 1"


def gust_kpa(speed_m_s: npt.ArrayLike, *, density_kg_m3: float | None = None) -> Floats:
    """Return the dynamic pressure of a gust, half of density × speed squared, in kPa (Bernoulli).

    The density is that of the catalogue unless given. Raises ValueError for a speed below zero.
    """
    speed = np.asarray(speed_m_s, dtype=float)
    if (speed < 0.0).any():
        raise ValueError("a wind speed is not below zero")
    density = value_of("wind", "air density") if density_kg_m3 is None else density_kg_m3
    return np.asarray(density * speed**2 / 2000.0)


def solidity(count: npt.ArrayLike, *, size_m: float, height_m: npt.ArrayLike) -> Floats:
    """Return the solid share of a fence of `count` level members, each `size_m` deep, in `height_m`; 1 at most."""
    solid_m = np.asarray(count, dtype=float) * size_m
    return np.asarray(np.minimum(solid_m / np.asarray(height_m, dtype=float), 1.0))


def open_coefficient(solid: npt.ArrayLike, *, shape: Shape) -> Floats:
    """Return the force in gust pressures on the solid area of an open fence (ASCE 7-16, Table 29.4-2).

    `solid` is the solid share; NaN above what the table holds for. Raises ValueError for one outside 0 to 1.
    """
    share = _share(solid)
    found = np.select(
        [share < value_of("wind", "sparse below"), share < value_of("wind", "dense from"), is_open(share)],
        [value_of("wind", f"{shape} {row}") for row in ("sparse", "middling", "dense")],
        np.nan,
    )
    return np.asarray(found)


def is_open(solid: npt.ArrayLike) -> npt.NDArray[np.bool_]:
    """Return whether wind blows through rather than round: at most seven tenths solid."""
    return np.asarray(_share(solid) <= value_of("wind", "open to") + 1e-9)


def screen_coefficient(solid: npt.ArrayLike, *, from_end: npt.ArrayLike = np.inf) -> Floats:
    """Return the force in gust pressures on the whole area of a screen (EN 1991-1-4, Table 7.9).

    `from_end` is the distance from the nearest free end in heights of the screen; by the table a solid screen carries
    more there, one four fifths solid does not, and between the two it goes in proportion.
    Raises ValueError for a solid share outside 0 to 1.
    """
    middle, away = value_of("wind", "screen"), np.asarray(from_end, dtype=float)
    zones = ("end", "near end", "past end")
    if_solid = np.select(
        [away <= value_of("wind", f"{zone} reaches") for zone in zones],
        [value_of("wind", f"screen {zone}") for zone in zones],
        middle,
    )
    gaps = value_of("wind", "screen with gaps")
    return np.asarray(middle + (if_solid - middle) * np.clip((_share(solid) - gaps) / (1.0 - gaps), 0.0, 1.0))


def strip_kn_m(
    solid: npt.ArrayLike,
    *,
    height_m: npt.ArrayLike,
    shape: Shape,
    pressure_kpa: float,
    from_end_m: npt.ArrayLike = np.inf,
) -> Floats:
    """Return the sideways force of wind square to a strip of fence, in kN for each metre of its length.

    `height_m` is the strip's, of which `solid` is the solid share; `from_end_m` the distance from the nearest free end.
    Raises ValueError for a solid share outside 0 to 1.
    """
    share, height = _share(solid), np.asarray(height_m, dtype=float)
    through = open_coefficient(share, shape=shape) * share
    round_it = screen_coefficient(share, from_end=np.asarray(from_end_m, dtype=float) / height)
    return np.asarray(pressure_kpa * height * np.where(is_open(share), through, round_it))


def _share(solid: npt.ArrayLike) -> Floats:
    share: Floats = np.asarray(solid, dtype=float)
    if ((share < 0.0) | (share > 1.0)).any():
        raise ValueError(_SOLIDITY)
    return share

"""Pictures laid under the map: already in Web Mercator, already small."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt


@dataclass(frozen=True, eq=False)
class Picture:
    """RGBA as (row, column, 4) uint8, its sides along EPSG:3857; `bounds` is south, west, north, east in WGS 84."""

    name: str
    rgba: npt.NDArray[np.uint8]
    bounds: tuple[float, float, float, float]


@dataclass(frozen=True)
class Backdrop:
    """What the site has to show below the plan; either may be missing."""

    hillshade: Picture | None = None
    imagery: Picture | None = None

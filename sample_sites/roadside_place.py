"""Where everything of the roadside sample is: a display fence along a road, on sand, invented, in New South Wales.

Walking with the chainage the road is on the right and the house on the left; the last leg turns away from the road.
"""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING

import numpy as np
from drawing import Place, along, cell_centres, patches, walked

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

PLACE = Place(epsg=7855, datum_epsg=7844, origin=(434_300.0, 6_139_700.0))
WIDE_M, HIGH_M = 408, 280
SIGMA_M = 0.4
SEED = 20_260_304

# The frontage, a slight curve in three bends, the straight with the trees, then left by 55° to the back paddock.
ROAD_DEG = (84.0, 79.4, 74.8, 70.2)
CORNERS = walked((24.0, 82.0), list(zip((*ROAD_DEG, 15.2), (112.0, 60.0, 60.0, 106.0, 62.0), strict=True)))
CLICK_EVERY_M = [20.0, 8.0, 8.0, 20.0, 30.0]
ENTRANCE_M, FIELD_GATE_M = 70.0, 376.0
BESIDE_ROAD, IN_PADDOCK = along(CORNERS, 68.5, right_m=33.0), along(CORNERS, 73.0, right_m=-35.0)
POLES = np.array([(132.0, 10.0), BESIDE_ROAD, IN_PADDOCK, (133.0, 216.0)])

# Chainage, metres left of the line, height, lowest limb, spread; the sixth is dead.
TREES = [
    (257.0, 9.8, 11.0, 3.6, 8.5),
    (268.0, 6.2, 14.0, 4.4, 11.0),
    (278.0, 5.2, 12.5, 3.2, 9.5),
    (289.0, 6.6, 15.0, 4.8, 12.0),
    (299.0, 5.4, 12.0, 3.9, 9.0),
    (308.5, 5.9, 10.0, 3.4, 7.0),
    (317.0, 5.3, 13.0, 3.0, 10.0),
    (327.0, 6.8, 14.5, 7.8, 11.0),
]
DEAD = 5
KEPT = (0, 1, 3, 7)  # the client wants these kept; of the others nobody said anything


def tree_points() -> Floats:
    """Return where the trees of the row stand."""
    return np.array([along(CORNERS, chainage, right_m=-left) for chainage, left, *_ in TREES])


def ground(cell_m: float) -> Floats:
    """Return the ground in cells: a low dune across the frontage, a dip in the curve, sand in soft waves."""
    shape = (int(HIGH_M / cell_m), int(WIDE_M / cell_m))
    east, north = cell_centres(shape, cell_m)
    crest = along(CORNERS, 46.0)
    dune = 2.7 * np.exp(-((((east - crest[0]) * 0.94 + (north - crest[1]) * 0.34) / 27.0) ** 2))
    low = along(CORNERS, 206.0)
    dip = -1.5 * np.exp(-(((east - low[0]) / 26.0) ** 2) - (((north - low[1]) / 40.0) ** 2))
    waves = 0.55 * patches(Random(SEED + 1), shape, 48.0 / cell_m)
    ripples = 0.12 * patches(Random(SEED + 2), shape, 17.0 / cell_m)
    return 141.0 + dune + dip + waves + ripples + 0.008 * (north - 140.0) + 0.004 * (east - 200.0)

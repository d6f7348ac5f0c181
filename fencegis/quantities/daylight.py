"""How long it is light on a day at a latitude: no day of work is longer."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt

RIM_DEG = -0.833  # sun's upper rim on a level horizon, with mean refraction


def daylight_h(date: dt.date, *, lat_deg: float) -> float:
    """Return the hours from sunrise to sunset on a level horizon, 0 in polar night and 24 in polar day.

    Declination by Spencer's series of 1971 (from memory; good to 0.04 degrees), rise and set at an altitude of −0.833
    degrees as almanacs take it. Hills and trees take some of it away.
    """
    turn = 2.0 * math.pi * (date.timetuple().tm_yday - 0.5) / 365.0
    declination = (
        0.006918
        - 0.399912 * math.cos(turn)
        + 0.070257 * math.sin(turn)
        - 0.006758 * math.cos(2.0 * turn)
        + 0.000907 * math.sin(2.0 * turn)
        - 0.002697 * math.cos(3.0 * turn)
        + 0.00148 * math.sin(3.0 * turn)
    )
    latitude = math.radians(max(-89.9, min(89.9, lat_deg)))
    height = math.sin(math.radians(RIM_DEG)) - math.sin(latitude) * math.sin(declination)
    half_day = height / (math.cos(latitude) * math.cos(declination))
    return 24.0 / math.pi * math.acos(max(-1.0, min(1.0, half_day)))

"""How many equal parts a length takes."""

from __future__ import annotations

import math

A_MILLIMETRE = 0.001  # coordinates of seven decimals come back some millimetres off: that is not another bay


def equal_parts(length_m: float, greatest_m: float) -> int:
    """Return the least number of equal parts of `length_m` none of which exceeds `greatest_m`, at least 1.

    A millimetre over is not another part.
    """
    return max(1, math.ceil((length_m - A_MILLIMETRE) / greatest_m))

"""Every number that leaves the program is rounded here, once, by the unit at the tail of its name."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

Frame = TypeVar("Frame", bound=pd.DataFrame)

# A millimetre; a tenth of one where the name says mm; degrees of direction; degrees of place (about a centimetre).
DECIMALS = {"m": 3, "mm": 1, "deg": 4, "kn": 3, "pct": 2, "kg": 1, "l": 1, "kv": 3, "each": 0}
PLACE = 7
OTHER = 3


def decimals(name: str) -> int:
    """Return how many decimals a column, key or unit of this name is printed with."""
    if name in {"lon_deg", "lat_deg"} or name.endswith(("_lon_deg", "_lat_deg")):
        return PLACE
    return DECIMALS.get(name.rsplit("_", 1)[-1], OTHER)


def rounded(values: npt.ArrayLike, name: str) -> Floats:
    """Return the numbers rounded as the name asks; never minus zero."""
    return np.asarray(np.round(np.asarray(values, dtype=float), decimals(name)) + 0.0, dtype=float)


def rounded_number(value: float, name: str) -> float:
    """Return one number rounded as the name asks; never minus zero."""
    return round(float(value), decimals(name)) + 0.0


def rounded_frame(frame: Frame) -> Frame:
    """Return the table with its numbers rounded by the names of their columns, and its geometry to the millimetre."""
    names = [name for name in frame.columns if name != "geometry" and frame[name].dtype == "float64"]
    frame = frame.assign(**{name: rounded(frame[name].to_numpy(), name) for name in names})
    if "geometry" not in frame.columns:
        return frame
    import shapely

    shapes = shapely.transform(frame["geometry"].to_numpy(), lambda points: rounded(points, "m"))
    return frame.assign(geometry=shapes)


def printed(values: Iterable[object], name: str) -> list[str]:
    """Return a column as text: numbers with their fixed decimals and no exponent, an empty cell as nothing."""
    if isinstance(values, pd.Series) and values.dtype == "float64":
        numbers = rounded(values.to_numpy(), name)
        if np.isnan(numbers).all():
            return [""] * len(numbers)
        form = f"%.{decimals(name)}f"
        return ["" if number != number else form % number for number in numbers.tolist()]
    return ["" if value is None or value is pd.NA or value != value else str(value) for value in values]


def lon_lat(points: npt.ArrayLike) -> Floats:
    """Return (n, 2) longitudes and latitudes to seven decimals, the longitudes from -180 up to but not 180."""
    degrees = rounded(points, "lon_deg").reshape(-1, 2)
    degrees[degrees[:, 0] >= 180.0, 0] -= 360.0
    return degrees

"""How far a string drifts in a breeze and sags, how long it may be, and how high it must stand over the ground.

Wind pushes a string into the same parabola as its weight, sideways: the load is its drag, ½ ρ v² C d for each metre.
A drift is read to the millimetre, so a limit of 10 mm is kept up to 10.5 mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows
from fencegis.line.counting import equal_parts
from fencegis.line.hanging import drop, sag

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.records.spec import Fence, StringLine

    Floats = npt.NDArray[np.float64]
    Places = npt.NDArray[np.int_]

GRAVITY_M_S2 = 9.80665  # standard gravity, ISO 80000-3
READ_TO_MM = 0.5  # half of the millimetre that a drift is read to


@dataclass(frozen=True)
class Cord:
    """What is strung: cord or wire, its diameter, its weight for each metre, its pull, and the most it should have."""

    name: str
    diameter_mm: float
    weight_n_m: float
    tension_n: float
    greatest_n: float

    def drag_n_m(self, breeze_m_s: float, *, air_kg_m3: float | None = None) -> float:
        """Return the push of a breeze square to it, in N for each metre: ½ ρ v² C d.

        C is that of a wire in `catalogue/wind.csv`; ρ that of the standard atmosphere there unless given.
        """
        density = value_of("wind", "standard air") if air_kg_m3 is None else air_kg_m3
        return 0.5 * density * breeze_m_s**2 * value_of("wind", "round sparse") * self.diameter_mm / 1000.0

    def drift_mm(self, length_m: float, *, breeze_m_s: float) -> float:
        """Return how far its middle stands off the line in a breeze square to it."""
        return 1000.0 * sag(length_m, load_n_m=self.drag_n_m(breeze_m_s), tension_n=self.tension_n)

    def sag_mm(self, length_m: float) -> float:
        """Return how far its middle hangs below the chord."""
        return 1000.0 * sag(length_m, load_n_m=self.weight_n_m, tension_n=self.tension_n)

    def greatest_length_m(self, *, breeze_m_s: float, drift_mm: float) -> float:
        """Return the greatest length that drifts no more than this, infinite in still air: the inverse of drift."""
        return _longest(self.drag_n_m(breeze_m_s), tension_n=self.tension_n, off_mm=drift_mm)

    def greatest_level_m(self, *, sag_mm: float) -> float:
        """Return the greatest length that sags no more than this."""
        return _longest(self.weight_n_m, tension_n=self.tension_n, off_mm=sag_mm)

    def pins(self, length_m: float, *, breeze_m_s: float, drift_mm: float) -> int:
        """Return how many pins in between keep every part within the drift, read to the millimetre."""
        longest = self.greatest_length_m(breeze_m_s=breeze_m_s, drift_mm=drift_mm + READ_TO_MM)
        return 0 if math.isinf(longest) else equal_parts(length_m, longest) - 1


def _longest(load_n_m: float, *, tension_n: float, off_mm: float) -> float:
    return math.inf if load_n_m == 0.0 else math.sqrt(8.0 * tension_n * off_mm / 1000.0 / load_n_m)


def cord_named(name: str, *, tension_n: float) -> Cord:
    """Return a cord of `catalogue/strings.csv` under this pull. Raises KeyError when there is none of the name."""
    for row in rows("strings"):
        if row["cord"] == name:
            weight = float(row["mass_g_m"]) / 1000.0 * GRAVITY_M_S2
            return Cord(name, float(row["diameter_mm"]), weight, tension_n, float(row["greatest_n"]))
    raise KeyError(f"strings.csv has no cord {name!r}")


def bottom_wire(*, tension_kn: float) -> Cord:
    """Return the fence's own wire as a string: steel of the diameter and density in the catalogue."""
    diameter = value_of("wind", "wire")
    weight = value_of("wire", "density") * math.pi / 4.0 * (diameter / 1000.0) ** 2 * GRAVITY_M_S2
    return Cord("bottom wire", diameter, weight, 1000.0 * tension_kn, math.inf)


def strung(kind: str, *, fence: Fence, string: StringLine) -> Cord:
    """Return what a line of this kind is lined in by: cord for rails; for wire the bottom wire itself, strained."""
    if kind == "wire":
        return bottom_wire(tension_kn=fence.tension_kn)
    return cord_named(string.cord, tension_n=string.tension_n)


def low_string_m(
    station_m: Floats, ground_m: Floats, *, begin_m: Floats, end_m: Floats, sag_m: Floats, clear_m: float
) -> Floats:
    """Return for each string (s,) the least height above ground at its two ends that clears the ground all along.

    Both ends stand as high; the string hangs `sag_m` (s,) below its chord and stays `clear_m` over the ground, which is
    `ground_m` (n,) at `station_m` (n,), rising, straight in between. Strings follow one another and do not overlap.
    NaN where some of the ground below is unknown.
    """
    own = np.interp(np.concatenate([begin_m, end_m]), station_m, ground_m, left=np.nan, right=np.nan)
    at_begin, at_end = own[: len(begin_m)], own[len(begin_m) :]
    string: Places = np.clip(np.searchsorted(begin_m, station_m, side="right") - 1, 0, len(begin_m) - 1)
    share = (station_m - begin_m[string]) / (end_m - begin_m)[string]
    inside = (share > 0.0) & (share < 1.0)
    string, share = string[inside], share[inside]
    chord = at_begin[string] + share * (at_end - at_begin)[string]
    over = ground_m[inside] - chord + sag_m[string] * drop(share, sag_m=1.0)
    most = np.where(np.isnan(at_begin + at_end), np.nan, 0.0)
    with np.errstate(invalid="ignore"):
        np.maximum.at(most, string, over)  # a NaN stays
    return most + clear_m


def value_of(catalogue: str, item: str) -> float:
    """Return the value of an item of a catalogue, in the unit of its row. Raises KeyError when there is none."""
    for row in rows(catalogue):
        if row["item"] == item:
            return float(row["value"])
    raise KeyError(f"{catalogue}.csv has no item {item!r}")

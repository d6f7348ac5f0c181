"""How long, thick and heavy the pieces are that the plan's tables only tell in part: posts, braces, hanging wire."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.catalogue import rows
from fencegis.line.hanging import curve_length, sag
from fencegis.quantities.materials import materials

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Names = npt.NDArray[np.object_]

GRAVITY_M_S2 = 9.80665  # the standard value
A_CENTIMETRE = 0.01


@dataclass(frozen=True)
class Brace:
    """One type of brace of `catalogue/assemblies.csv`: its panels (0 for a stay), and the sizes of its pieces."""

    panels: int
    diagonal_m: float
    post: str
    rail: str


def brace_named(name: str) -> Brace:
    """Return a type of brace. Raises ValueError, which names those there are, for any other."""
    found = {row["assembly"]: row for row in rows("assemblies")}
    if name not in found:
        raise ValueError(f"brace {name!r} is none of {', '.join(found)}")
    row = found[name]
    rail_m, post_m = float(row["rail_m"]), float(row["post_m"])
    return Brace(
        panels=int(row["posts"]) - 1,
        diagonal_m=math.hypot(rail_m, float(row["rail_height_m"])),
        post=f"{float(row['post_mm']):g} x {_up_to_cm(post_m):g}",
        rail=f"{float(row['rail_mm']):.3g} x {_up_to_cm(rail_m):g}" if row["rail_mm"] else f"{_up_to_cm(rail_m):g}",
    )


def _up_to_cm(length_m: float) -> float:
    """Return a length up to the next centimetre: printed lengths are the least there are, and mostly in feet."""
    return math.ceil(length_m * 100.0 - A_CENTIMETRE) / 100.0


def nominal_length_m(posts: pd.DataFrame) -> Floats:
    """Return the length (n,) that each post is bought in: its stock length, else its own up to the next tenth."""
    own = np.ceil(posts["length_m"].to_numpy(dtype=float) * 10.0 - A_CENTIMETRE) / 10.0
    stock = posts["stock_m"].to_numpy(dtype=float)
    return np.where(np.isnan(stock), own, stock)


def post_sizes(post_mm: Floats, length_m: Floats) -> Names:
    """Return `mm x m` of each post (n,); without a length what is known of it, in words."""
    place, different = pd.factorize(pd.MultiIndex.from_arrays([post_mm, length_m]))
    said = [f"{wide:g} mm, no length" if math.isnan(long) else f"{wide:g} x {long:g}" for wide, long in different]
    return np.array([*said, ""], dtype=object)[place]


def hanging_m(bay_m: Floats, *, tension_kn: float) -> Floats:
    """Return the length (n,) of one plain wire in each bay: the bay along the ground and what its sag adds."""
    load_n_m = (materials()["wire"].mass_kg or 0.0) * GRAVITY_M_S2
    whole_mm, place = np.unique(np.round(bay_m * 1000.0), return_inverse=True)
    added = [
        curve_length(span_m, sag_m=sag(span_m, load_n_m=load_n_m, tension_n=tension_kn * 1000.0)) - span_m
        for span_m in (whole_mm / 1000.0).tolist()
    ]
    return np.asarray(bay_m + np.array(added, dtype=float)[place]) if added else bay_m

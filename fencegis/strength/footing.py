"""How deep a post has to stand so that the ground holds a sideways pull.

The equations are those of the International Building Code 1807.3.2 for a post that nothing holds above the ground,
with the pressures of its Table 1806.2. They are written for buildings; what comes out is not an engineer's
certificate. A strainer with a stay or a brace is held above the ground, where they do not apply: its depth is a
published brace rule's.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows
from fencegis.strength.values import value_of

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

_LEAST_KN = 1e-9  # a pull below is none
_ROUNDS = 200  # the error shrinks to half or less in each


@dataclass(frozen=True)
class Soil:
    """A soil by the name a fencer uses.

    `lateral_kpa_m` is the sideways pressure it bears for each metre of depth, NaN where the code presumes none (bog),
    so that a depth worked out from a pull is NaN too; a strainer in it is never taken shallower than in
    `not_shallower_than`, where that is not empty. `line_rule`, `end_rule` and `brace_rule` are rows of `embedment.csv`
    for line posts, for posts at ends and corners that no wire pulls at, and for those of a brace.
    """

    name: str
    lateral_kpa_m: float
    not_shallower_than: str
    line_rule: str
    end_rule: str
    brace_rule: str


def soil_named(name: str) -> Soil:
    """Return a soil of `catalogue/soils.csv`. Raises ValueError, which names those there are, for any other."""
    for row in rows("soils"):
        if row["soil"] == name:
            rules = (row[column] for column in ("not_shallower_than", "line_rule", "end_rule", "brace_rule"))
            return Soil(name, float(row["lateral_kpa_m"] or "nan"), *rules)
    raise ValueError(f"soil {name!r} is none of {', '.join(row['soil'] for row in rows('soils'))}")


def diagonal_m(side_m: float) -> float:
    """Return the width that counts of a square post: its diagonal, as 1807.3.2.1 has it."""
    return float(np.sqrt(2.0)) * side_m


def bearing_length_m(
    pull_kn: npt.ArrayLike, *, at_depth_m: npt.ArrayLike, width_m: npt.ArrayLike, lateral_kpa_m: float
) -> Floats:
    """Return A = 2.34 P ÷ (S1 b) in m, S1 the pressure borne at a third of the depth (1807.3.2.1).

    Depth counts to 12 ft at most; `width_m` is a round post's diameter or a square one's diagonal.
    """
    third_kpa = lateral_kpa_m * _counted_m(at_depth_m) / 3.0
    pull = value_of("footing", "pull factor") * np.asarray(pull_kn, dtype=float)
    return np.asarray(pull / (third_kpa * np.asarray(width_m, dtype=float)))


def depth_asked_m(
    pull_kn: npt.ArrayLike,
    *,
    at_depth_m: npt.ArrayLike,
    height_m: npt.ArrayLike,
    width_m: npt.ArrayLike,
    lateral_kpa_m: float,
) -> Floats:
    """Return what Eq. 18-1 asks for, A ÷ 2 × (1 + √(1 + 4.36 h ÷ A)) in m, with the pressures at a trial depth."""
    length = bearing_length_m(pull_kn, at_depth_m=at_depth_m, width_m=width_m, lateral_kpa_m=lateral_kpa_m)
    lever = value_of("footing", "lever factor") * np.asarray(height_m, dtype=float)
    return np.asarray((length + np.sqrt(length**2 + lever * length)) / 2.0)


def depth_m(
    pull_kn: npt.ArrayLike,
    *,
    height_m: npt.ArrayLike,
    width_m: npt.ArrayLike,
    lateral_kpa_m: float,
    held_at_ground: bool = False,
    isolated: bool = False,
) -> Floats:
    """Return the depth in m at which the ground holds a sideways pull at `height_m` above it.

    Eq. 18-1 of 1807.3.2.1, or with `held_at_ground` (a slab, nothing less) Eq. 18-3 of 1807.3.2.2; both ask for a
    pressure that depends on the depth, so they are worked over until the depth stands still. `isolated` doubles the
    pressure for poles that a little movement does not harm under short-term loads (1806.3.4).
    Raises ValueError when a width, a pressure or a pull makes no sense.
    """
    pull, height, width = (np.asarray(one, dtype=float) for one in np.broadcast_arrays(pull_kn, height_m, width_m))
    if (width <= 0.0).any() or lateral_kpa_m <= 0.0 or (height < 0.0).any() or (pull < 0.0).any():
        raise ValueError("a footing needs a width and a bearing soil, and a pull and its height not below zero")
    bears = lateral_kpa_m * (value_of("footing", "isolated pole") if isolated else 1.0)
    nothing = (pull < _LEAST_KN) | (held_at_ground & (height == 0.0))  # a slab takes a pull at the ground by itself
    load, lever_m = np.maximum(pull, _LEAST_KN), np.where(nothing, 1.0, height)

    def asked(trial: Floats) -> Floats:
        if held_at_ground:
            held = value_of("footing", "held factor")
            return np.asarray(np.sqrt(held * load * lever_m / (bears * _counted_m(trial) * width)))
        return depth_asked_m(load, at_depth_m=trial, height_m=lever_m, width_m=width, lateral_kpa_m=bears)

    return np.where(nothing, 0.0, _stands_still(asked, np.ones_like(pull)))


def brace_depth_m(soil: str) -> float:
    """Return how deep a published rule sets the posts of a brace: 3 ft, and 4 ft in sand (NRCS Ohio, August 2016).

    The rule asks for the 4 ft in deep soils as well, which only a hole dug on site can tell.
    Raises ValueError for a soil that is not in the catalogue.
    """
    rule = soil_named(soil).brace_rule
    return next(float(row["in_ground_m"]) for row in rows("embedment") if row["id"] == rule)


def unbraced_depth_m(
    pull_kn: npt.ArrayLike, *, height_m: float, width_m: float, soil: str, post_set: str = "driven"
) -> Floats:
    """Return the depth in m for a strainer that has neither stay nor brace: the code's, or the brace rule's if more.

    Ground about a bored or dug post is not undisturbed and bears less. In sand never less than in loam: the code's
    table rates clean sand above clay, a brace rule sets posts deeper in it, and the deeper of the two is taken.
    """
    own = soil_named(soil)
    named = [own, *([soil_named(own.not_shallower_than)] if own.not_shallower_than else [])]
    share = value_of("footing", post_set)
    depths = [
        depth_m(pull_kn, height_m=height_m, width_m=width_m, lateral_kpa_m=share * one.lateral_kpa_m) for one in named
    ]
    return np.asarray(np.maximum(np.maximum.reduce(depths), brace_depth_m(soil)))


def ratio_band(kind: str) -> tuple[float, float]:
    """Return the least and greatest share in the ground that agencies print, for a kind of `catalogue/embedment.csv`.

    Kinds are `line`, `strainer` and `sand or bog`. A depth outside is a reason to look twice, not a fault.
    """
    shares = [float(row["in_ground_m"]) / float(row["post_m"]) for row in rows("embedment") if row["kind"] == kind]
    return min(shares), max(shares)


def _counted_m(depth: npt.ArrayLike) -> Floats:
    return np.asarray(np.minimum(np.asarray(depth, dtype=float), value_of("footing", "pressure depth")))


def _stands_still(asked: Callable[[Floats], Floats], trial: Floats) -> Floats:
    """Return where a trial depth asks for itself.

    What is asked falls with the trial, so their geometric mean closes in from either side.
    """
    for _ in range(_ROUNDS):
        before, trial = trial, np.sqrt(trial * asked(trial))
        if np.allclose(trial, before, rtol=1e-12, atol=0.0, equal_nan=True):
            break
    return trial

"""What strained wires do: sag, stretch, the rise of tension in cold, its loss along bends, and their pull on posts.

Turns in degrees whatever way they go, tensions and pulls in kN, diameters in mm. What steel is like, and how it rubs,
stands in `catalogue/wire.csv`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.hanging import sag
from fencegis.strength.values import value_of

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

GRAVITY_M_S2 = 9.80665  # the standard value


def resultant_kn(turn_deg: npt.ArrayLike, *, wires: int, tension_kn: float) -> Floats:
    """Return the pull of `wires` that turn by `turn_deg` at a post: 2 T sin(turn ÷ 2), whatever way they turn.

    In plan it is the sideways pull at a bend, in profile the lift in a dip (statics: the sum of two equal forces).
    """
    turn = np.radians(np.abs(np.asarray(turn_deg, dtype=float)))
    return np.asarray(2.0 * wires * tension_kn * np.sin(turn / 2.0))


def lift_kn(
    grade_before_pct: npt.ArrayLike, grade_after_pct: npt.ArrayLike, *, wires: int, tension_kn: float
) -> Floats:
    """Return the lift of the wires at a change of grade, 0 on a crest; NaN where a grade is unknown.

    Grades are uphill positive in walking direction: lift where the wire rises more after the post than before it.
    """
    before, after = (np.asarray(grade, dtype=float) / 100.0 for grade in (grade_before_pct, grade_after_pct))
    return lift_of_turn_kn(np.degrees(np.arctan(after) - np.arctan(before)), wires=wires, tension_kn=tension_kn)


def lift_of_turn_kn(turn_deg: npt.ArrayLike, *, wires: int, tension_kn: float) -> Floats:
    """Return the lift at a change of direction in profile, a dip positive: none on a crest, NaN where unknown."""
    turn = np.asarray(turn_deg, dtype=float)
    return resultant_kn(np.maximum(turn, 0.0), wires=wires, tension_kn=tension_kn)  # a NaN stays one


def mass_kg_km(diameter_mm: float, *, density_kg_m3: float | None = None) -> float:
    """Return the mass of a kilometre of round wire in kg, steel alone unless a density is given: zinc adds to it."""
    density = value_of("wire", "density") if density_kg_m3 is None else density_kg_m3
    return _area_m2(diameter_mm) * density * 1000.0


def bay_sag_m(bay_m: float, *, diameter_mm: float, tension_kn: float) -> float:
    """Return how far a wire hangs below its chord in the middle of a bay, in m, under its own weight.

    Raises ValueError when the tension is not positive.
    """
    load_n_m = mass_kg_km(diameter_mm) / 1000.0 * GRAVITY_M_S2
    return sag(bay_m, load_n_m=load_n_m, tension_n=tension_kn * 1000.0)


def stretch_m(
    length_m: npt.ArrayLike, *, diameter_mm: float, tension_kn: float, modulus_gpa: float | None = None
) -> Floats:
    """Return how much longer a wire gets under tension, F L ÷ (A E), in m: the travel of the puller.

    The modulus is steel's unless given. Holds while the wire is elastic (Hooke's law).
    """
    return np.asarray(length_m, dtype=float) * tension_kn / _stiffness_kn(diameter_mm, modulus_gpa)


def cold_rise_kn(
    colder_k: npt.ArrayLike,
    *,
    diameter_mm: float,
    modulus_gpa: float | None = None,
    expansion_per_k: float | None = None,
) -> Floats:
    """Return the rise of tension in one wire held at both ends when it gets colder by `colder_k`: E A α ΔT, in kN.

    Warmer is negative. Posts that give and springs in the wire leave less, so this is the most that can come.
    """
    expansion = value_of("wire", "expansion") if expansion_per_k is None else expansion_per_k
    return np.asarray(colder_k, dtype=float) * expansion * _stiffness_kn(diameter_mm, modulus_gpa)


def tension_after(
    turns_deg: npt.ArrayLike, *, tension_kn: float, friction: float | None = None
) -> npt.NDArray[np.float64]:
    """Return the tension in a wire after each of the turns (n,) it is drawn past, in kN, in the order given.

    Friction at a post takes T (1 − e^−μθ) (the capstan equation of Euler and Eytelwein); turns in plan and in profile
    count alike, whatever way they go. Friction is that of `catalogue/wire.csv` unless given.
    """
    turned = np.cumsum(np.abs(np.atleast_1d(np.asarray(turns_deg, dtype=float))))
    return np.asarray(tension_kn * np.exp(-_friction(friction) * np.radians(turned)))


def greatest_turning_deg(*, kept: float | None = None, friction: float | None = None) -> float:
    """Return the most that a strain may turn in all, so that its far end keeps the share `kept` of the tension.

    It limits a strain as its length does: sum up the sizes of all turns in plan, in profile and from post to post.
    Raises ValueError when the share is not above 0 and at most 1, or the friction is not above 0.
    """
    share, rubs = value_of("wire", "kept tension") if kept is None else kept, _friction(friction)
    if not 0.0 < share <= 1.0:
        raise ValueError(f"the share of tension kept is above 0 and at most 1, not {share}")
    if rubs <= 0.0:
        raise ValueError("without friction no turning limits a strain")
    return float(np.degrees(-np.log(share) / rubs))


def post_turn_deg(bay_m: npt.ArrayLike, *, off_m: float | None = None) -> Floats:
    """Return the turn at a line post when posts stand off the string by `off_m`, one to the left, the next right.

    The worst order that posts can be off in; so a long straight strain turns too, a little at every post.
    """
    off = value_of("wire", "off string") if off_m is None else off_m
    return np.asarray(2.0 * np.degrees(np.arctan(2.0 * off / np.asarray(bay_m, dtype=float))))


def mean_post_turn_deg(bay_m: npt.ArrayLike, *, off_m: float | None = None) -> Floats:
    """Return the turn to count at each of many line posts that stand anywhere up to `off_m` off the string.

    Three posts off by u, v and w turn the wire by (u − 2 v + w) ÷ bay, whose mean size is 7⁄6 off ÷ bay when each is
    off by any distance alike (u + w makes a triangle, 2 v a rectangle of the same base). Over the dozens of posts of a
    strain the sum comes close to the mean; the worst order, 24⁄7 of it, would forbid strains that agencies print.
    """
    off = value_of("wire", "off string") if off_m is None else off_m
    return np.asarray(np.degrees(7.0 / 6.0 * off / np.asarray(bay_m, dtype=float)))


@dataclass(frozen=True)
class Stay:
    """Force in a stay: along it, its level and upright parts in kN, and its slope above the ground in degrees."""

    along_kn: float
    level_kn: float
    upright_kn: float
    slope_deg: float


def stay_force(pulls_kn: npt.ArrayLike, *, heights_m: npt.ArrayLike, stay_height_m: float, lead_m: float) -> Stay:
    """Return the force in a stay that alone keeps a post upright, by moments about the post at the ground.

    Level pulls act at `heights_m`; the stay meets the post at `stay_height_m` and the ground `lead_m` away. The
    upright part presses a stay of timber into its foot and lifts the post, a wire's the other way about.
    Raises ValueError when the stay has no height or no lead.
    """
    if stay_height_m <= 0.0 or lead_m <= 0.0:
        raise ValueError("a stay needs a height on the post and a lead along the ground, both above zero")
    moment = float(np.sum(np.asarray(pulls_kn, dtype=float) * np.asarray(heights_m, dtype=float)))
    level = moment / stay_height_m
    slope = np.arctan2(stay_height_m, lead_m)
    return Stay(
        along_kn=float(level / np.cos(slope)),
        level_kn=level,
        upright_kn=float(level * np.tan(slope)),
        slope_deg=float(np.degrees(slope)),
    )


def _area_m2(diameter_mm: float) -> float:
    return float(np.pi) / 4.0 * (diameter_mm / 1000.0) ** 2


def _stiffness_kn(diameter_mm: float, modulus_gpa: float | None) -> float:
    modulus = value_of("wire", "modulus") if modulus_gpa is None else modulus_gpa
    return modulus * 1e6 * _area_m2(diameter_mm)  # GPa are 10^6 kN for each square metre


def _friction(given: float | None) -> float:
    return value_of("wire", "friction") if given is None else given

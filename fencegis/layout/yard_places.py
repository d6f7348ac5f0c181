"""Places on the line and sticks in the yard: what each stick would be at each place, and who stands beside whom."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Whole = npt.NDArray[np.intp]
    Flags = npt.NDArray[np.bool_]

NONE = -1
EQUAL_MM = 1e-6


@dataclass(frozen=True, eq=False)
class Yard:
    """Places in walking order, and what each stick would be there.

    `chain` (n,) is the line of each place, `closed` which chains are loops; `strong` (n,) marks ends, corners, gates
    and junctions; `face_mm` (n, m) is the diameter at the ground of each stick at each place, `fits` (n, m) whether it
    may stand there; `settled` (n,) is the stick that stands there already, -1 where none does: it stays, fit or not.
    """

    chain: Whole
    closed: Flags
    strong: Flags
    least_mm: Floats
    face_mm: Floats
    fits: Flags
    settled: Whole
    planned: Whole | None = None  # (n,) the stick that a plan had there; another is worth `carry_mm` of steps
    carry_mm: float = 0.0

    def moved_mm(self, places: Whole | int, sticks: Whole) -> Floats:
        """Return what it counts as that a stick stands at a place that the plan did not have it at."""
        if self.planned is None:
            return np.zeros(np.broadcast_shapes(np.shape(places), np.shape(sticks)))
        return np.where(self.planned[places] == sticks, 0.0, self.carry_mm)

    @property
    def free_places(self) -> Whole:
        """Places where no stick stands yet."""
        return np.flatnonzero(self.settled == NONE)

    @property
    def usable(self) -> Whole:
        """Sticks that stand already or may stand somewhere; the others are put aside."""
        return np.union1d(np.flatnonzero(self.fits.any(axis=0)), self.settled[self.settled != NONE])

    @property
    def free_sticks(self) -> Whole:
        """Sticks that stand nowhere yet."""
        return np.setdiff1d(np.arange(self.face_mm.shape[1]), self.settled)


def steps_of(yard: Yard, stick: Whole) -> tuple[float, float]:
    """Return the sum of the steps in face width between neighbours, and the worst of them."""
    steps = np.array([step for _, _, step in step_list(yard, stick)])
    return (float(steps.sum()), float(steps.max())) if len(steps) else (0.0, 0.0)


def step_list(yard: Yard, stick: Whole) -> list[tuple[int, int, float]]:
    """Return (place, next place, step in mm) for all neighbours; a place without a stick is passed over."""
    _, after = neighbours(yard, stick != NONE)
    here = np.flatnonzero(after != NONE)
    face = faces(yard, stick)
    return [(int(one), int(after[one]), float(abs(face[one] - face[after[one]]))) for one in here]


def neighbours(yard: Yard, filled: Flags) -> tuple[Whole, Whole]:
    """Return the place before and after each (n,), -1 at an open end and where no stick stands."""
    before, after = np.full((2, len(filled)), NONE)
    for number, closed in enumerate(yard.closed):
        places = np.flatnonzero((yard.chain == number) & filled)
        after[places[:-1]], before[places[1:]] = places[1:], places[:-1]
        if closed and len(places) > 2:
            after[places[-1]], before[places[0]] = places[0], places[-1]
    return before, after


def faces(yard: Yard, stick: Whole) -> Floats:
    """Return the face width (n,) of the stick at each place, NaN where none stands."""
    return np.where(stick == NONE, np.nan, yard.face_mm[np.arange(len(stick)), stick])

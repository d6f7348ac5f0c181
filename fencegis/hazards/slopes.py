"""How the ground lies under the machine along a line, and how grave each place is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING, Literal

import numpy as np

from fencegis.hazards.plane import lie_beside, slope_error, square_m
from fencegis.hazards.slope_limits import side_value

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.hazards.found import Floats, Ground, Places
    from fencegis.hazards.plane import Lie
    from fencegis.hazards.slope_limits import Limits
    from fencegis.line.chainage import Line

Side = Literal["left", "right"]


class Band(IntEnum):
    """How grave a place is: flagged is graver than unknown, that graver than not flagged."""

    UNFLAGGED = 0
    UNKNOWN = 1
    LEVEL = 2
    TIP = 3


@dataclass(frozen=True, eq=False)
class Slopes:
    """(sides, n) degrees: fall across, positive to the right; grade along, uphill positive; the steepest of the ground.

    `sigma_deg` is one standard error of the fall, `tips_deg` the slope on which the machine, along the line, would tip
    the way the ground lies, `band` what a place is, `cannot_plumb` whether the mast's tilt falls short there.
    `chainage_m` and `run` are (n,).
    """

    sides: tuple[Side, ...]
    chainage_m: Floats
    run: Places
    fall_deg: Floats
    sigma_deg: Floats
    along_deg: Floats
    steepest_deg: Floats
    tips_deg: Floats
    band: npt.NDArray[np.int_]
    cannot_plumb: npt.NDArray[np.bool_]

    @property
    def flagged_m(self) -> dict[Side, float]:
        """Metres of line flagged by side: between two places the graver counts."""
        length_m = np.diff(self.chainage_m)
        flagged = np.maximum(self.band[:, :-1], self.band[:, 1:]) >= Band.LEVEL
        return dict(zip(self.sides, (flagged * length_m).sum(axis=1).tolist(), strict=True))


def slopes_beside(line: Line, *, ground: Ground, error_m: float, limits: Limits) -> Slopes:
    """Return the lie of the ground on each side that the machine works on; `error_m` is of one height of the raster."""
    only = limits.machine.work_side
    sides: tuple[Side, ...] = ("left", "right") if only == "both" else (only,)
    off_m = side_value("stand off")
    at_m = square_m(side_value("window"), side_value("spacing"))
    beside_m = [off_m if side == "right" else -off_m for side in sides]
    lie = lie_beside(line, ground=ground, at_m=at_m, beside_m=beside_m)
    return graded(sides, lie, error=slope_error(at_m, alike_m=side_value("alike")), error_m=error_m, limits=limits)


def graded(sides: tuple[Side, ...], lie: Lie, *, error: float, error_m: float, limits: Limits) -> Slopes:
    """Return the planes in degrees with what they are; `error` is a slope's for each metre of error of the heights.

    Where the ground stands off its plane by more than the raster's error, that counts as the error.
    """
    ahead, right, misfit_m = (
        np.stack([getattr(plane, name) for plane in lie.planes]) for name in ("ahead", "right", "misfit_m")
    )
    steepest, error_of_slope = np.hypot(ahead, right), error * np.maximum(error_m, misfit_m)
    fall_deg, steepest_deg, along_deg = (np.degrees(np.arctan(slope)) for slope in (-right, steepest, ahead))
    sigma_deg, steepest_sigma_deg = (np.degrees(error_of_slope / (1.0 + slope**2)) for slope in (right, steepest))
    tips_deg = limits.tips_deg(ahead=ahead, right=right)
    may_fall_deg = np.abs(fall_deg) + side_value("sigmas") * sigma_deg
    may_be_deg = steepest_deg + side_value("sigmas") * steepest_sigma_deg
    band = np.full(fall_deg.shape, int(Band.UNFLAGGED))
    band[(may_fall_deg >= limits.level_deg) | (may_be_deg >= limits.share * tips_deg)] = Band.LEVEL
    band[(may_fall_deg >= limits.first_tip_deg) | (may_be_deg >= tips_deg)] = Band.TIP
    band[np.isnan(fall_deg)] = Band.UNKNOWN
    beyond = limits.cannot_plumb(along_deg=along_deg, fall_deg=fall_deg)
    return Slopes(sides, lie.chainage_m, lie.run, fall_deg, sigma_deg, along_deg, steepest_deg, tips_deg, band, beyond)

"""At which fall across it a machine is flagged, and what of it is known to work that out."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows
from fencegis.hazards.machine import machine_of
from fencegis.hazards.tipping import Support, Weight, first_tip_deg, front_share, tip_deg, together, worst_tip

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.hazards.machine import Machine
    from fencegis.records.spec import Spec

    Floats = npt.NDArray[np.float64]

_STANDS_ON = ("track_m", "wheelbase_m", "pivot_m")
_BARE = ("mass_kg", "ahead_m", "height_m")
_DRIVER = ("driver_kg", "driver_ahead_m", "driver_height_m")
TIPS = _STANDS_ON + _BARE + _DRIVER


def side_value(item: str) -> float:
    """Return a number of `catalogue/side_slope.csv`."""
    (row,) = (row for row in rows("side_slope") if row["item"] == item)
    return float(row["value"])


@dataclass(frozen=True, eq=False)
class Limits:
    """The machine with what it is flagged by. `weight` and `support` are None when not all of its numbers are known."""

    machine: Machine
    share: float  # of a static tip angle at which the ground is flagged
    square: bool  # posts stand square to the ground along the line: nothing to plumb that way
    weight: Weight | None
    support: Support | None

    @cached_property
    def lacking(self) -> tuple[str, ...]:
        """The numbers that nobody gave and that no row has, by their names in `site.toml`."""
        return tuple(name for name in TIPS if getattr(self.machine, name) is None)

    @cached_property
    def level_deg(self) -> float:
        """The fall across that is flagged: the common level, or the share of the first tip angle where that is less."""
        return min(side_value("level"), self.share * self.first_tip_deg) if self.weight else side_value("level")

    @cached_property
    def first_tip_deg(self) -> float:
        """Static first tip angle on a fall square to the machine, NaN when it cannot be worked out."""
        return first_tip_deg(self.weight, self.support) if self.weight and self.support else math.nan

    @cached_property
    def worst_tip_deg(self) -> float:
        """The least slope that tips it whichever way it stands, NaN when it cannot be worked out."""
        return worst_tip(self.weight, self.support)[0] if self.weight and self.support else math.nan

    @cached_property
    def front_pct(self) -> float:
        """Share of the weight on the front axle on level ground, NaN when it cannot be worked out."""
        if self.weight is None or self.support is None:
            return math.nan
        return 100.0 * front_share(self.weight, wheelbase_m=self.support.wheelbase_m)

    @cached_property
    def own(self) -> bool:
        """Whether every number that tips the machine is the site's own."""
        return not self.lacking and not set(TIPS) & set(self.machine.assumed)

    def tips_deg(self, *, ahead: Floats, right: Floats) -> Floats:
        """Return the slope that tips a machine along the line, on ground that rises so.

        The least of its two headings, and of a post driver shifted to either side.
        In degrees; infinite when it cannot be worked out, NaN where the ground is unknown.
        """
        if self.weight is None or self.support is None:
            return np.where(np.isnan(ahead + right), np.nan, np.inf)
        downhill = np.degrees(np.arctan2(-right, -ahead)).ravel()
        ways = np.stack([downhill, downhill + 180.0, -downhill, 180.0 - downhill])
        least = tip_deg(self.weight, self.support, downhill_deg=ways.ravel()).reshape(ways.shape).min(axis=0)
        return np.where(np.isnan(ahead + right), np.nan, least.reshape(ahead.shape))

    def cannot_plumb(self, *, along_deg: Floats, fall_deg: Floats) -> npt.NDArray[np.bool_]:
        """Return where the ground is beyond the mast's own tilt, sideways or along the line; false where not given."""
        beyond = np.zeros(fall_deg.shape, dtype=bool)
        if self.machine.tilt_side_deg is not None:
            beyond |= np.abs(fall_deg) > self.machine.tilt_side_deg
        if self.machine.tilt_fore_deg is not None and not self.square:
            beyond |= np.abs(along_deg) > self.machine.tilt_fore_deg
        return beyond


def limits_of(spec: Spec) -> Limits:
    """Return what the machine of the site is flagged by; InputError for a kind that the catalogue does not have.

    A post driver that shifts sideways is counted at the end of its shift.
    """
    machine = machine_of(spec)
    known = {name: getattr(machine, name) for name in TIPS}
    share = (50.0 if spec.machine is None else spec.machine.tip_pct) / 100.0
    square = spec.fence.posts_stand == "square"
    if None in known.values():
        return Limits(machine, share, square, None, None)
    bare = Weight(*(known[name] for name in _BARE))
    driver = replace(Weight(*(known[name] for name in _DRIVER)), aside_m=machine.side_shift_m or 0.0)
    return Limits(machine, share, square, together([bare, driver]), Support(*(known[name] for name in _STANDS_ON)))

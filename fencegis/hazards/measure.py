"""Every stretch of a line whose envelope comes too near to something overhead, and how near."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fencegis.hazards.envelope import AS_GIVEN, Allowance, Envelope, Overhead
from fencegis.hazards.near import Legs, joined
from fencegis.hazards.sweep import Sweep, least, part, reached, swept, too_near

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fencegis.hazards.found import Floats, Ground, Stretch

_BLOCK_M = 200.0  # the sweep is laid out block by block: memory does not grow with the line
_FAR_M = 1000.0
LOOK_M = 30.0  # nothing is told of what would hang further off than this


@dataclass(frozen=True, eq=False)
class Target:
    """Something overhead and what is asked at it.

    `may_be` is measured with the allowances `off` and makes the flag, `given` is as the data has it; None where a
    height is unknown: then everything within `required_m` and `off` in plan is flagged and the distance left empty.
    `required_m` is None where the line's owner has to set it: everything within `search_m` and `off` in plan is
    flagged. `swing_m` is the most that wind moves any of it sideways. `as_if` is it at heights that nobody gave: what
    comes of it is told and changes no flag.
    """

    shape: shapely.Geometry
    may_be: Overhead | None
    given: Overhead | None
    off: Allowance
    required_m: float | None
    search_m: float
    swing_m: float = 0.0
    as_if: Overhead | None = None

    @property
    def sideways_m(self) -> float:
        """The most that is taken off in plan anywhere."""
        return self.off.plan_m + (self.swing_m if self.off.swings else 0.0)

    @property
    def near_m(self) -> float:
        """The plan distance from the envelope beyond which nothing is flagged."""
        return self.sideways_m + (self.search_m if self.required_m is None else self.required_m)

    def plan_m(self, reach_m: float) -> float:
        """Return the plan distance from the line beyond which nothing is flagged."""
        return reach_m + self.near_m


@dataclass(frozen=True)
class Flag:
    """A flagged stretch, the least distance over it after allowances and as given, and where that is.

    `as_if_m` is what the distance after allowances would be at heights that nobody gave; infinite where it is more
    than was looked for, NaN where nothing was reckoned.
    """

    stretch: Stretch
    after_m: float = np.nan
    given_m: float = np.nan
    at_m: float = np.nan
    as_if_m: float = np.nan


@dataclass(frozen=True)
class Measured:
    """What was found of one target along one line. `unknown` are stretches near it without ground heights."""

    flags: list[Flag] = field(default_factory=list)
    unknown: list[Stretch] = field(default_factory=list)


def measured(legs: Legs, targets: Sequence[Target], *, envelope: Envelope, ground: Ground) -> dict[int, Measured]:
    """Return what was found, by the place in `targets`, of all that come near the line at all."""
    plan_m = np.array([target.plan_m(envelope.reach_m) for target in targets])
    near = {
        place: legs.within(targets[place].shape, distance_m=float(plan_m[place]))
        for place in legs.passing([target.shape for target in targets], within_m=plan_m)
    }
    swept_over = joined(
        [one for place, found in near.items() if _is_swept(targets[place]) for one in found],
        length_m=legs.line.length_m,
    )
    found = {place: Measured() for place in near}
    for block in _blocks(swept_over):
        sweep = swept(legs.line, block, envelope=envelope, ground=ground)
        for place, stretches in near.items():
            for stretch in _shared(stretches, block):
                _measure(part(sweep, stretch), targets[place], found[place], ground=ground)
    for place, stretches in near.items():
        if targets[place].may_be is None:
            found[place].flags.extend(Flag(stretch) for stretch in stretches)
    return {place: _whole(one, length_m=legs.line.length_m) for place, one in found.items()}


def _is_swept(target: Target) -> bool:
    return target.may_be is not None or target.as_if is not None


def _measure(sweep: Sweep, target: Target, found: Measured, *, ground: Ground) -> None:
    """Add what one stretch shows of one target."""
    if target.may_be is None:
        if target.as_if is not None:
            found.flags.append(_as_if(sweep, target, target.as_if, ground=ground))
        return
    missing = sweep.points[np.isnan(sweep.ground_m)]
    if len(missing):
        missing = missing[shapely.distance(shapely.points(missing), target.shape) <= target.near_m]
        found.unknown.extend(reached(sweep, missing))
    if target.required_m is None:
        found.flags.append(_flag(sweep, target, _FAR_M, ground=ground))
        return
    for stretch in too_near(sweep, target.may_be, off=target.off, required_m=target.required_m, ground=ground):
        found.flags.append(_flag(part(sweep, stretch), target, target.required_m, ground=ground))


def _flag(sweep: Sweep, target: Target, below_m: float, *, ground: Ground) -> Flag:
    assert target.may_be is not None  # noqa: S101
    after_m, at_m = least(sweep, target.may_be, off=target.off, below_m=below_m + 0.5, ground=ground)
    if target.given is None:
        return Flag(sweep.stretch, _known(after_m), at_m=at_m)
    # The same thing is no further than this: all that there is to add is what was taken off.
    most_m = float(np.hypot(after_m + target.sideways_m, after_m + target.off.height_m))
    look_m = min(most_m, _FAR_M) if target.given is target.may_be else _FAR_M
    given_m, given_at_m = least(sweep, target.given, off=AS_GIVEN, below_m=look_m + 0.5, ground=ground)
    return Flag(sweep.stretch, _known(after_m), _known(given_m), given_at_m if np.isfinite(given_m) else at_m)


def _as_if(sweep: Sweep, target: Target, overhead: Overhead, *, ground: Ground) -> Flag:
    """Return what would be left at heights that nobody gave; the stretch is flagged whatever that is."""
    if np.isnan(sweep.ground_m).any():
        return Flag(sweep.stretch)
    as_if_m, _ = least(sweep, overhead, off=target.off, below_m=LOOK_M, ground=ground)
    return Flag(sweep.stretch, as_if_m=as_if_m)


def _known(distance_m: float) -> float:
    return distance_m if np.isfinite(distance_m) else np.nan


def _blocks(stretches: Sequence[Stretch]) -> Iterator[Stretch]:
    for start, end in stretches:
        edges: Floats = np.linspace(start, end, int(np.ceil((end - start) / _BLOCK_M)) + 1)
        yield from zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True)


def _shared(stretches: Sequence[Stretch], block: Stretch) -> Iterator[Stretch]:
    for start, end in stretches:
        if min(end, block[1]) - max(start, block[0]) > 1e-6:
            yield max(start, block[0]), min(end, block[1])


def _whole(found: Measured, *, length_m: float) -> Measured:
    """Join what the blocks cut: the least of the pieces counts."""
    flags = []
    for stretch in joined([flag.stretch for flag in found.flags], length_m=length_m):
        pieces = [one for one in found.flags if stretch[0] < sum(one.stretch) / 2.0 < stretch[1]]
        best = min(pieces, key=lambda one: np.nan_to_num([one.after_m, one.given_m], nan=np.inf).tolist())
        given_m, as_if_m = np.fmin.reduce([(one.given_m, one.as_if_m) for one in pieces]).tolist()
        flags.append(Flag(stretch, best.after_m, given_m, best.at_m, as_if_m))
    return Measured(flags, joined(found.unknown, length_m=length_m))

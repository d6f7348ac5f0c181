"""Where the work ends on either side of a crossing, and where no strainer and no post is to stand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.hazards.found import Ban
from fencegis.hazards.near import LEAST_M, joined
from fencegis.hazards.treatment import distance

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.hazards.crossing_fit import Crossing
    from fencegis.hazards.found import Stretch
    from fencegis.line.chainage import Line
    from fencegis.line.course import Course

WHY = "crossing"
_HAIR_M = 0.02  # a ban stops this short of the end assembly itself


def stretches_on(line: Line, stretch: Stretch) -> list[Stretch]:
    """Return a stretch as it lies on the line, from 0 to its length: in two where it runs over a loop's start."""
    low, high = stretch
    if not line.closed:
        return joined([(max(low, 0.0), min(high, line.length_m))], length_m=line.length_m)
    if high - low >= line.length_m - LEAST_M:
        return [(0.0, line.length_m)]
    turn = line.length_m * (low // line.length_m)
    low, high = low - turn, high - turn
    parts = [(low, high)] if high <= line.length_m else [(low, line.length_m), (0.0, high - line.length_m)]
    return joined(parts, length_m=line.length_m)


def set_back_m(crossing: Crossing) -> float:
    """Return how far back from each bank an end assembly stands, along the line."""
    return distance("set_back_m") * crossing.stretching


def ends_of(crossing: Crossing, course: Course, *, bay_m: float) -> tuple[float, ...]:
    """Return the chainages of the end assemblies of a crossing, lower bank first; none where the line ends before it.

    A corner, a node or the line's end within half a bay of the place and not in the crossing is taken instead: a
    strainer stands there anyway.
    """
    if not crossing.treatment.own_ends:
        return ()
    line, back_m = crossing.line, set_back_m(crossing)
    anyway = [*course.corner_m.tolist(), *course.nodes, *(() if line.closed else (0.0, line.length_m))]
    turns = (0.0, line.length_m, -line.length_m) if line.closed else (0.0,)
    found = []
    for bank, side in ((crossing.from_bank, -1), (crossing.to_bank, 1)):
        place = bank.at_m + side * back_m
        near = [at + turn for at in anyway for turn in turns]
        near = [at for at in near if (at - bank.at_m) * side >= 0.0 and abs(at - place) <= bay_m / 2.0]
        place = min(near, key=lambda at: abs(at - place), default=place)
        if bank.why == "line ends" or not (line.closed or 0.0 <= place <= line.length_m):
            continue
        found.append(place % line.length_m if line.closed else place)
    return tuple(found)


def bans_of(crossing: Crossing) -> list[Ban]:
    """Return where no post and no strainer is to stand: between the banks, and no strainer short of the set-back.

    Where the banks are not known, only strainers are kept off.
    """
    line, (low, high) = crossing.line, crossing.stretch
    back_m = set_back_m(crossing) - _HAIR_M
    wide = stretches_on(line, (low - back_m, high + back_m) if crossing.shown else (low, high))
    bed = stretches_on(line, (low, high)) if crossing.shown else []
    return [*_bans(line, wide, "strainers"), *_bans(line, bed, "posts")]


def _bans(line: Line, stretches: Sequence[Stretch], of: str) -> list[Ban]:
    return [Ban(line.line_id, one, WHY, of="posts" if of == "posts" else "strainers") for one in stretches]

"""Strains: strainers put in where one would be too long or turn too much, and what each strain comes to."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.standing import BESIDE, ONE_POST_M, Chain, Stop, Strain, banned_by, is_opening
from fencegis.layout.strain_chain import A_HAIR_DEG, candidates_m, chain_cost, cheapest_chain, costs_of
from fencegis.line.counting import A_MILLIMETRE, equal_parts

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt

    from fencegis.layout.standing import Standing, Way
    from fencegis.layout.strain_chain import Limits
    from fencegis.layout.turning import Turning
    from fencegis.line.course import Course

    Floats = npt.NDArray[np.float64]
    Stretch = tuple[float, float]

BENT = ("bend", "arc's end")  # a post has to stand there, whatever strains
WELCOME = ("crest", *BENT)  # where a stout post stands anyway; in a dip the wires lift a strainer as well


def share_strains(
    standing: Standing,
    course: Course,
    ways: Sequence[Way],
    *,
    limits: Limits,
    turning: Turning,
    bay_m: float,
    forbidden: Mapping[str, Sequence[Stretch]],
) -> tuple[Chain, ...]:
    """Put the cheapest chain of strainers wherever two would be too far apart, and return what speaks for each."""
    chains, stout = [], _stout_posts(standing, course)
    for strain in strains_between(standing, course, ways, turning=turning):
        if strain.length_m <= limits.length_m + A_MILLIMETRE and strain.turned_deg <= limits.turning_deg + A_HAIR_DEG:
            continue
        station, chainage = _candidates(strain, course, stout, limits=limits, bay_m=bay_m)
        on, banned, turned = _on(chainage, stout), banned_by(chainage, forbidden), turning.up_to(chainage)
        found = cheapest_chain(
            station,
            limits=limits,
            costs=costs_of("strain"),
            turned=turned,
            welcome=np.isin(on, WELCOME),
            forbidden=banned != "",
        )
        ends = [0, *found, len(station) - 1]
        stood = []
        for before, here, after in zip(ends[:-2], found, ends[2:], strict=True):
            reasons = ["length"] if station[after] - station[before] > limits.length_m + A_MILLIMETRE else []
            if turned.between(before, after) > limits.turning_deg + A_HAIR_DEG:
                reasons.append("turning")
            stood.append(standing.between(float(chainage[here]), reasons or ["length"], within=BESIDE * bay_m))
        if found:
            chains.append(_chain(strain, stood, course, station[ends], limits, turning, stout, forbidden))
    return tuple(chains)


def strains_between(
    standing: Standing, course: Course, ways: Sequence[Way], *, turning: Turning
) -> tuple[Strain, ...]:
    """Return the strains between the strainers as they stand, ways through the fence left out."""
    ends = standing.strainers()
    if course.line.closed:
        ends.append(course.line.length_m)
    along, turned = course.grades.along_ground(ends), turning.up_to(np.array(ends))
    return tuple(
        Strain(begin, end, float(along[place + 1] - along[place]), turned.between(place, place + 1))
        for place, (begin, end) in enumerate(pairwise(ends))
        if not is_opening(begin, end, ways)
    )


def _stout_posts(standing: Standing, course: Course) -> dict[float, str]:
    """Return the key posts by chainage, and what each stands on."""
    change = np.nan_to_num(course.grades.change_pct)
    on = {post: "dip" if change[joint] > 0.0 else "crest" for post, joint in standing.joint.items()}
    for post in standing.why:
        for what, places in zip(BENT, (course.corner_m, course.tangent_m), strict=True):
            if (np.abs(places - post) < ONE_POST_M).any():
                on[post] = what
    return {post: on[post] for post, reasons in standing.why.items() if not reasons and post in on}


def _candidates(
    strain: Strain, course: Course, stout: Mapping[float, str], *, limits: Limits, bay_m: float
) -> tuple[Floats, Floats]:
    """Return where strainers could stand, along the ground from the strain's begin and in chainage, ends included.

    None stands beside the post on a bend or at an arc's end, only on it.
    """
    inside = np.array([post for post in stout if strain.from_m < post < strain.to_m])
    begin = float(course.grades.along_ground(strain.from_m))
    parts = equal_parts(strain.length_m, limits.length_m)
    if np.isfinite(limits.turning_deg):
        parts = max(parts, equal_parts(strain.turned_deg, limits.turning_deg))
    station = candidates_m(strain.length_m, parts=parts, also=course.grades.along_ground(inside) - begin)
    chainage = course.grades.chainage_at(begin + station)
    chainage[[0, -1]] = strain.from_m, strain.to_m
    keep = np.ones(len(station), dtype=bool)
    for post in inside:
        away = np.abs(chainage - post)
        chainage[away < ONE_POST_M] = post
        if stout[float(post)] in BENT:
            keep &= (away < ONE_POST_M) | (away > BESIDE * bay_m)
    keep[[0, -1]] = True
    return station[keep], chainage[keep]


def _on(chainage: Floats, stout: Mapping[float, str]) -> npt.NDArray[np.object_]:
    """Return for each chainage what a stout post stands on there, an empty text where there is none."""
    on = np.full(len(chainage), "", dtype=object)
    for post, what in stout.items():
        on[np.abs(chainage - post) < ONE_POST_M] = what
    return on


def _chain(
    strain: Strain,
    stood: Sequence[float],
    course: Course,
    station: Floats,
    limits: Limits,
    turning: Turning,
    stout: Mapping[float, str],
    forbidden: Mapping[str, Sequence[Stretch]],
) -> Chain:
    """Return a chain compared with one of as many equal strains.

    Its ends and stops are at `station` (n,) along the ground, the stops at `stood` (n−2,) in chainage.
    """
    begin = course.grades.along_ground(strain.from_m)
    even = np.linspace(0.0, strain.length_m, len(station))
    place = [course.grades.chainage_at(begin + stations) for stations in (station, even)]
    on, banned = [_on(one, stout) for one in place], [banned_by(one, forbidden) for one in place]
    turned = [turning.up_to(one) for one in place]
    cost = [
        chain_cost(
            stations,
            limits=limits,
            costs=costs_of("strain"),
            turned=turned[one],
            welcome=np.isin(on[one], WELCOME),
            forbidden=banned[one] != "",
        )
        for one, stations in enumerate((station, even))
    ]
    inner = (one[1:-1] for one in (place[1], station - even, on[0], banned[0], banned[1]))
    return Chain(
        strain,
        equal_parts(strain.length_m, limits.length_m),
        dearer=cost[1] - cost[0],
        even_turned_deg=float((turned[1].before_deg[1:] - turned[1].past_deg[:-1]).max()),
        stops=tuple(
            Stop(at, float(evenly), float(off), on=str(what), banned=str(ban), even_banned=str(even_ban))
            for at, evenly, off, what, ban, even_ban in zip(stood, *inner, strict=True)
        ),
    )

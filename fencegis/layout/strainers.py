"""Posts that stand before bays are shared out: strainers, and key posts on bends, on crests and in dips.

Strainers stand at ends, nodes, corners and gates, at changes of grade whose lift a line post does not hold, and where
a strain would get too long or turn too much. In post and rail the same places take the end, corner, junction and gate
posts; there is no strain to end, so neither grade nor length asks for one, but a corner may have two posts.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fencegis.layout.breaks import take_breaks
from fencegis.layout.required import required
from fencegis.layout.second_posts import add_second_posts
from fencegis.layout.standing import ONE_POST_M, Opening, Standing
from fencegis.layout.strain_chain import Limits
from fencegis.layout.strains import share_strains, strains_between
from fencegis.layout.turning import turning_along

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import numpy as np
    import numpy.typing as npt

    from fencegis.layout.gates import Gate
    from fencegis.layout.standing import Fixed, Way
    from fencegis.line.course import Course
    from fencegis.records.spec import Fence

    Floats = npt.NDArray[np.float64]
    Lift = Callable[[Floats], Floats]
    Stretch = tuple[float, float]

NOWHERE: Mapping[str, Sequence[Stretch]] = {}


def fixed_posts(
    course: Course,
    *,
    gates: Sequence[Gate],
    fence: Fence,
    bay_m: float,
    lift: Lift,
    forbidden: Mapping[str, Sequence[Stretch]] = NOWHERE,
    ends: Sequence[tuple[float, str]] = (),
    openings: Sequence[Stretch] = (),
    bend_rule: str | None = None,
    turning_deg: float = float("inf"),
    post_turn_deg: float = 0.0,
) -> Fixed:
    """Return the posts of one line that must stand where they stand.

    `gates` are those of this line; `bay_m` is the greatest bay; `lift` gives the wires' lift in kN for changes of
    direction in profile in degrees, dips positive; `forbidden` are, by what forbids it, stretches from and to in
    chainage where no strainer is put in while another place will do; `ends` are places where the work ends on an
    assembly of its own, as at the banks of a crossing, and why, `openings` the ways between two such, from and to;
    `bend_rule` is the rule set that says which corners take a strainer in wire, all of them without one. A loop's start
    always does. `turning_deg` is the greatest sum of turns in a strain, `post_turn_deg` what counts at each line post.
    """
    standing = Standing()
    for chainage, reason in [*required(course, gates, bend_rule=bend_rule), *ends]:
        standing.strainer(chainage, reason, within=ONE_POST_M)
    bent = [*course.corner_m, *course.tangent_m, *([0.0] if course.line.closed else [])]
    for chainage in bent:  # a post stands on each corner, where each arc begins and ends, and at a loop's start
        standing.key(float(chainage), within=ONE_POST_M)
    if course.kind != "wire":
        add_second_posts(standing, course, fence=fence)
        return standing.in_walking_order()
    ways: list[Way] = [*gates, *(Opening(*way) for way in openings)]
    take_breaks(standing, course, ways, post_set=fence.post_set, bay_m=bay_m, lift=lift)
    turning = turning_along(course, taken=standing.joint, bay_m=bay_m, post_turn_deg=post_turn_deg)
    limits = Limits(fence.strain_m, turning_deg)
    chains = share_strains(standing, course, ways, limits=limits, turning=turning, bay_m=bay_m, forbidden=forbidden)
    strains = strains_between(standing, course, ways, turning=turning)
    return replace(standing.in_walking_order(), strains=strains, chains=chains)

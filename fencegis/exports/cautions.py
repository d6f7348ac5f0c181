"""What every sheet and page says about its own limits, and what it says only where the plan gives cause.

General words of our own. Local law, codes, the owners of lines and services, and licensed people come first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

DESK_STUDY = "A desk study. It replaces no site inspection, survey, service location or safe work method."
NO_BOUNDARY = "A traced line fixes no boundary. Only a licensed surveyor marks one."


@dataclass(frozen=True)
class Caution:
    """A heading of a few words and a short paragraph."""

    about: str
    text: str


ALWAYS = (
    Caution("What this is", DESK_STUDY + " What is not listed here has not been shown to be absent."),
    Caution("Boundary", NO_BOUNDARY + " Marks found on site are not disturbed; the law on them differs by place."),
    Caution(
        "Buried services",
        "Ask the enquiry service and every owner before any post is driven or hole bored. Driven posts go as deep as "
        "a cable lies and give no warning. Private lines are on no plan: ask whoever lives there.",
    ),
    Caution(
        "Lifting",
        "Green posts can weigh more than a person should lift. Two people or a machine; the rule of the place decides.",
    ),
    Caution(
        "Treated timber",
        "Off-cuts are carted away and never burned. Dust mask and gloves when cutting; a cut end goes upward.",
    ),
    Caution(
        "Weather and working alone",
        "No cutting, grinding or driving in rock on a day of fire ban; off the wire when it thunders; somebody knows "
        "where you are and when you ring.",
    ),
)
OVERHEAD = Caution(
    "Overhead lines",
    "A drawn line is the middle of something wider that sags and swings. Ask its owner before the machine comes, "
    "whatever the numbers here say; the distance to keep is the owner's and the law's to give. Hand work, long rails, "
    "steel pickets and wire being run count as well, and so does the delivery truck under the entrance.",
)
OVERHEAD_UNKNOWN = Caution(
    "Overhead lines",
    "Look up along the whole line: data leaves out the small line to the house or pump. A line that is found is asked "
    "about with its owner before the machine comes.",
)
LIMBS = Caution(
    "Trees and limbs",
    "Hammering shakes dead limbs loose. Limbs are dealt with from outside their fall, by people who are trained "
    "for it, before the machine goes under them.",
)
SLOPE = Caution(
    "Side slope",
    "A driver carries its weight high, and a hole under the low wheel counts for more than the slope drawn here. "
    "Ground that is not flagged is not called fit to drive on. Seat belt with a roll-over frame.",
)
DRIVING = Caution(
    "Post driving",
    "Nobody holds a post under a hammer. Helpers stand outside the fall of hammer and post; one person gives the "
    "signals; the mast comes down to travel.",
)
BORING = Caution(
    "Open holes",
    "Bored and dug holes are covered or fenced whenever nobody is beside them, overnight too: stock and children.",
)
TENSION = Caution(
    "Wire under tension",
    "Wire that lets go cuts. Stand outside the bend and the line of pull; wire being strained flicks up and must have "
    "nothing overhead to touch.",
)
WATER = Caution(
    "Water",
    "A crossing rises without notice and takes panels with it. Nothing across a watercourse is permanent; permits are "
    "asked for first.",
)
ROAD = Caution("Road side", "Work beside a road may need the road owner's permit and traffic control.")
NO_GROUND = Caution(
    "Ground heights",
    "Where heights are missing, grades, side slopes and lengths along the ground are not checked: walk them.",
)


def cautions(plan: Plan) -> tuple[Caution, ...]:
    """Return the cautions of this plan, those that always hold first.

    Flagged or not checked both give cause; a layer found empty takes none away.
    """
    kinds = set(plan.hazards["kind"])
    methods = {"driven": DRIVING, "bored": BORING, "dug": BORING}
    wire = any(line.kind == "wire" for line in plan.site.drawn) or plan.site.spec.fence.kind == "wire"
    causes = (
        (OVERHEAD, bool(kinds & {"overhead power", "overhead phone"})),
        (OVERHEAD_UNKNOWN, not kinds & {"overhead power", "overhead phone"}),
        (LIMBS, "tree limb" in kinds or plan.site.trees is None or len(plan.site.trees) > 0),
        (SLOPE, True),
        (methods[plan.site.spec.fence.post_set], True),
        (TENSION, wire),
        (WATER, "crossing" in kinds),
        (ROAD, len(plan.gates) > 0),
        (NO_GROUND, plan.site.terrain is None or bool(plan.profile["fitted_m"].isna().any())),
    )
    return ALWAYS[:2] + tuple(caution for caution, cause in causes if cause) + ALWAYS[2:]

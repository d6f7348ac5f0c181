"""What every sheet and page says about its own limits, and what it says only where the plan gives cause.

Each caution says where it holds: by line and metres, or the whole fence, with a word for why: flagged, not checked,
or what the plan has there. General words of our own. Local law, codes, the owners of lines and services, and licensed
people come first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fencegis.exports.caution_places import (
    ALWAYS,
    FLAGGED,
    WHOLE_FENCE,
    Applies,
    by_kinds,
    by_setting,
    heaviest,
    lines_of_wire,
    of_gates,
    without_ground,
)

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

DESK_STUDY = "A desk study. It replaces no site inspection, survey, service location or safe work method."
NO_BOUNDARY = "A traced line fixes no boundary. Only a licensed surveyor marks one."


@dataclass(frozen=True)
class Caution:
    """A heading of a few words, a short paragraph, and where it holds."""

    about: str
    text: str
    applies: tuple[Applies, ...] = ()

    @property
    def where(self) -> str:
        """Where it holds, each place with its status; empty when nowhere in particular."""
        return "; ".join(place.words() for place in self.applies)


WHAT_THIS_IS = Caution("What this is", DESK_STUDY + " What is not listed here has not been shown to be absent.")
BOUNDARY = Caution(
    "Boundary", NO_BOUNDARY + " Marks found on site are not disturbed; the law on them differs by place."
)
SERVICES = Caution(
    "Buried services",
    "Ask the enquiry service and every owner before any post is driven or hole bored. Driven posts go as deep as "
    "a cable lies and give no warning: inside a buffer nothing is driven or bored before the service is exposed by "
    "hand. Private lines are on no plan: ask whoever lives there.",
)
LIFTING = Caution(
    "Lifting",
    "Green posts can weigh more than a person should lift. Two people or a machine; the rule of the place decides.",
)
TREATED = Caution(
    "Treated timber",
    "Off-cuts are carted away and never burned. Dust mask and gloves when cutting; a cut end goes upward.",
)
WEATHER = Caution(
    "Weather and working alone",
    "No cutting, grinding or driving in rock on a day of fire ban; off the wire when it thunders; somebody knows "
    "where you are and when you ring.",
)
ON_EVERY_PLAN = (WHAT_THIS_IS, BOUNDARY, SERVICES, LIFTING, TREATED, WEATHER)
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
PARALLEL = Caution(
    "Wire beside power lines",
    "A long wire beside a high voltage line is charged by it without any touch. Its owner says where the fence is "
    "earthed and where it has gaps; ask before wire is run. Wires of an electric fence keep 3 m from a line of up to "
    "1 kV, 4 m up to 33 kV and 8 m above (IEC 60335-2-76 as instruction sheets quote it, second hand), or more where "
    "its owner says.",
)
LIMBS = Caution(
    "Trees and limbs",
    "Hammering shakes dead limbs loose. Limbs are dealt with from outside their fall, by people who are trained "
    "for it, before the machine goes under them.",
)
TRUNKS = Caution(
    "Trunks and roots",
    "Ask whose tree it is and whether it is protected before it is touched. Roots inside its zone are left whole: "
    "holes there are dug by hand.",
)
SLOPE = Caution(
    "Side slope",
    "A driver carries its weight high, and a hole under the low wheel counts for more than the slope drawn here. "
    "Ground that is not flagged is not called fit to drive on. Seat belt with a roll-over frame.",
)
ACCESS = Caution(
    "Way for the machine",
    "Walk the way in and out before the day: holes, stumps, soft ground and low wires are seen on the ground only. "
    "What the machine cannot reach is dug by hand.",
)
KEEP_OUT = Caution(
    "Places to keep out of",
    "Nothing is dug, driven, parked or stacked in them. Ask whoever set them before an edge is touched.",
)
MARKS = Caution(
    "Survey marks",
    "Moving or covering a mark is an offence in most places. Tie it to two pegs before work starts. Set-out pegs are "
    "never painted white: white pegs are boundary pegs.",
)
DRIVING = Caution(
    "Post driving",
    "Nobody holds a post under a hammer: a regulator says that most accidents with drivers happen so (second hand). "
    "Helpers stand outside the fall of hammer and post; one person gives the signals; the mast comes down to travel. "
    "Splinters fly off the cap, and oil under pressure cuts. States print guidance on drivers: Post Drivers – Industry "
    "Safety Standard (New South Wales 2009; Victoria, second edition, 2017; only their contents pages were seen).",
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
# Which kinds of hazard give cause; flagged or not checked both do.
BY_KIND = (
    (PARALLEL, ("parallel power",)),
    (LIMBS, ("tree limb",)),
    (TRUNKS, ("tree trunk",)),
    (SLOPE, ("side slope",)),
    (WATER, ("crossing",)),
    (ACCESS, ("access",)),
    (KEEP_OUT, ("keep-out",)),
    (MARKS, ("survey mark",)),
)
WHATEVER_IS_FOUND = {OVERHEAD.about, LIMBS.about, SLOPE.about}  # said even where the data holds nothing
WIRES = ("overhead power", "overhead phone")
NOTHING_FLAGGED = (Applies("nothing flagged in the data", "look all the same"),)
EVERYWHERE = (Applies(ALWAYS, WHOLE_FENCE),)


def cautions(plan: Plan) -> tuple[Caution, ...]:
    """Return the cautions of this plan with where each holds, those that always hold first and last.

    Flagged or not checked both give cause; a layer found empty takes none away.
    """
    wires = by_kinds(plan, WIRES)
    overhead = OVERHEAD if any(place.status == FLAGGED for place in wires) else OVERHEAD_UNKNOWN
    said = [
        _at(WHAT_THIS_IS, EVERYWHERE),
        _at(BOUNDARY, EVERYWHERE),
        _at(overhead, wires or NOTHING_FLAGGED),
        _at(SERVICES, by_kinds(plan, ("buried service",)) or NOTHING_FLAGGED),
    ]
    for caution, kinds in BY_KIND:
        places = by_kinds(plan, kinds)
        if caution.about in WHATEVER_IS_FOUND:
            places = places or NOTHING_FLAGGED
        said.append(_at(caution, places))
    return tuple(caution for caution in (*said, *_of_the_work(plan)) if caution.applies)


def _of_the_work(plan: Plan) -> tuple[Caution, ...]:
    """Return the cautions that follow from how the fence is built, and where."""
    setting = by_setting(plan)
    weight = heaviest(plan)
    return (
        _at(DRIVING, setting.get("driven", ())),
        _at(BORING, (*setting.get("bored", ()), *setting.get("dug", ()))),
        _at(TENSION, lines_of_wire(plan)),
        _at(ROAD, of_gates(plan)),
        _at(NO_GROUND, without_ground(plan)),
        _at(LIFTING, (weight,) if weight else EVERYWHERE),
        _at(TREATED, EVERYWHERE),
        _at(WEATHER, EVERYWHERE),
    )


def _at(caution: Caution, applies: tuple[Applies, ...]) -> Caution:
    return replace(caution, applies=applies)

"""One page of text for whoever loads the waypoints: what is where, how far off it is, what it must not be used for."""

from __future__ import annotations

from itertools import groupby
from textwrap import fill
from typing import TYPE_CHECKING

from fencegis.exports.file_text import unmarked
from fencegis.exports.hand.budget import budget, budget_lines
from fencegis.exports.hand.limits import SYMBOLS, limits_of
from fencegis.exports.key_points import not_in_hand
from fencegis.exports.plan_hash import LONG, SHORT, plan_sha256
from fencegis.exports.positions import WGS84, operation

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fencegis.exports.hand.files import HandFile
    from fencegis.exports.hand.limits import Limits
    from fencegis.records.plan import Plan

NAME = "handheld.txt"
HEADING = "not a boundary; for finding, not for marking"
WIDE = 100
OTHER_PLAN = "A mark with other digits is of another plan, and posts may have other numbers there."
NOT_FOR = """\
Setting out. No post, hole, string or gate is marked from it: neighbouring marks are nearer to each other than to the \
truth. String, tape and sighting set the fence, from the sheets.
The boundary. It shows where somebody drew a line. Only a licensed surveyor marks a boundary.
Wires, cables and pipes. It finds none and shows no distance to any: ask the owners, have them located, look up.
Driving by the screen. Walk the line first: slopes, holes and limbs are where they are, not where the marks are.
Taking no mark for an answer. Only what was looked at has marks; what was not checked is in the register and on the \
map.
"""


def hand_page(plan: Plan, files: Sequence[HandFile]) -> bytes:
    """Return `handheld.txt`: loading in general words, position error with its budget, what not to do with a handheld.

    `files` are those written for this plan. UTF-8; text from files on one line and without markup.
    """
    limits, digits = limits_of(plan.site.spec.handheld), plan_sha256(plan)
    paragraphs = [
        HEADING,
        "",
        unmarked(f"Waypoints of {plan.site.name}. Plan {digits[:LONG]}."),
        "",
        "WHAT IS HERE",
        *_contents(files),
        *_names(limits),
        *([unmarked(f"- {note[0].upper()}{note[1:]}.")] if (note := not_in_hand(plan)) else []),
        "",
        "HOW TO LOAD IT",
        *_loading(files),
        "",
        "HOW FAR OFF IT IS (+- is one standard deviation in east and in north, each)",
        *_budget(plan),
        "",
        "WHAT NOT TO USE A HANDHELD FOR",
        *(f"- {text}" for text in NOT_FOR.splitlines()),
        "",
        "MARKS THAT YOU BRING BACK",
        f"- Keep the names. Each description ends with the plan's first {SHORT} digits, {digits[:SHORT]}. {OTHER_PLAN}",
    ]
    lines = (fill(text, WIDE, subsequent_indent="  " if text.startswith("- ") else "") for text in paragraphs)
    return ("\n".join(lines) + "\n").encode("utf-8", "replace")


def _contents(files: Sequence[HandFile]) -> Iterator[str]:
    for file in files:
        if file.places:
            apart = ". NOT FOR SET-OUT; load them by themselves" if file.places[0].kind == "post" else ""
            names = f"{file.places[0].name} to {file.places[-1].name}"
            yield f"- {file.name}: {len(file.places)} waypoints, {names}{apart}"
        else:
            yield f"- {file.name}: the lines as tracks, and routes where the unit takes them"
    yield "- waypoint_names.csv: what each name stands for, its run, place and post number"


def _names(limits: Limits) -> Iterator[str]:
    yield (
        "- Sorted by name they stand in walking order, line by line. In each file hazards and crossings come first, so "
        "that a unit that fills up keeps those."
    )
    if limits.names is not None:
        yield f"- Names have at most {limits.names} letters and digits; none is cut, each stands once."
    if limits.symbols:
        words = ", ".join(f"{word} {kind}" for kind, word in SYMBOLS.items() if kind != "post")
        yield f"- Symbols: {words}. A unit that does not know a word shows its own mark."


def _loading(files: Sequence[HandFile]) -> Iterator[str]:
    yield "- Take out the waypoints of older plans first: points of the same name are mixed up or written over."
    by_load = [[file.name for file in part] for _, part in groupby(files, key=lambda file: file.load)]
    if len({file.load for file in files}) > 1:
        for number, names in enumerate(by_load, start=1):
            yield f"- Load {number}: {', '.join(names)}. Take it out again before the next: the unit does not hold all."
    yield (
        "- A unit that shows up as a disk: copy the files into its folder of GPX files, unplug it as the computer asks "
        "and look in its list of waypoints. A phone: send the files to it and open them with its map program. An older "
        "unit: a converter takes GPX and writes to its cable."
    )
    yield "- Set the unit to WGS 84. Count its waypoints against the counts above, and look at one name of each file."
    yield (
        "- Before you walk: stand on two things far apart that are in the plan and stand on the ground (a peg, an old "
        "gate post, a road's edge) and see how far the unit puts them. Further than the sum below: find out why first."
    )


def _budget(plan: Plan) -> Iterator[str]:
    used = operation(plan, WGS84, name="WGS 84")
    for line in budget_lines(budget(plan, used=used), used):
        yield f"- {line}"
    yield "- Under trees, beside banks and buildings the receiver is several times worse, and does not always show it."

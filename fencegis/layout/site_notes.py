"""What to know on site of the bays: where the greatest one comes from, and where a little less saves a post."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.layout.bay_limit import cap_bays, greatest_bay_m
from fencegis.layout.clear_notes import MARK
from fencegis.layout.post_tables import shortest_saving
from fencegis.layout.standing import banned_by
from fencegis.layout.strain_chain import A_HAIR_DEG
from fencegis.line.counting import A_MILLIMETRE
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from fencegis.layout.post_tables import LaidOut
    from fencegis.records.spec import Fence, Spec

NAMED = 12  # posts named in one note
NEARLY_M = 0.3  # a post won by less than this in the whole stretch is worth a word (common practice)


def notes_on_layout(lines: Sequence[LaidOut], *, spec: Spec) -> list[Note]:
    """Return the notes on bays and on rules that nobody chose."""
    notes = []
    fence = spec.fence
    kinds = {one.course.kind for one in lines}
    if "post and rail" in kinds and fence.rail_m is not None:
        rails = max(fence.rail_m)
        notes.append(
            Note(
                "default",
                f"greatest bay {greatest_bay_m('post and rail', fence):.3f} m along the ground on the level:"
                f" {_why_so_long(fence)}",
            )
        )
        if len(set(fence.rail_m)) > 1:
            notes.append(
                Note(
                    "doubt",
                    f"several rail lengths given: bays follow from the longest, {rails:.3f} m, so order that one",
                )
            )
    if spec.rules.bends is None:
        notes.append(Note("default", "no bend rule chosen in site.toml ([rules] bends): corners are not classed"))
    notes += _on_string_ends(lines, string_m=fence.string_m)
    for course, from_m, over in shortest_saving(lines, less_than_m=NEARLY_M):
        notes.append(
            Note("default", f"shorten the stretch from here by {over:.2f} m to save a post", course.line_id, from_m)
        )
    return notes


def _why_so_long(fence: Fence) -> str:
    """Return what the greatest bay follows from: the set spacing, the rail, or the cap."""
    least, rails = (greatest_bay_m("post and rail", one) for one in (fence, fence.model_copy(update={"cap_m": None})))
    trimmed = f"{fence.end_trim_mm:.0f} mm trimmed off each end"
    if least < rails and fence.cap_m is not None:
        bays = "two bays" if cap_bays(fence) == 2 else "one bay"
        return (
            f"what a board of the cap, {max(fence.cap_m):.3f} m, reaches over {bays}, {trimmed}, where rails alone give"
            f" {rails:.3f} m; less on a grade and at ends and corners"
        )
    if least == fence.post_spacing_m:
        return "post_spacing_m; less where rails do not reach so far"
    rail = f"what a {max(fence.rail_m or (0.0,)):.3f} m rail reaches"
    if fence.rails_fixed == "centred":
        return f"{rail} from post to post, let in {fence.housing_mm:g} mm at both ends, {trimmed}; less on a grade"
    over = f"{rail} over {fence.rail_bays} bays, {trimmed}"
    return f"{over}; less on a grade and where rails cover an end or a mitre"


def _on_string_ends(lines: Sequence[LaidOut], *, string_m: float) -> list[Note]:
    """Return for each rail line which posts are heavier because a string ends there."""
    notes = []
    for one in lines:
        names = [one.post_id[place] for place in one.row.string_end.nonzero()[0]]
        if names:
            more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
            notes.append(
                Note(
                    "default",
                    f"string ends at posts {', '.join(names[:NAMED])}{more}: heavier posts, for no string is longer"
                    f" than {string_m:.1f} m",
                    one.course.line_id,
                )
            )
    return notes


def notes_on_limits(lines: Sequence[LaidOut], *, strain_m: float, turning_deg: float) -> list[Note]:
    """Return a note for each strain that is longer, or turns more, than it should, there being no place between."""
    notes = []
    for one in lines:
        for strain in one.fixed.strains:
            long, turned = strain.length_m > strain_m + A_MILLIMETRE, strain.turned_deg > turning_deg + A_HAIR_DEG
            if long or turned:
                what = f"{strain.length_m:.0f} m long" if long else f"turning {strain.turned_deg:.0f}°"
                most = f"{strain_m:.0f} m" if long else f"{turning_deg:.0f}°"
                notes.append(
                    Note(
                        "doubt",
                        f"strain from here {what}, over {most}: no place between for a strainer, so strain it from both"
                        " ends or bend less sharply",
                        one.course.line_id,
                        strain.from_m,
                    )
                )
    return notes


def notes_on_strainers(
    strainers: pd.DataFrame, *, avoided: Mapping[str, Mapping[str, Sequence[tuple[float, float]]]]
) -> list[Note]:
    """Return a note for each strainer that has to stand where none should.

    `avoided` are by line, and by what forbids it, stretches from and to in chainage.
    """
    notes = []
    for line_id, forbidden in avoided.items():
        on_line = strainers[strainers["line_id"] == line_id]
        kinds = banned_by(on_line["chainage_m"].to_numpy(), forbidden)
        for kind, name, reason, chainage in zip(
            kinds, on_line["strainer_id"], on_line["reason"], on_line["chainage_m"], strict=True
        ):
            if kind and kind != MARK:
                where = FORBIDDEN.get(kind, f"a stretch kept free of strainers ({kind}): look on site")
                notes.append(
                    Note(
                        "doubt",
                        f"{name} ({reason}) has to stand in {where}, or move the fence's ends, corners or gates",
                        line_id,
                        float(chainage),
                    )
                )
    return notes


# Where no strainer is put in while another place will do, and what to do when one has to stand there.
FORBIDDEN = {
    "overhead": "a stretch flagged for overhead lines: ask the owner before any machine or long post comes near",
    "crossing": "a crossing: water or wheels take it, so look for firm ground beside it",
    "keep-out": "a keep-out: ask whoever set it before anything is dug or driven",
    "buried service": "the buffer of a buried service: have the service located before anything is dug or driven",
    "too steep": "ground too steep for the machine: plan to set it by hand",
}

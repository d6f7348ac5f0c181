"""What to know on site of the bays: where the greatest one comes from, and where a little less saves a post."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.layout.bay_limit import greatest_bay_m
from fencegis.layout.post_tables import shortest_saving
from fencegis.layout.strainers import within
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from fencegis.layout.post_tables import LaidOut
    from fencegis.records.spec import Spec

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
                f"greatest bay {greatest_bay_m('post and rail', fence):.3f} m along the ground on the level: what a"
                f" {rails:.3f} m rail reaches over {fence.rail_bays} bays, {fence.end_trim_mm:.0f} mm trimmed off each"
                " end; less on a grade and where rails cover an end or a mitre",
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
    for course, from_m, over in shortest_saving(lines, less_than_m=NEARLY_M):
        notes.append(
            Note("default", f"shorten the stretch from here by {over:.2f} m to save a post", course.line_id, from_m)
        )
    return notes


def notes_on_strainers(strainers: pd.DataFrame, *, avoided: Mapping[str, Sequence[tuple[float, float]]]) -> list[Note]:
    """Return a note for each strainer that has to stand where none should, as under a conductor."""
    notes = []
    for line_id, stretches in avoided.items():
        on_line = strainers[strainers["line_id"] == line_id]
        there = on_line[within(on_line["chainage_m"].to_numpy(), stretches)]
        notes += [
            Note(
                "doubt",
                f"{name} ({reason}) has to stand in a stretch flagged for overhead lines: ask the owner before any"
                " machine or long post comes near, or move the fence's ends, corners or gates",
                line_id,
                float(chainage),
            )
            for name, reason, chainage in zip(there["strainer_id"], there["reason"], there["chainage_m"], strict=True)
        ]
    return notes

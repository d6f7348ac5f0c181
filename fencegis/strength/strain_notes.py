"""What to know when the wires are strained: how far the puller travels, what cold adds, how far a bay sags."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.records.notes import Note
from fencegis.strength.values import value_of
from fencegis.strength.wire import bay_sag_m, cold_rise_kn, stretch_m

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from fencegis.records.spec import Fence, FenceKind


def longest_strain_m(bays: pd.DataFrame, posts: pd.DataFrame) -> float:
    """Return the longest strain of one line along the ground: the bays from one strainer to the next, summed."""
    begins = bays["from_post"].isin(posts.loc[posts["kind"] == "strainer", "post_id"])
    return float(bays["ground_length_m"].groupby(begins.cumsum()).sum().max())


def notes_on_straining(
    bays: pd.DataFrame, posts: pd.DataFrame, *, kind_of_line: Mapping[str, FenceKind], fence: Fence
) -> list[Note]:
    """Return a note for each line of wire; the size of a wire and the fall of temperature are the catalogue's."""
    notes = []
    wire_mm, colder_k = value_of("wind", "wire"), value_of("wire", "colder")
    cold_kn = float(cold_rise_kn(colder_k, diameter_mm=wire_mm))
    for line_id, kind in kind_of_line.items():
        on_line = bays[bays["line_id"] == line_id]
        if kind != "wire" or on_line.empty:
            continue
        longest, bay = longest_strain_m(on_line, posts), float(on_line["length_m"].max())
        travel = float(stretch_m(longest, diameter_mm=wire_mm, tension_kn=fence.tension_kn))
        sag = bay_sag_m(bay, diameter_mm=wire_mm, tension_kn=fence.tension_kn)
        text = (
            f"longest strain {longest:.0f} m: a plain {wire_mm:.1f} mm wire stretches {travel:.2f} m on its way to"
            f" {fence.tension_kn:.1f} kN, slack not counted; {colder_k:.0f} °C colder adds at the most {cold_kn:.2f} kN"
            f" a wire; in a {bay:.1f} m bay it hangs {1000.0 * sag:.0f} mm. Size of wire assumed"
        )
        notes.append(Note("default", text, line_id))
    return notes

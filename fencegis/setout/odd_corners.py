"""Corners that are neither square nor nearly straight, where one observer cannot see a post plumb."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.records.notes import Note

if TYPE_CHECKING:
    import pandas as pd

NAMED = 12
ODD_DEG = 5.0  # a corner within this of 90° or of straight on is none of the odd ones (common practice)


def notes_on_odd_corners(corners: pd.DataFrame) -> list[Note]:
    """Return for each line its corners that are neither square nor nearly straight: plumb is checked both ways."""
    inside = corners["interior_deg"]
    odd = corners[((inside - 90.0).abs() > ODD_DEG) & (inside < 180.0 - ODD_DEG)]
    notes = []
    for line_id, on_line in odd.groupby("line_id", sort=False):
        names = on_line["corner_id"].tolist()
        more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
        text = f"odd corners {', '.join(names[:NAMED])}{more}: one observer is not enough, so check the post plumb both"
        notes.append(Note("default", f"{text} ways, along each run, or sight with two people", str(line_id)))
    return notes

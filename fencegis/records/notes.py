"""A doubt, repair or default worth knowing on site."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

Severity = Literal["repair", "default", "doubt", "seen"]


@dataclass(frozen=True)
class Note:
    """What to know, and where; no line when it is about a file, no chainage when it is about a whole line."""

    severity: Severity
    text: str
    line_id: str | None = None
    chainage_m: float | None = None


def note_table(notes: Sequence[Note], *, lines: Sequence[str]) -> pd.DataFrame:
    """Return the layer `notes`: what is about files first, then along each of the lines, each said once."""
    import pandas as pd

    from fencegis.records.tables import checked

    order = {line_id: place for place, line_id in enumerate(lines, start=1)}
    said = sorted(
        dict.fromkeys(notes),
        key=lambda note: (order.get(note.line_id or "", 0), note.chainage_m is not None, note.chainage_m or 0.0),
    )
    return checked(
        "notes",
        pd.DataFrame(
            {
                "line_id": [note.line_id for note in said],
                "chainage_m": [note.chainage_m for note in said],
                "severity": [note.severity for note in said],
                "text": [note.text for note in said],
            }
        ),
    )

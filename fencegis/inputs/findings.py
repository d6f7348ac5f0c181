"""What one file of a site gives to mend and to know, gathered while it is read, to be said all at once."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fencegis.errors import Problem
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from fencegis.records.notes import Severity

LISTED = 20  # faults of one file that are listed; a whole layer in the wrong system would bury the rest


@dataclass
class Findings:
    """Faults and notes of one file."""

    file: str
    faults: list[Problem] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)

    def fault(self, feature: str, fault: str, *, fix: str) -> None:
        """Add a fault at `feature`, the place inside the file."""
        self.faults.append(Problem(self.file, feature, fault, fix))

    def note(self, severity: Severity, feature: str, text: str, *, line_id: str | None = None) -> None:
        """Add a note that begins with the file and the place in it."""
        place = ", ".join(part for part in (self.file, feature) if part)
        self.notes.append(Note(severity, f"{place}: {text}", line_id))

    def note_each(self, severity: Severity, features: list[str], text: str) -> None:
        """Add one note for all of `features`; none when there is none."""
        if features:
            others = f" and {len(features) - 1} more" if len(features) > 1 else ""
            self.note(severity, features[0] + others, text)

    @property
    def problems(self) -> tuple[Problem, ...]:
        """The faults in reading order; of a file with very many, the first and how many more there are."""
        if len(self.faults) <= LISTED:
            return tuple(self.faults)
        rest = len(self.faults) - LISTED
        more = Problem(self.file, "", f"{rest} more faults are not listed.", "mend these; they may share a cause.")
        return (*self.faults[:LISTED], more)


def words(text: object, *, most: int = 60) -> str:
    """Return anything from a file as one short printable line, to be quoted in a message."""
    line = " ".join("".join(c if c.isprintable() else " " for c in str(text)).split())
    return line if len(line) <= most else line[: most - 1] + "…"

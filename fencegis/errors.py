"""What can be wrong with a site, said so that the reader can mend it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


@dataclass(frozen=True, order=True)
class Problem:
    """One fault: where it is, what it is and what mends it.

    `feature` names the place inside the file (`feature 3 (North side)`, `[fence] rails`); empty when the whole file is
    meant.
    """

    file: str
    feature: str
    fault: str
    fix: str

    def __str__(self) -> str:
        """Return the fault as one line: text from files cannot break it into two or reach the terminal's controls."""
        place = ", ".join(part for part in (self.file, self.feature) if part)
        return _printable(f"{place}: {self.fault} Fix: {self.fix}")


class FencegisError(Exception):
    """Anything that fencegis raises on purpose."""


class InputError(FencegisError):
    """The site as given cannot be planned; `problems` holds every fault found, sorted, none twice."""

    def __init__(self, problems: Iterable[Problem], *, more_unchecked: str = "") -> None:
        """Gather the faults; `more_unchecked` says what was not looked at because of them."""
        self.problems = tuple(sorted(set(problems)))
        self.more_unchecked = more_unchecked
        super().__init__("\n".join([*map(str, self.problems), *([more_unchecked] if more_unchecked else [])]))


class OutputError(FencegisError):
    """The machine (disk, rights, a folder with strangers in it) does not let the plan be written."""


class StrangersError(OutputError):
    """The folder asked for holds what no plan of ours wrote; nothing in it was touched. The user names another one."""


def _printable(text: str) -> str:
    return "".join(character if character.isprintable() else " " for character in text)

"""The page of words that each kind of hazard has, in one form: what is marked, why, by which rule, what to do."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from fencegis.catalogue import rows

if TYPE_CHECKING:
    from collections.abc import Iterator


@dataclass(frozen=True)
class HazardPage:
    """The words for one kind of hazard, each a sentence or a few."""

    kind: str
    marked: str
    why: str
    rule: str
    example: str
    do: str
    source: str

    def parts(self) -> Iterator[tuple[str, str]]:
        """Yield the heading and the words of each part, in the order in which they are read."""
        yield "What is marked", self.marked
        yield "Why it matters", self.why
        yield "Rule", self.rule
        yield "Example", self.example
        yield "On site", self.do
        yield "Source", self.source


@cache
def hazard_pages() -> dict[str, HazardPage]:
    """Return the page of every kind by its name, as the catalogue has them; the source with how it was read."""
    return {
        row["kind"]: HazardPage(
            row["kind"],
            row["marked"],
            row["why"],
            row["rule"],
            row["example"],
            row["do"],
            row["standing"] if row["source"] == "no print" else f"{row['source']} ({row['standing']})",
        )
        for row in rows("hazard_words")
    }

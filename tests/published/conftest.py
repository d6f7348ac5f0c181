"""Every check in this folder names where its number is printed; each run ends by listing ours beside the print."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

HERE = Path(__file__).parent
LISTED = pytest.StashKey[list[tuple[str, str, str, str]]]()


@dataclass(frozen=True)
class Printed:
    """A number as printed: degrees, minutes and seconds when it has three parts; half its last digit is allowed."""

    text: str
    tolerance: float | None = None  # wider or narrower than the print's, explained at the check

    def allows(self, ours: object) -> bool:
        if not re.fullmatch(r"[-+]?\d[\d ]*(\.\d+)?", self.text):
            return str(ours) == self.text
        parts = [float(part) for part in self.text.lstrip("+-").split(" ")]
        value = sum(part / 60**power for power, part in enumerate(parts))
        decimals = len(self.text.partition(".")[2])
        half = self.tolerance if self.tolerance is not None else 0.5 / 10**decimals / 60 ** (len(parts) - 1)
        return abs(float(str(ours)) - (-value if self.text.startswith("-") else value)) <= half * (1 + 1e-9) + 1e-12


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    with (HERE / "sources.csv").open(encoding="utf-8", newline="") as file:
        known = {row["id"] for row in csv.DictReader(file)}
    for item in items:
        mark = item.get_closest_marker("published")
        if not item.path.is_relative_to(HERE):
            continue
        if mark is None or not mark.kwargs.get("where") or not mark.kwargs.get("source"):
            raise pytest.UsageError(f"{item.nodeid}: no source: mark it published(source=…, where=…)")
        if mark.kwargs["source"] not in known:
            raise pytest.UsageError(f"{item.nodeid}: source {mark.kwargs['source']!r} is not in sources.csv")


@pytest.fixture
def printed() -> type[Printed]:
    return Printed


@pytest.fixture
def compare(request: pytest.FixtureRequest) -> Callable[[object, Printed | str], None]:
    """Hold our value against the printed one, and list both when the run ends."""
    mark = request.node.get_closest_marker("published").kwargs

    def hold(ours: object, page: Printed | str) -> None:
        page = page if isinstance(page, Printed) else Printed(page)
        listed = request.config.stash.setdefault(LISTED, [])
        listed.append(
            (mark["source"], mark["where"], f"{ours:.12g}" if isinstance(ours, float) else str(ours), page.text)
        )
        assert page.allows(ours), f"ours {ours}, printed {page.text} ({mark['source']}, {mark['where']})"

    return hold


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    terminalreporter.section("published: source | where | ours | printed")
    for row in config.stash.get(LISTED, []):
        terminalreporter.write_line(" | ".join(row))

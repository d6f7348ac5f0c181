"""A doubt, repair or default worth knowing on site."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["repair", "default", "doubt", "seen"]


@dataclass(frozen=True)
class Note:
    """What to know, and where; no line when it is about a file, no chainage when it is about a whole line."""

    severity: Severity
    text: str
    line_id: str | None = None
    chainage_m: float | None = None

"""What one row of a site's layer says; what it does not say is NaN or None."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Mapping


def number(row: Mapping[Any, Any], name: str) -> float:
    """Return the number in a cell, NaN when it is empty or there is no such column."""
    value = row.get(name)
    return math.nan if pd.isna(value) else float(value)


def text_or_none(row: Mapping[Any, Any], name: str) -> str | None:
    """Return the text in a cell, None when it is empty or there is no such column."""
    value = row.get(name)
    return value if isinstance(value, str) and value.strip() else None


def flag_or_none(row: Mapping[Any, Any], name: str) -> bool | None:
    """Return the flag in a cell, None when it is empty or there is no such column."""
    value = row.get(name)
    return None if pd.isna(value) else bool(value)


def label(row: Mapping[Any, Any]) -> str:
    """Return how a feature is called in print: its place in the file, and its name where it has one."""
    feature, name = text_or_none(row, "feature") or "a feature", text_or_none(row, "name")
    return f"{feature} ({name})" if name and name not in feature else feature

"""Numbers of the trade and of the law, each a row with its unit and its source. None of them lives in code."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of `catalogue/<name>.csv` as text, in file order.

    Every file has the columns `source` and `standing`: `read` (in the source's own text), `second hand` (on a page
    that quotes it), `common practice` (no print) or `from memory`.
    """
    text = (files(__name__) / f"{name}.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))

"""Text from files, made harmless for files that other programs open: no markup, no formula, no second line."""

from __future__ import annotations

import re
import unicodedata

from fencegis.exports.page_text import plain

# Viewers show descriptions as pages and fill in $[…]; single angle quotation marks read the same and do nothing.
_MARKUP = str.maketrans({"<": "\u2039", ">": "\u203a", "\ufffe": "\ufffd", "\uffff": "\ufffd"})
_FORMULA = ("=", "+", "-", "@")


def unmarked(text: str) -> str:
    """Return the text on one line and without an angle bracket, for XML files whose readers may show it as a page."""
    return plain(text).translate(_MARKUP).replace("$[", "$ [")


def inert(text: str) -> str:
    """Return the text on one line, for a spreadsheet's cell: what would be taken for a formula gets an apostrophe."""
    cell = plain(text)
    return f"'{cell}" if cell.lstrip("\u200c\u200d\u200e\u200f\u00ad").startswith(_FORMULA) else cell


def code(text: str) -> str:
    """Return the text as a feature code for a rover: capitals, digits, spaces and points only."""
    ascii_text = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().upper()
    return " ".join(re.sub(r"[^A-Z0-9.]+", " ", ascii_text).split())

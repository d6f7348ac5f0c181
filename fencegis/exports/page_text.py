"""Text from files, made harmless for a page: it can become neither markup nor script, nor turn its neighbours round."""

from __future__ import annotations

import html
import json
import re

# A browser's template strings (folium puts text into them) know these; html.escape leaves them alone.
_TEMPLATE = str.maketrans({"`": "&#96;", "$": "&#36;", "\\": "&#92;"})
# Embeddings, overrides and isolates of the Unicode bidirectional algorithm (UAX 9) would reverse what follows them.
# They are not printable to Python, as control characters are; these are not either, and harm nobody: no-break spaces,
# joiners of letters, plain direction marks, the soft hyphen.
_HARMLESS = frozenset("\u00a0\u202f\u200c\u200d\u200e\u200f\u00ad")
_BLANKS = re.compile(r"[ \t\n\r\f\v\u0085\u2028\u2029]+")
_REPLACED = "\ufffd"


def plain(text: str) -> str:
    """Return `text` on one line, with control characters and direction overrides shown as the replacement mark."""
    if text.isprintable() and "  " not in text:
        return text.strip()
    return "".join(mark if mark.isprintable() else _shown(mark) for mark in _BLANKS.sub(" ", text).strip())


def _shown(mark: str) -> str:
    return mark if mark in _HARMLESS else _REPLACED


def literal(text: str) -> str:
    """Return `text` for use between tags and in quoted attributes: what it shows is what it is."""
    return html.escape(plain(text), quote=True).translate(_TEMPLATE)


def script_json(data: object) -> str:
    """Return `data` as compact JSON that may stand inside a script element; raises ValueError for NaN and infinity."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for mark in ("<", ">", "&", "\u2028", "\u2029"):
        text = text.replace(mark, f"\\u{ord(mark):04x}")
    return text

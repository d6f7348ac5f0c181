"""The bytes of a text file of the site folder: inside the folder, not too large, UTF-8."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from fencegis.inputs.findings import Findings

LARGEST_BYTES = 200_000_000  # a boundary of a million vertices is 40 MB


@dataclass(frozen=True)
class TextFile:
    """A file as read; `bom` when it began with a UTF-8 byte order mark, which `text` no longer has.

    The text of a GeoPackage is empty.
    """

    text: str
    bom: bool
    sha256: str
    size_bytes: int


def is_within(folder: Path, path: Path) -> bool:
    """Say whether `path`, links followed, is still inside `folder`."""
    return path.resolve().is_relative_to(folder.resolve())


def read_text(path: Path, found: Findings, *, empty_allowed: bool = False) -> TextFile | None:
    """Return the file, or None when it cannot be read as text; the reason is added to `found`."""
    data = _bytes(path, found)
    if data is None:
        return None
    if path.suffix == ".gpkg":  # a database: only its fingerprint is wanted here
        return _as_read("", data)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        utf16 = data.startswith((b"\xff\xfe", b"\xfe\xff"))
        what = "it is UTF-16, not UTF-8." if utf16 else f"line {line} is not UTF-8 text."
        found.fault("", what, fix="save it again with the encoding UTF-8.")
        return None
    if not text.strip() and not empty_allowed:
        found.fault("", "the file is empty.", fix="export it again, or take it out of the folder.")
        return None
    return _as_read(text, data)


def _as_read(text: str, data: bytes) -> TextFile:
    return TextFile(text, data.startswith(b"\xef\xbb\xbf"), hashlib.sha256(data).hexdigest(), len(data))


def _bytes(path: Path, found: Findings) -> bytes | None:
    try:
        if not is_within(path.parent, path):
            found.fault("", "it is a link that leaves the site folder.", fix="put a copy of the file itself there.")
            return None
        if not path.is_file():
            found.fault("", "it is not a file.", fix="put a file of that name there, or take it away.")
            return None
        if (size := path.stat().st_size) > LARGEST_BYTES:
            found.fault("", f"it has {size / 1e6:.0f} MB.", fix="keep only what this site needs.")
            return None
        return path.read_bytes()
    except (OSError, RuntimeError) as error:  # RuntimeError: links in a circle, before Python 3.13
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        found.fault("", f"it cannot be read ({reason}).", fix="see that the file is whole and that you may read it.")
        return None

"""The tracing page on disk: whole or not there, and never over anybody else's file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from fencegis.errors import OutputError, StrangersError
from fencegis.exports.draft.page import MADE_BY, page_and_words

if TYPE_CHECKING:
    import os

    from fencegis.records.tracing import Tracing

_HEAD_BYTES = 4000  # of a page, within which it says who made it


def write_draft(tracing: Tracing, page: str | os.PathLike[str]) -> tuple[Path, str]:
    """Write the page; return its path and what there is to say of its picture. It takes its place in one step.

    A file that is there already is replaced only when it is a tracing page: else StrangersError, and it is not touched.
    OutputError when disk or rights do not let it be written.
    """
    target = Path(page).expanduser()
    try:
        target = target.resolve()
        if target.exists() and not _is_ours(target):
            raise StrangersError(f"{target}: it is there already and is no tracing page. Name another file with --out.")
        target.parent.mkdir(parents=True, exist_ok=True)
        part = target.with_name(f".{target.name}.part")
        try:
            content, said = page_and_words(tracing)
            part.write_bytes(content)
            part.replace(target)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(f"{error.filename or target}: {error.strerror or error}") from error
    return target, said


def _is_ours(path: Path) -> bool:
    if not path.is_file():
        return False
    with path.open("rb") as file:
        return MADE_BY.encode() in file.read(_HEAD_BYTES)

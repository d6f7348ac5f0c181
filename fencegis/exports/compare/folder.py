"""The folder of a comparison: both files, whole or not at all, over nothing that is not ours."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from fencegis.errors import StrangersError
from fencegis.exports import summary
from fencegis.exports.bundle import write_whole
from fencegis.exports.compare import page, paper

if TYPE_CHECKING:
    import os
    from collections.abc import Sequence

    from fencegis.records.plan import Plan

NAMES = frozenset({page.NAME, paper.NAME})


def write_comparison(plans: Sequence[Plan], folder: str | os.PathLike[str]) -> list[Path]:
    """Write `compare.html` and `compare.pdf` of two to six plans into `folder` and return their paths, sorted.

    A folder that holds anything else is left as it is: StrangersError names what. OutputError when disk or rights do
    not let it.
    """

    def fill(part: Path) -> None:
        (part / page.NAME).write_bytes(page.compare_page(plans))
        (part / paper.NAME).write_bytes(paper.compare_pdf(plans))

    _refuse_plans(Path(folder).expanduser())
    return write_whole(folder, fill, listed=NAMES)


def _refuse_plans(folder: Path) -> None:
    """Raise StrangersError when the folder holds a plan: a plan of ours would else be replaced like an older one."""
    if folder.is_dir() and (folder / summary.NAME).exists():
        raise StrangersError(f"{folder}: holds a plan. Name another folder.")

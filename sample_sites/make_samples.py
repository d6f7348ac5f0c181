"""Rebuild the sample sites beside this script: `python sample_sites/make_samples.py [FOLDER]`.

The same values come out each time (cells and coordinates; a file's bytes also hang on the versions of the libraries).
`truth()` gives what the drawings stand for, so that a plan can be held against it.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import hill_site  # noqa: E402
import roadside_site  # noqa: E402

if TYPE_CHECKING:
    from drawing import Truth

KEPT = ("site.toml", "rates.csv")  # written by hand; every price in them is invented
SITES = {"roadside": roadside_site, "hill": hill_site}


def truth() -> dict[str, Truth]:
    """Return for each sample what its drawings stand for, in metres of the raster's system."""
    return {name: site.truth() for name, site in SITES.items()}


def make(folder: Path = HERE) -> None:
    """Write both sites below `folder`, with the files written by hand that are kept beside this script."""
    for name, site in SITES.items():
        site.make(folder / name)
        if folder.resolve() != HERE:
            for kept in KEPT:
                shutil.copy(HERE / name / kept, folder / name / kept)


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)

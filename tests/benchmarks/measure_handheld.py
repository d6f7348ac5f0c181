"""What other programs' formats keep of our waypoints: names whole and unique, places within their digits.

    python tests/benchmarks/measure_handheld.py [--site FOLDER]

Each row is one format of gpsbabel's: our file written into it by gpsbabel, read back by gpsbabel, held against the
plan's own places. Prints Markdown; asserts nothing. The formats, and the kind of handheld whose names go into each, are
those of `tests/exports/hand/read_back.py`, which the tests run on a plan made by hand.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from pathlib import Path

from fencegis import plan_site, read_site

sys.path.insert(0, str(Path(__file__).parents[1] / "exports" / "hand"))
import read_back

ROOT = Path(__file__).parents[2]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--site", type=Path, default=ROOT / "sample_sites" / "hill")
    site = parser.parse_args().site
    program = shutil.which("gpsbabel")
    if program is None:
        sys.exit("needs gpsbabel: apt-get install gpsbabel")
    plan = plan_site(read_site(site))
    print("| format (gpsbabel's name) | names | waypoints | names whole | different | worst place | its digits allow |")  # noqa: T201
    print("| --- | --- | --- | --- | --- | --- | --- |")  # noqa: T201
    with tempfile.TemporaryDirectory() as folder:
        limited, file = read_back.one_file(plan, None)
        for reader, found in read_back.straight(file, limited, Path(folder)).items():
            show(f"none: our file read by {reader}", "as they are", found, 0.020)
        for form in read_back.FORMS:
            limited, file = read_back.one_file(plan, form.kind)
            found = read_back.through(program, form, file, limited, Path(folder))
            show(f"`{form.name}{form.options}`", form.kind or "as they are", found, form.most_m)


def show(what: str, names: str, found: read_back.ReadBack, most_m: float) -> None:
    """Print one row."""
    cells = [
        what, names, f"{found.back} of {found.sent}", found.whole, found.unique, f"{found.worst_m * 1000:.0f} mm",
        f"{most_m * 1000:.0f} mm",
    ]  # fmt: skip
    print(f"| {' | '.join(map(str, cells))} |")  # noqa: T201


if __name__ == "__main__":
    main()

"""What is installed: the package whole, and nothing beside it."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from importlib.util import find_spec
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def test_the_wheel_holds_the_package_whole(tmp_path: Path) -> None:
    if find_spec("hatchling") is None:
        pytest.skip("hatchling is not installed: pip install hatchling (.ci/run installs and runs the wheel)")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)]
    built = subprocess.run(build, cwd=ROOT, capture_output=True, text=True, check=False)
    assert built.returncode == 0, built.stderr
    (wheel,) = tmp_path.glob("*.whl")
    names = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    ours = {
        str(path.relative_to(ROOT))
        for path in (ROOT / "fencegis").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert names == ours
    assert {"fencegis/py.typed", "fencegis/catalogue/bend_rules.csv"} <= names
    assert any(name.startswith("fencegis/exports/map/templates/") for name in names)

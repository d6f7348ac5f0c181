"""Imports point down only, and what the command line loads is light."""

from __future__ import annotations

import ast
import json
import os
import shutil
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

import fencegis

ROOT = Path(__file__).parents[2]
HEAVY = {"geopandas", "rasterio", "folium", "matplotlib", "scipy", "pandas"}
NEEDLESS = HEAVY | {"shapely", "numpy", "pydantic", "pyproj"}  # to say what a command does


def test_the_contracts_of_pyproject_hold() -> None:
    if find_spec("importlinter") is None:
        pytest.skip("import-linter is not installed: pip install import-linter")
    code = "from importlinter.cli import lint_imports_command as lint; lint(['--no-cache', '--no-logo'])"
    ended = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert ended.returncode == 0, ended.stdout + ended.stderr
    assert " 0 broken" in ended.stdout


def loaded_by(code: str, cwd: Path) -> tuple[int, set[str], str]:
    """Run code in a fresh Python; return its exit code, the top-level packages then loaded, and what it said."""
    wrapped = (
        "import json, sys\nended = 0\ntry:\n    " + code + "\nexcept SystemExit as stop:\n    ended = stop.code or 0\n"
        "print('\\n' + json.dumps([ended, sorted({name.partition('.')[0] for name in sys.modules})]))"
    )
    here = {**os.environ, "PYTHONPATH": str(ROOT)}
    ran = subprocess.run(
        [sys.executable, "-c", wrapped], cwd=cwd, env=here, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr
    *said, last = ran.stdout.splitlines()
    code_, packages = json.loads(last)
    return code_, set(packages), "\n".join(said) + ran.stderr


@pytest.mark.parametrize("code", ["import fencegis", "import fencegis; fencegis.InputError, fencegis.Problem"])
def test_importing_fencegis_loads_nothing_heavy(tmp_path: Path, code: str) -> None:
    ended, packages, _ = loaded_by(code, tmp_path)
    assert ended == 0
    assert "fencegis" in packages
    assert not packages & NEEDLESS


@pytest.mark.parametrize("option", ["--help", "--version"])
def test_help_and_version_load_nothing_heavy(tmp_path: Path, option: str) -> None:
    ended, packages, said = loaded_by(f"from fencegis.cli import main; main([{option!r}])", tmp_path)
    assert ended == 0
    assert not packages & NEEDLESS
    assert (fencegis.__version__ if option == "--version" else "plan") in said


def test_a_fault_in_site_toml_loads_nothing_heavy(tmp_path: Path) -> None:
    shutil.copy(ROOT / "sample_sites" / "roadside" / "boundary.geojson", tmp_path)
    (tmp_path / "site.toml").write_text("[fence]\npost_spacing_mm = 5\n")
    ended, packages, said = loaded_by(f"from fencegis.cli import main; main(['check', {str(tmp_path)!r}])", tmp_path)
    assert ended == 2
    assert "site.toml" in said
    assert "post_spacing_m" in said
    assert "Traceback" not in said
    assert not packages & HEAVY


def test_the_public_face() -> None:
    assert sorted(fencegis.__all__) == [
        "FencegisError", "InputError", "OutputError", "Plan", "Problem", "Site", "Spec",
        "plan_site", "read_site", "write_plan",
    ]  # fmt: skip
    for name in fencegis.__all__:
        assert getattr(fencegis, name).__name__ == name
        assert getattr(fencegis, name).__doc__
    assert set(fencegis.__all__) <= set(dir(fencegis))
    with pytest.raises(AttributeError, match="module 'fencegis' has no attribute 'dig'"):
        _ = fencegis.dig


def test_private_names_stay_at_home() -> None:
    """No module imports a name that begins with an underscore from another."""
    borrowed = [
        f"{path.relative_to(ROOT)}: {node.module}.{alias.name}"
        for path in sorted((ROOT / "fencegis").rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module
        for alias in node.names
        if alias.name.startswith("_") and not alias.name.startswith("__")
    ]
    assert borrowed == []


def test_modules_are_short() -> None:
    """A room of its own is cheaper than a module that nobody reads to its end."""
    long = {
        str(path.relative_to(ROOT)): lines
        for path in sorted((ROOT / "fencegis").rglob("*.py"))
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > 350
    }
    assert long == {}

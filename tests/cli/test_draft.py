"""`fencegis draft` as a user meets it: where the page goes, what is said, how faults end it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from click.testing import CliRunner

from fencegis.cli import main

if TYPE_CHECKING:
    import pytest

ROADSIDE = Path(__file__).parents[2] / "sample_sites" / "roadside"


def test_the_page_goes_to_outputs_under_the_name_of_the_site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(main, ["draft", str(ROADSIDE / "imagery.tif")])
    assert result.exit_code == 0, result.output
    assert (tmp_path / "outputs" / "roadside_draft.html").read_bytes().startswith(b"<!DOCTYPE html>")
    assert "roadside_draft.html" in result.output
    assert "a pixel is 0.25 m on the ground" in result.output
    assert "A traced line is not a boundary" in result.output


def test_faults_are_a_line_each_and_nothing_is_written(tmp_path: Path) -> None:
    (tmp_path / "b.geojson").write_text("{")
    words = [
        "draft",
        str(tmp_path / "none.tif"),
        "--boundary",
        str(tmp_path / "b.geojson"),
        "--out",
        str(tmp_path / "p.html"),
    ]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2
    assert sum("Fix:" in line for line in result.output.splitlines()) == 2
    assert "Traceback" not in result.output
    assert not (tmp_path / "p.html").exists()


def test_somebody_elses_page_is_not_written_over(tmp_path: Path) -> None:
    page = tmp_path / "p.html"
    page.write_text("mine")
    result = CliRunner().invoke(main, ["draft", str(ROADSIDE / "imagery.tif"), "--out", str(page)])
    assert result.exit_code == 2
    assert page.read_text() == "mine"


def test_its_help_loads_no_heavy_library() -> None:
    code = (
        "import sys\nfrom fencegis.cli import main\n"
        "try: main(['draft', '--help'])\nexcept SystemExit: pass\n"
        "found = [name for name in 'geopandas rasterio folium matplotlib numpy PIL'.split() if name in sys.modules]\n"
        "assert not found, found"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr

"""The commands as a user meets them: exit codes, one line a fault, nothing half-written."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from fencegis.cli import main

SAMPLES = Path(__file__).parents[2] / "sample_sites"


@pytest.fixture
def site(tmp_path):
    return Path(shutil.copytree(SAMPLES / "roadside", tmp_path / "roadside"))


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


def test_plan_writes_what_it_says_and_ends_with_the_cautions(site, tmp_path):
    result = run("plan", site, "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    written = {Path(line.strip()).name for line in result.output.splitlines() if line.startswith("  ")}
    assert written == {path.name for path in (tmp_path / "out").iterdir()}
    assert {
        "plan.gpkg",
        "map.html",
        "waypoints.gpx",
        "waypoints.kml",
        "long_section.svg",
        "setout.pdf",
        "client.pdf",
        "client.html",
        "takeoff.csv",
        "summary.json",
        "points_pnezd.csv",
        "points_penzd.csv",
        "points_pnezd.txt",
        "waypoint_names.csv",
        "handheld.txt",
        "schedule.csv",
        "quote.csv",
        "order.xlsx",
    } == written
    said = next(line for line in result.output.splitlines() if line.startswith("Not checked, on all or part"))
    assert all(kind in said for kind in ("buried service", "crossing", "side slope", "keep-out", "access"))
    assert result.output.rstrip().endswith(
        "it replaces no site inspection, survey, service location or safe work method."
    )


def test_every_post_only_when_asked(site, tmp_path):
    assert run("plan", site, "--out", tmp_path / "out", "--all-posts").exit_code == 0
    assert (tmp_path / "out" / "posts.gpx").exists()


def test_the_default_folder_is_outputs_below_the_current_one(site, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run("plan", "roadside").exit_code == 0
    assert (tmp_path / "outputs" / "roadside" / "summary.json").exists()


def test_check_lists_all_faults_at_once_one_line_each_and_writes_nothing(site):
    (site / "site.toml").write_text('[fence]\nkind = "wire"\npost_spacng_m = 4.0\nwires = "six"\n')
    (site / "gates.geojson").write_text("{")
    before = sorted(site.iterdir())
    result = run("check", site)
    assert result.exit_code == 2
    lines = [line for line in result.output.splitlines() if "Fix:" in line]
    assert len(lines) == 3
    assert any("post_spacng_m" in line and "post_spacing_m" in line for line in lines)
    assert any(line.startswith("gates.geojson") for line in lines)
    assert sorted(site.iterdir()) == before
    assert "Traceback" not in result.output


def test_a_site_without_faults_is_said_to_have_none(site):
    result = run("check", site)
    assert result.exit_code == 0
    assert "no faults found" in result.output


def test_a_faulty_site_leaves_an_older_plan_as_it_was(site, tmp_path):
    assert run("plan", site, "--out", tmp_path / "out").exit_code == 0
    before = (tmp_path / "out" / "summary.json").read_bytes()
    (site / "boundary.geojson").write_text("")
    assert run("plan", site, "--out", tmp_path / "out").exit_code == 2
    assert (tmp_path / "out" / "summary.json").read_bytes() == before


def test_a_folder_with_strangers_is_not_touched(site, tmp_path):
    out = tmp_path / "holiday"
    out.mkdir()
    (out / "photo.jpg").write_text("not ours")
    result = run("plan", site, "--out", out)
    assert result.exit_code == 2
    assert "photo.jpg" in result.output
    assert [path.name for path in out.iterdir()] == ["photo.jpg"]


def test_a_gate_wider_than_its_run_is_found_when_planning(tmp_path):
    site = tmp_path / "short"
    site.mkdir()
    line = {"type": "LineString", "coordinates": [[149.0, -34.0], [149.0001, -34.0]]}  # nine metres
    gate = {"type": "Point", "coordinates": [149.00005, -34.0]}
    for name, geometry, known in (("boundary", line, {}), ("gates", gate, {"opening_m": 12.0})):
        feature = {"type": "Feature", "properties": known, "geometry": geometry}
        (site / f"{name}.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    result = run("check", site)
    assert result.exit_code == 2
    assert "needs 12.24 m between post centres, more than its straight run has" in result.output


@pytest.mark.parametrize("words", [["--help"], ["plan", "--help"], ["--version"]])
def test_help_loads_no_heavy_library(words):
    heavy = "geopandas rasterio folium matplotlib scipy"
    code = (
        "import sys\nfrom fencegis.cli import main\n"
        f"try: main({words!r})\nexcept SystemExit: pass\n"
        f"found = [name for name in {heavy!r}.split() if name in sys.modules]\nassert not found, found"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr

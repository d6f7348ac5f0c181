"""Options side by side: figures, differences from the first, runs matched by place, one page whatever the number."""

from __future__ import annotations

import json
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely
from click.testing import CliRunner

from fencegis import plan_site, read_site
from fencegis.cli import main
from fencegis.errors import StrangersError
from fencegis.exports.compare import paper
from fencegis.exports.compare.folder import write_comparison
from fencegis.exports.compare.little_maps import little_maps
from fencegis.exports.compare.options import NOT_COMPUTED, comparison_of, difference
from fencegis.exports.compare.page import compare_page
from fencegis.exports.compare.paper import compare_pdf
from fencegis.exports.compare.placed import LEAST_NEAR_M, matched, matches, near_m, shapes_in
from fencegis.exports.words import metres
from fencegis.quantities.money import money_text
from fencegis.quantities.price import sums_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from fencegis.records.plan import Plan

SAMPLES = Path(__file__).parents[2] / "sample_sites"


def moved(plan: Plan, east_m: float, north_m: float, *, runs: int) -> Plan:
    """Return the plan with its first runs moved and no others."""
    kept = plan.runs.iloc[:runs].copy()
    return replace(plan, runs=kept.set_geometry(kept.geometry.translate(east_m, north_m)))


def in_another_grid(plan: Plan) -> Plan:
    """Return the same plan, its runs and gates in UTM: another grid on the same ground."""
    wkt = pyproj.CRS("EPSG:32755").to_wkt()
    turn = pyproj.Transformer.from_crs(plan.crs, wkt, always_xy=True)

    def turned(frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
        shapes = shapely.transform(frame.geometry.to_numpy(), lambda at: np.column_stack(turn.transform(*at.T)))
        return gpd.GeoDataFrame(frame.drop(columns="geometry"), geometry=shapes, crs=wkt)

    return replace(plan, crs=wkt, runs=turned(plan.runs), gates=turned(plan.gates))


def test_the_same_plan_twice_differs_in_nothing(register_plan: Plan) -> None:
    told = comparison_of([register_plan, register_plan])
    changes = {change for measure in told.measures for change in measure.changes}
    assert changes == {"same", ""}
    assert told.changed == (("At the same place, within 4.2\u00a0m: runs 1 to 3 of the first.",),)
    values = {measure.title: measure.values[0] for measure in told.measures if measure.part == "The fence"}
    assert values["Runs"] == "3"
    assert values["Posts, all"] == str(len(register_plan.posts))
    assert values["Trees to go"] == "1"
    work = {m.title: m for m in told.measures if m.part == "Work and money"}
    assert list(work) == ["Crew hours", "Cost with tax"]


def test_hours_and_cost_are_the_plans_own() -> None:
    site = read_site(SAMPLES / "roadside")
    first, other = plan_site(site), plan_site(replace(site, rates=None))
    told = {measure.title: measure for measure in comparison_of([first, other]).measures}
    assert told["Crew hours"].values[0] == f"{first.days['hours_h'].sum():.0f} h"
    assert told["Crew hours"].changes == ("same",)
    cost = told["Cost with tax, AUD"]
    assert cost.values == (money_text(sums_of(first.price).total_cents), NOT_COMPUTED)
    assert cost.changes == ("",)


def test_differences_are_from_the_first_with_their_sign(small_plan: Plan) -> None:
    told = comparison_of([small_plan, moved(small_plan, 0.0, 0.0, runs=2), small_plan])
    length = next(measure for measure in told.measures if measure.title == "Length along the ground")
    assert length.changes == ("−60\u00a0m", "same")
    assert told.changed[0][-1] == "Gone: run 3 of the first."
    assert difference(-0.3, metres) == "−0.3\u00a0m"
    assert difference(0.01, metres) == "same"
    assert difference(2.0, metres) == "+2.0\u00a0m"


def test_flagged_and_not_checked_stand_apart_by_kind(small_plan: Plan) -> None:
    told = comparison_of([small_plan, small_plan])
    by_part = {(m.part, m.title): m.values[0] for m in told.measures}
    assert by_part["Flagged, metres of fence", "Overhead power lines"] == "32\u00a0m"  # 19.5 and 12
    assert by_part["Not checked, metres of fence", "Side slope"] == "180\u00a0m"


def test_runs_are_matched_by_place_not_by_number(small_plan: Plan) -> None:
    backwards = replace(small_plan, runs=small_plan.runs.iloc[::-1].reset_index(drop=True))
    assert [(m.first, m.other) for m in matches(small_plan, backwards)] == [(1, 3), (2, 2), (3, 1)]
    near = moved(small_plan, 3.0, 0.0, runs=3)
    found = matches(small_plan, near)
    assert [(m.first, m.other) for m in found] == [(1, 1), (2, 2), (3, 3)]
    assert all(1.0 < match.apart_m <= 3.0 + 1e-9 for match in found)
    far = moved(small_plan, 500.0, 0.0, runs=3)
    assert [(m.first, m.other) for m in matches(small_plan, far)] == [(1, 0), (2, 0), (3, 0), (0, 1), (0, 2), (0, 3)]


def test_how_near_is_one_place(small_plan: Plan) -> None:
    assert near_m(small_plan, small_plan) == pytest.approx(3.0 * np.sqrt(2.0))  # two hands of 1 m
    site = small_plan.site
    surveyed = replace(small_plan, site=replace(site, drawn=tuple(replace(line, sigma_m=0.0) for line in site.drawn)))
    assert near_m(surveyed, surveyed) == LEAST_NEAR_M


def test_a_run_is_matched_once_and_the_longest_overlap_wins() -> None:
    line = shapely.LineString([(0, 0), (100, 0)])
    halves = [shapely.LineString([(0, 1), (40, 1)]), shapely.LineString([(40, 1), (100, 1)])]
    assert matched([line], halves, near_m=2.0) == [(0, 1)]
    assert matched([line], [shapely.LineString([(50, -80), (50, 80)])], near_m=2.0) == []  # it only crosses


def test_another_grid_is_drawn_in_the_firsts(small_plan: Plan) -> None:
    other = in_another_grid(small_plan)
    for one, two in zip(small_plan.runs.geometry, shapes_in(other, small_plan.crs), strict=True):
        assert shapely.hausdorff_distance(one, two) < 0.001
    assert all(match.apart_m < 0.001 for match in matches(small_plan, other))
    scenes, scale = little_maps([small_plan, other], wide_mm=92.0, tall_mm=(34.0, 62.0))
    assert {(scene.wide_mm, scene.tall_mm) for scene in scenes} == {(92.0, scenes[0].tall_mm)}
    assert scale >= 1000.0 * 160.0 / 92.0  # 120 m and the ground beside it are on the map


@pytest.mark.parametrize("count", [1, 7])
def test_two_to_six_options(small_plan: Plan, count: int) -> None:
    with pytest.raises(ValueError, match="2 to 6 plans are compared"):
        comparison_of([small_plan] * count)


@pytest.mark.parametrize("count", [2, 3, 6])
def test_one_sheet_whatever_the_number(
    register_plan: Plan, count: int, require_program: Callable[[str], str], tmp_path: Path
) -> None:
    require_program("pdftoppm")
    path = tmp_path / paper.NAME
    path.write_bytes(compare_pdf([register_plan] * count))
    told = subprocess.run(
        [require_program("pdftotext"), "-layout", path, "-"], capture_output=True, check=True, text=True
    ).stdout
    assert told.count("\f") == 1
    said = " ".join(told.split())
    assert said.count(NOT_COMPUTED) == 2 * count
    assert said.count("runs matched by place") == count - 1
    assert "This does not fix a boundary." in said
    assert "no leave to go ahead" in said


def test_the_page_is_inert_and_says_the_same(register_plan: Plan) -> None:
    page = compare_page([register_plan, register_plan])
    text = page.decode()
    assert "<script" not in text
    assert "default-src 'none'" in text
    assert "A&amp;B &quot;quote&quot;" in text
    for measure in comparison_of([register_plan, register_plan]).measures:
        assert f"{measure.title}</th>" in text
    assert page == compare_page([register_plan, register_plan])
    assert compare_pdf([register_plan] * 2) == compare_pdf([register_plan] * 2)


def test_a_folder_of_its_own_and_never_over_a_plan(small_plan: Plan, tmp_path: Path) -> None:
    out = tmp_path / "side"
    written = write_comparison([small_plan, small_plan], out)
    assert [path.name for path in written] == ["compare.html", "compare.pdf"]
    assert write_comparison([small_plan, small_plan], out) == written  # again over itself
    plan = tmp_path / "plan"
    plan.mkdir()
    (plan / "summary.json").write_text(json.dumps({"made_by": "fencegis", "files": ["summary.json"]}))
    with pytest.raises(StrangersError, match="holds a plan"):
        write_comparison([small_plan, small_plan], plan)
    (out / "photo.jpg").write_text("not ours")
    with pytest.raises(StrangersError, match=r"photo\.jpg"):
        write_comparison([small_plan, small_plan], out)
    assert sorted(path.name for path in out.iterdir()) == ["compare.html", "compare.pdf", "photo.jpg"]


def run(*words: object):
    return CliRunner().invoke(main, [str(word) for word in words])


def test_the_command_writes_both_files(tmp_path: Path) -> None:
    result = run("compare", SAMPLES / "roadside", SAMPLES / "hill", "--out", tmp_path / "side")
    assert result.exit_code == 0, result.output
    assert sorted(path.name for path in (tmp_path / "side").iterdir()) == ["compare.html", "compare.pdf"]
    assert "replace no site inspection" in result.output


def test_faults_of_all_sites_come_together_and_nothing_is_written(tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "boundary.geojson").write_text("{")
    result = run("compare", tmp_path / "one", tmp_path / "two", "--out", tmp_path / "side")
    assert result.exit_code == 2
    lines = [line for line in result.output.splitlines() if "Fix:" in line]
    assert [line.split(":")[0].split(",")[0] for line in lines] == [
        str(tmp_path / "one" / "boundary.geojson"), str(tmp_path / "two" / "boundary.geojson"),
    ]  # fmt: skip
    assert not (tmp_path / "side").exists()


@pytest.mark.parametrize("count", [0, 1, 7])
def test_too_few_or_too_many_sites_are_a_fault_of_use(tmp_path: Path, count: int) -> None:
    result = run("compare", *[SAMPLES / "roadside"] * count, "--out", tmp_path / "side")
    assert result.exit_code == 2
    assert f"2 to 6 sites fit on one page; {count} were named." in result.output

"""The plans of the sample sites, held against what their drawings stand for."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from pyproj import Transformer
from shapely import LinearRing, LineString, Point

from fencegis import plan_site, read_site
from fencegis.errors import InputError

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType

    from fencegis.records.plan import Plan


@pytest.fixture(scope="session")
def roadside(samples: Path) -> Plan:
    return plan_site(read_site(samples / "roadside"))


@pytest.fixture(scope="session")
def hill(samples: Path) -> Plan:
    return plan_site(read_site(samples / "hill"))


def in_grid_of(plan: Plan, epsg: int, points: np.ndarray) -> np.ndarray:
    """Return points of the truth in the plan's grid."""
    move = Transformer.from_crs(f"EPSG:{epsg}", plan.crs, always_xy=True)
    return np.column_stack(move.transform(*np.asarray(points).T))


def path(plan: Plan, line_id: str) -> np.ndarray:
    """Return the corners of a planned line, ends included."""
    runs = plan.runs[plan.runs.line_id == line_id].geometry
    return np.vstack([runs.iloc[0].coords[:1], *(run.coords[-1:] for run in runs)])


def test_the_frontage_is_found_again(roadside: Plan, maker: ModuleType) -> None:
    truth = maker.truth()["roadside"]
    true = in_grid_of(roadside, truth.epsg, truth.lines["frontage"])
    planned = path(roadside, "A")
    assert LineString(planned).hausdorff_distance(LineString(true)) < 1.0
    np.testing.assert_allclose(planned[[0, -1]], true[[0, -1]], atol=0.03)  # the pegs hold both ends
    assert np.hypot(*(planned[-2] - true[-2])) < 1.0  # the sharp one: a bend of 5° is loose along the line


def test_the_curve_is_planned_as_bends_of_a_few_degrees(roadside: Plan) -> None:
    turns = roadside.corners.turn_deg.abs().to_numpy()
    assert len(turns) == 4
    assert ((turns[:-1] > 3.0) & (turns[:-1] < 6.0)).all()
    assert turns[-1] == pytest.approx(55.0, abs=1.0)


def test_the_frontage_is_a_rail_fence_with_two_gates(roadside: Plan) -> None:
    assert list(roadside.gates.name) == ["Main entrance", "Field gate"]
    assert roadside.bays.ground_length_m.max() < 2.4
    assert set(roadside.strainers.reason) <= {"end", "gate", "corner", "junction"}


def test_every_row_of_rails_covers_every_bay_once_and_the_gap_keeps_its_limits(roadside: Plan) -> None:
    fence = roadside.site.spec.fence
    for _, row in roadside.rails.groupby("row"):
        assert (row.from_m.to_numpy()[1:] >= row.to_m.to_numpy()[:-1] - 1e-9).all()
        assert (row.to_m - row.from_m).sum() == pytest.approx(roadside.bays.length_m.sum())
    assert roadside.rails["row"].nunique() == fence.rails
    assert roadside.rails.stick.eq(4.8).all()
    assert roadside.gaps.least_m.min() >= fence.gap_min_m - 1e-4
    assert roadside.gaps.greatest_m.max() <= fence.gap_max_m + 1e-4
    assert len(roadside.gaps) == len(roadside.bays)
    assert roadside.spots.empty


def test_a_machine_lower_than_the_longest_post_is_a_fault(roadside: Plan) -> None:
    spec = roadside.site.spec
    assert spec.machine
    low = spec.model_copy(update={"machine": spec.machine.model_copy(update={"working_height_m": 3.2})})
    with pytest.raises(InputError, match="the machine cannot be lower than the post it drives"):
        plan_site(replace(roadside.site, spec=low))


def test_the_service_line_is_flagged_over_the_entrance_and_nowhere_else(roadside: Plan) -> None:
    power, rail = roadside.hazards[roadside.hazards.kind == "overhead power"].itertuples()
    entrance = roadside.gates.iloc[0]
    for row in (power, rail):
        assert row.from_m < entrance.from_m < entrance.to_m < row.to_m
        assert row.to_m - row.from_m < 30.0
        assert row.required_m == 3.0
    assert power.clearance_given_m == pytest.approx(5.7 - 4.6, abs=0.05)
    assert rail.clearance_given_m == pytest.approx(0.0, abs=0.05)  # 4.8 m lifted on end, its foot at 1 m
    assert roadside.notes.text.str.contains("over the gate of gates.geojson, feature 1 .*: a delivery truck").any()


def test_the_trees_are_flagged_but_not_the_far_one_nor_the_limbed_one(roadside: Plan) -> None:
    limbs = roadside.hazards[roadside.hazards.kind == "tree limb"]
    named = limbs.basis.str.extract(r"\(Tree (\d)\)")[0]
    assert sorted(set(named)) == ["2", "3", "4", "5", "6", "7"]
    assert limbs[named == "6"].basis.str.contains("dead").all()


def test_posts_of_the_frontage_stand_clear_of_the_orchids(roadside: Plan) -> None:
    assert roadside.site.keepout is not None
    (patch,) = roadside.site.keepout.geometry
    assert 2.0 < roadside.posts.distance(patch).min() < 6.0  # beside the line, and no post in it


@pytest.mark.parametrize("site", ["roadside", "hill"])
def test_every_layer_of_a_sample_is_read(site: str, request: pytest.FixtureRequest) -> None:
    plan: Plan = request.getfixturevalue(site)
    for name in ("watercourses", "services", "keepout", "tracks", "existing"):
        layer = getattr(plan.site, name)
        assert layer is not None
        assert len(layer)
        assert f"{name}.geojson" in plan.site.inputs
    assert plan.site.unread == ()


@pytest.mark.parametrize(("name", "line_id"), [("loop", "H"), ("cross", "X")])
def test_the_hill_is_found_again(name: str, line_id: str, hill: Plan, maker: ModuleType) -> None:
    """As many corners, each within four deviations of a drawn vertex; a length good to the two ends' worth of them."""
    truth = maker.truth()["hill"]
    true = in_grid_of(hill, truth.epsg, truth.lines[name])
    ideal = LinearRing(true) if truth.closed[name] else LineString(true)
    planned = path(hill, line_id)
    assert len(planned) - truth.closed[name] == len(true)
    assert LineString(planned).hausdorff_distance(ideal) < 4.0
    assert all(np.hypot(*(planned - corner).T).min() < 4.0 for corner in true)
    length_m = hill.runs[hill.runs.line_id == line_id].length_m.sum()
    assert length_m == pytest.approx(ideal.length, abs=4.0)


def test_the_cross_fence_joins_the_loop_at_two_nodes(hill: Plan) -> None:
    shared = hill.nodes.groupby("node_id").line_id.agg(lambda ids: tuple(sorted(ids)))
    assert list(shared) == [("H", "X"), ("H", "X")]
    for node in shared.index:
        assert (hill.strainers.node_id == node).sum() == 1
    ends = path(hill, "X")[[0, -1]]
    loop = LinearRing(path(hill, "H"))
    assert all(loop.distance(Point(end)) < 0.002 for end in ends)


def test_the_line_on_towers_is_flagged_where_it_crosses(hill: Plan, maker: ModuleType) -> None:
    truth = maker.truth()["hill"]
    towers = LineString(in_grid_of(hill, truth.epsg, truth.points["towers"]))
    crossings = LinearRing(path(hill, "H")).intersection(towers).geoms
    power = hill.hazards[hill.hazards.kind == "overhead power"]
    assert len(power) == len(crossings) == 2
    for span in power.geometry:
        assert min(span.distance(crossing) for crossing in crossings) < 0.01
    assert (power.line_id == "H").all()
    assert (power.required_m == 15 * 0.3048).all()  # 29 CFR 1926.1408, Table A: over 50 to 200 kV, 15 ft


def test_the_phone_line_of_unknown_height_is_flagged_as_unknown(hill: Plan) -> None:
    (phone,) = hill.hazards[hill.hazards.kind == "overhead phone"].itertuples()
    assert np.isnan(phone.clearance_m)
    assert "unknown" in phone.basis


def test_what_was_not_looked_at_is_said(hill: Plan) -> None:
    trees = hill.checks[hill.checks.kind == "tree limb"]
    assert set(trees.status) == {"not checked"}
    assert hill.notes.text.str.contains("existing.geojson is read, but by this version").any()


@pytest.mark.parametrize("site", ["roadside", "hill"])
def test_grades_come_from_the_raster(site: str, request: pytest.FixtureRequest) -> None:
    plan: Plan = request.getfixturevalue(site)
    assert np.isfinite(plan.profile.ground_m).all()
    off_m = np.abs(plan.profile.fitted_m - plan.profile.ground_m)
    assert np.median(off_m) < 2 * plan.site.spec.elevation.vertical_error_m
    assert np.ptp(plan.profile.ground_m) > (2.0 if site == "roadside" else 100.0)


def test_the_hill_is_on_loam_and_rock_and_unknown_between(hill: Plan) -> None:
    """Two invented zones: every metre has its row, every post its soil, and what no zone covers says so."""
    soils = hill.soils
    by_line = (soils["to_m"] - soils["from_m"]).groupby(soils["line_id"]).sum()
    runs = (hill.runs["to_m"] - hill.runs["from_m"]).groupby(hill.runs["line_id"]).sum()
    np.testing.assert_allclose(by_line[["H", "X"]], runs[["H", "X"]])
    assert set(soils["soil"][soils["basis"] == "soils.geojson"]) == {"loam", "rock"}
    assert set(hill.posts["soil"]) == {"loam", "rock", "not checked"}
    assert hill.posts.loc[hill.posts["soil"] == "rock", "hole_mm"].notna().all()
    line = hill.posts[hill.posts["kind"] == "line"].groupby("soil")["embed_m"].max()
    assert line["not checked"] > line["loam"]  # the deeper assumption
    assert hill.posts["embed_m"].notna().all()
    assert any("soils.geojson has loam here" in text for text in hill.notes["text"])  # the seep

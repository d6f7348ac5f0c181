"""What must hold for any site: sites are made in memory, no file is touched."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest
import shapely
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from fencegis import Plan, Site, Spec, plan_site
from fencegis.inputs.crs import geographic, working_grid
from fencegis.records.site import DrawnLine
from fencegis.records.spec import Rules, Walked
from fencegis.records.terrain import Patch, Terrain
from fencegis.strength.values import value_of
from fencegis.strength.wire import mean_post_turn_deg, tension_after

if TYPE_CHECKING:
    from fencegis.records.spec import FenceKind

Floats = npt.NDArray[np.float64]

GRID = working_grid(np.array([[149.2, -34.5]]), datum=geographic("WGS 84"), height_m=300.0)
START = np.array([50_000.0, 80_000.0])
CELL_M = 4.0
LENGTH = st.floats(60.0, 260.0).map(lambda length: round(length, 2))
TURN = st.floats(20.0, 100.0).map(lambda turn: round(turn, 1))
STEEP = st.floats(-0.12, 0.12).map(lambda grade: round(grade, 3))

# A plan takes a fifth of a second: few examples, always the same ones, and no search for a smaller failing one.
for_any_site = settings(
    deadline=None,
    max_examples=8,
    derandomize=True,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=[HealthCheck.too_slow],
)


@st.composite
def walks(draw: st.DrawFn, *, legs: int = 4) -> Floats:
    """Corners of an open line of up to so many legs, none near another that it does not touch."""
    bearing, point, corners = math.radians(draw(st.integers(0, 359))), START, [START]
    for _ in range(draw(st.integers(1, legs))):
        point = point + draw(LENGTH) * np.array([math.sin(bearing), math.cos(bearing)])
        corners.append(point)
        bearing += math.radians(draw(TURN) * draw(st.sampled_from([-1, 1])))
    path = np.array(corners)
    parts = [shapely.LineString(part) for part in pairwise(path)]
    assume(all(a.distance(b) > 20.0 for place, a in enumerate(parts) for b in parts[place + 2 :]))
    return path


@st.composite
def gentle_walks(draw: st.DrawFn) -> Floats:
    """Corners of a line of many small bends, none of which some bend rule asks a strainer of."""
    bearing, point, corners = math.radians(draw(st.integers(0, 359))), START, [START]
    for _ in range(draw(st.integers(3, 8))):
        point = point + draw(st.floats(40.0, 110.0)) * np.array([math.sin(bearing), math.cos(bearing)])
        corners.append(point)
        bearing += math.radians(draw(st.floats(7.0, 14.9)) * draw(st.sampled_from([-1, 1, 1])))
    return np.array(corners)


def drawn(line_id: str, corners: Floats, *, closed: bool = False, kind: FenceKind = "wire") -> DrawnLine:
    return DrawnLine(line_id, "", f"feature {line_id}", kind, None, closed, corners, 1.0)


def plane(lines: tuple[DrawnLine, ...], east_grade: float, north_grade: float) -> Terrain:
    """Ground that rises evenly, 100 m about the lines, on cells along the working grid."""
    points = np.vstack([line.vertices for line in lines])
    west, south = np.floor(points.min(axis=0) / CELL_M) * CELL_M - 100.0
    columns, rows = (np.ceil((points.max(axis=0) + 100.0 - (west, south)) / CELL_M) + 1).astype(int)
    east = west + CELL_M * (np.arange(columns) + 0.5)
    north = south + CELL_M * (rows - np.arange(rows) - 0.5)
    level = 300.0 + east_grade * (east - START[0])[None, :] + north_grade * (north - START[1])[:, None]
    affine = (CELL_M, 0.0, west, 0.0, -CELL_M, south + CELL_M * rows)
    tiles = level.astype("float32")[None]
    patch = Patch("elevation.tif", GRID.wkt, affine, (int(rows), int(columns)), tiles, np.zeros((1, 1), "int32"))
    return Terrain((patch,), CELL_M)


def site_of(*lines: DrawnLine, grades: tuple[float, float] | None = None, **fence: object) -> Site:
    spec = Spec.model_validate({"fence": fence, "machine": {"working_height_m": 5.2, "reach_m": 2.0}})
    site = Site("any", "Any", spec, GRID, lines)
    return replace(site, terrain=plane(lines, *grades)) if grades else site


def overhead(path: Floats) -> gpd.GeoDataFrame:
    unknown = dict.fromkeys(("sag_m", "half_width_m", "height_error_m"), np.nan)
    words = dict.fromkeys(("name", "height_from", "insulated", "support"))
    row = {"feature": "feature 1", "kind": "power", "voltage_kv": 11.0, "height_m": 7.0, **unknown, **words}
    return gpd.GeoDataFrame([row], geometry=[shapely.LineString(path)], crs=GRID.wkt)


def gate_at(place: Floats) -> gpd.GeoDataFrame:
    unknown = dict.fromkeys(("leaf_m", "leaves", "setback_m", "wing_m", "gate_post_mm"), np.nan)
    row = {"feature": "feature 1", "name": None, "opening_m": 3.6, "hinge": None, "swing_side": None, **unknown}
    return gpd.GeoDataFrame([row], geometry=[shapely.Point(place)], crs=GRID.wkt)


def length_of(corners: Floats, *, closed: bool = False) -> float:
    path = np.vstack([corners, corners[:1]]) if closed else corners
    return float(np.hypot(*np.diff(path, axis=0).T).sum())


def stations(frame: pd.DataFrame) -> Floats:
    return np.sort(frame["chainage_m"].to_numpy())


def tiles(spans: pd.DataFrame) -> tuple[float, float]:
    """Where spans that tile a line begin and end; fails where two overlap or leave a gap."""
    spans = spans.sort_values("from_m")
    assert spans["from_m"].to_numpy()[1:] == pytest.approx(spans["to_m"].to_numpy()[:-1], abs=1e-6)
    return float(spans["from_m"].iloc[0]), float(spans["to_m"].iloc[-1])


def same(one: Plan, two: Plan) -> None:
    for (name, left), (_, right) in zip(one.layers(), two.layers(), strict=True):
        pd.testing.assert_frame_equal(pd.DataFrame(left), pd.DataFrame(right), obj=name)
    assert one.not_computed == two.not_computed


@for_any_site
@given(walks(), st.tuples(STEEP, STEEP))
def test_chainages_add_up(corners: Floats, grades: tuple[float, float]) -> None:
    """Runs tile the line; bays tile it from post to post; a bay is no longer on the flat than on the ground."""
    plan = plan_site(site_of(drawn("A", corners), grades=grades))
    assert tiles(plan.runs) == pytest.approx((0.0, length_of(corners)), abs=1e-6)
    assert tiles(plan.bays) == pytest.approx((0.0, length_of(corners)), abs=1e-6)
    assert plan.runs["length_m"].sum() == pytest.approx(length_of(corners), abs=1e-6)
    assert len(plan.posts) == len(plan.bays) + 1
    assert (plan.bays["ground_length_m"] >= plan.bays["length_m"] - 1e-9).all()
    assert plan.bays["ground_length_m"].sum() == pytest.approx(plan.posts["ground_chainage_m"].max(), abs=1e-6)
    assert (plan.posts["ground_chainage_m"].diff().dropna() > 0).all()


@for_any_site
@given(walks(), st.tuples(STEEP, STEEP), st.sampled_from([2.4, 5.0, 8.0]))
def test_no_bay_exceeds_the_spacing(corners: Floats, grades: tuple[float, float], spacing: float) -> None:
    fence = {"post_spacing_m": spacing, "bay_tolerance_mm": 10.0, "strain_m": 100.0}
    plan = plan_site(site_of(drawn("A", corners), grades=grades, **fence))
    assert plan.bays["ground_length_m"].max() <= spacing + 0.010 + 1e-9
    strained = np.diff(np.interp(stations(plan.strainers), stations(plan.posts), plan.posts["ground_chainage_m"]))
    assert strained.max() <= 100.0 + 1e-3


@for_any_site
@given(walks(), st.tuples(STEEP, STEEP))
def test_reversing_a_line_mirrors_stations_and_flips_signs(corners: Floats, grades: tuple[float, float]) -> None:
    there = plan_site(site_of(drawn("A", corners), grades=grades))
    back = plan_site(site_of(drawn("A", corners[::-1]), grades=grades))
    length = length_of(corners)
    for layer in ("corners", "strainers", "posts", "breaks"):
        assert stations(getattr(back, layer)) == pytest.approx(length - stations(getattr(there, layer))[::-1], abs=1e-5)
    assert back.corners["turn_deg"].to_numpy() == pytest.approx(-there.corners["turn_deg"].to_numpy()[::-1], abs=1e-6)
    assert back.bays["grade_pct"].to_numpy() == pytest.approx(-there.bays["grade_pct"].to_numpy()[::-1], abs=1e-3)
    turned = (back.runs["bearing_true_deg"].to_numpy()[::-1] - there.runs["bearing_true_deg"].to_numpy()) % 360.0
    assert turned == pytest.approx(180.0, abs=0.01)


@for_any_site
@given(walks(), st.integers(0, 359), st.tuples(st.integers(-3000, 3000), st.integers(-3000, 3000)))
def test_moving_and_turning_a_site_leaves_quantities_alone(
    corners: Floats, turned_deg: int, moved_m: tuple[int, int]
) -> None:
    angle = math.radians(turned_deg)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    grade = np.array([0.05, -0.08])
    here = plan_site(site_of(drawn("A", corners), grades=(grade[0], grade[1])))
    elsewhere = (corners - START) @ turn.T + START + moved_m
    there = plan_site(site_of(drawn("A", elsewhere), grades=tuple(turn @ grade)))
    for layer in ("runs", "corners", "strainers", "posts", "bays"):
        one, two = getattr(here, layer), getattr(there, layer)
        assert len(one) == len(two), layer
        for column in ("chainage_m", "from_m", "to_m", "length_m", "ground_length_m", "turn_deg", "tape_m"):
            if column in one:
                assert two[column].to_numpy() == pytest.approx(one[column].to_numpy(), abs=2e-3, nan_ok=True), (
                    layer,
                    column,
                )


@for_any_site
@given(walks(legs=2), st.floats(0.2, 0.8), st.sampled_from([-1, 1]), st.floats(-1.5, 1.5))
def test_a_junction_has_one_post(corners: Floats, share: float, side: int, short_m: float) -> None:
    """The stem's end lies up to 1.5 m off the through line, as a hand draws it."""
    along = (corners[1] - corners[0]) / np.hypot(*(corners[1] - corners[0]))
    square = side * np.array([along[1], -along[0]])
    foot = corners[0] + share * (corners[1] - corners[0])
    stem = np.array([foot + square * 90.0, foot + square * short_m])
    assume(len(corners) == 2 or shapely.LineString(corners[1:]).distance(shapely.LineString(stem)) > 20.0)
    plan = plan_site(site_of(drawn("A", corners), drawn("B", stem)))
    node = plan.nodes.groupby("node_id").filter(lambda rows: len(rows) == 2)
    assert set(node["line_id"]) == {"A", "B"}
    place = shapely.Point(foot)
    assert (plan.posts.distance(place) < 0.5).sum() == 1
    assert (plan.strainers.distance(place) < 0.5).sum() == 1
    assert not plan.posts["post_id"].duplicated().any()
    assert tiles(plan.bays[plan.bays["line_id"] == "B"])[0] == pytest.approx(0.0, abs=1e-6)
    assert set(plan.bays["from_post"]) | set(plan.bays["to_post"]) == set(plan.posts["post_id"])


@for_any_site
@given(gentle_walks(), st.tuples(STEEP, STEEP))
def test_no_strain_turns_more_than_the_wires_bear(corners: Floats, grades: tuple[float, float]) -> None:
    """Friction at every bend, taken one after the other, leaves at the far end the share that the catalogue asks."""
    site = site_of(drawn("A", corners), grades=grades)
    site = replace(site, spec=site.spec.model_copy(update={"rules": Rules(bends="caltrans-80-2")}))
    plan = plan_site(site)
    bends = plan.corners.set_index("chainage_m")["turn_deg"]
    for begin, end in pairwise(stations(plan.strainers)):
        inside = bends[(bends.index > begin + 0.01) & (bends.index < end - 0.01)].abs()
        line_posts = plan.posts["chainage_m"].between(begin + 0.01, end - 0.01).sum() - len(inside)
        turns = [*inside, *np.full(line_posts, float(mean_post_turn_deg(5.0)))]
        left = tension_after(turns, tension_kn=1.0)[-1] if turns else 1.0
        assert left >= value_of("wire", "kept tension") - 0.01
    assert set(np.round(bends.index, 3)) <= set(np.round(plan.posts["chainage_m"], 3))


@for_any_site
@given(walks(legs=3), st.data())
def test_a_gate_near_a_corner_or_an_end_shares_its_post(corners: Floats, data: st.DataObject) -> None:
    """Drawn anywhere near one; every place has one post and one strainer."""
    corner = data.draw(st.integers(0, len(corners) - 1))
    beside = corners[corner - 1] if corner else corners[1]
    along = (beside - corners[corner]) / np.hypot(*(beside - corners[corner]))
    at = corners[corner] + data.draw(st.floats(0.0, 3.0)) * along
    plan = plan_site(replace(site_of(drawn("A", corners)), gates=gate_at(at)))
    place = shapely.Point(corners[corner])
    assert (plan.posts.distance(place) < 0.05).sum() == 1
    assert (plan.strainers.distance(place) < 0.05).sum() == 1
    assert len(plan.gates) == 1
    assert (plan.posts["chainage_m"].diff().dropna() > 0.05).all()
    alone = set(plan.posts["post_id"]) - set(plan.bays["from_post"]) - set(plan.bays["to_post"])
    assert alone <= {plan.posts["post_id"].iloc[0], plan.posts["post_id"].iloc[-1]}  # a gate at an open end
    assert len(plan.bays) == len(plan.posts) - 2  # one fewer than posts, and the opening is none


@for_any_site
@given(walks(), st.floats(8.0, 60.0))
def test_no_string_in_rail_is_longer_than_one_reaches(corners: Floats, string_m: float) -> None:
    line = drawn("A", corners, kind="post and rail")
    plan = plan_site(site_of(line, kind="post and rail", rail_m=[4.8], string_m=string_m))
    heavier = plan.posts["chainage_m"][plan.posts["kind"].isin(["key", "strainer"])]
    assert heavier.diff().max() <= string_m + 1e-3
    whole_bays_m = string_m - plan.bays["ground_length_m"].max()  # a string ends on a post: less than a bay is lost
    enough = sum(max(1, math.ceil((length - 1e-3) / whole_bays_m)) for length in plan.runs["ground_length_m"])
    assert len(heavier) - 1 <= enough


@for_any_site
@given(walks(), st.tuples(STEEP, STEEP), st.data())
def test_two_posts_at_a_corner_stand_once_each_and_no_rail_crosses_between(
    corners: Floats, grades: tuple[float, float], data: st.DataObject
) -> None:
    """One post more than bays, and one more at every corner but where a gate hangs on the corner's own."""
    given_fence = {"kind": "post and rail", "rail_m": [4.8], "corner": "two posts", "line_is": "face"}
    site = site_of(drawn("A", corners, kind="post and rail"), grades=grades, **given_fence)
    corner = data.draw(st.integers(0, len(corners) - 1))
    beside = corners[corner - 1] if corner else corners[1]
    along = (beside - corners[corner]) / np.hypot(*(beside - corners[corner]))
    plan = plan_site(replace(site, gates=gate_at(corners[corner] + data.draw(st.floats(0.0, 6.0)) * along)))
    on_gate = {round(float(end), 3) for end in plan.gates[["from_m", "to_m"]].to_numpy().ravel()}
    alone = sum(round(float(at), 3) in on_gate for at in plan.corners["chainage_m"])
    pairs = len(plan.corners) - alone
    assert len(plan.posts) == len(plan.bays) + 1 + pairs + len(plan.gates)
    assert not plan.posts["post_id"].duplicated().any()
    assert (plan.posts["chainage_m"].diff().dropna() > 0.05).all()
    for at in plan.corners["chainage_m"]:
        assert not ((plan.rails["from_m"] < at - 0.01) & (plan.rails["to_m"] > at + 0.01)).any()
    near = plan.bays["from_m"].to_numpy()[:, None] - plan.corners["chainage_m"].to_numpy()[None, :]
    assert ((near > 0.05) & (near < 0.6)).sum() == pairs  # a bay begins at each second post, and at no first one
    assert (plan.rails.groupby("row")["bays"].sum() == len(plan.bays)).all()


@for_any_site
@given(walks(), st.tuples(STEEP, STEEP))
def test_a_plane_has_no_breaks(corners: Floats, grades: tuple[float, float]) -> None:
    """A straight run over a plane has one grade; only turning at a corner changes it."""
    plan = plan_site(site_of(drawn("A", corners), grades=grades))
    assert len(plan.breaks) <= len(plan.corners)
    straight = plan_site(site_of(drawn("A", corners[:2]), grades=grades))
    assert len(straight.breaks) == 0
    assert straight.bays["grade_pct"].max() == pytest.approx(straight.bays["grade_pct"].min(), abs=1e-3)


@for_any_site
@given(walks(), st.floats(-80.0, 80.0), st.booleans())
def test_taking_a_hazard_layer_away_turns_answers_into_not_checked(
    corners: Floats, aside_m: float, walked: bool
) -> None:
    """A missing layer is never read as nothing there, whoever walked; and no layer lowers a flag that nobody walked."""
    wire = np.array([[-400.0, aside_m], [400.0, aside_m + 30.0]]) + corners.mean(axis=0)
    site = site_of(drawn("A", corners), grades=(0.02, 0.01))
    if walked:
        site = replace(site, spec=site.spec.model_copy(update={"walked": Walked(overhead="2026-03-01, looking up")}))
    without, with_it = plan_site(site), plan_site(replace(site, overhead=overhead(wire)))
    power, answered = (plan.checks[plan.checks["kind"] == "overhead power"] for plan in (without, with_it))
    for answers in (power, answered):
        assert tiles(answers) == pytest.approx((0.0, length_of(corners)), abs=1e-6)
    assert set(power["status"]) == {"not checked"}
    assert not (without.hazards["kind"] == "overhead power").any()
    assert ("clear" in set(answered["status"])) <= walked
    if walked:
        assert set(answered["status"]) <= {"flagged", "clear"}


@for_any_site
@given(walks(), st.one_of(st.none(), st.tuples(STEEP, STEEP)))
def test_planning_twice_gives_one_result(corners: Floats, grades: tuple[float, float] | None) -> None:
    site = site_of(drawn("A", corners), grades=grades)
    same(plan_site(site), plan_site(site))


@for_any_site
@given(walks())
def test_without_heights_nothing_is_said_of_the_ground(corners: Floats) -> None:
    plan = plan_site(site_of(drawn("A", corners)))
    assert plan.bays["grade_pct"].isna().all()
    assert plan.posts["ground_m"].isna().all()
    assert len(plan.breaks) == 0
    assert plan.bays["ground_length_m"].to_numpy() == pytest.approx(plan.bays["length_m"].to_numpy(), abs=1e-9)


@for_any_site
@given(st.integers(3, 7), st.floats(80.0, 200.0), st.integers(0, 359))
def test_a_loop_closes(sides: int, radius: float, turned_deg: int) -> None:
    angle = np.radians(turned_deg) + 2 * np.pi * np.arange(sides) / sides
    corners = START + radius * np.column_stack([np.sin(angle), np.cos(angle)])
    plan = plan_site(site_of(drawn("A", corners, closed=True), grades=(0.03, -0.02)))
    round_m = length_of(corners, closed=True)
    assert tiles(plan.runs) == pytest.approx((0.0, round_m), abs=1e-6)
    assert tiles(plan.bays) == pytest.approx((0.0, round_m), abs=1e-6)
    assert len(plan.posts) == len(plan.bays)
    assert len(plan.corners) == sides
    assert plan.corners["turn_deg"].sum() == pytest.approx(360.0, abs=1e-6)
    assert plan.posts["chainage_m"].max() < round_m - 1e-6
    assert plan.bays["to_post"].iloc[-1] == plan.bays["from_post"].iloc[0]

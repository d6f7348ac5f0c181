"""Crossings: hand-worked valleys, water of every shape, loops, missing ground, and what may never be called clear."""

from __future__ import annotations

import itertools
import math
import re
from types import SimpleNamespace
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pytest
import shapely

from fencegis.hazards.crossings import crossings
from fencegis.hazards.found import Scene
from fencegis.line.chainage import Line, points_at
from fencegis.line.course import Course
from fencegis.line.grade import fitted_grades, flat
from fencegis.records.spec import Spec

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fencegis.hazards.found import Found, Ground

NAN = float("nan")
EAST = [(0.0, 0.0), (100.0, 0.0)]
SQUARE = [(0.0, 0.0), (0.0, 100.0), (100.0, 100.0), (100.0, 0.0)]
CREEK = shapely.LineString([(50.0, -80.0), (50.0, 80.0)])  # square across the line that runs east


def line_of(corners: Sequence[tuple[float, float]], *, closed: bool = False) -> Line:
    return Line("A", closed=closed, corners=np.array(corners, dtype=float))


def course_of(line: Line, ground: Ground | None, *, error_m: float = 0.01) -> Course:
    corners = len(line.corners)
    fit = SimpleNamespace(tangent=np.zeros(corners, dtype=bool), held=np.zeros(corners, dtype=bool))
    planned = SimpleNamespace(line=line, drawn=SimpleNamespace(line_id="A", kind="wire"), fit=fit)
    station = np.linspace(0.0, line.length_m, round(line.length_m) + 1)
    if ground is None:
        return Course(planned, flat(line.length_m), station, None, {}, frozenset())
    grades = fitted_grades(station, ground(points_at(line, station)), vertical_error_m=error_m)
    return Course(planned, grades, station, ground, {}, frozenset())


def water(*shapes: shapely.Geometry | tuple[shapely.Geometry, dict[str, object]]) -> gpd.GeoDataFrame:
    bare: dict[str, object] = {"name": None, "kind": None, "width_m": NAN, "flood_level_m": NAN}
    drawn = [one if isinstance(one, tuple) else (one, {}) for one in shapes]
    rows = [{"feature": f"feature {place}", **bare, **own} for place, (_, own) in enumerate(drawn, start=1)]
    return gpd.GeoDataFrame(rows, columns=["feature", *bare], geometry=[shape for shape, _ in drawn])


def look(
    line: Line,
    layer: gpd.GeoDataFrame | None,
    *,
    ground: Ground | None,
    cell_m: float = 0.25,
    off_m: float = 0.0,
    walked: str | None = "2026-03-04, both banks",
    error_m: float = 0.01,
) -> Found:
    spec = Spec.model_validate(
        {
            "boundary": {"drawn_from": "survey", "position_error_m": off_m},
            "elevation": {"vertical_error_m": error_m},
            "walked": {"water": walked} if walked else {},
        }
    )
    terrain = None if ground is None else SimpleNamespace(cell_m=cell_m)
    site = SimpleNamespace(spec=spec, watercourses=layer, terrain=terrain)
    return crossings(Scene([course_of(line, ground, error_m=error_m)], site, ground))


def channel(
    *, at_m: float = 50.0, bed_m: float = 4.0, top_m: float = 12.0, deep_m: float = 2.0, bank_m: float = 10.0
) -> Ground:
    """Make level ground with a straight channel that runs north: flat bed, straight banks, sharp tops."""

    def level(points: np.ndarray) -> np.ndarray:
        off = np.abs(points[:, 0] - at_m)
        return bank_m - deep_m * np.clip((top_m / 2.0 - off) / ((top_m - bed_m) / 2.0), 0.0, 1.0)

    return level


def only(found: Found) -> SimpleNamespace:
    (row,) = found.layers["crossings"].to_dict("records")
    return SimpleNamespace(**row)


def status_at(found: Found, chainage_m: float) -> str:
    rows = found.checks
    return str(rows.loc[(rows["from_m"] <= chainage_m) & (rows["to_m"] > chainage_m), "status"].iloc[0])


def test_banks_bed_span_and_drop_of_a_hand_worked_channel() -> None:
    """Tops at 44 and 56 m on level ground at 10 m, a bed of 4 m width 2 m down."""
    row = only(look(line_of(EAST), water(CREEK), ground=channel()))
    assert (row.crossing_id, row.kind, row.feature) == ("X1", "crossing", "feature 1")
    assert (row.from_m, row.to_m) == pytest.approx((44.0, 56.0))
    assert (row.from_bank_m, row.to_bank_m) == pytest.approx((10.0, 10.0))
    assert (row.bed_m, row.bed_at_m) == pytest.approx((8.0, 50.0))
    assert (row.span_m, row.drop_m, row.angle_deg) == pytest.approx((12.0, 2.0, 90.0))
    assert math.isnan(row.flood_m)
    assert "banks at 44.0 and 56.0 m (ground 10.0 and 10.0), found from the ground" in row.basis


def test_the_drop_is_below_the_straight_line_between_uneven_banks() -> None:
    """Ground that falls 1 in 20 to the east: the bed at 50 m lies below the middle of the line from bank to bank."""

    def tilted(points: np.ndarray) -> np.ndarray:
        return channel(bed_m=0.5)(points) - points[:, 0] / 20.0

    row = only(look(line_of(EAST), water(CREEK), ground=tilted))
    assert row.from_bank_m - row.to_bank_m == pytest.approx(12.0 / 20.0, abs=0.02)
    assert row.drop_m == pytest.approx(2.0, abs=0.02)


@pytest.mark.parametrize("angle_deg", [90.0, 60.0, 45.0, 30.0])
def test_the_angle_to_the_flow_and_the_span_of_a_given_width(angle_deg: float) -> None:
    """A width is square to the flow: along the line it grows by one over the sine."""
    step = 60.0 * np.array([math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))])
    creek = shapely.LineString(np.array([-step, step]) + np.array([50.0, 0.0]))
    row = only(look(line_of(EAST), water((creek, {"width_m": 6.0})), ground=None))
    assert row.angle_deg == pytest.approx(angle_deg)
    assert row.span_m == pytest.approx(6.0 / math.sin(math.radians(angle_deg)))
    assert (row.from_m + row.to_m) / 2.0 == pytest.approx(50.0)
    assert math.isnan(row.drop_m)
    assert "by the width given (6 m)" in row.basis


def test_a_drawn_width_is_moved_to_where_the_ground_shows_the_bed() -> None:
    layer = water((shapely.LineString([(47.0, -80.0), (47.0, 80.0)]), {"width_m": 12.0}))
    row = only(look(line_of(EAST), layer, ground=channel(), off_m=2.0))
    assert (row.from_m, row.to_m) == pytest.approx((44.0, 56.0))
    assert "moved 3.0 m to the bed" in row.basis


def test_a_width_narrower_than_the_ground_shows_is_kept_and_told() -> None:
    found = look(line_of(EAST), water((CREEK, {"width_m": 4.0})), ground=channel())
    assert only(found).span_m == pytest.approx(4.0)
    note = next(note for note in found.notes if "width given" in note.text)
    assert "4 m from bank to bank, but the ground goes on rising to banks 12 m apart, 2.0 m over the bed" in note.text


def test_the_bed_is_looked_for_within_the_drawings_error_and_no_further() -> None:
    """Drawn 3 m off: found with 2 m of drawing error twice over, and not with a survey's."""
    layer = water(shapely.LineString([(41.0, -80.0), (41.0, 80.0)]))
    row = only(look(line_of(EAST), layer, ground=channel(), off_m=6.0))
    assert (row.from_m, row.to_m, row.bed_m) == pytest.approx((44.0, 56.0, 8.0))
    assert "within 12.0 m of the drawn place" in row.basis
    row = only(look(line_of(EAST), layer, ground=channel()))
    assert math.isnan(row.span_m)
    assert row.treatment == "measure first"


def test_banks_are_found_in_noisy_ground_of_a_coarse_raster() -> None:
    rng = np.random.default_rng(5)
    cells = channel(top_m=20.0, deep_m=2.5)(np.column_stack([np.arange(-40.0, 141.0, 2.0), np.zeros(91)]))
    noisy = cells + rng.normal(0.0, 0.1, len(cells))

    def ground(points: np.ndarray) -> np.ndarray:
        return np.interp(points[:, 0], np.arange(-40.0, 141.0, 2.0), noisy)

    row = only(look(line_of(EAST), water(CREEK), ground=ground, cell_m=2.0, error_m=0.1))
    assert (row.from_m, row.to_m) == pytest.approx((40.0, 60.0), abs=2.0)
    assert row.drop_m == pytest.approx(2.5, abs=0.3)


@pytest.mark.parametrize("seed", range(8))
def test_noise_on_a_gentle_hollow_makes_no_banks(seed: int) -> None:
    at = np.arange(-60.0, 161.0)
    heights = 0.03 * np.abs(at - 50.0) + np.random.default_rng(seed).normal(0.0, 0.15, len(at))
    found = look(
        line_of(EAST),
        water(CREEK),
        ground=lambda points: np.interp(points[:, 0], at, heights),
        cell_m=1.0,
        error_m=0.15,
        off_m=2.0,
    )
    assert only(found).treatment == "measure first"


def test_a_step_is_stepped_over_only_where_the_heights_are_sure_of_it() -> None:
    small = {"ground": channel(bed_m=1.0, top_m=3.0, deep_m=0.4), "error_m": 0.05}
    layer = water((CREEK, {"width_m": 3.0}))
    assert only(look(line_of(EAST), layer, **small)).treatment == "straight on"
    assert only(look(line_of(EAST), layer, **{**small, "error_m": 0.15})).treatment == "measure first"


POOL = shapely.box(47.0, -30.0, 53.0, 30.0)


def test_of_an_outline_the_banks_are_looked_for_beyond_its_edges() -> None:
    row = only(look(line_of(EAST), water(POOL), ground=channel()))
    assert (row.from_m, row.to_m, row.angle_deg) == pytest.approx((44.0, 56.0, 90.0))
    assert "from 47.0 to 53.0 m as drawn" in row.basis


def test_of_an_outline_on_unknown_ground_the_edges_are_the_banks() -> None:
    row = only(look(line_of(EAST), water(POOL), ground=None))
    assert (row.from_m, row.to_m, row.span_m) == pytest.approx((47.0, 53.0, 6.0))
    assert math.isnan(row.from_bank_m)
    assert (row.treatment, row.own_ends) == ("swinging panel", True)


def test_standing_water_has_no_flow_and_a_class_of_its_own() -> None:
    row = only(look(line_of(EAST), water((POOL, {"kind": "dam"})), ground=None))
    assert math.isnan(row.angle_deg)
    assert (row.treatment, row.own_ends) == ("standing water", True)


@pytest.mark.parametrize(
    ("top_m", "deep_m", "name", "ends"),
    [
        (3.0, 0.5, "straight on", False),
        (3.0, 0.8, "swinging panel", True),
        (9.0, 2.0, "swinging panel", True),
        (20.0, 2.0, "hung curtain", True),
        (20.0, 6.0, "nothing across", True),
        (50.0, 3.0, "nothing across", True),
    ],
)
def test_the_class_goes_by_span_and_drop(top_m: float, deep_m: float, name: str, ends: bool) -> None:
    found = look(line_of(EAST), water(CREEK), ground=channel(bed_m=1.0, top_m=top_m, deep_m=deep_m))
    row = only(found)
    assert (row.treatment, row.own_ends, len(found.stands)) == (name, ends, 2 if ends else 0)
    assert found.hazards["advice"].iloc[0].startswith("First choice: do not cross. ")


def test_end_assemblies_are_set_back_and_nothing_stands_between() -> None:
    found = look(line_of(EAST), water(CREEK), ground=channel())
    assert [(one.line_id, one.chainage_m, one.reason) for one in found.stands] == [
        ("A", pytest.approx(42.5), "crossing"),
        ("A", pytest.approx(57.5), "crossing"),
    ]
    banned = {ban.of: ban for ban in found.bans}
    assert banned["posts"].stretch == pytest.approx((44.0, 56.0))
    low, high = banned["strainers"].stretch
    assert 42.5 < low < 42.6
    assert 57.4 < high < 57.5
    assert {ban.why for ban in found.bans} == {"crossing"}


def test_an_end_assembly_near_a_corner_is_the_corner() -> None:
    bent = line_of([(0.0, 0.0), (58.5, 0.0), (100.0, 40.0)])
    found = look(bent, water(CREEK), ground=channel())
    assert [one.chainage_m for one in found.stands] == pytest.approx([42.5, 58.5])


def test_where_the_line_ends_in_the_water_no_span_is_made_up() -> None:
    found = look(line_of([(0.0, 0.0), (52.0, 0.0)]), water(CREEK), ground=channel())
    row = only(found)
    assert (row.from_m, row.to_m, row.treatment) == (pytest.approx(44.0), pytest.approx(51.0), "measure first")
    assert math.isnan(row.span_m)
    assert "the line ends first" in row.basis
    assert any("the line ends before the bank" in note.text for note in found.notes)


def test_ground_that_shows_no_bank_is_to_be_measured_and_keeps_strainers_off_only() -> None:
    found = look(line_of(EAST), water(CREEK), ground=lambda points: np.full(len(points), 10.0))
    row = only(found)
    assert row.treatment == "measure first"
    assert "the ground shows no bank within 40 m" in row.basis
    assert {ban.of for ban in found.bans} == {"strainers"}
    assert found.stands == ()
    assert any("measure them" in note.text for note in found.notes)


def test_a_valley_whose_sides_go_on_rising_has_no_banks() -> None:
    row = only(look(line_of(EAST), water(CREEK), ground=lambda points: 0.3 * np.abs(points[:, 0] - 50.0)))
    assert "the ground goes on rising for 40 m" in row.basis
    assert math.isnan(row.span_m)


def test_missing_ground_is_said_and_never_taken_for_level() -> None:
    level = channel()
    found = look(
        line_of(EAST),
        water(CREEK),
        ground=lambda points: np.where(np.abs(points[:, 0] - 50.0) < 15.0, np.nan, level(points)),
    )
    row = only(found)
    assert (row.treatment, math.isnan(row.bed_m), math.isnan(row.drop_m)) == ("measure first", True, True)
    assert "no ground heights" in row.basis
    assert status_at(found, 50.0) == "flagged"


def test_a_wide_river_of_unknown_depth_is_isolated_and_a_narrow_drain_measured() -> None:
    wide = only(look(line_of(EAST), water((CREEK, {"width_m": 40.0})), ground=None))
    narrow = only(look(line_of(EAST), water((CREEK, {"width_m": 2.0})), ground=None))
    assert (wide.treatment, narrow.treatment) == ("nothing across", "measure first")


def test_a_bed_that_coarse_cells_cannot_show_is_not_stepped_over() -> None:
    found = look(line_of(EAST), water((CREEK, {"width_m": 3.0})), ground=channel(top_m=3.0, bed_m=1.0, deep_m=0.4))
    assert only(found).treatment == "straight on"
    coarse = look(
        line_of(EAST), water((CREEK, {"width_m": 3.0})), ground=channel(top_m=3.0, bed_m=1.0, deep_m=0.4), cell_m=5.0
    )
    assert only(coarse).treatment == "measure first"
    assert "cells of 5.0 m do not show so small a bed" in only(coarse).basis


def test_a_flood_is_held_against_bed_and_banks() -> None:
    below = look(line_of(EAST), water((CREEK, {"flood_level_m": 9.5})), ground=channel())
    assert only(below).flood_m == pytest.approx(1.5)
    assert "flood level 9.5: 1.5 m over the bed, 0.5 m below the lower bank" in only(below).basis
    assert below.notes == ()
    over = look(line_of(EAST), water((CREEK, {"flood_level_m": 10.6})), ground=channel())
    assert "over the banks by 0.6 and 0.6 m: into the fence" in only(over).basis
    assert any("stands 0.6 m over the lower bank" in note.text for note in over.notes)


def test_what_a_flood_gets_into_is_not_stepped_over() -> None:
    small = channel(bed_m=1.0, top_m=3.0, deep_m=0.5)
    assert only(look(line_of(EAST), water((CREEK, {"flood_level_m": 9.8})), ground=small)).treatment == "straight on"
    assert only(look(line_of(EAST), water((CREEK, {"flood_level_m": 10.4})), ground=small)).own_ends


def test_two_crossings_without_room_between_are_one() -> None:
    bend = shapely.LineString([(42.0, 80.0), (42.0, -20.0), (52.0, -20.0), (52.0, 80.0)])
    found = look(line_of(EAST), water((bend, {"width_m": 3.0})), ground=None)
    row = only(found)
    assert (row.from_m, row.to_m) == pytest.approx((40.5, 53.5))
    assert "too near one another to be fenced apart" in row.basis
    apart = shapely.LineString([(30.0, 80.0), (30.0, -20.0), (70.0, -20.0), (70.0, 80.0)])
    found = look(line_of(EAST), water((apart, {"width_m": 3.0})), ground=None)
    assert found.layers["crossings"]["crossing_id"].tolist() == ["X1", "X2"]


LONG = [(0.0, 0.0), (600.0, 0.0)]


def winding(from_m: float, to_m: float, swing_m: float) -> shapely.LineString:
    """Make a creek that winds about a line that runs east, then leaves it."""
    east = np.arange(from_m, to_m + 1.0, 5.0)
    north = swing_m * np.sin((east - from_m) / 15.0 + 0.3)
    return shapely.LineString([(from_m, -150.0), *zip(east, north, strict=True), (to_m, 150.0)])


def test_a_creek_followed_for_long_is_one_zone_with_its_crossings_in_words() -> None:
    creek = winding(100.0, 400.0, 8.0)
    found = look(line_of(LONG), water((creek, {"name": "Mill Creek"})), ground=None)
    row = only(found)
    assert (row.kind, row.treatment, row.own_ends) == ("along it", "along it", False)
    assert row.from_m == pytest.approx(80.0, abs=1.0)
    assert row.to_m == pytest.approx(420.0, abs=2.0)
    assert math.isnan(row.angle_deg)
    assert found.stands == ()
    cuts = shapely.get_coordinates(creek.intersection(shapely.LineString(LONG)))[:, 0]
    assert len(cuts) > 5
    assert f"crosses it at {', '.join(f'{cut:.0f}' for cut in sorted(cuts))} m" in row.basis
    assert found.hazards["kind"].tolist() == ["crossing"]
    assert status_at(found, 250.0) == "flagged"


def test_a_creek_beside_the_line_is_a_zone_only_when_it_keeps_to_it_for_long() -> None:
    def beside(length_m: float) -> shapely.LineString:
        return shapely.LineString([(100.0, 200.0), (100.0, 10.0), (100.0 + length_m, 10.0), (100.0 + length_m, 200.0)])

    row = only(look(line_of(LONG), water(beside(250.0)), ground=None))
    assert "does not cross it" in row.basis
    assert "crossings" not in look(line_of(LONG), water(beside(120.0)), ground=None).layers


def test_a_wide_river_crossed_square_is_a_crossing_and_no_zone() -> None:
    across = shapely.LineString([(300.0, -500.0), (300.0, 500.0)])
    row = only(look(line_of(LONG), water((across, {"width_m": 180.0})), ground=None))
    assert (row.kind, row.span_m) == ("crossing", pytest.approx(180.0))
    row = only(look(line_of(LONG), water(shapely.box(200.0, -500.0, 400.0, 500.0)), ground=None))
    assert (row.kind, row.span_m) == ("crossing", pytest.approx(200.0))


def test_one_creek_drawn_in_parts_is_one_zone() -> None:
    parts = [shapely.LineString([(at, 10.0), (at + 60.0, 10.0)]) for at in (100.0, 160.0, 220.0, 280.0)]
    named = look(line_of(LONG), water(*((part, {"name": "Mill Creek"}) for part in parts)), ground=None)
    assert only(named).kind == "along it"
    assert "crossings" not in look(line_of(LONG), water(*parts), ground=None).layers


def test_a_zones_flood_is_held_against_the_lines_ground() -> None:
    creek = winding(100.0, 400.0, 8.0)
    found = look(
        line_of(LONG),
        water((creek, {"flood_level_m": 11.0})),
        ground=lambda points: np.where(points[:, 0] < 200.0, 10.0, 12.0),
    )
    assert "in its reach, up to 1.0 m deep" in only(found).basis


def test_a_crossing_over_a_loops_start_is_two_rows_of_one_crossing() -> None:
    """The channel's middle lies 2 m before the start, on the loop's last side; tops 6 m off it."""
    line = line_of(SQUARE, closed=True)
    creek = shapely.LineString([(2.0, -60.0), (2.0, 60.0)])

    def ground(points: np.ndarray) -> np.ndarray:
        return np.where(points[:, 1] < 50.0, 10.0 - 2.0 * np.clip((6.0 - np.abs(along(points))) / 4.0, 0.0, 1.0), 10.0)

    def along(points: np.ndarray) -> np.ndarray:  # metres from the bed along the loop, near its start
        return np.where(points[:, 1] > 0.01, 2.0 + points[:, 1], 2.0 - points[:, 0])

    found = look(line, water(creek), ground=ground)
    table = found.layers["crossings"]
    assert table["crossing_id"].tolist() == ["X1", "X1"]
    assert table[["from_m", "to_m"]].to_numpy() == pytest.approx(np.array([[0.0, 4.0], [392.0, 400.0]]), abs=1e-6)
    assert table["span_m"].tolist() == pytest.approx([12.0, 12.0])
    assert table["bed_at_m"].tolist() == pytest.approx([398.0, 398.0])
    assert found.hazards.index.tolist() == [0, 0]
    assert [one.chainage_m for one in found.stands] == pytest.approx([390.5, 5.5])
    assert [status_at(found, at) for at in (1.0, 399.0, 20.0)] == ["flagged", "flagged", "clear"]
    assert sorted(ban.stretch[0] for ban in found.bans if ban.of == "posts") == pytest.approx([0.0, 392.0])


def test_names_go_on_from_line_to_line() -> None:
    spec = Spec.model_validate({"boundary": {"drawn_from": "survey"}})
    two = Line("B", closed=False, corners=np.array([[0.0, 20.0], [100.0, 20.0]]))
    courses = [course_of(line, None) for line in (line_of(EAST), two)]
    site = SimpleNamespace(spec=spec, watercourses=water((CREEK, {"width_m": 5.0})), terrain=None)
    found = crossings(Scene(courses, site, None))
    assert found.layers["crossings"][["line_id", "crossing_id"]].to_numpy().tolist() == [["A", "X1"], ["B", "X2"]]


def test_without_the_file_nothing_is_known() -> None:
    found = look(line_of(EAST), None, ground=None)
    assert found.checks.to_dict("records") == [
        {
            "line_id": "A",
            "from_m": 0.0,
            "to_m": 100.0,
            "kind": "crossing",
            "status": "not checked",
            "basis": "no watercourses.geojson",
        }
    ]
    assert len(found.hazards) == 0


def test_nothing_drawn_is_clear_only_where_somebody_walked() -> None:
    walked = look(line_of(EAST), water(), ground=None)
    assert walked.checks["status"].tolist() == ["clear"]
    assert walked.checks["basis"].tolist() == [
        "none found in watercourses.geojson (0 features) — walked 2026-03-04, both banks"
    ]
    assert look(line_of(EAST), water(), ground=None, walked=None).checks["status"].tolist() == ["not checked"]


def test_what_cannot_be_placed_takes_the_clear_back() -> None:
    found = look(line_of(EAST), water(shapely.Point(5.0, 5.0)), ground=None)
    assert found.checks["status"].tolist() == ["not checked"]
    assert "cannot be placed" in found.checks["basis"].iloc[0]


def test_near_drawn_water_nothing_is_clear_and_the_tiles_have_no_gap() -> None:
    found = look(line_of(EAST), water(CREEK), ground=channel(), off_m=4.0)
    assert [status_at(found, at) for at in (10.0, 43.0, 50.0, 57.0, 90.0)] == [
        "clear",
        "not checked",
        "flagged",
        "not checked",
        "clear",
    ]
    assert found.checks["from_m"].tolist()[1:] == found.checks["to_m"].tolist()[:-1]
    assert (found.checks["from_m"].iloc[0], found.checks["to_m"].iloc[-1]) == (0.0, 100.0)


def test_water_that_may_reach_the_line_is_told_though_it_is_drawn_beside_it() -> None:
    beside = shapely.LineString([(20.0, 5.0), (60.0, 5.0)])
    found = look(line_of(EAST), water(beside), ground=None, off_m=4.0)
    assert len(found.hazards) == 0
    assert status_at(found, 40.0) == "not checked"
    (note,) = found.notes
    assert note.text.startswith("watercourses.geojson, feature 1: drawn within 8.0 m of the line for 52 m")


def test_a_dip_without_water_is_a_note_and_no_crossing() -> None:
    """Ground that falls 2 m from 20 to 45 m and rises again from 55 to 80 m."""
    dip = channel(bed_m=10.0, top_m=60.0)
    found = look(line_of(EAST), water(), ground=dip)
    assert len(found.hazards) == 0
    (note,) = found.notes
    assert re.search(r"no watercourse is drawn .*: look for a drain at (45|55) m \(2\.0 m\)$", note.text)
    assert (note.severity, note.line_id) == ("doubt", "A")
    assert "look for a drain" in look(line_of(EAST), None, ground=dip).notes[0].text
    drawn = look(line_of(EAST), water((CREEK, {"width_m": 20.0})), ground=dip)
    assert not [note for note in drawn.notes if "drain" in note.text]
    beside = look(line_of(EAST), water((shapely.LineString([(60.0, -9.0), (60.0, 9.0)]), {"width_m": 1.0})), ground=dip)
    assert not [note for note in beside.notes if "drain" in note.text]
    up_the_side = look(
        line_of(EAST), water((shapely.LineString([(78.0, -9.0), (78.0, 9.0)]), {"width_m": 1.0})), ground=dip
    )
    assert [note for note in up_the_side.notes if "drain" in note.text]


def rough(seed: int) -> Callable[[np.ndarray], np.ndarray]:
    waves = np.random.default_rng(seed).normal(size=(6, 3))

    def level(points: np.ndarray) -> np.ndarray:
        swell = sum(
            0.4 * size * np.sin(points @ np.array([east, north]) / 7.0)
            for place, (size, east, north) in enumerate(waves)
        )
        return channel(bed_m=3.0, top_m=15.0)(points) + swell

    return level


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("width_m", [NAN, 9.0])
def test_walking_the_other_way_mirrors_every_crossing(seed: int, width_m: float) -> None:
    rng = np.random.default_rng(100 + seed)
    corners = [(0.0, 0.0), (40.0, float(rng.normal(0.0, 10.0))), (120.0, 0.0)]
    creek = shapely.LineString([(50.0 + rng.normal(0.0, 8.0), -80.0), (50.0 + rng.normal(0.0, 8.0), 80.0)])
    layer = water((creek, {"width_m": width_m}))
    there = look(line_of(corners), layer, ground=rough(seed), off_m=2.0, error_m=0.05)
    back = look(line_of(corners[::-1]), layer, ground=rough(seed), off_m=2.0, error_m=0.05)
    length_m = line_of(corners).length_m
    one, two = only(there), only(back)
    assert (one.from_m, one.to_m) == pytest.approx((length_m - two.to_m, length_m - two.from_m), abs=1e-6)
    assert (one.from_bank_m, one.to_bank_m) == pytest.approx((two.to_bank_m, two.from_bank_m), nan_ok=True)
    for name in ("span_m", "drop_m", "bed_m", "angle_deg"):
        assert getattr(one, name) == pytest.approx(getattr(two, name), nan_ok=True, abs=1e-6)
    assert one.treatment == two.treatment
    stands = [sorted(stand.chainage_m for stand in found.stands) for found in (there, back)]
    assert stands[0] == pytest.approx(sorted(length_m - at for at in stands[1]))


def test_what_is_printed_never_says_clear() -> None:
    scenes = [
        look(line_of(EAST), water(CREEK), ground=channel(), off_m=4.0),
        look(line_of(LONG), water(winding(100.0, 400.0, 8.0)), ground=None),
        look(line_of(EAST), None, ground=None),
    ]
    texts = itertools.chain.from_iterable(
        [
            *found.checks["basis"],
            *found.hazards["basis"],
            *found.hazards["advice"],
            *(note.text for note in found.notes),
        ]
        for found in scenes
    )
    assert not [text for text in texts if "clear" in text.lower()]

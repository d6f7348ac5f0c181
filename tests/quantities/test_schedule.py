"""The order of the work, the days it falls on, and what the layer says of them."""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from fencegis import plan_site, read_site
from fencegis.inputs.spec_file import read_spec
from fencegis.line.chainage import Line
from fencegis.quantities.calendar_days import Calendar
from fencegis.quantities.day_notes import machine_days
from fencegis.quantities.day_rows import NOT_WORK, SETTING_UP, TRAVEL, WEATHER, weather_days
from fencegis.quantities.daylight import daylight_h
from fencegis.quantities.days import calendar_of, day_table, pieces_of
from fencegis.quantities.output import waits_for
from fencegis.quantities.schedule import fill, stages
from fencegis.quantities.work import HOLDING
from fencegis.records.rates import Rate
from fencegis.records.spec import Crew, Days

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.records.plan import Plan
    from fencegis.records.site import Site

ROOT = Path(__file__).parents[2]
A_CENTIMETRE = 0.01


@pytest.fixture(scope="module", params=["roadside", "hill"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return plan_site(read_site(ROOT / "sample_sites" / request.param))


@pytest.fixture(scope="module")
def roadside() -> Plan:
    return plan_site(read_site(ROOT / "sample_sites" / "roadside"))


def lines_of(plan: Plan) -> list[Line]:
    """The runs' ends as lines: enough for finding what lies near."""
    found = []
    for line_id, runs in plan.runs.groupby("line_id", sort=False):
        points = shapely.get_coordinates(runs.geometry.to_numpy())
        found.append(Line(str(line_id), False, points[np.r_[True, np.any(np.diff(points, axis=0) != 0.0, axis=1)]]))
    return found


def kinds_of(plan: Plan) -> dict[str, str]:
    kinds = {line.line_id: line.kind for line in plan.site.drawn}
    return {str(name): kinds[str(name)] for name in plan.runs["line_id"].unique()}


def again(plan: Plan, site: Site | None = None, **tables: pd.DataFrame) -> tuple[pd.DataFrame, list[Any]]:
    """The days of a plan, with another site or other tables in it."""
    return day_table(
        site or plan.site, {**dict(plan.layers()), **tables}, lines=lines_of(plan), kind_of_line=kinds_of(plan)
    )


def with_spec(site: Site, **tables: object) -> Site:
    return replace(site, spec=site.spec.model_copy(update=tables))


def work_of(days: pd.DataFrame) -> pd.DataFrame:
    return days[~days["activity"].isin(NOT_WORK)]


# Filling days.


def fewest_days(hours: Sequence[float], rooms: Sequence[float]) -> int:
    """Try every way to cut a row of pieces into days."""
    best = len(rooms) + 1
    for days in range(1, len(rooms) + 1):
        for cuts in itertools.combinations_with_replacement(range(len(hours) + 1), days - 1):
            edges = [0, *cuts, len(hours)]
            parts = [sum(hours[begin:end]) for begin, end in itertools.pairwise(edges)]
            if all(part <= room + 1e-9 for part, room in zip(parts, rooms, strict=False)):
                best = min(best, days)
    return best


@pytest.mark.parametrize("seed", range(40))
def test_for_a_fixed_order_no_cut_takes_fewer_days(seed: int) -> None:
    random = np.random.default_rng(seed)
    hours = random.choice([0.25, 0.5, 1.0, 1.5, 2.0, 3.0], size=random.integers(1, 8))
    rooms = random.choice([3.0, 4.0, 5.5], size=8)
    filled = fill(hours, room_h=lambda day: float(rooms[day]))
    assert filled.day.max() + 1 == fewest_days(hours.tolist(), rooms.tolist())
    assert np.all(filled.share == 1.0)  # each fits a day of its own
    by_day = np.bincount(filled.day, weights=filled.hours_h)
    assert np.all(by_day <= rooms[: len(by_day)] + 1e-3)


def test_a_piece_longer_than_a_day_goes_on_and_loses_nothing() -> None:
    filled = fill([2.0, 20.0, 1.0], room_h=lambda _: 7.0)
    assert filled.piece.tolist() == [0, 1, 1, 1, 1, 2]
    assert filled.day.tolist() == [0, 0, 1, 2, 3, 3]
    assert filled.hours_h.tolist() == [2.0, 5.0, 7.0, 7.0, 1.0, 1.0]
    assert filled.share[filled.piece == 1].sum() == pytest.approx(1.0)


def test_no_work_takes_no_day_and_a_day_without_room_is_refused() -> None:
    assert len(fill([], room_h=lambda _: 8.0).day) == 0
    with pytest.raises(ValueError, match="day 1 has no room"):
        fill([1.0], room_h=lambda _: 0.0)


# The calendar.


@pytest.mark.parametrize(
    ("latitude", "date", "printed"),
    [(40.0, (2026, 6, 21), 15.02), (40.0, (2026, 12, 21), 9.34), (0.0, (2026, 3, 20), 12.12)],
)
def test_daylight_is_that_of_almanacs(latitude: float, date: tuple[int, int, int], printed: float) -> None:
    """From memory: tables of the length of day give 15 h 01 min and 9 h 20 min at 40 degrees, 12 h 07 min at 0."""
    assert daylight_h(dt.date(*date), lat_deg=latitude) == pytest.approx(printed, abs=0.05)


def test_daylight_mirrors_at_the_equator_and_ends_at_the_poles() -> None:
    north, south = (daylight_h(dt.date(2026, 7, 1), lat_deg=side * 50.0) for side in (1.0, -1.0))
    assert north > 16.0 > 9.0 > south
    assert daylight_h(dt.date(2026, 12, 1), lat_deg=80.0) == 0.0
    assert daylight_h(dt.date(2026, 6, 1), lat_deg=80.0) == 24.0


def test_working_days_leave_out_the_weekend_but_not_the_first_day() -> None:
    calendar = Calendar(Crew(), Days(), dt.date(2026, 3, 7), -35.0)  # a Saturday
    assert [calendar.date(day) for day in range(3)] == [dt.date(2026, 3, day) for day in (7, 9, 10)]
    assert Calendar(Crew(), Days(), None, -35.0).date(3) is None


def test_a_day_is_no_longer_than_its_light() -> None:
    crew = Crew(work_h=12.0, setup_h=1.0, travel_h=2.0)
    dark = Calendar(crew, Days(), dt.date(2026, 12, 21), 51.5)
    assert dark.room_h(0) == pytest.approx(daylight_h(dt.date(2026, 12, 21), lat_deg=51.5) - 1.0)
    assert dark.short_of_light(0)
    assert Calendar(crew, Days(), dt.date(2026, 6, 21), 51.5).room_h(0) == 9.0
    assert Calendar(crew, Days(light_h=6.0), None, 0.0).room_h(0) == 5.0


def test_weather_is_up_to_whole_days() -> None:
    assert [weather_days(days, 15.0) for days in (0, 1, 20, 21)] == [0, 1, 3, 4]
    assert weather_days(10, 0.0) == 0


# The plan's days.


def test_nothing_begins_before_what_it_waits_for(plan: Plan) -> None:
    """Piece by piece: wherever two activities meet on a line, the one that waits comes later."""
    tables = dict(plan.layers())
    pieces = pieces_of(plan.site, tables, lines=lines_of(plan), kind_of_line=kinds_of(plan))
    activity = pieces.activity()
    where = {name: np.flatnonzero(activity == name) for name in dict.fromkeys(activity)}
    site_wide = np.array([not name for name in pieces.lines])[pieces.line]
    pairs = 0
    for name, here in where.items():
        for before in set(waits_for(name)) & set(where):
            there = where[before]
            pairs += 1
            for piece in here:
                begin = np.maximum(pieces.from_m[there], pieces.from_m[piece])
                end = np.minimum(pieces.to_m[there], pieces.to_m[piece])
                spot = (pieces.to_m[there] == pieces.from_m[there]) | (pieces.to_m[piece] == pieces.from_m[piece])
                meets = (pieces.line[there] == pieces.line[piece]) & (end - begin >= np.where(spot, 0.0, A_CENTIMETRE))
                meets |= site_wide[there] | site_wide[piece]
                assert np.all(there[meets] < piece), f"{name} at {pieces.from_m[piece]:.1f} before {before}"
    assert pairs > 15


def test_what_holds_stands_and_is_looked_over_before_any_string(plan: Plan) -> None:
    days = plan.days
    first_string = days["day"][days["activity"] == "strings"].min()
    for activity in ("ends", "braces", "check"):
        assert (days["day"][days["activity"] == activity] <= first_string).all()
    held = plan.posts["kind"].isin(HOLDING).sum()
    assert days["quantity"][days["activity"] == "ends"].sum() == pytest.approx(held)


def test_the_days_hold_the_whole_of_the_plan(plan: Plan) -> None:
    amount = plan.days.groupby("activity")["quantity"].sum()
    posts = plan.posts["kind"].value_counts()
    assert amount["line posts"] == pytest.approx(posts["line"])
    assert amount["lay out"] == pytest.approx(posts["line"])
    assert amount["key posts"] == pytest.approx(posts["key"])
    assert amount["tidy"] == pytest.approx(plan.runs["ground_length_m"].sum())
    assert amount["strings"] == pytest.approx(plan.bays["ground_length_m"].sum())
    assert amount["gates"] == pytest.approx(plan.gates["leaves"].sum())
    assert amount["crossings"] == pytest.approx(len(plan.crossings))
    if len(plan.rails):
        assert amount["rails"] == pytest.approx((plan.rails["cut_m"].notna() & (plan.rails["row"] > 0)).sum())
    else:
        wires = plan.site.spec.fence.wires
        assert amount["wires"] == pytest.approx(wires * plan.bays["ground_length_m"].sum())  # gates have no bay
        assert amount["droppers"] * wires == pytest.approx(amount["staples"])


def test_no_day_is_longer_than_the_crew_s_and_none_is_empty(plan: Plan) -> None:
    days, calendar = plan.days, calendar_of(plan.site)
    hours = days[days["activity"] != WEATHER].groupby("day")["hours_h"].sum()
    assert hours.max() <= calendar.crew.work_h + 1e-3
    assert hours.index.tolist() == list(range(1, len(hours) + 1))
    assert (work_of(days).groupby("day")["hours_h"].sum() > 0.0).all()
    # Every day but the last has no room left for the first piece of the next.
    assert hours.iloc[:-1].min() > calendar.crew.work_h - 4.0 - 1e-9


def test_weather_follows_the_last_day_and_has_no_date(plan: Plan) -> None:
    days = plan.days
    last = days["day"][days["activity"] != WEATHER].max()
    weather = days[days["activity"] == WEATHER]
    assert weather["day"].tolist() == list(range(last + 1, last + 1 + weather_days(int(last), 15.0)))
    assert weather["date"].isna().all()
    assert days["date"][days["activity"] != WEATHER].notna().all()
    assert days["date"].iloc[0] == plan.site.spec.date.isoformat()


def test_the_machine_is_there_whenever_it_works(plan: Plan) -> None:
    first, last = machine_days(plan.days)
    at_work = plan.days["day"][plan.days["machine"]]
    assert first <= at_work.min()
    assert at_work.max() <= last


def test_a_low_loader_comes_and_goes_twice_and_a_trailer_s_trip_takes_its_time(roadside: Plan) -> None:
    hauled, _ = again(roadside, with_spec(roadside.site, crew=Crew(machine_comes="low loader", machine_h=3.0)))
    towed, notes = again(roadside, with_spec(roadside.site, crew=Crew(machine_h=3.0)))
    moves = ["machine in", "machine out"]
    assert hauled.loc[hauled["activity"].isin(moves), "quantity"].tolist() == [2.0, 2.0]
    assert towed.loc[towed["activity"].isin(moves), "hours_h"].tolist() == [3.0, 3.0]
    assert any("own trailer, one trip each way" in note.text for note in notes)


def test_travel_and_setting_up_are_on_every_day_and_make_more_of_them(roadside: Plan) -> None:
    far, notes = again(roadside, with_spec(roadside.site, crew=Crew(travel_h=2.0)))
    working = far["day"][far["activity"] != WEATHER].max()
    for name, hours in ((TRAVEL, 2.0), (SETTING_UP, 0.75)):
        assert far.loc[far["activity"] == name, "hours_h"].tolist() == [hours] * working
    assert working > roadside.days["day"][roadside.days["activity"] != WEATHER].max()
    assert not any("travel_h" in note.text for note in notes)


def test_the_old_fence_stays_until_the_new_one_holds_stock_unless_it_is_in_the_way(roadside: Plan) -> None:
    line = lines_of(roadside)[0]
    beside = shapely.offset_curve(shapely.LineString(line.path), 8.0)
    over = shapely.LineString(line.path)
    found = {}
    for name, shape in (("beside", beside), ("over", over)):
        old = gpd.GeoDataFrame({"kind": ["pull"], "feature": ["f"]}, geometry=[shape], crs=roadside.crs)
        days, _ = again(roadside, replace(roadside.site, existing=old))
        found[name] = days.groupby("activity", sort=False).agg(quantity=("quantity", "sum"), first=("day", "min"))
    assert "temporary fence" not in found["beside"].index
    assert found["beside"].loc["old fence", "quantity"] == pytest.approx(beside.length)
    assert found["beside"].loc["old fence", "first"] >= found["beside"].loc["gates", "first"]
    assert found["over"].loc["temporary fence", "quantity"] == pytest.approx(over.length)
    assert found["over"].loc["old fence in the way", "first"] <= found["over"].loc["ends", "first"]
    assert "old fence" not in found["over"].index


def test_without_a_file_of_old_fence_it_is_said_not_to_be_counted(roadside: Plan) -> None:
    days, notes = again(roadside, replace(roadside.site, existing=None))
    assert not days["activity"].str.contains("old fence").any()
    assert any("no existing.geojson" in note.text and note.severity == "doubt" for note in notes)


def test_own_outputs_change_the_hours_and_nothing_else_of_an_activity(roadside: Plan) -> None:
    rate = Rate(item="rails", unit="each", rate=Decimal(16), kind="output")
    days, notes = again(roadside, replace(roadside.site, rates=(rate,)))
    rails, before = (table[table["activity"] == "rails"] for table in (days, roadside.days))
    assert rails["quantity"].sum() == before["quantity"].sum()
    assert rails["hours_h"].sum() == pytest.approx(rails["quantity"].sum() / 16.0 / slope_of(roadside), rel=0.02)
    assert rails["basis"].str.contains("rates.csv").all()
    assert not any("no outputs of the contractor" in note.text for note in notes)


def slope_of(plan: Plan) -> float:
    """The share that slope leaves: 1 on the roadside's gentle ground, less where a bay is steeper than a tenth."""
    return 1.0 - 0.1 * float((plan.bays["grade_pct"].abs() >= 10.0).mean())


def test_posts_in_a_service_s_buffer_are_dug_by_hand(roadside: Plan) -> None:
    hazards = roadside.hazards[roadside.hazards["kind"] == "buried service"]
    assert len(hazards)
    dug = roadside.days[roadside.days["basis"].str.contains(", dug")]
    inside = np.zeros(len(roadside.posts), dtype=bool)
    for row in hazards.itertuples():
        inside |= roadside.posts["chainage_m"].between(row.from_m - 0.01, row.to_m + 0.01).to_numpy()
    assert dug["quantity"].sum() == pytest.approx(inside.sum())
    assert not dug["machine"].any()
    by_hand = roadside.site.spec.machine.model_copy(update={"kind": "by hand"})
    days, _ = again(roadside, with_spec(roadside.site, machine=by_hand))
    assert not days["machine"].any()
    assert "machine in" not in set(days["activity"])


def test_no_posts_no_days(roadside: Plan) -> None:
    days, notes = again(roadside, posts=roadside.posts.iloc[:0])
    assert days.empty
    assert notes == []


def mirrored(plan: Plan) -> dict[str, pd.DataFrame]:
    """The tables of an open line walked the other way: chainages from its end, rises as falls."""
    whole = plan.runs["to_m"].max()
    found = {}
    for name, table in plan.layers():
        turned = pd.DataFrame(table.drop(columns="geometry", errors="ignore")).iloc[::-1].reset_index(drop=True)
        if "from_m" in turned and name not in {"cuts", "divide", "days"}:
            turned = turned.assign(from_m=whole - turned["to_m"], to_m=whole - turned["from_m"])
        if "chainage_m" in turned:
            turned = turned.assign(chainage_m=whole - turned["chainage_m"])
        if name == "bays":
            turned = turned.assign(
                from_post=turned["to_post"], to_post=turned["from_post"], grade_pct=-turned["grade_pct"]
            )
        found[name] = turned
    return found


def test_walking_the_line_the_other_way_leaves_the_hours_alone(roadside: Plan) -> None:
    site = replace(roadside.site, existing=None)
    one, _ = again(roadside, site)
    other, _ = again(roadside, site, **mirrored(roadside))
    hours = [table.groupby("activity")["hours_h"].sum() for table in (one, other)]
    quantity = [table.groupby("activity")["quantity"].sum() for table in (one, other)]
    pd.testing.assert_series_equal(work_hours(hours[0]), work_hours(hours[1]))
    pd.testing.assert_series_equal(work_hours(quantity[0]), work_hours(quantity[1]))


def work_hours(by_activity: pd.Series) -> pd.Series:
    return by_activity.drop(labels=[name for name in NOT_WORK if name in by_activity.index])


def test_twice_the_same(roadside: Plan) -> None:
    pd.testing.assert_frame_equal(again(roadside)[0], again(roadside)[0])


def test_a_stage_is_one_for_what_is_done_together() -> None:
    stage = {name: place for name, (place, _) in stages().items()}
    assert stage["ends"] == stage["braces"] == stage["check"] < stage["strings"]
    assert stage["strings"] == stage["lay out"] == stage["line posts"] < stage["rails"]
    assert stage["machine in"] < stage["ends"] < stage["machine out"]


def test_a_day_without_an_hour_of_work_is_a_fault(tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text("[crew]\nwork_h = 8.0\ntravel_h = 7.0\n", encoding="utf-8")
    (problem,) = read_spec(path).problems
    assert problem.feature == "[crew] work_h"
    assert "less than an hour of work" in problem.fault

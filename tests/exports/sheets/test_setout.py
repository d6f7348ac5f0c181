"""The crew's sheets: what stands on them agrees with the layers, gives no leave, and is the same twice."""

from __future__ import annotations

import dataclasses
import os
import re
import subprocess
import sys
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pytest
import shapely

from fencegis import plan_site, read_site
from fencegis.exports.cautions import DESK_STUDY, NO_BOUNDARY, cautions
from fencegis.exports.plan_hash import plan_sha256
from fencegis.exports.positions import lon_lat_deg
from fencegis.exports.rounding import printed
from fencegis.exports.sheets.around import Around
from fencegis.exports.sheets.flow import Line, pages, paragraph, parts, table
from fencegis.exports.sheets.layers import layer_table, post_at
from fencegis.exports.sheets.lists import bays_words, bearings, marks, setting, string_lines
from fencegis.exports.sheets.map import map_count, map_view
from fencegis.exports.sheets.paper import NOT_DRAWN, ROOM_MM, drawn, fitted, named, printable, wide_mm, wrapped
from fencegis.exports.sheets.posts import walks
from fencegis.exports.sheets.section import heights_m, profiles
from fencegis.exports.sheets.setout import setout_pdf, sheets
from fencegis.exports.sheets.sketch import scale_for, view_along
from fencegis.exports.sheets.strip import strips
from fencegis.exports.sheets.tables import magnetic_words
from fencegis.exports.sheets.words import (
    ASK_OWNER,
    DESK,
    NOT_A_FINDING,
    by_posts,
    heaps,
    millimetres,
    position,
    run_words,
)
from fencegis.layout.rail_rows import bottom_drop_m

if TYPE_CHECKING:
    from collections.abc import Callable

    from fencegis.records.plan import Plan

ROOT = Path(__file__).parents[3]
TESTS = Path(__file__).parents[2]
ALONE = """
import importlib.util, sys
spec = importlib.util.spec_from_file_location("by_hand", sys.argv[1])
by_hand = importlib.util.module_from_spec(spec)
sys.modules["by_hand"] = by_hand
spec.loader.exec_module(by_hand)
from fencegis.exports.sheets.setout import setout_pdf
sys.stdout.buffer.write(setout_pdf(by_hand.plan_by_hand()))
"""


@pytest.fixture(scope="module")
def roadside() -> Plan:
    return plan_site(read_site(ROOT / "sample_sites" / "roadside"))


@pytest.fixture(scope="module")
def read(
    require_program: Callable[[str], str], tmp_path_factory: pytest.TempPathFactory
) -> Callable[[Plan], list[str]]:
    """Return what a reader of the PDF finds on each sheet; spaces of any kind and number are one space."""
    require_program("pdftoppm")  # the same package brings pdftotext
    program = require_program("pdftotext")
    folder = tmp_path_factory.mktemp("sheets")
    kept: dict[int, tuple[Plan, list[str]]] = {}

    def of(plan: Plan) -> list[str]:
        if id(plan) not in kept:
            kept[id(plan)] = plan, found_in(plan)
        return kept[id(plan)][1]

    def found_in(plan: Plan) -> list[str]:
        path = folder / "setout.pdf"
        path.write_bytes(setout_pdf(plan))
        told = subprocess.run([program, "-layout", str(path), "-"], capture_output=True, check=True, text=True).stdout
        return [" ".join(page.split()) for page in told.split("\f")[:-1]]

    return of


def test_every_run_has_one_side_first_then_cover_map_and_tables(roadside: Plan, read) -> None:
    told = read(roadside)
    runs = list(roadside.runs["run_id"])
    for page, run_id in zip(told, runs, strict=False):
        assert f"RUN {run_id} " in page[:80]
        for said in ("MEASURE", "TAPE", "SET", "MIND", "WHO", "BRING", "EMERGENCY", "stay in, keep everybody 12 m off"):
            assert said in page
    assert told[len(runs)].startswith("SET-OUT SHEETS")
    assert DESK_STUDY in told[len(runs)]
    assert NO_BOUNDARY in told[len(runs)]
    behind = [page for page in told[len(runs) :] if "sheet" in page]
    first_words = [page.split(" ")[0] for page in behind]
    assert first_words.index("KEY") < first_words.index("RUN")
    assert behind[first_words.index("RUN")].startswith(f"RUN {runs[0]} From start of line A to corner A-C01")


def test_every_foot_says_site_part_number_hash_and_what_it_replaces_not(roadside: Plan, read) -> None:
    told = read(roadside)
    assert len(told) == len(sheets(roadside))
    for number, page in enumerate(told, start=1):
        assert f"sheet {number} of {len(told)}, plan {plan_sha256(roadside)[:12]}" in page
        assert roadside.site.name in page
        assert page.endswith(DESK)


def test_the_divide_table_is_the_layers(roadside: Plan, read) -> None:
    told = read(roadside)
    places = dict(zip(roadside.runs["run_id"], told, strict=False))
    divide = roadside.divide
    begins, ends = printed(divide["from_m"], "from_m"), printed(divide["to_m"], "to_m")
    assert len(divide) > 10
    for run_id, bays, begin, end in zip(divide["run_id"], divide["bays"], begins, ends, strict=True):
        assert f"{bays} bays: {begin}–{end} m" in places[run_id]


def test_tape_marks_are_the_layers_and_the_last_adds_its_bay(roadside: Plan, read) -> None:
    told = read(roadside)
    tape = dict(zip(roadside.posts["post_id"], roadside.posts["tape_m"], strict=True))
    bays = dict(zip(roadside.bays["from_post"], roadside.bays["ground_length_m"], strict=True))
    for page, walk in zip(told, walks(roadside), strict=False):
        for stretch in walk.stretches:
            names = stretch.names
            marks_mm = [0.0, *(tape[name] for name in names[1:-1]), tape[names[-2]] + bays[names[-2]]]
            for name, metres in zip(names, marks_mm, strict=True):
                assert re.search(rf"{name}\*? {millimetres(metres)}\b".replace("\u00a0", " "), page), name


def test_stretches_begin_again_at_gates_and_share_posts_at_junctions(small_plan: Plan) -> None:
    first, second, stem = walks(small_plan)
    assert [len(walk.stretches) for walk in (first, second, stem)] == [2, 1, 1]
    assert first.stretches[1].names[0] != first.stretches[0].names[-1]
    assert first.stretches[1].names[-1] == second.stretches[0].names[0]
    node = small_plan.posts.loc[small_plan.posts["node_id"] == "N1", "post_id"].iloc[0]
    assert stem.stretches[0].names[0] == node
    assert (stem.stretches[0].tape_m[0], stem.stretches[0].station_m[0]) == (0.0, 0.0)
    assert stem.post_count == len(stem.stretches[0].names)


def test_hazards_are_told_by_posts_that_stand_outside_them(small_plan: Plan) -> None:
    walk = walks(small_plan)[0]
    begin, end = walk.span_of_posts(12.0, 31.5)
    station = dict(zip(small_plan.posts["post_id"], small_plan.posts["chainage_m"], strict=True))
    assert station[begin] <= 12.0 < 31.5 <= station[end]
    between = [name for name in station if name.startswith("A") and station[begin] < station[name] <= 12.0]
    assert between == []
    assert walk.span_of_posts(-5.0, 500.0) == (walk.stretches[0].names[0], walk.stretches[-1].names[-1])
    assert dataclasses.replace(walk, stretches=()).span_of_posts(0.0, 1.0) is None


def test_a_run_without_a_flag_is_no_finding_and_nothing_gives_leave(roadside: Plan, small_plan: Plan, read) -> None:
    run = roadside.runs.iloc[1]
    on_it = (roadside.hazards["from_m"] < run["to_m"] + 1.0) & (roadside.hazards["to_m"] > run["from_m"] - 1.0)
    told = read(dataclasses.replace(roadside, hazards=roadside.hazards[~on_it]))
    assert NOT_A_FINDING in told[1]
    assert NOT_A_FINDING not in told[3]
    assert all("Not checked (see the cover): side slope, creeks and drains" in page for page in told[:5])
    allowed = r"safe work method"
    for page in [*told, *read(small_plan)]:
        assert not re.search(r"\b(clear|safe|safely|allowed|permitted)\b", re.sub(allowed, "", page))


def test_the_emergency_box_has_the_runs_middle_and_blanks(roadside: Plan, read) -> None:
    told = read(roadside)
    for page, shape in zip(told, roadside.runs.geometry, strict=False):
        middle = shapely.get_coordinates(shape.interpolate(0.5, normalized=True))
        lon_deg, lat_deg = lon_lat_deg(roadside, middle)[0]
        assert f"Middle of this run: {abs(lat_deg):.5f}° S, {lon_deg:.5f}° E" in page
        for blank in ("number to ring", "Road gate, road", "Phone signal", "line owner's faults"):
            assert blank in page
    assert "Nearest gate of the plan: A-G1 (Main entrance), 12 m E of there" in told[0]


def test_positions_have_five_decimals_and_their_sides() -> None:
    assert position(-109.8750249, 46.6119) == "46.61190° N, 109.87502° W"
    assert position(149.2, -34.5) == "34.50000° S, 149.20000° E"
    assert millimetres(67.3399) == "67\u00a0340"


def test_same_bytes_under_two_hash_seeds(small_plan: Plan) -> None:
    made = [
        subprocess.run(
            [sys.executable, "-c", ALONE, str(TESTS / "plan_by_hand.py")],
            capture_output=True,
            check=True,
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2")
    ]
    assert made[0] == made[1] == setout_pdf(small_plan)
    assert made[0].startswith(b"%PDF-")
    assert not re.search(rb"CreationDate \(D:(?!2000)", made[0])


def test_hostile_names_are_text_and_no_action(small_plan: Plan, read) -> None:
    told = " ".join(read(small_plan))
    assert "line A (</script><b>North</b>)" in told
    assert "=cmd|' /C calc'!A0" in told
    content = setout_pdf(small_plan)
    for action in (b"/JavaScript", b"/JS", b"/Launch", b"/URI", b"/OpenAction"):
        assert action not in content


def test_names_in_other_scripts_give_way_to_the_features_number(small_plan: Plan, read) -> None:
    drawn_lines = tuple(
        dataclasses.replace(line, name=name, feature=f"feature {place} ({name})")
        for place, (line, name) in enumerate(zip(small_plan.site.drawn, ("牧場", "Κτήμα Žitava Ђор"), strict=True), 1)
    )
    told = read(
        dataclasses.replace(small_plan, site=dataclasses.replace(small_plan.site, drawn=drawn_lines, name="牧場"))
    )
    assert "line A (feature 1, name on the map)" in told[0]
    assert "line B (Κτήμα Žitava Ђор)" in told[2]
    assert all("site, name on the map" in page for page in told)
    assert not any("牧" in page for page in told)
    assert f"{NOT_DRAWN} stands for other letters" in told[3]


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Žitava κτήμα Ђ ½ °", "Žitava κτήμα Ђ ½ °"),
        ("牧場 3", f"{NOT_DRAWN} 3"),
        ("שלום", NOT_DRAWN),
        ("two\nlines\u202e", "two lines\ufffd"),
        ("e\u0301", "é"),
    ],
)
def test_only_what_the_fonts_have_is_drawn(text: str, shown: str) -> None:
    assert drawn(text) == shown
    assert printable(text) == (NOT_DRAWN not in shown)


def test_names_stand_in_for_what_is_missing() -> None:
    assert named(None, "gate") == named("", "gate") == "gate"
    assert named("牧", "gate") == "gate, name on the map"
    assert named("Top", "gate") == "Top"


def test_wrapped_lines_fit_and_lose_no_word() -> None:
    text = "a plan of many words that goes on for longer than one line of a sheet can hold " * 3
    lines = wrapped(text, 9.0, 80.0, "bold")
    assert " ".join(lines).split() == text.split()
    assert max(wide_mm(line, 9.0, "bold") for line in lines) <= 80.0 < wide_mm(text, 9.0, "bold")
    assert fitted("x" * 200, 9.0, 30.0).endswith("x…")
    assert wide_mm(wrapped("y" * 200, 9.0, 30.0)[0], 9.0) <= 30.0


def test_a_narrow_table_goes_into_columns_and_its_head_stands_on_every_sheet() -> None:
    lines = table(("post", "m"), [(f"A-{place}", f"{place}.0") for place in range(500)], part="posts")
    cut = pages(lines)
    assert len(cut) == 3
    assert all(page[0].text.split() == ["post", "m", "│", "post", "m", "│", "post", "m"] for page in cut)
    rows = [line.text for page in cut for line in page if line.text.startswith("A-")]
    names = [word for text in rows for word in text.split() if word.startswith("A-")]
    assert sorted(names) == sorted(f"A-{place}" for place in range(500))
    assert max(wide_mm(line.text, line.size, line.font) for page in cut for line in page) <= ROOM_MM
    # down the first column, then down the second
    column = [line.text.split("│")[0].split()[0] for line in cut[0] if line.text.startswith("A-")]
    assert column == [f"A-{place}" for place in range(len(column))]
    assert f" A-{len(column)} " in next(line.text for line in cut[0] if line.text.startswith("A-0 "))
    assert parts(cut[0]) == "posts"


def test_a_table_is_as_large_as_fits_and_cuts_nothing() -> None:
    few = table(("top m", "plumb from deg", "note"), [("1.2", "3.9", "x")], left=(2,))
    assert [line.text for line in few] == ["    plumb", "top  from note", "  m   deg", "─" * 14, "1.2   3.9 x"]
    assert few[0].size == 9.0
    words = " ".join(["many words of a note"] * 20)
    wide = table(("a", "note"), [("x" * 30, words), ("y", "z")], left=(0, 1))
    assert all(wide_mm(line.text, line.size, "even") <= ROOM_MM for line in wide)
    told = " ".join(line.text for line in wide)
    assert "…" not in told
    assert " ".join(told.split()).count("note") == 21
    assert wide[2].with_next == len(wide) - 4  # its lines stay together


def test_a_heading_goes_over_with_its_lines() -> None:
    lines = [Line("fill", gap_mm=262.0), Line("head", with_next=1), Line("body")]
    assert [[line.text for line in page] for page in pages(lines)] == [["fill"], ["head", "body"]]
    assert paragraph("one two", tick=True)[0].tick


def test_the_sketch_lays_a_run_along_the_paper_to_its_scale() -> None:
    box = ((12.0, 40.0), 186.0, 50.0)
    for bearing in np.radians([0.0, 80.0, 200.0, 333.0]):
        shape = shapely.LineString([(100.0, 200.0), (100.0 + 90 * np.sin(bearing), 200.0 + 90 * np.cos(bearing))])
        view = view_along(shape, box)
        (begin, end) = view.of(shapely.get_coordinates(shape))
        assert begin[1] == pytest.approx(65.0)
        assert end - begin == pytest.approx([90_000.0 / view.scale, 0.0], abs=1e-9)
        assert 24.0 <= begin[0] < end[0] <= 186.0
        north = view.of([(100.0, 201.0)])[0] - begin
        assert (north[0], -north[1]) == pytest.approx(
            (np.cos(view.up_rad) * 1000 / view.scale, np.sin(view.up_rad) * 1000 / view.scale)
        )
    assert [scale_for(needed) for needed in (3.0, 555.6, 750.0, 751.0, 100_001.0)] == [20, 750, 750, 1000, 150_000]


def test_the_key_map_is_north_up_and_to_scale(roadside: Plan) -> None:
    view = map_view(roadside)
    west, south, east, north = roadside.runs.total_bounds
    low_left, top_right = view.of([(west, south), (east, north)])
    assert top_right - low_left == pytest.approx(np.array([east - west, south - north]) * 1000.0 / view.scale)
    assert low_left[0] >= 12.0
    assert top_right[0] <= 198.0
    assert map_count(walks(roadside)) == 1
    assert map_count(walks(roadside) * 40) > 1


def test_the_index_names_the_sheets_where_things_stand(roadside: Plan, read) -> None:
    told = read(roadside)
    index = next(page for page in told if page.startswith("KEY MAP"))
    for number, run_id in enumerate(roadside.runs["run_id"], start=1):
        found = re.search(rf"{run_id} {number} (\d+) ", index)
        assert found
        assert f"RUN {run_id} From " in told[int(found[1]) - 1]


def test_wire_has_marks_of_heavier_posts_only_and_bays_between(small_plan: Plan) -> None:
    walk = walks(small_plan)[2]
    heading, found = marks(small_plan, walk)
    assert heading == "running mm; heavier posts only"
    kinds = {name: post.kind for name, post in walk.posts.items()}
    assert [mark.name.rstrip("*") for mark in found] == [
        name for place, (name, kind) in enumerate(kinds.items()) if kind != "line" or place in {0, len(kinds) - 1}
    ]
    _, rows = string_lines(small_plan, walk)
    assert rows == [(f"{walk.stretches[0].names[0]}–{walk.stretches[0].names[-1]}, 12 × 5.006", True)]
    assert bays_words(np.array([2.0, 2.1])) == "2 × 2.000–2.100"


def test_alike_posts_of_wire_are_one_row_of_the_long_table(small_plan: Plan, read) -> None:
    told = " ".join(read(small_plan)[5:])
    assert re.search(r"B001 line × \d+ .* to B00\d", told)


def test_corners_gates_offsets_and_heaps_are_said(small_plan: Plan) -> None:
    first, second, _ = walks(small_plan)
    said = setting(small_plan, first)
    corner = first.stretches[-1].names[-1]
    words = f"Corner AC1 at {corner}: 45° to the right, mitre 22.5°, hole ______ mm (bisector). Odd: plumb both ways."
    assert words in said
    gate = first.stretches[0].names[-1], first.stretches[1].names[0]
    assert any(
        f"posts {gate[0]} and {gate[1]}: centres 3.840\u00a0m apart, faces 3.600\u00a0m" in text for text in said
    )
    assert "String to hole centre: ________ mm." in said
    assert heaps(second) == f"Posts: {second.post_count - 2} line, 2 strainer."
    stocked = small_plan.posts.assign(heap="2", stock_m=2.4, embed_m=0.9)
    _, second, _ = walks(dataclasses.replace(small_plan, posts=stocked))
    count = second.post_count
    assert heaps(second).endswith(f"stock {count} × 2.40 m; heap 2: {count}; 0.90 m in the ground.")
    filled = small_plan.posts.assign(offset_mm=np.where(small_plan.posts["kind"] == "line", 97.6, 183.8))
    known = dataclasses.replace(small_plan, posts=filled)
    said = setting(known, walks(known)[0])
    assert "String to hole centre: 98 mm to the right; others differ, see the long table." in said
    assert any("hole 184 mm (bisector)" in text for text in said)


def test_bearings_are_whole_degrees_of_the_magnet_with_model_and_date(roadside: Plan, read) -> None:
    run = walks(roadside)[0].run
    assert bearings(run) == (
        f"true {run.bearing_true_deg:.2f}°, grid {run.bearing_grid_deg:.2f}°, "
        f"magnetic {round(run.bearing_magnetic_deg):03d}°"
    )
    assert magnetic_words(roadside).startswith("Magnetic bearings by the World Magnetic Model 2025 for 2026-03-04")
    no_date = dataclasses.replace(
        roadside, notes=roadside.notes.iloc[:0], not_computed=("runs.bearing_magnetic_deg: no date in site.toml",)
    )
    assert magnetic_words(no_date) == "Magnetic bearings: none, no date in site.toml"
    assert magnetic_words(roadside) in " ".join(read(roadside))


def test_a_layers_table_says_once_what_is_the_same_and_how_much_is_left_out(small_plan: Plan) -> None:
    assert layer_table(small_plan, "rails", "RAILS") == []
    assert layer_table(small_plan, "no such layer", "X") == []
    rows = [{"line_id": "A", "from_m": at, "to_m": at + 1.0, "rail_id": f"R{at}", "row": 1} for at in range(700)]
    frame = pd.DataFrame(rows).reindex(columns=small_plan.rails.drop(columns="geometry").columns)
    lines = layer_table(dataclasses.replace(small_plan, rails=frame), "rails", "RAILS")
    texts = [line.text for line in lines]
    assert "In every row: line id A; row 1." in texts
    assert texts[-1] == "100 more rows are in plan.gpkg, layer rails."
    assert sum(" R" in text for text in texts) == 600


def test_spans_from_post_to_post_are_told_by_posts(roadside: Plan) -> None:
    texts = [line.text for line in layer_table(roadside, "rails", "RAILS", posts=post_at(roadside))]
    rail = roadside.rails.iloc[0]
    bays = roadside.bays
    begin = bays["from_post"][(bays["from_m"] - rail["from_m"]).abs() < 0.001].iloc[0]
    end = bays["to_post"][(bays["to_m"] - rail["to_m"]).abs() < 0.001].iloc[0]
    row = next(text.split() for text in texts if str(rail["rail_id"]) in text.split())
    assert row[:3] == [begin, end, rail["rail_id"]]
    assert row[3] == f"{rail['cut_m']:.3f}"
    assert "row" not in " ".join(texts[:6]).replace("every row", "").split()
    # one end that is no post: chainages stand
    moved = dataclasses.replace(roadside, rails=roadside.rails.assign(to_m=roadside.rails["to_m"] + 0.5))
    assert any(" 0.000 " in f" {line.text}" for line in layer_table(moved, "rails", "RAILS", posts=post_at(moved)))


def test_each_run_has_its_plan_section_strings_sights_and_pegs(roadside: Plan, read) -> None:
    told = read(roadside)
    feet = [page.rsplit(roadside.site.name, 1)[1].split(", sheet ")[0].strip() for page in told]
    behind = range(len(roadside.runs), len(told))
    foot = {
        run_id: [told[place] for place in behind if f"run {run_id}" in feet[place].split(", ")]
        for run_id in roadside.runs["run_id"]
    }
    for run in roadside.runs.itertuples():
        pages_of = " ".join(foot[run.run_id])
        assert f"RUN {run.run_id} From " in foot[run.run_id][0]
        assert re.search(r"LONG SECTION, heights [\d.]+ × distances", foot[run.run_id][0])
        assert "top line" in foot[run.run_id][0]
        assert f"{run.from_m:.2f}" in foot[run.run_id][0]
        assert f"{run.to_m:.2f}" in foot[run.run_id][0]
        assert magnetic_words(roadside) in pages_of
        for name, column in (("strings", "string_id"), ("sights", "sight_id")):
            layer = getattr(roadside, name)
            for item in layer[column]:
                assert (f" {item} " in pages_of) == (item in set(layer[column][layer["run_id"] == run.run_id]))
    pegs = sum(len(re.findall(r"(?:line produced|square|diagonal) -?\d", page)) for page in told)
    assert pegs == len(roadside.reference_pegs)


def test_the_strip_draws_the_section_at_the_plans_own_places(roadside: Plan) -> None:
    walk = walks(roadside)[0]
    profile = profiles(roadside)["A"]
    (line,) = strips(Around(roadside), walk, profile)
    strip = line.draw.keywords["strip"]  # type: ignore[union-attr]
    for stretch in walk.stretches:
        for point, station in zip(strip.view.of(stretch.points), stretch.station_m, strict=True):
            assert strip.right_mm(float(station)) == pytest.approx(point[0], abs=0.01)
    assert strip.up_mm(strip.low_m + 1.0) == pytest.approx(1000.0 / strip.view.scale * strip.times)
    high = max(post.ground_m + post.top_m for post in walk.posts.values())
    assert strip.up_mm(high) <= strip.tall_mm + 1e-6
    low, top = heights_m(profile, strip.from_m, strip.to_m)
    assert low == strip.low_m
    assert top >= high


def test_long_runs_go_into_two_or_three_strips(roadside: Plan) -> None:
    walk = walks(roadside)[0]
    counts = []
    for length in (200.0, 800.0, 3000.0):
        shape = shapely.LineString([(0.0, 0.0), (length, 0.0)])
        run = walk.run._replace(from_m=0.0, to_m=length, geometry=shape)
        long = dataclasses.replace(walk, run=run, hazards=())
        found = strips(Around(roadside), long, profiles(roadside)["A"])
        counts.append(len(found))
        begins = [line.draw.keywords["strip"].from_m for line in found]  # type: ignore[union-attr]
        assert begins == pytest.approx([length * place / len(found) for place in range(len(found))])
    assert counts == [1, 2, 3]


def test_odd_corners_ask_for_plumb_both_ways_and_square_ones_do_not(small_plan: Plan, read) -> None:
    said = {}
    for turn_deg in (4.0, 45.0, 88.0, -93.0, -120.0):
        corners = small_plan.corners.assign(turn_deg=turn_deg, interior_deg=180.0 - abs(turn_deg))
        plan = dataclasses.replace(small_plan, corners=corners)
        words = next(text for text in setting(plan, walks(plan)[0]) if text.startswith("Corner"))
        said[turn_deg] = words.endswith("Odd: plumb both ways.")
    assert said == {4.0: False, 45.0: True, 88.0: False, -93.0: False, -120.0: True}
    told = read(small_plan)
    assert "Odd: plumb both ways." in told[0]
    assert any("odd corner: plumb both ways" in page for page in told[4:])


def test_every_mark_has_its_top_and_the_gap_below_its_rails(roadside: Plan, read) -> None:
    walk = walks(roadside)[1]
    _, found = marks(roadside, walk)
    drop_m = bottom_drop_m(roadside.site.spec.fence)
    for mark, post in zip(found, walk.posts.values(), strict=True):
        assert mark.top_mm == millimetres(post.top_m)
        assert mark.gap_mm == millimetres(post.top_m - drop_m)
        assert f"{mark.name} {mark.tape_mm} {mark.top_mm} {mark.gap_mm}".replace("\u00a0", " ") in read(roadside)[1]
    least, most = (f(gap for gap in roadside.gaps[name]) for f, name in ((min, "least_m"), (max, "greatest_m")))
    for post in walk.posts.values():
        assert least - 0.002 <= post.top_m - drop_m <= most + 0.002


def test_no_mark_is_left_out_on_a_crowded_sheet(roadside: Plan, read) -> None:
    for page in read(roadside)[: len(roadside.runs)]:
        assert "more: sheet" not in page.split("TAPE")[1].split("MIND")[0]


def test_the_owner_of_a_line_is_named_before_other_flags(roadside: Plan, read) -> None:
    for page, walk in zip(read(roadside), walks(roadside), strict=False):
        overhead = {row.kind for row in walk.hazards} & {"overhead power", "overhead phone"}
        mind = page.split("MIND")[1]
        assert (ASK_OWNER in mind) == bool(overhead)
        if overhead:
            first = next(row for row in walk.hazards if row.kind not in overhead)
            assert mind.index(ASK_OWNER) < mind.index(f"{first.kind.capitalize()}, reckoned")


def test_every_flag_of_a_run_stands_on_its_sheet_with_its_posts(roadside: Plan, read) -> None:
    for page, walk in zip(read(roadside), walks(roadside), strict=False):
        mind = page.split("MIND")[1].split("WHO")[0]
        for row in walk.hazards:
            assert re.search(rf"\b{row.hazard_id}\b[^;.]* {by_posts(walk, row)}", mind), row.hazard_id


def test_the_cover_tells_what_gives_rise_to_each_caution(roadside: Plan, read) -> None:
    cover = " ".join(page for page in read(roadside) if f"{roadside.site.name} cover, sheet" in page)
    for caution in cautions(roadside):
        assert f"{caution.about} [{caution.where}]. {caution.text[:40]}".replace("\u00a0", " ") in cover


def test_ends_of_arcs_are_named_by_the_runs_that_meet_there(roadside: Plan) -> None:
    plan = dataclasses.replace(roadside, corners=roadside.corners.iloc[1:])
    words = run_words(plan, walks(plan), ())
    runs = list(roadside.runs["run_id"])
    assert words[0].from_to.startswith(f"From start of line A to start of straight {runs[1]} (posts ")
    assert words[1].from_to.startswith(f"From end of straight {runs[0]} to corner ")


def test_the_key_map_is_to_scale_on_the_printed_sheet(roadside: Plan, require_program, tmp_path: Path) -> None:
    """Ends of the fence as measured on the rendered sheet, against their distance on the ground."""
    program = require_program("pdftoppm")
    (tmp_path / "setout.pdf").write_bytes(setout_pdf(roadside))
    number = next(place for place, sheet in enumerate(sheets(roadside), start=1) if sheet.about == "key map")
    subprocess.run([program, "-r", "300", "-gray", "-f", str(number), "-l", str(number), "setout.pdf", "map"],
                   check=True, cwd=tmp_path)  # fmt: skip
    from PIL import Image

    pixel_mm = 25.4 / 300.0
    dark = np.asarray(Image.open(next(tmp_path.glob("map*"))).convert("L")) < 128
    left = round(13.0 / pixel_mm)  # right of the map's frame
    bar = np.flatnonzero(dark[round(170.2 / pixel_mm), left : round(100.0 / pixel_mm)])
    bar_mm = (np.flatnonzero(np.diff(bar) > 1)[0] + 1) * pixel_mm  # its black half
    view = map_view(roadside)
    length_m = bar_mm * 2.0 * view.scale / 1000.0
    tens = 10.0 ** np.floor(np.log10(length_m * 1.1))
    assert min(abs(length_m / tens - step) for step in (1.0, 2.0, 5.0, 10.0)) < 0.02
    for post in (roadside.strainers.geometry.iloc[0], roadside.strainers.geometry.iloc[-1]):
        right, down = view.of([(post.x, post.y)])[0] / pixel_mm
        assert dark[round(down) - 3 : round(down) + 4, round(right) - 3 : round(right) + 4].all()


def test_rails_are_drawn_where_the_plan_has_them(small_plan: Plan, read) -> None:
    assert not any("joints dotted" in page for page in read(small_plan))
    post_at = sorted(small_plan.posts.loc[small_plan.posts["line_id"] == "A", "chainage_m"])
    rows = [
        {"line_id": "A", "from_m": begin, "to_m": end, "rail_id": f"A-{place}", "row": 1, "bays": 1, "cut_m": 2.4}
        for place, (begin, end) in enumerate(pairwise(post_at[:9]))
    ]
    frame = pd.DataFrame(rows).reindex(columns=small_plan.rails.drop(columns="geometry").columns)
    told = read(dataclasses.replace(small_plan, rails=frame))
    assert "RAILS from A001 to A033, top row first; joints dotted" in told[0]
    assert "joints dotted" not in told[1]
    assert any("RAILS In every row: line id A; cut m 2.400. rail from to id" in page for page in told[4:])


def test_without_elevation_and_for_twelve_metres_sheets_are_made(tmp_path: Path, read) -> None:
    (tmp_path / "boundary.geojson").write_text(
        '{"type": "Feature", "properties": {}, "geometry": {"type": "LineString", '
        '"coordinates": [[149.0, -34.0], [149.00013, -34.0]]}}'
    )
    (tmp_path / "site.toml").write_text('[fence]\nkind = "post and rail"\nrail_m = [4.8]\n')
    told = read(plan_site(read_site(tmp_path)))
    assert "RUN A-R1" in told[0][:80]
    assert "Top rail ________ mm above ground" in told[0]
    assert "No elevation: the plan is flat" in told[1]


def test_the_sheets_are_drawn_in_black_and_white(small_plan: Plan, require_program, tmp_path: Path) -> None:
    program = require_program("pdftoppm")
    (tmp_path / "setout.pdf").write_bytes(setout_pdf(small_plan))
    subprocess.run([program, "-r", "30", "-png", "setout.pdf", "page"], check=True, cwd=tmp_path)
    from PIL import Image

    found = sorted(tmp_path.glob("page*.png"))
    assert len(found) == len(sheets(small_plan))
    for path in found:
        pixels = np.asarray(Image.open(path).convert("RGB")).astype(int)
        assert (np.ptp(pixels, axis=2) == 0).all()
        assert (pixels < 128).any()

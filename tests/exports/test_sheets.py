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
from fencegis.exports.cautions import DESK_STUDY, NO_BOUNDARY
from fencegis.exports.plan_hash import plan_sha256
from fencegis.exports.positions import lon_lat_deg
from fencegis.exports.rounding import printed
from fencegis.exports.sheet_flow import Line, pages, paragraph, parts, table
from fencegis.exports.sheet_lists import bays_words, bearings, marks, setting, string_lines
from fencegis.exports.sheet_map import map_count, map_view
from fencegis.exports.sheet_paper import NOT_DRAWN, ROOM_MM, drawn, fitted, named, printable, wide_mm, wrapped
from fencegis.exports.sheet_posts import walks
from fencegis.exports.sheet_sketch import scale_for, view_along
from fencegis.exports.sheet_tables import layer_table, magnetic_words
from fencegis.exports.sheet_words import DESK, NOT_A_FINDING, heaps, millimetres, position
from fencegis.exports.sheets import setout_pdf, sheets

if TYPE_CHECKING:
    from collections.abc import Callable

    from fencegis.records.plan import Plan

ROOT = Path(__file__).parents[2]
TESTS = Path(__file__).parents[1]
ALONE = """
import importlib.util, sys
spec = importlib.util.spec_from_file_location("by_hand", sys.argv[1])
by_hand = importlib.util.module_from_spec(spec)
sys.modules["by_hand"] = by_hand
spec.loader.exec_module(by_hand)
from fencegis.exports.sheets import setout_pdf
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
    assert told[len(runs) + 1].startswith("KEY MAP")
    assert told[len(runs) + 2].startswith(f"RUN {runs[0]} From start of line A to corner A-C01")


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
        assert f"{bays} bays: {begin} to {end} m" in places[run_id]


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
    told = read(roadside)
    assert NOT_A_FINDING in told[1]
    assert "Not checked (see the cover): side slope, creeks and drains" in told[1]
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


def test_tables_stand_in_columns_and_their_heads_stand_on_every_sheet() -> None:
    lines = table(("post", "m"), [(f"A-{place}", f"{place}.0") for place in range(200)], part="posts")
    assert [line.text for line in lines[:3]] == ["post      m", "─" * 11, "A-0     0.0"]
    cut = pages(lines)
    assert len(cut) == 3
    assert all(page[0].text == "post      m" for page in cut)
    assert sum(line.text.startswith("A-") for page in cut for line in page) == 200
    assert parts(cut[0]) == "posts"
    assert [line.text for line in table(("top m", "note"), [("1.2", "x")], left=(1,))] == [
        "top note",
        "  m",
        "─" * 8,
        "1.2 x",
    ]
    wide = table(("a", "b"), [("x" * 200, "1")])
    assert wide_mm(wide[2].text, wide[2].size, "even") <= ROOM_MM


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
    index = told[len(roadside.runs) + 1]
    for number, run_id in enumerate(roadside.runs["run_id"], start=1):
        found = re.search(rf"{run_id} {number} (\d+) ", index)
        assert found
        assert f"RUN {run_id} From " in told[int(found[1]) - 1]


def test_wire_has_marks_of_heavier_posts_only_and_bays_between(small_plan: Plan) -> None:
    walk = walks(small_plan)[2]
    heading, lines = marks(walk)
    assert heading == "running mm; heavier posts only"
    kinds = {name: post.kind for name, post in walk.posts.items()}
    assert [line.split("*")[0].split(" ")[0] for line in lines] == [
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
    assert (
        f"Corner AC1, post {corner}: 45° to the right, mitre 22.5°, hole ______ mm (bisector). Plumb both ways." in said
    )
    gate = first.stretches[0].names[-1], first.stretches[1].names[0]
    assert any(
        f"posts {gate[0]} and {gate[1]}: 3.840\u00a0m centre to centre, 3.600\u00a0m between faces" in text
        for text in said
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


def test_rails_are_drawn_where_the_plan_has_them(small_plan: Plan, read) -> None:
    assert not any("joints dotted" in page for page in read(small_plan))
    post_at = sorted(small_plan.posts.loc[small_plan.posts["line_id"] == "A", "chainage_m"])
    rows = [
        {"line_id": "A", "from_m": begin, "to_m": end, "rail_id": f"A-{place}", "row": 1, "bays": 1, "cut_m": 2.4}
        for place, (begin, end) in enumerate(pairwise(post_at[:9]))
    ]
    frame = pd.DataFrame(rows).reindex(columns=small_plan.rails.drop(columns="geometry").columns)
    told = read(dataclasses.replace(small_plan, rails=frame))
    assert "RAILS from A001 to A012, top row first; joints dotted" in told[0]
    assert "joints dotted" not in told[1]
    assert any("RAILS In every row" in page for page in told[4:])


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

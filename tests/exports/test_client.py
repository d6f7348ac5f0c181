"""The client's sheets and page say the same, in plain words, and nothing on them reads as leave to go ahead."""

from __future__ import annotations

import html
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pyproj
import pytest

from fencegis import plan_site, read_site
from fencegis.catalogue import rows
from fencegis.exports.answers import KINDS, NOT_LOOKED
from fencegis.exports.client import titles as titles_of
from fencegis.exports.client.columns import Cell, Row, flowed, heading, kept
from fencegis.exports.client.content import NO_BOUNDARY, content_of
from fencegis.exports.client.labels import Labels, bar_corner
from fencegis.exports.client.maps import maps_of, view_of
from fencegis.exports.client.page import client_page
from fencegis.exports.client.paper import client_pdf
from fencegis.exports.client.price import totals
from fencegis.exports.client.risks import plain_basis
from fencegis.exports.client.run_numbers import ALL, RunNumbers, listed_runs
from fencegis.exports.client.scene import Words
from fencegis.exports.client.stems import stems
from fencegis.exports.client.underlay import INK, underlay
from fencegis.exports.client.when import NOT_PLANNED, when_rows
from fencegis.exports.courses import Courses
from fencegis.exports.plan_hash import plan_sha256
from fencegis.quantities.money import money_text
from fencegis.quantities.price import sums_of
from fencegis.records.backdrop import Picture
from fencegis.records.spec import Money
from fencegis.records.tables import empty

if TYPE_CHECKING:
    from collections.abc import Callable

    from fencegis.records.plan import Plan

ROOT = Path(__file__).parents[2]
TESTS = Path(__file__).parents[1]
NONE = "none found in a.geojson, b.geojson (3 features)"
ALONE = """
import importlib.util, sys
spec = importlib.util.spec_from_file_location("by_hand", sys.argv[1])
by_hand = importlib.util.module_from_spec(spec)
sys.modules["by_hand"] = by_hand
spec.loader.exec_module(by_hand)
from fencegis.exports.client.page import client_page
from fencegis.exports.client.paper import client_pdf
from fencegis.exports.client.when import NOT_PLANNED, when_rows
from fencegis.records.tables import empty
plan = by_hand.register_by_hand()
sys.stdout.buffer.write(client_pdf(plan) + client_page(plan))
"""


@pytest.fixture(scope="module")
def roadside() -> Plan:
    return plan_site(read_site(ROOT / "sample_sites" / "roadside"))


@pytest.fixture(scope="module")
def read(
    require_program: Callable[[str], str], tmp_path_factory: pytest.TempPathFactory
) -> Callable[[Plan], list[str]]:
    """Return what a reader of the PDF finds on each sheet, column by column; spaces of any number are one space."""
    require_program("pdftoppm")  # the same package brings pdftotext
    program = require_program("pdftotext")
    path = tmp_path_factory.mktemp("client") / "client.pdf"

    def of(plan: Plan) -> list[str]:
        path.write_bytes(client_pdf(plan))
        told = subprocess.run([program, str(path), "-"], capture_output=True, check=True, text=True).stdout
        return [" ".join(page.split()) for page in told.split("\f")[:-1]]

    return of


def words_of(page: bytes) -> str:
    """Return what a page says, without its markup and style."""
    text = re.sub(r"<(style|title)>.*?</\1>", " ", page.decode(), flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def test_two_sheets_with_all_that_a_client_wants(roadside: Plan, read) -> None:
    told = read(roadside)
    assert len(told) == 2
    content, whole = content_of(roadside), " ".join(told)
    digits = plan_sha256(roadside)[:12]
    assert f"Plan {digits}" in told[0]
    assert f"We accept this drawing, plan {digits}" in told[1]
    assert told[0].count(NO_BOUNDARY) == told[1].count(NO_BOUNDARY) == 1
    assert "400 m of post and rail fence, 5 runs, 2 gates." in told[0]
    assert "for work on 2026-03-04" in told[0]
    titles = [getattr(titles_of, name) for name in dir(titles_of) if name.isupper()]
    assert {title for title in titles if title not in whole} == {titles_of.NOTHING_FLAGGED, titles_of.NOT_COMPUTED}
    assert "Acceptance" in whole
    assert "working days" in whole
    for cents in (sums_of(roadside.price).total_cents, sums_of(roadside.price).measured_cents):
        assert f"AUD {money_text(cents)}" in whole
    assert whole.count("Signature") == 2
    for answer in (*content.unlooked, *content.looked):
        assert answer.where in whole


def test_the_kinds_of_price_are_the_quotes_and_add_up(roadside: Plan) -> None:
    content, sums = content_of(roadside), sums_of(roadside.price)
    assert [each.kind for each in content.money] == ["Fixed", "Measured", "Provisional"]
    amounts = [int(re.sub(r"\D", "", each.amount or "")) for each in content.money]
    assert sum(amounts) == sums.before_tax_cents
    assert [name for name, _ in content.totals] == ["Before GST", "GST", "Total"]
    assert content.totals[-1][1] == money_text(sums.total_cents, currency="AUD")
    assert "hole in rock, each, if met at 70" in content.money[2].means
    assert content.not_priced == ""
    assert "Pulling it out is in the price." in content.old_fence[-1]
    hidden = roadside.site.spec.model_copy(update={"money": Money(show_tax=False)})
    (total,) = totals(replace(roadside, site=replace(roadside.site, spec=hidden)))
    assert total == ("Total, with tax", money_text(sums.total_cents))


def test_what_is_not_priced_is_named_and_without_rates_sums_are_written_in(small_plan: Plan, roadside: Plan) -> None:
    assert [each.amount for each in content_of(small_plan).money] == [None] * 3
    assert words_of(client_page(small_plan)).count("not computed") == 4  # the lead and three kinds of price
    less = roadside.price.copy()
    less.loc[less["item"] == "machine", "amount_cents"] = pd.NA
    said = words_of(client_page(replace(roadside, price=less)))
    assert "The total is not complete. Not priced: machine." in said
    assert "Total of what is priced" in said


def test_lengths_gates_posts_rails_and_trees_are_the_plans(roadside: Plan) -> None:
    content = content_of(roadside)
    assert [run.length for run in content.runs] == [f"{v:.0f}\u00a0m" for v in roadside.runs["ground_length_m"]]
    assert [gate.width for gate in content.gates] == ["6.1\u00a0m between the posts", "3.7\u00a0m between the posts"]
    assert [gate.run for gate in content.gates] == ["run 1", "run 5"]
    made = dict(content.materials)
    holding = int(roadside.posts["kind"].isin(["strainer", "gate", "junction"]).sum())
    assert made["Posts"] == f"{len(roadside.posts)}; {holding} of them hold ends, corners and gates"
    assert made["Rails"].startswith("3 rows, 1\u202f170\u00a0m in all: 257 of 4.8\u00a0m to buy")
    trees = {lot.what: lot.names for lot in content.trees}
    assert list(trees) == ["to go", "to limb", "to keep"]
    assert sum(map(len, trees.values())) == len(roadside.trees)
    assert trees["to go"] == ("T05",)
    assert content.old_fence[0] == "Old wire fence, 4 wires, 96\u00a0m: comes down."
    assert "stays; the new fence is joined to it" in content.old_fence[1]


def test_every_flag_has_a_letter_a_place_somebody_and_no_chainage(register_plan: Plan) -> None:
    found = content_of(register_plan).flagged
    assert [hazard.letter for hazard in found] == list("ABCDEFGHIJK"[: len(found)])
    assert {hazard.kind for hazard in found} == set(register_plan.hazards["kind"])
    assert [hazard.kind for hazard in found] == [kind for kind in KINDS if kind in set(register_plan.hazards["kind"])]
    by_kind = {hazard.kind: hazard for hazard in found}
    assert by_kind["overhead power"].where == "parts of runs 1 and 3"
    assert by_kind["overhead power"].places == "2 places"
    assert by_kind["overhead power"].who == "Owner of the line"
    assert by_kind["parallel power"].where == "all of run 3"
    assert all(hazard.means and hazard.does for hazard in found)


def test_no_chainage_and_no_word_of_leave_is_printed(register_plan: Plan, roadside: Plan) -> None:
    for plan in (register_plan, roadside):
        page = words_of(client_page(plan))
        assert not re.search(r"\d m of line|at \d+ m\b|\d m to \d+(\.\d)? m", page)
        bare = page.replace("safe work method", "")
        assert not re.search(r"\b(clear|safe|safely|permitted|permission|allowed)\b", bare, re.IGNORECASE)


def test_sheet_and_page_say_the_same(register_plan: Plan, read) -> None:
    page, sheet = words_of(client_page(register_plan)), " ".join(read(register_plan))
    content = content_of(register_plan)
    means = [[each.means for each in rows_] for rows_ in (content.flagged, content.money)]
    for texts in (content.changes, content.accepts, *means):
        for text in texts:
            assert " ".join(text.split()) in page
            assert " ".join(text.split()) in sheet, text
    for item in content.exclusions:
        assert item in page
        assert item[1:] in sheet


def test_exclusions_are_always_printed_and_come_from_the_catalogue(small_plan: Plan) -> None:
    assert content_of(small_plan).exclusions == tuple(row["item"] for row in rows("quote_excludes"))
    assert len(content_of(small_plan).exclusions) >= 10


def test_what_nobody_looked_at_is_a_list_of_its_own(small_plan: Plan) -> None:
    content = content_of(replace(small_plan, checks=small_plan.checks.iloc[:0]))
    assert len(content.unlooked) == len(KINDS)
    assert {(answer.basis, answer.where) for answer in content.unlooked} == {(NOT_LOOKED, ALL)}
    assert content.looked == ()


def test_none_found_is_said_with_file_features_and_walk(roadside: Plan) -> None:
    looked = {answer.what: answer for answer in content_of(roadside).looked}
    wire = looked["Overhead power lines"]
    assert (
        wire.basis == "none found in overhead.geojson (1 feature) — walked 2026-02-26, along the whole line, looking up"
    )
    assert wire.where == "all of runs 2 to 5 and part of run 1"
    assert not any("no wire" in answer.basis for answer in looked.values())  # a rail fence: nothing was looked for


@pytest.mark.parametrize(
    ("basis", "said"),
    [
        (f"{NONE} — not walked; no tip angle at 12 m", f"{NONE} — not walked"),
        (f"{NONE} — walked 4 March; x", f"{NONE} — walked 4 March"),
        ("no trees.geojson", "no data was given (no trees.geojson)"),
        (NOT_LOOKED, NOT_LOOKED),
        ("not flagged by the raster; cells of 5 m", "nobody walked it; the ground heights alone do not tell"),
        ("watercourses.geojson, feature 1: drawn within 2.6 m", "the data does not tell"),
    ],
)  # fmt: skip
def test_a_basis_in_plain_words(basis: str, said: str) -> None:
    assert plain_basis(basis) == said


def test_where_by_run_numbers(small_plan: Plan) -> None:
    numbers = RunNumbers(small_plan)
    assert numbers.words([("A", 0.0, 120.0), ("B", 0.0, 60.0)]) == ALL
    assert numbers.words([("A", 0.0, 72.0), ("A", 80.0, 84.0)]) == "all of run 1 and part of run 2"
    assert numbers.words([("A", 10.0, 20.0), ("A", 15.0, 30.0), ("B", 1.0, 5.0)]) == "parts of runs 1 and 3"
    assert numbers.words([("A", 30.0, 30.1)]) == "part of run 1"  # however short, it is told
    assert numbers.words([]) == "nowhere on the fence"
    assert [numbers.at("A", 71.9), numbers.at("A", 72.0), numbers.at("B", 3.0), numbers.at("Z", 0.0)] == [1, 2, 3, 0]
    assert listed_runs([1, 2, 3, 5, 7, 8]) == "runs 1 to 3, 5, 7 and 8"
    assert listed_runs([4]) == "run 4"


def test_hostile_texts_stay_texts(register_plan: Plan) -> None:
    page = client_page(register_plan).decode()
    assert "<script" not in page
    assert "</script>" not in page
    assert "<b>North" not in page
    assert "A&amp;B &quot;quote&quot; &#x27;single&#x27;" in page
    assert "${" not in page
    assert "default-src 'none'" in page
    assert not re.search(r"(?:src|href)=\"(?!data:|#)", page)


def test_other_scripts_are_on_the_page_and_told_of_on_the_sheet(small_plan: Plan, read) -> None:
    plan = replace(small_plan, site=replace(small_plan.site, name="牧場の柵"))
    assert "<h1>牧場の柵</h1>" in client_page(plan).decode()
    assert "client.html has them" in read(plan)[0]


def test_same_bytes_under_two_hash_seeds() -> None:
    written = [
        subprocess.run(
            [sys.executable, "-c", ALONE, str(TESTS / "plan_by_hand.py")],
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": str(ROOT)}, capture_output=True, check=True,
        ).stdout
        for seed in ("1", "2")
    ]  # fmt: skip
    assert written[0] == written[1]
    assert written[0].startswith(b"%PDF")


def test_the_maps_have_numbers_letters_and_only_what_is_there_in_the_key(roadside: Plan) -> None:
    content = content_of(roadside)
    maps = maps_of(roadside, content.flagged)
    for scene in (maps.main, maps.narrow):
        words = [mark.text for mark in scene.marks if isinstance(mark, Words)]
        assert {"1", "2", "3", "4", "5", "G1", "G2", "N", *roadside.trees["tree_id"]} <= set(words)
        assert {hazard.letter for hazard in content.flagged} <= set(words)
    assert (maps.before.wide_mm, maps.before.tall_mm) == (maps.after.wide_mm, maps.after.tall_mm)
    assert maps.before.under is maps.after.under
    keyed = {sign.words for sign in maps.key}
    assert {"tree to go", "old fence, comes down", "way in for the machine", "pipe or cable in the ground"} <= keyed
    assert "tree to look at" not in keyed


def test_a_view_holds_all_of_its_bounds_at_a_usual_scale() -> None:
    for across, along in ((400.0, 180.0), (2200.0, 1900.0), (30.0, 900.0), (5.0, 5.0)):
        view, box = view_of((0.0, 0.0, across, along), 186.0, (64.0, 108.0))
        corners = view.of([(0.0, 0.0), (across, along)])
        assert corners.min() >= 0.0
        assert (corners <= box).all()
        assert 64.0 <= box[1] <= 108.0
        leading = float(f"{view.scale:e}".split("e")[0])
        assert leading in {1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5}


def test_the_picture_lies_where_it_belongs(roadside: Plan) -> None:
    """A black half of a picture begins on the map where PROJ puts its edge, to a tenth of a millimetre and a pixel."""
    rgba = np.full((400, 800, 4), 255, dtype=np.uint8)
    rgba[:, :400, :3] = 0
    south, west, north, east = -34.8827, 146.2807, -34.8805, 146.2857
    view, box = view_of(tuple(roadside.runs.total_bounds.tolist()), 186.0, (64.0, 108.0))
    shown = underlay(Picture("imagery", rgba, (south, west, north, east)), roadside.crs, view, box)
    middle = pyproj.Transformer.from_crs(4326, roadside.crs, always_xy=True).transform(
        (west + east) / 2, (south + north) / 2
    )
    row = shown[shown.shape[0] // 2, :, 0]
    dark = row < 255 - 100
    edge_mm = np.flatnonzero(dark)[-1] / len(row) * box[0]
    assert abs(edge_mm - view.of([middle])[0, 0]) < 0.35
    assert row.min() == round(255 - 255 * INK)


def test_trees_stand_where_their_file_has_them(roadside: Plan) -> None:
    places = stems(roadside, Courses(roadside))
    trees = roadside.site.trees
    assert trees is not None
    given = {(round(p.x, 3), round(p.y, 3)) for p in trees.geometry}
    assert {(round(east, 3), round(north, 3)) for east, north in places} <= given


def test_labels_lie_over_no_other_and_say_so_when_there_is_no_room() -> None:
    labels = Labels((40.0, 20.0), [[(0.0, 10.0), (40.0, 10.0)]], size=8.0)
    for number in range(40):
        labels.put(str(number), (20.0, 10.0), "tree")
    put = [mark.at for mark in labels.marks() if isinstance(mark, Words)]
    assert 2 < len(put) < 40
    apart = [abs(a[0] - b[0]) > 2.0 or abs(a[1] - b[1]) > 2.0 for a in put for b in put if a != b]
    assert all(apart)
    before = len(put)
    labels.put("must", (20.0, 10.0), "run", must=True)
    assert len([mark for mark in labels.marks() if isinstance(mark, Words)]) == before + 1


def test_the_scale_bar_takes_the_corner_with_least_fence() -> None:
    assert bar_corner((100.0, 60.0), [[(0.0, 58.0), (30.0, 58.0)]], 20.0)[0] > 50.0
    assert bar_corner((100.0, 60.0), [[(0.0, 58.0), (100.0, 58.0)]], 20.0)[1] == 0.5
    assert bar_corner((100.0, 60.0), [[(50.0, 0.0), (50.0, 60.0)]], 20.0)[0] == 0.5


def test_columns_keep_headings_with_what_follows_and_lose_no_row() -> None:
    rows_ = [
        row
        for part in range(12)
        for row in (*heading(f"part {part}"), *(Row((Cell(0.0, f"{part}-{n}"),)) for n in range(14)))
    ]
    columns = flowed(rows_, first_top_mm=180.0, last_foot_mm=230.0)
    assert [row for column in columns for row in column.rows] == rows_
    for column in columns:
        assert column.foot_mm <= 283.0
        assert not column.rows or not any(cell.text.startswith("part") for cell in column.rows[-1].cells)
    assert max(column.foot_mm for column in columns if column.sheet == columns[-1].sheet) <= 230.0
    block = kept([Row((Cell(0.0, str(n)),)) for n in range(6)])
    assert [row.with_next for row in block] == [5, 4, 3, 2, 1, 0]


def test_a_long_list_takes_a_third_sheet_and_the_acceptance_stays_whole(register_plan: Plan, read) -> None:
    told = read(register_plan)
    assert 2 <= len(told) <= 3
    assert "Acceptance" in told[-1]
    assert "Signature" in told[-1]
    assert sum("Acceptance" in page for page in told) == 1


def test_the_client_is_told_how_many_days_and_what_becomes_of_stock(roadside: Plan) -> None:
    said = dict(when_rows(roadside))
    assert "working days" in said["When the work is done"]
    assert "old fence stays until the new one holds stock" in said["How long the stock has to be out"]
    nothing = dict(when_rows(replace(roadside, days=empty("days"))))
    assert set(nothing.values()) == {NOT_PLANNED}

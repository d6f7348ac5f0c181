"""The long section as a drawing: what is said, where it stands, and that nothing lies over anything else."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis.exports.section.long_section import section_drawing
from fencegis.exports.section.marks import NO_ELEVATION, NO_GROUND, Lanes, standing, thinning, to_mind
from fencegis.exports.section.paper import INKS, MM_PER_POINT, SMALL, WIDTH_MM, Paper, fitted_text, svg, width_mm
from fencegis.exports.section.scales import (
    ACROSS_MM,
    TALLEST_MM,
    exaggeration_of,
    ground_of,
    row_length_m,
    rows_of,
    step_for,
)

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

SVG = "{http://www.w3.org/2000/svg}"


def _texts(drawing: bytes) -> list[ET.Element]:
    return list(ET.fromstring(drawing).iter(f"{SVG}text"))


def _words(drawing: bytes) -> list[str]:
    return [text.text or "" for text in _texts(drawing)]


def _boxes(drawing: bytes) -> list[tuple[float, float, float, float, str]]:
    boxes = []
    for text in _texts(drawing):
        size, words = float(text.get("font-size", "0")), text.text or ""
        wide = width_mm(words, size, bold=text.get("font-weight") == "bold") / MM_PER_POINT
        right, down = float(text.get("x", "0")), float(text.get("y", "0"))
        left = right - {"start": 0.0, "middle": 0.5, "end": 1.0}[text.get("text-anchor", "start")] * wide
        boxes.append((left, down - 0.73 * size, left + wide, down, words))
    return boxes


def _flat(plan: Plan) -> Plan:
    nothing = plan.profile.assign(ground_m=np.nan, fitted_m=np.nan, sigma_m=np.nan)
    return replace(plan, profile=nothing, breaks=plan.breaks.iloc[:0], site=replace(plan.site, terrain=None))


def _sample(length_m: float, relief_m: float = 40.0) -> object:
    chainage = np.arange(0.0, length_m + 0.1, 5.0)
    heights = 600.0 + relief_m / 2.0 * np.sin(chainage / 300.0)
    import pandas as pd

    return ground_of(pd.DataFrame({"chainage_m": chainage, "ground_m": heights, "fitted_m": heights}), length_m)


def test_everything_that_stands_or_warns_is_named(small_plan: Plan) -> None:
    words = _words(section_drawing(small_plan))
    for said in (
        "Line A (</script><b>North</b>), post and rail, 120.0\u00a0m",
        "from start of line A to end of line A",
        "from junction N1 to end of line B",
        "gate G1, 3.60\u00a0m",
        "AC1, 45° to the right",
        "crest \u221212.0 %",
        "dip +10.0 %, no strainer",
        "H1 overhead power, least distance 1.2\u00a0m, asked for 3.0\u00a0m",
        "H3 overhead power, height unknown, not walked",
        "A1, 72.0\u00a0m, towards E (080° true)",
        "Heights are drawn 5 times as large as distances. Chainage is horizontal, in metres from the line's start.",
        NO_GROUND,
    ):
        assert said in words


def test_a_break_that_a_strainer_takes_says_which(small_plan: Plan) -> None:
    taken = replace(small_plan, breaks=small_plan.breaks.assign(strainer_id=["AS9", None]))
    assert "crest \u221212.0 %, taken by AS9" in _words(section_drawing(taken))


def test_faint_breaks_are_drawn_hollow_and_told_in_the_key(small_plan: Plan) -> None:
    drawing = section_drawing(small_plan)
    assert "faint, may be noise" in _words(drawing)
    fill, edge, _ = INKS["faint"]
    assert f"fill: {fill}; stroke: {edge}".encode() in drawing
    plain = section_drawing(replace(small_plan, faint_breaks=small_plan.faint_breaks.iloc[:0]))
    assert "faint, may be noise" not in _words(plain)
    assert f"stroke: {edge}".encode() not in plain


def test_without_elevation_the_line_is_flat_and_says_so(small_plan: Plan) -> None:
    words = _words(section_drawing(_flat(small_plan)))
    assert words.count(NO_ELEVATION) == 2
    assert not any(text.endswith(" m") and text[:3].isdigit() for text in words)
    assert any(text.startswith("No elevation: heights and grades are not checked") for text in words)


def test_no_words_lie_over_others_and_all_are_on_the_sheet(small_plan: Plan) -> None:
    drawing = section_drawing(small_plan)
    boxes = _boxes(drawing)
    for place, (left, top, right, bottom, words) in enumerate(boxes):
        assert left > 0, words
        assert right < WIDTH_MM / MM_PER_POINT, words
        for other in boxes[place + 1 :]:
            apart = right <= other[0] or other[2] <= left or bottom <= other[1] or other[3] <= top
            assert apart, (words, other[4])


def test_words_are_large_enough_on_a4(small_plan: Plan) -> None:
    drawing = section_drawing(small_plan)
    root = ET.fromstring(drawing)
    assert root.get("width", "").startswith(f"{WIDTH_MM / MM_PER_POINT:.4f}"[:6])
    assert min(float(text.get("font-size", "0")) for text in _texts(drawing)) >= SMALL


def test_names_are_text_whatever_they_hold(small_plan: Plan) -> None:
    names = ["$\\frac{1}{0}$ </text><script>alert(1)</script>", "牧場 \u202eabc & <b>"]
    drawn = tuple(replace(line, name=name) for line, name in zip(small_plan.site.drawn, names, strict=True))
    drawing = section_drawing(replace(small_plan, site=replace(small_plan.site, drawn=drawn)))
    words = _words(drawing)
    assert any(names[0] in text for text in words)
    assert any("牧場 \ufffdabc & <b>" in text for text in words)
    assert b"<script" not in drawing
    assert not list(ET.fromstring(drawing).iter(f"{SVG}script"))


def test_no_clock_and_no_machine_in_it(small_plan: Plan) -> None:
    drawing = section_drawing(small_plan)
    assert drawing == section_drawing(small_plan)
    assert b"<dc:date>" not in drawing


def test_a_long_line_is_cut_into_even_rows_to_one_scale() -> None:
    greatest = row_length_m([6072.9, 1246.2])
    assert greatest == 1020.0
    rows = rows_of(_sample(6072.9), greatest, 2.0)
    assert [row.from_m for row in rows][:3] == [0.0, 1020.0, 2040.0]
    assert rows[-1].to_m == 6072.9
    assert all(before.to_m == after.from_m for before, after in pairwise(rows))
    assert {row.across for row in rows} == {ACROSS_MM / greatest}
    short = rows_of(_sample(1246.2), greatest, 2.0)
    assert [row.to_m - row.from_m for row in short] == pytest.approx([630.0, 616.2])


def test_a_very_long_line_has_no_more_rows_than_a_shorter_one() -> None:
    for length in (30_000.0, 300_000.0):
        assert len(rows_of(_sample(length), row_length_m([length]), 1.0)) <= 36


@pytest.mark.parametrize("relief", [0.3, 4.0, 40.0, 400.0])
def test_heights_are_stretched_as_far_as_rows_stay_low(relief: float) -> None:
    ground = _sample(1000.0, relief)
    times = exaggeration_of([ground], 1000.0)
    (row,) = rows_of(ground, 1000.0, times)
    assert row.tall_mm <= TALLEST_MM
    assert row.up == pytest.approx(row.across * times)
    assert times == 10.0 or row.tall_mm > TALLEST_MM / 2.6


def test_unknown_ground_is_a_gap_between_its_edges(small_plan: Plan) -> None:
    ground = ground_of(small_plan.profile[small_plan.profile["line_id"] == "A"], 120.0)
    assert ground.gaps() == [(96.0, 110.0)]
    edge = float(ground.at([96.0])[0]) + float(ground.at([110.0])[0])
    assert float(ground.at([103.0])[0]) == pytest.approx(edge / 2)
    marks = [mark for mark in to_mind(small_plan, "A", ground) if mark.kind == "unknown"]
    assert [(mark.from_m, mark.to_m, mark.must) for mark in marks] == [(96.0, 110.0, True)]


def test_a_line_without_a_profile_is_not_known_throughout(small_plan: Plan) -> None:
    ground = ground_of(small_plan.profile.iloc[:0], 75.0)
    assert not ground.known
    assert ground.gaps() == [(0.0, 75.0)]


def test_strainers_at_a_named_place_share_its_name(small_plan: Plan) -> None:
    texts = {mark.from_m: mark.text for mark in standing(small_plan, "A") if mark.kind == "strainer"}
    assert texts[0.0] == "AS1"
    assert texts[72.0] == ""
    assert texts[40.0] == ""


def test_neighbouring_hazards_that_say_the_same_share_their_words(small_plan: Plan) -> None:
    limbs = small_plan.hazards.iloc[[1, 1, 1]].assign(
        hazard_id=["H4", "H5", "H6"], from_m=[80.0, 83.0, 99.0], to_m=[84.0, 90.0, 99.5]
    )
    ground = ground_of(small_plan.profile.iloc[:0], 120.0)
    marks = [mark for mark in to_mind(replace(small_plan, hazards=limbs), "A", ground) if mark.kind == "hazard"]
    assert [(mark.from_m, mark.to_m, mark.text.split()[:4]) for mark in marks] == [
        (80.0, 90.0, ["H4", "to", "H5", "tree"]),
        (99.0, 99.5, ["H6", "tree", "limb,", "least"]),
    ]


def test_lanes_drop_what_may_be_dropped_and_never_a_hazard() -> None:
    lanes = Lanes(2, 10.0)
    spots = [lanes.place("some words", 100.0, must=False) for _ in range(3)]
    assert [spot[0] if spot else None for spot in spots] == [0, 1, None]
    assert lanes.place("some words", 100.0, must=True) == (2, 100.0)
    middle = lanes.place("at the edge", 0.0, must=True)
    assert middle is not None
    assert middle[1] == pytest.approx(10.0 + width_mm("at the edge", SMALL) / 2)


def test_ticks_stay_apart() -> None:
    assert thinning(2.0) == 1
    assert thinning(0.1) == 9
    assert thinning(0.0) == 1


@pytest.mark.parametrize(
    ("span", "most", "step"), [(120.0, 10, 20.0), (1020.0, 11, 100.0), (7.0, 3, 5.0), (0.9, 3, 0.5)]
)
def test_steps_are_round(span: float, most: int, step: float) -> None:
    assert step_for(span, most) == pytest.approx(step)


def test_words_are_measured_as_the_font_has_them() -> None:
    # DejaVu Sans: "m" advances 1995 of 2048 units (read from the font's own table with fontTools).
    assert width_mm("m", 72.0) == pytest.approx(25.4 * 1995 / 2048, rel=1e-3)
    assert width_mm("m", 72.0, bold=True) > width_mm("m", 72.0)
    assert width_mm("牧", 72.0) == pytest.approx(25.4)


def test_what_is_too_wide_is_cut_with_an_ellipsis() -> None:
    assert fitted_text("short", 7.0, 50.0) == "short"
    cut = fitted_text("a very long name of a very long line", 7.0, 20.0)
    assert cut.endswith("…")
    assert width_mm(cut, 7.0) <= 20.0
    assert fitted_text("x", 7.0, 0.1) == ""


def test_a_sheet_draws_its_lines_at_their_millimetres() -> None:
    paper = Paper()
    paper.line("frame", ((10.0, 20.0), (110.0, 20.0)))
    paths = [path.get("d", "") for path in ET.fromstring(svg(paper, height_mm=50.0)).iter(f"{SVG}path")]
    numbers = [float(part) for part in paths[-1].replace("M", " ").replace("L", " ").split()]
    assert numbers == pytest.approx(
        [10.0 / MM_PER_POINT, 20.0 / MM_PER_POINT, 110.0 / MM_PER_POINT, 20.0 / MM_PER_POINT], abs=1e-3
    )

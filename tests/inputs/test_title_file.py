"""`title.csv`: bearings and distances as deeds print them, and every fault with its row."""

from __future__ import annotations

import hashlib
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import pyogrio
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fencegis.errors import InputError
from fencegis.exports.bundle import write_plan
from fencegis.inputs.bearing_text import bearing_deg, may_be_packed
from fencegis.inputs.site_folder import read_site
from fencegis.inputs.title_file import TitleRead, read_title
from fencegis.pipeline import plan_site
from fencegis.records.title import METRES, TitleLeg

if TYPE_CHECKING:
    from collections.abc import Callable


def read(tmp_path: Path, text: str | bytes, lines: tuple[str, ...] = ("A",)) -> TitleRead:
    path = tmp_path / "title.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_title(path, lines=lines)


def faults(tmp_path: Path, text: str | bytes, lines: tuple[str, ...] = ("A",)) -> list[str]:
    return [str(problem) for problem in read(tmp_path, text, lines).problems]


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("94.2083", 94.2083),
        ("94", 94.0),
        ("94°", 94.0),
        ("94 12 30", 94 + 12.5 / 60),
        ("94-12-30", 94 + 12.5 / 60),
        ("94:12:30", 94 + 12.5 / 60),
        ("94°12'30\"", 94 + 12.5 / 60),
        ("94° 12′ 30″", 94 + 12.5 / 60),
        ("94° 12’ 30”", 94 + 12.5 / 60),
        ("94º12'30''", 94 + 12.5 / 60),
        ("94 12.5", 94 + 12.5 / 60),
        ("94°12'", 94.2),
        ("94 12 30.6", 94 + 12 / 60 + 30.6 / 3600),
        ("360", 0.0),
        ("0 00 00", 0.0),
        ("N 85 47 30 E", 85 + 47.5 / 60),
        ("n85°47'30\"e", 85 + 47.5 / 60),
        ("S 75° 25' E", 180 - (75 + 25 / 60)),
        ("S15-30W", 195.5),
        ("N 1° 42' W", 358.3),
        ("North 5 degrees", None),
        ("South 5° West", 185.0),
        ("N 0 E", 0.0),
        ("N 0 W", 0.0),
        ("S 90 W", 270.0),
        ("due north", 0.0),
        ("West", 270.0),
        ("s", 180.0),
        ("Nest", None),
        ("N 20 30 40 50 E", None),
        ("12.5 30", None),
        ("12 30.5 10", None),
        ("1e2", None),
        ("nan", None),
        ("٩٤", None),
    ],
)
def test_bearings_as_deeds_print_them(text: str, degrees: float | None) -> None:
    if degrees is None:
        with pytest.raises(ValueError, match="is not a bearing"):
            bearing_deg(text)
    else:
        assert bearing_deg(text) == pytest.approx(degrees, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("361", "it is from 0 to 360 degrees"),
        ("-5", "it is from 0 to 360 degrees"),
        ("N 95 E", "in a quadrant it is from 0 to 90 degrees"),
        ("94 60 00", "minutes and seconds are less than 60"),
        ("94 12 60", "minutes and seconds are less than 60"),
        ("360 00 01", "it is from 0 to 360 degrees"),
    ],
)
def test_bearings_out_of_range(text: str, said: str) -> None:
    with pytest.raises(ValueError, match=f"“{text}” is out of range: .*{said}"):
        bearing_deg(text)


@given(st.integers(0, 359), st.integers(0, 59), st.integers(0, 59))
def test_every_form_of_one_bearing_is_one_number(degrees: int, minutes: int, seconds: int) -> None:
    exact = degrees + minutes / 60 + seconds / 3600
    whole, way = divmod(degrees * 3600 + minutes * 60 + seconds, 324_000)
    off = 324_000 - way if whole in (1, 3) else way
    quadrant = f"{'NSSN'[whole]} {off // 3600} {off // 60 % 60} {off % 60} {'EEWW'[whole]}"
    for text in (f"{exact:.9f}", f"{degrees} {minutes} {seconds}", f"{degrees}°{minutes}'{seconds}\"", quadrant):
        assert abs((bearing_deg(text) - exact + 180) % 360 - 180) < 1e-8


def test_legs_arrive_in_the_deeds_order(tmp_path: Path) -> None:
    text = 'bearing,distance,unit,note\n94 12 30,100.5,m,\nN 85 47 30 E,5.25,Chains,"chord, as on the plan"\n'
    legs = read(tmp_path, text).legs
    assert legs[0] == TitleLeg(2, "A", None, legs[0].bearing_deg, 100.5, "m", chord=False)
    assert legs[1] == TitleLeg(3, "A", None, legs[1].bearing_deg, 5.25, "chain", chord=True)
    assert [leg.bearing_deg for leg in legs] == pytest.approx([94 + 12.5 / 60, 85 + 47.5 / 60])
    assert legs[1].length_m == 5.25 * 20.1168


@pytest.mark.parametrize("unit", METRES)
def test_lengths_in_every_unit(tmp_path: Path, unit: str) -> None:
    found = read(tmp_path, f"unit,bearing,distance\n{unit},10,100\n")
    assert found.problems == ()
    assert found.legs[0].length_m == pytest.approx(100 * METRES[unit], rel=1e-15)


@pytest.mark.parametrize(
    ("unit", "said"),
    [
        ("ft", "feet are international feet of 0.3048 m"),
        ("us-ft", "us-ft are US survey feet of 1200/3937 m"),
        ("chain", "a chain is 66 international feet (20.1168 m)"),
        ("link", "a link a hundredth of it"),
    ],
)
def test_a_note_names_the_foot(tmp_path: Path, unit: str, said: str) -> None:
    notes = read(tmp_path, f"bearing,distance,unit\n10,100,{unit}\n").notes
    assert [note.severity for note in notes] == ["default"]
    assert said in notes[0].text
    assert "2 parts in a million" in notes[0].text


def test_metres_need_no_note(tmp_path: Path) -> None:
    assert read(tmp_path, "bearing,distance,unit\n10,100,m\n").notes == ()


@pytest.mark.parametrize(
    "text",
    [
        "bearing,distance,unit\n94.5,100.25,m\n",
        "\ufeffbearing,distance,unit\r\n94.5,100.25,m\r\n",
        "Bearing;Distance;Unit\n94,5;100,25;m\n",
        "bearing\tdistance\tunit\n94.5\t100.25\tm\n",
        "bearing,distance,unit,\n 94.5 ,100.25,M.,\n,,,\n\n",
        '"bearing","distance","unit"\n"94°30\'00""",100.25,metres\n',
    ],
    ids=["plain", "byte order mark", "semicolons", "tabs", "spreadsheet's empty cells", "quotation marks"],
)
def test_the_ways_a_spreadsheet_saves_it(tmp_path: Path, text: str) -> None:
    found = read(tmp_path, text)
    assert found.problems == ()
    assert [(leg.bearing_deg, leg.distance, leg.unit) for leg in found.legs] == [(94.5, 100.25, "m")]


HEAD = "bearing,distance,unit\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "title.csv: the file is empty."),
        (b"\xff\xfeb\x00", "title.csv: it is UTF-16, not UTF-8."),
        (HEAD, "title.csv: it has no leg below its heading."),
        (",,\n,,\n", "title.csv: every row is blank."),
        ("bearing,length,unit\n1,2,m\n", "row 1: there is no column “length”. Fix: the nearest known one is distance"),
        ("bearing,distance,unit,weather\n1,2,m,\n", "row 1: there is no column “weather”. Fix: take it out; known are"),
        ("bearing,distanse,unit\n1,2,m\n", "the nearest known one is distance"),
        ("bearing,distance\n1,2\n", "title.csv, row 1: column unit is missing."),
        ("1,2,m\n", "title.csv, row 1: it is no heading."),
        ("bearing,bearing,distance,unit\n1,1,2,m\n", "title.csv, row 1: column bearing is there 2 times."),
        (HEAD + "1,2,m\n\n1,2,m\n", "title.csv, row 3: the row is blank: a leg may be lost."),
        (HEAD + "1,2,m,x\n", "title.csv, row 2: it has 4 cells, and the heading 3."),
        (HEAD + ",2,m\n", "title.csv, row 2: bearing is empty."),
        (HEAD + "1,,m\n", "title.csv, row 2: distance is empty."),
        (HEAD + "1,2,\n", "title.csv, row 2: unit is empty, and none is assumed."),
        (HEAD + "1,2,yard\n", "row 2: unit “yard” is not known. Fix: write one of m, ft, us-ft, chain, link."),
        (HEAD + "400,2,m\n", "title.csv, row 2: bearing “400” is out of range: it is from 0 to 360 degrees."),
        (HEAD + "N 91 E,2,m\n", "row 2: bearing “N 91 E” is out of range: in a quadrant it is from 0 to 90 degrees."),
        (HEAD + "up hill,2,m\n", "title.csv, row 2: bearing “up hill” is not a bearing. Fix: write it as 94.2083,"),
        (HEAD + "1,0,m\n", "title.csv, row 2: distance is 0; it must be more than 0."),
        (HEAD + "1,-3.5,m\n", "title.csv, row 2: distance is -3.5; it must be more than 0."),
        (HEAD + "1,12ft,m\n", "title.csv, row 2: distance “12ft” is not a number."),
        (HEAD + '1,"1,234.5",m\n', "title.csv, row 2: distance “1,234.5” is not a number."),
        (HEAD + "1,nan,m\n", "title.csv, row 2: distance “nan” is not a number."),
        (HEAD + "1,5000,chain\n", "title.csv, row 2: distance is 5000: more than 100 km."),
        (HEAD + "1," + "9" * 400 + ",m\n", "more than 100 km."),
        (HEAD + "=A1+1,2,m\n", "title.csv, row 2: bearing holds a formula (“=A1+1”)."),
        (HEAD + '1,"=HYPERLINK(""x"")",m\n', "title.csv, row 2: distance holds a formula"),
        (HEAD + "1,2,@SUM\n", "title.csv, row 2: unit holds a formula (“@SUM”)."),
        (HEAD + '1,2,"m\n', "title.csv: it is not a table of cells"),
        (HEAD + "1,2,m\n" * 301, "title.csv: it has 301 legs. Fix: keep at most 300."),
    ],
)
def test_faults_are_said_with_their_row(tmp_path: Path, text: str | bytes, said: str) -> None:
    found = faults(tmp_path, text)
    assert len(found) == 1
    assert said in found[0]
    assert " Fix: " in found[0]


def test_all_faults_at_once(tmp_path: Path) -> None:
    found = faults(tmp_path, HEAD + "400,0,yard\n1,2,m\n,x,m\n")
    assert [fault.split(": ")[0] for fault in found] == ["title.csv, row 2"] * 3 + ["title.csv, row 4"] * 2


def test_a_leg_names_its_line_when_there_are_several(tmp_path: Path) -> None:
    head = "bearing,distance,unit,line_id,run\n"
    legs = read(tmp_path, head + "1,2,m,B,B-R2\n1,2,m,A,\n", ("A", "B")).legs
    assert [(leg.line_id, leg.run) for leg in legs] == [("B", "B-R2"), ("A", None)]
    found = faults(tmp_path, head + "1,2,m,,\n1,2,m,C,\n", ("A", "B"))
    assert "row 2: line_id is empty, and the site has 2 lines. Fix: write in column line_id" in found[0]
    assert "row 3: there is no line “C”. Fix: write in column line_id which line the leg belongs to: A, B." in found[1]
    assert "there is no line “C”" in faults(tmp_path, head + "1,2,m,C,\n")[0]


def test_what_may_be_degrees_minutes_seconds_in_one_number_is_said(tmp_path: Path) -> None:
    assert may_be_packed("94.1230")
    assert not may_be_packed("94.1260")
    assert not may_be_packed("94.123")
    notes = read(tmp_path, HEAD + "94.1230,2,m\n184.1230,3,m\n").notes
    assert [note.severity for note in notes] == ["doubt"]
    assert "each is taken as decimal degrees" in notes[0].text
    assert read(tmp_path, HEAD + "94.1230,2,m\n184.7230,3,m\n").notes == ()


def test_nothing_from_a_note_is_kept_or_worked_out(tmp_path: Path) -> None:
    found = read(tmp_path, "bearing,distance,unit,note\n1,2,m,=1+1\n")
    assert found.problems == ()
    assert "1+1" not in repr(found.legs)


PIECES = st.sampled_from(
    [
        "bearing",
        "distance",
        "unit",
        ",",
        ";",
        "\t",
        "\n",
        '"',
        "94 12 30",
        "N 5 E",
        "9" * 30,
        "1.5",
        "-0",
        "m",
        "=1",
        "°",
    ]
)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.lists(PIECES, max_size=24).map("".join) | st.text(max_size=40))
def test_any_text_gives_legs_or_faults_that_can_be_read(text: str) -> None:
    with TemporaryDirectory() as folder:
        found = read(Path(folder), (HEAD + text).encode("utf-8", "replace"))
        other = read(Path(folder), text.encode("utf-8", "replace"))
    for each in (found, other):
        assert each.legs or each.problems
        assert all(str(problem).isprintable() for problem in each.problems)
        assert all(0.0 <= leg.bearing_deg < 360.0 and 0.0 < leg.length_m <= 100_000.0 for leg in each.legs)


def test_a_site_takes_its_title_along(make_site: Callable[..., Path]) -> None:
    folder = make_site()
    assert read_site(folder).title is None
    text = HEAD + "90,200,m\n0,100,m\n"
    (folder / "title.csv").write_text(text)
    site = read_site(folder)
    assert site.title is not None
    assert [leg.length_m for leg in site.title] == [200.0, 100.0]
    assert site.title[0].line_id == site.drawn[0].line_id
    assert site.inputs["title.csv"]["sha256"] == hashlib.sha256(text.encode()).hexdigest()
    assert not any("not read" in note.text for note in site.notes)


def test_the_plan_holds_the_deed_against_its_runs(make_site: Callable[..., Path], tmp_path: Path) -> None:
    folder = make_site()
    (folder / "title.csv").write_text(HEAD + "5 00 00,200,m\n275 00 00,120,m\n")
    plan = plan_site(read_site(folder))
    assert plan.title["run_id"].tolist() == plan.runs["run_id"].tolist()
    assert plan.title["length_difference_m"].tolist() == pytest.approx([0.0, -20.0], abs=0.01)
    said = plan.notes["text"].tolist()
    assert any("leg 2" in text and text.endswith("surveyor needed.") for text in said)
    assert any("fixes no boundary; only a licensed surveyor marks one" in text for text in said)
    write_plan(plan, tmp_path / "out")
    written = pyogrio.read_dataframe(tmp_path / "out" / "plan.gpkg", layer="title")
    assert written["says"].tolist() == plan.title["says"].tolist()


def test_a_plan_without_a_deed_says_nothing_of_one(make_site: Callable[..., Path]) -> None:
    plan = plan_site(read_site(make_site()))
    assert plan.title.empty
    assert not any("itle" in text for text in plan.notes["text"])


def test_its_faults_come_with_all_the_others(make_site: Callable[..., Path]) -> None:
    folder = make_site()
    (folder / "title.csv").write_text(HEAD + "90,200,perch\n")
    (folder / "site.toml").write_text("[fence]\nrails = 2.5\n")
    with pytest.raises(InputError) as raised:
        read_site(folder)
    assert {problem.file for problem in raised.value.problems} == {"site.toml", "title.csv"}

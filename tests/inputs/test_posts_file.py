"""`posts.csv`: sticks with and without names, and every fault with its row."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import pytest

from fencegis.errors import InputError
from fencegis.inputs.posts_file import MOST_STICKS, PostsRead, read_posts
from fencegis.inputs.site_folder import read_site
from fencegis.pipeline import plan_site
from fencegis.records.timber import Timber

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

HEAD = "timber_id,length_m,butt_mm,top_mm,sweep_mm,note,count,place\n"


def read(tmp_path: Path, text: str | bytes) -> PostsRead:
    path = tmp_path / "posts.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_posts(path)


def test_sticks_with_names_and_heaps_without(tmp_path: Path) -> None:
    done = read(tmp_path, HEAD + "T1,2.4,240,200,12,knot at the butt,,A-003\n,2.4,170,,,,40,\n")
    assert done.problems == ()
    assert done.timber == (
        Timber(2, "T1", 2.4, 240.0, 200.0, 12.0, 1, "A-003", "knot at the butt"),
        Timber(3, None, 2.4, 170.0, 170.0, None, 40, None, ""),
    )
    assert [note.text for note in done.notes] == [
        (
            "posts.csv: 40 sticks have no taper (top_mm empty, or the same as the butt): the butt is taken as the"
            " diameter at the ground."
        ),
        "posts.csv: sweep of 40 sticks is not measured: not checked. Look along each, and put the worst aside.",
    ]


def test_count_length_and_girth_are_enough(tmp_path: Path) -> None:
    (heap,) = read(tmp_path, "count,length_m,butt_mm\n40,2.4,170\n").timber
    assert (heap.count, heap.length_m, heap.butt_mm, heap.timber_id) == (40, 2.4, 170.0, None)


def test_semicolons_bring_decimal_commas(tmp_path: Path) -> None:
    (stick,) = read(tmp_path, "timber_id;length_m;butt_mm;top_mm\nT1;2,4;240,5;200\n").timber
    assert (stick.length_m, stick.butt_mm) == (2.4, 240.5)


def test_the_diameter_at_the_ground_is_not_the_butts(tmp_path: Path) -> None:
    (stick,) = read(tmp_path, HEAD + "T1,2.4,240,200,0,,,\n").timber
    assert stick.ground_mm(0.9) == pytest.approx(225.0)
    assert (stick.ground_mm(0.0), stick.ground_mm(2.4)) == (240.0, pytest.approx(200.0))


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("T1,,240,200,,,,", "row 2: length_m is empty."),
        ("T1,2400,240,200,,,,", "row 2: length_m is 2400; it must be 0.3 to 12. correct it: lengths are in metres."),
        ("T1,2.4,0.24,200,,,,", "butt_mm is 0.24; it must be 20 to 1000. correct it: diameters are in millimetres."),
        ("T1,2.4,wide,200,,,,", "row 2: butt_mm “wide” is not a number."),
        ("T1,2.4,=A1*2,200,,,,", "row 2: butt_mm holds a formula (“=A1*2”)."),
        ("=cmd|' /C calc'!A0,2.4,240,200,,,,", "row 2: timber_id holds a formula"),
        ("-2+3,2.4,240,200,,,,", "row 2: timber_id “-2+3” is no name to paint on a post."),
        (f"{'T' * 41},2.4,240,200,,,,", "is no name to paint on a post."),
        ("T1,2.4,200,240,,,,", "row 2: its top of 240 mm is thicker than its butt of 200 mm."),
        ("T1,2.4,240,200,-3,,,", "row 2: sweep_mm is -3; it must be 0 to 1000."),
        (",2.4,240,200,,,1.5,", "row 2: count “1.5” is not a whole number from 1."),
        (",2.4,240,200,,,0,", "row 2: count “0” is not a whole number from 1."),
        ("T1,2.4,240,200,,,2,", "row 2: one timber_id, “T1”, for 2 sticks."),
        (",2.4,240,200,,,,A-001", "row 2: it has a place, but is no single stick with a timber_id."),
        (f",2.4,240,200,,,{MOST_STICKS + 1},", f"it counts {MOST_STICKS + 1} sticks."),
        ("T1,2.4,240,200,,,,\nT1,2.4,240,200,,,,", "row 3: timber_id “T1” is that of row 2 as well."),
        ("T1,2.4,240,200,,,,A-1\nT2,2.4,240,200,,,,A-1", "row 3: place “A-1” is that of row 2 as well."),
        ("T1,2.4,240,200,,,,\n\nT2,2.4,240,200,,,,", "row 3: the row is blank: a stick may be lost."),
        ("", "it has no stick below its heading."),
    ],
)
def test_every_fault_says_where_and_what(tmp_path: Path, row: str, said: str) -> None:
    problems = [str(problem).replace("\n", " ") for problem in read(tmp_path, HEAD + row + "\n").problems]
    plain = [" ".join(text.replace(" – ", " ").split()) for text in problems]
    assert len(plain) == 1
    assert all(part in plain[0] for part in said.split(". correct it: ")), plain


def test_all_faults_at_once(tmp_path: Path) -> None:
    assert len(read(tmp_path, HEAD + "T1,x,240,200,,,,\nT2,2.4,x,200,,,,\n").problems) == 2


@pytest.mark.parametrize(
    ("heading", "said"),
    [
        ("post_id,length_m,butt_mm", "the nearest known one is place."),
        ("length_m", "column butt_mm is missing."),
        ("a,b", "it is no heading."),
    ],
)
def test_faults_of_the_heading(tmp_path: Path, heading: str, said: str) -> None:
    (problem,) = read(tmp_path, f"{heading}\n1,2,3\n").problems
    assert said in str(problem)


def test_the_site_has_the_sticks_and_the_files_hash(make_site: Callable[..., Path]) -> None:
    text = HEAD + ",2.4,180,160,5,,60,\n"
    site = read_site(make_site(posts_csv=text))
    assert site.timber is not None
    assert site.timber[0].count == 60
    assert site.inputs["posts.csv"]["sha256"] == hashlib.sha256(text.encode()).hexdigest()
    assert site.unread == ()
    assert read_site(make_site("other")).timber is None


def test_a_fault_of_it_stops_the_site(make_site: Callable[..., Path]) -> None:
    with pytest.raises(InputError, match="butt_mm is empty"):
        read_site(make_site(posts_csv=HEAD + "T1,2.4,,200,,,,\n"))


def test_a_place_that_is_no_post_is_a_fault_of_the_plan(make_site: Callable[..., Path]) -> None:
    site = read_site(make_site(posts_csv=HEAD + "T1,2.4,240,200,,,,nowhere\n"))
    with pytest.raises(InputError, match="no post of the plan is “nowhere”"):
        plan_site(site)

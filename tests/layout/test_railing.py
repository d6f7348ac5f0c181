"""Heights, lengths, gaps and spots of lines of rails, and what is said where limits are not kept."""

from functools import partial
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from fencegis.errors import InputError
from fencegis.layout.post_lengths import mass_kg, stock_m, with_lengths
from fencegis.layout.post_tables import bay_table, post_table, strainer_table
from fencegis.layout.rail_rows import bottom_drop_m, rail_number, row_drops_m
from fencegis.layout.railing import railing
from fencegis.records.spec import Fence, Machine, Spec

LEVEL = ([0, 60], [5, 5])
HUMP = ([0, 28.35, 28.85, 29.35, 60], [0, 0, 0.6, 0, 0])  # within one bay


@pytest.fixture
def course(course):
    return partial(course, kind="post and rail")


@pytest.fixture
def built(laid_out):
    def build(course, *gates, embed_m=0.8, tells_posts=True, machine=None, set_by="driven", **settings):
        one, fence = laid_out(course, *gates, **settings)
        nothing = lambda *arrays: np.zeros_like(arrays[0])  # noqa: E731
        posts = post_table([one], lift=nothing, bend=nothing).assign(embed_m=embed_m, set_by=set_by)
        return railing(
            [one],
            tables={"posts": posts, "strainers": strainer_table([one]), "bays": bay_table([one])},
            kind_of_line={"A": course.kind},
            wire_m=1.1,
            tells_posts=tells_posts,
            spec=Spec(fence=fence, machine=machine),
        )

    return build


def said(found, words):
    return [note for note in found.notes if words in note.text]


def test_rows_share_the_height_evenly_and_the_gap_wanted_is_midway():
    fence = Fence(rails=3, height_m=1.2, gap_min_m=0.1, gap_max_m=0.45)
    assert row_drops_m(fence) == pytest.approx([0.0, 0.3875, 0.775])
    assert fence.height_m - bottom_drop_m(fence) == pytest.approx((0.1 + 0.45) / 2.0)
    assert bottom_drop_m(Fence(rails=1)) == pytest.approx(0.15)


def test_rows_without_room_are_a_fault(built, course):
    line = course((0, 0), (60, 0), profile=LEVEL)
    with pytest.raises(InputError) as raised:
        built(line, rails=5, height_m=0.9)
    (problem,) = raised.value.problems
    assert problem.feature == "[fence] height_m"
    assert "5 rails of 150 mm do not find room in height_m, 0.9" in problem.fault
    assert "1.025 at least" in problem.fix
    built(line, rails=5, height_m=1.025)
    built(course((0, 0), (60, 0), kind="wire"), kind="wire", rails=5, height_m=0.9)  # no rails, no fault


def test_on_level_ground_the_top_rail_is_as_high_as_wanted(built, course):
    found = built(course((0, 0), (60, 0), profile=LEVEL))
    posts = found.tables["posts"]
    assert posts["top_m"].to_numpy() == pytest.approx(1.2, abs=1e-4)
    assert posts["length_m"].to_numpy() == pytest.approx(1.2 + 0.8 + rail_number("over-length"), abs=1e-4)
    assert found.tables["gaps"][["least_m", "greatest_m"]].to_numpy() == pytest.approx(0.275, abs=1e-4)
    assert found.tables["spots"].empty
    assert posts["stock_m"].isna().all()
    assert not said(found, "cannot")


def test_a_post_comes_in_the_shortest_stock_that_reaches_and_weighs_as_it_comes(built, course):
    posts = built(course((0, 0), (60, 0), profile=LEVEL), post_lengths_m=(3.0, 2.1, 1.8)).tables["posts"]
    assert set(posts["stock_m"]) == {2.1}
    assert posts["mass_kg"].to_numpy() == pytest.approx(np.pi * 0.0875**2 * 2.1 * 1150.0)


def test_stock_a_millimetre_short_is_long_enough_and_two_are_not():
    assert stock_m(np.array([2.4009, 2.402, 1.0]), (2.4,)).tolist()[::2] == [2.4, 2.4]
    assert np.isnan(stock_m(np.array([2.402]), (2.4,))).all()


def test_an_unknown_timber_is_no_guess():
    with pytest.raises(KeyError):
        mass_kg(2.4, post_mm=240.0, timber="balsa")


def test_a_hump_that_cannot_be_cleared_is_a_spot_to_cut_with_its_volume(built, course):
    found = built(course((0, 0), (60, 0), profile=HUMP), gap_min_m=0.25, gap_max_m=0.3)
    spots = found.tables["spots"]
    assert set(spots["kind"]) <= {"cut", "fill"}
    cut = spots[spots["kind"] == "cut"].iloc[0]
    assert cut["from_m"] < cut["deepest_at_m"] == pytest.approx(28.85, abs=0.13)
    assert cut["deepest_at_m"] < cut["to_m"]
    assert 0.0 < cut["volume_m3"] < cut["deepest_m"] * (cut["to_m"] - cut["from_m"]) * cut["width_m"]
    (note,) = said(found, "cannot be 0.25 m everywhere")
    assert f"by up to {cut['deepest_m']:.2f} m here" in note.text
    assert note.chainage_m == cut["deepest_at_m"]
    assert "longer ones" not in note.text
    gaps = found.tables["gaps"]
    assert gaps["least_m"].min() == pytest.approx(0.25 - cut["deepest_m"], abs=1e-6)


def test_a_hollow_too_deep_is_a_spot_to_fill(built, course):
    hollow = ([0, 28, 30, 32, 60], [0, 0, -0.9, 0, 0])
    found = built(course((0, 0), (60, 0), profile=hollow), rail_bays=1)
    fill = found.tables["spots"]
    assert (fill["kind"] == "fill").any()
    assert said(found, "cannot stay under 0.45 m everywhere")


def test_a_spot_shorter_than_a_span_is_drawn_a_tenth_of_a_metre_long(built, course):
    spike = ([0, 29.97, 30.0, 30.03, 60], [0, 0, 0.6, 0, 0])
    spots = built(course((0, 0), (60, 0), profile=spike), gap_min_m=0.27, gap_max_m=0.28).tables["spots"]
    assert ((spots["to_m"] - spots["from_m"]) >= 0.1 - 1e-9).all()


def test_posts_that_no_stick_reaches_for_are_named_and_the_line_dips_to_the_sticks(built, course):
    dip = ([0, 24, 30, 36, 60], [0, 0, -0.9, 0, 0])
    free = built(course((0, 0), (60, 0), profile=dip))
    assert free.tables["posts"]["length_m"].max() > 2.2
    held = built(course((0, 0), (60, 0), profile=dip), post_lengths_m=(2.1,))
    short = held.tables["posts"]["stock_m"].isna()
    assert held.tables["posts"]["length_m"].max() < free.tables["posts"]["length_m"].max()
    assert bool(short.any()) == bool(said(held, "no post on hand reaches"))


def test_where_only_the_sticks_keep_the_line_low_it_is_said(built, course):
    low = built(course((0, 0), (60, 0), profile=LEVEL), post_lengths_m=(1.5,))
    (note,) = said(low, "cannot be 0.10 m everywhere")
    assert f"posts on hand keep the line down at {len(low.tables['posts'])} of its posts" in note.text


def test_a_line_that_follows_the_ground_names_the_posts_that_no_stick_reaches_for(built, course):
    low = built(course((0, 0), (60, 0), profile=LEVEL), post_lengths_m=(1.5, 2.0), top_line="ground")
    (note,) = said(low, "no post on hand reaches")
    assert "A-012 and 15 more: the longest is 2.00 m, A-001 asks for 2.05 m" in note.text
    assert said(low, "higher than the posts on hand reach")
    assert low.tables["posts"]["stock_m"].isna().all()


def test_every_row_is_joined_where_the_ground_bends_more_than_a_rail_is_pulled(built, course):
    brow = course((0, 0), (60, 0), profile=([0, 30, 60], [0, 6, 0]))
    found = built(brow, gap_min_m=0.2, gap_max_m=0.35)
    (note,) = said(found, "every row is joined at")
    rails, posts = found.tables["rails"], found.tables["posts"].set_index("post_id")
    names = note.text.split("joined at ")[1].split(":")[0].split(", ")
    assert 1 <= len(names) <= 3
    for name in names:
        at = posts.loc[name, "chainage_m"]
        assert not ((rails["from_m"] < at - 0.01) & (rails["to_m"] > at + 0.01)).any()
    assert not said(built(brow, rail_bays=1), "every row is joined at")


@pytest.mark.parametrize("kind", ["ground", "flowing", "straight"])
def test_a_rail_over_two_bays_is_straight_but_for_the_pull(built, course, kind):
    wavy = np.arange(0, 61, 1.0)
    found = built(course((0, 0), (60, 0), profile=(wavy, 0.4 * np.sin(wavy / 4.0))), top_line=kind)
    posts, rails = found.tables["posts"], found.tables["rails"]
    level = (posts["ground_m"] + posts["top_m"]).to_numpy()
    at = posts["chainage_m"].to_numpy()
    for rail in rails[rails["bays"] == 2].itertuples():
        (inside,) = np.flatnonzero((at > rail.from_m + 0.01) & (at < rail.to_m - 0.01))
        ends = np.interp(at[inside], [rail.from_m, rail.to_m], np.interp([rail.from_m, rail.to_m], at, level))
        assert abs(level[inside] - ends) <= 0.010 + 1e-5


def test_one_bay_rails_cannot_be_staggered_and_it_is_said(built, course):
    found = built(course((0, 0), (60, 0), profile=LEVEL), rail_bays=1)
    assert (found.tables["rails"]["bays"] == 1).all()
    assert said(found, "every post carries every row's joint")


def test_where_no_ground_is_known_the_height_wanted_stands_in_for_lengths_only(built, course):
    found = built(course((0, 0), (60, 0)))
    posts = found.tables["posts"]
    assert posts["top_m"].isna().all()
    assert posts["length_m"].to_numpy() == pytest.approx(1.2 + 0.8 + 0.05)
    assert found.tables["gaps"]["least_m"].isna().all()
    assert said(found, "not checked there")


def test_ground_unknown_along_a_part_leaves_heights_empty_there(built, course):
    half = ([0, 29.99, 30, 60], [0, 0, np.nan, np.nan])
    posts = built(course((0, 0), (60, 0), profile=half)).tables["posts"]
    known = posts["chainage_m"] < 29.0
    assert posts.loc[known, "top_m"].notna().all()
    assert posts.loc[~known, "top_m"].isna().all()
    assert posts["length_m"].notna().all()


def test_wire_posts_are_the_wires_height_and_their_depth(built, course):
    found = built(course((0, 0), (60, 0), kind="wire", profile=LEVEL), kind="wire")
    posts = found.tables["posts"]
    assert posts["length_m"].to_numpy() == pytest.approx(1.1 + 0.8)
    assert posts["top_m"].isna().all()
    assert all(found.tables[name].empty for name in ("rails", "gaps", "spots"))
    assert not said(found, "top line")


def test_a_machine_lower_than_the_post_it_drives_is_a_fault(built, course):
    line = course((0, 0), (60, 0), profile=LEVEL)
    with pytest.raises(InputError) as raised:
        built(line, machine=Machine(working_height_m=2.7))
    (problem,) = raised.value.problems
    assert (problem.file, problem.feature) == ("site.toml", "[machine] working_height_m")
    assert "is 2.05 m long" in problem.fault
    assert "the machine cannot be lower than the post it drives" in problem.fault
    assert "2.75 m at least" in problem.fix
    built(line, machine=Machine(working_height_m=2.75))  # no fault
    with pytest.raises(InputError, match=r"is 3\.00 m long"):
        built(line, machine=Machine(working_height_m=3.0), post_lengths_m=(3.0,))
    built(line, machine=Machine(working_height_m=2.7), set_by="bored")  # nothing is driven
    built(line)  # nobody taped it


def test_gaps_have_a_row_for_each_bay_and_name_it(built, course):
    found = built(course((0, 0), (60, 0), profile=LEVEL))
    assert isinstance(found.tables["gaps"], pd.DataFrame)
    assert found.tables["gaps"]["bay_id"].tolist() == [
        f"A-B{number:03d}" for number in range(1, len(found.tables["gaps"]) + 1)
    ]


def test_a_post_where_two_top_lines_end_is_as_tall_as_the_taller():
    ends = [
        SimpleNamespace(line_id=name, laid_out=SimpleNamespace(post_id=("A-004",)), top_m=np.array([top]))
        for name, top in (("A", 1.21), ("B", 1.34))
    ]
    posts = pd.DataFrame(
        {
            "line_id": ["A"],
            "chainage_m": [7.0],
            "post_id": ["A-004"],
            "kind": ["junction"],
            "ground_chainage_m": [7.0],
            "tape_m": [7.0],
            "embed_m": [0.8],
        }
    )
    fence = Fence(kind="post and rail", rail_m=(4.8,))
    found = with_lengths(
        posts, ends, kind_of_line={"A": "post and rail"}, wire_m=1.1, post_mm=np.array([175.0]), fence=fence
    )
    assert found["top_m"].tolist() == [1.34]


def test_posts_too_heavy_for_one_are_counted(built, course):
    found = built(course((0, 0), (60, 0), profile=LEVEL))
    count = len(found.tables["posts"])
    assert said(found, f"{count} are over 25 kg, a lift for two or for a machine")
    assert not said(built(course((0, 0), (60, 0), profile=LEVEL), post_mm=75.0), "a lift for two")


@pytest.mark.parametrize(
    ("settings", "key", "fault", "fix"),
    [
        (
            {"housing_mm": 80.0},
            "housing_mm",
            "housing_mm is 80: two of them leave less than 50 mm of the thinnest post, 175 mm, between them.",
            "make it 62.5 at most.",
        ),
        (
            {"housing_mm": 25.0, "post_mm": 90.0},
            "housing_mm",
            "housing_mm is 25: two of them leave less than 50 mm of the thinnest post, 90 mm",
            "make it 20 at most.",
        ),
        (
            {"housing_mm": 3.0},  # 87.5 − √(87.5² − 25²)
            "housing_mm",
            "housing_mm is 3, but the edges of a rail 50 mm thick reach into a round post of 175 mm only past 3.6 mm.",
            "make it more than 3.6, 62.5 at most.",
        ),
        (
            {"post_mm": 50.0},
            "rails_fixed",
            "rails 50 mm thick are not let into posts of 50 mm.",
            'take thicker posts, or rails_fixed = "face".',
        ),
        (
            {"post_mm": 60.0},  # half of 60 less 50 is 5 mm, while the edges want 13.4
            "housing_mm",
            "housing_mm is 25: two of them leave less than 50 mm",
            'take thicker posts, or rails_fixed = "face".',
        ),
    ],
)
def test_rails_that_find_no_room_in_the_posts_are_a_fault(built, course, settings, key, fault, fix):
    line = course((0, 0), (60, 0), profile=LEVEL)
    with pytest.raises(InputError) as raised:
        built(line, rails_fixed="centred", **settings)
    (problem,) = raised.value.problems
    assert problem.feature == f"[fence] {key}"
    assert problem.fault.startswith(fault)
    assert problem.fix == fix
    built(line, **settings)  # on the face of the posts nothing is let in


def test_the_thinnest_post_decides_what_may_be_let_in(built, course):
    with pytest.raises(InputError) as raised:
        built(course((0, 0), (60, 0), profile=LEVEL), rails_fixed="centred", housing_mm=40.0, gate_post_mm=120.0)
    assert "the thinnest post, 120 mm" in raised.value.problems[0].fault


def test_a_cap_lies_on_the_top_rails_top_and_lengthens_no_post(built, course):
    """Its underside is where posts are cut: what stands above is the top rail's top and the over-length, as without."""
    line = course((0, 0), (60, 0), profile=LEVEL)
    bare, capped = built(line).tables["posts"], built(line, cap_m=(4.8,)).tables["posts"]
    assert len(bare) == len(capped)
    assert capped["top_m"].to_numpy() == pytest.approx(bare["top_m"].to_numpy())
    assert capped["length_m"].to_numpy() == pytest.approx(bare["length_m"].to_numpy())
    assert (built(line, cap_m=(4.8,)).tables["rails"]["row"] == 0).any()
    assert said(built(line, cap_m=(4.8,)), "lies on the posts")

"""The layer `sights`: what is seen, what is not checked, how pegs are lined in."""

import pytest

from fencegis.records.spec import Sight
from fencegis.setout.sights import notes_on_sights, sight_table

CREST = ([0, 100, 200], [0, 8, 0])
NAN = float("nan")


def sights_of(made, fine=True, **sight):
    return sight_table(made["runs"], profile=made["profile"], sight=Sight(**sight), fine=fine)


def test_on_level_ground_the_ends_see_each_other(tables):
    found = sights_of(tables())
    assert found["sees"].tolist() == ["next", "previous"]
    assert found["sight_id"].tolist() == ["A-R1-P01", "A-R1-P02"]
    assert found["next_m"].iloc[0] == 100.0
    assert found["eye_mm"].iloc[0] == pytest.approx(29.09, abs=0.01)
    assert found["next_low_m"].iloc[0] < 0.35
    assert found["note"].isna().all()


def test_a_crest_takes_a_peg_and_says_how_to_line_it_in(tables):
    found = sights_of(tables(length=200.0, ends=(0.0, 200.0), profile=CREST))
    assert found["sees"].tolist() == ["next", "previous and next", "previous"]
    assert found["note"].iloc[1].startswith("line in with a second pole")
    assert found["note"].isna().tolist() == [True, False, True]


def test_two_crests_are_lined_in_peg_by_peg(tables):
    found = sights_of(tables(length=200.0, ends=(0.0, 200.0), profile=([0, 50, 100, 150, 200], [0, 20, 0, 20, 0])))
    assert len(found) > 3
    assert found["note"].dropna().unique().tolist() == [
        "line in with the pegs either side, each in turn and again, until none moves"
    ]


def test_no_heights_is_not_checked_never_seen(tables):
    found = sights_of(tables(profile=([0, 100], [NAN, NAN])))
    assert found["sees"].tolist() == ["not checked: no ground heights"] * 2


def test_beside_unknown_ground_only_the_known_side_is_said_to_be_seen(tables):
    found = sights_of(tables(profile=([0, 40, 40.5, 59.5, 60, 100], [0, 0, NAN, NAN, 0, 0])))
    assert found["chainage_m"].tolist() == [0, 40, 60, 100]
    assert found["sees"].tolist() == [
        "next",
        "previous; next not checked: no ground heights",
        "next; previous not checked: no ground heights",
        "previous",
    ]
    assert found["next_m"].isna().tolist() == [False, True, False, True]


def test_an_end_on_unknown_ground_is_a_peg_not_checked(tables):
    found = sights_of(tables(profile=([0, 60, 60.5, 100], [0, 0, NAN, NAN])))
    assert found["chainage_m"].tolist() == [0, 60, 100]
    assert found["sees"].iloc[2] == "not checked: no ground heights"
    assert "next not checked" in found["sees"].iloc[1]


def test_coarse_cells_may_ask_for_a_peg_but_never_say_seen(tables):
    found = sights_of(tables(length=200.0, ends=(0.0, 200.0), profile=CREST), fine=False)
    assert len(found) == 3
    assert set(found["sees"]) == {"not checked: cells too coarse to tell what stands between"}
    assert found["next_low_m"].isna().all()


def test_arcs_are_not_sighted_along(tables):
    assert sights_of(tables(arc=True)).empty
    assert notes_on_sights(sights_of(tables(arc=True)), sight=Sight()) == []


def test_notes_give_the_eyes_error_and_where_pegs_are_needed(tables):
    said = notes_on_sights(sights_of(tables(length=200.0, ends=(0.0, 200.0), profile=CREST)), sight=Sight())
    assert "one minute of arc is 29 mm at 100 m" in said[0].text
    assert "35 mm off at 2 m, 5 mm at 0.3 m: sight low on the pole" in said[0].text
    assert said[1].text == "ends do not see each other over the ground: 1 sighting peg between (A-R1)"
    blind = notes_on_sights(sights_of(tables(profile=([0, 100], [NAN, NAN]))), sight=Sight())
    assert blind[1].text == "sight lines of 1 run not checked: no ground heights"
    assert blind[1].severity == "doubt"

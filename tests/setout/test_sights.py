"""The layer `sights`: what is seen, what is not checked, how pegs are lined in."""

import numpy as np
import pytest

from fencegis.records.spec import Sight
from fencegis.setout.sights import notes_on_sights, notes_on_unknown_canopy, sight_table

CREST = ([0, 100, 200], [0, 8, 0])
NAN = float("nan")


def sights_of(made, fine=True, canopy=None, **sight):
    leaves = None if canopy is None else {"A": lambda chainage: np.interp(chainage, *canopy)}
    return sight_table(made["runs"], profile=made["profile"], sight=Sight(**sight), fine=fine, canopy=leaves)


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


SHRUBS = ([0, 45, 45.1, 55, 55.1, 100], [0, 0, 1.5, 1.5, 0, 0])
TREES = ([0, 39.9, 40, 60, 60.1, 100], [0, 0, 9, 9, 0, 0])


def test_trees_on_the_line_are_not_checked_never_seen_through(tables):
    found = sights_of(tables(), canopy=TREES)
    assert found["chainage_m"].tolist() == [0, 39, 61, 100]
    assert found["sees"].tolist() == [
        "next",
        "previous; next not checked: canopy in the way",
        "next; previous not checked: canopy in the way",
        "previous",
    ]
    said = notes_on_sights(found, sight=Sight(), canopy=True)
    assert "pass over it and never under: look under it." in said[0].text
    (blind,) = (note for note in said if note.severity == "doubt")
    assert blind.text.startswith("sight lines of 1 run not checked: canopy in the way; look under it")
    assert blind.chainage_m == 39.0


def test_an_end_under_a_tree_is_a_peg_not_checked(tables):
    found = sights_of(tables(), canopy=([0, 70, 70.1, 100], [0, 0, 9, 9]))
    assert found["chainage_m"].tolist() == [0, 70, 100]
    assert found["sees"].iloc[2] == "not checked: canopy in the way"
    assert found["sees"].iloc[1] == "previous; next not checked: canopy in the way"
    assert set(sights_of(tables(), canopy=([0, 100], [9, 9]))["sees"]) == {"not checked: canopy in the way"}


def test_a_peg_that_canopy_asks_for_says_so_and_one_for_ground_does_not(tables):
    hump = ([0, 100, 200], [0, 1.2, 0])
    bare = sights_of(tables(length=200.0, ends=(0.0, 200.0), profile=hump))
    assert len(bare) == 2
    shrubs = ([0, 90, 90.1, 99, 99.1, 200], [0, 0, 1.5, 1.5, 0, 0])
    found = sights_of(tables(length=200.0, ends=(0.0, 200.0), profile=hump), canopy=shrubs)
    assert len(found) == 3
    assert found["note"].iloc[1].startswith("canopy, not ground, asks for this peg; ")
    (said,) = (note for note in notes_on_sights(found, sight=Sight(), canopy=True) if "ends do not see" in note.text)
    assert said.text == (
        "ends do not see each other over canopy; over the bare ground they do: 1 sighting peg between (A-R1)"
    )
    ground = sights_of(tables(length=200.0, ends=(0.0, 200.0), profile=CREST), canopy=([0, 200], [0, 0]))
    assert ground["note"].iloc[1].startswith("line in with a second pole")


def test_shrubs_hide_the_foot_of_the_pole(tables):
    bare, grown = sights_of(tables()), sights_of(tables(), canopy=SHRUBS)
    assert len(grown) == 2
    assert grown["next_low_m"].iloc[0] > bare["next_low_m"].iloc[0] + 0.5


def test_ground_and_canopy_are_each_given_as_the_reason_on_their_own_side(tables):
    made = tables(profile=([0, 19.5, 19.6, 30.4, 30.5, 100], [0, 0, NAN, NAN, 0, 0]))
    found = sights_of(made, canopy=TREES)
    middle = found[found["chainage_m"].between(31, 39)]["sees"].tolist()
    assert middle == [
        "next; previous not checked: no ground heights",
        "previous; next not checked: canopy in the way",
    ]
    lone = sights_of(made, canopy=([0, 31.9, 32, 100], [0, 0, 9, 9]))
    (alone,) = lone[lone["chainage_m"].between(31, 39)]["sees"]
    assert alone == "not checked: canopy in the way"


def test_without_a_raster_trees_are_said_not_to_be_looked_at(tables):
    (said,) = notes_on_sights(sights_of(tables()), sight=Sight())
    assert said.text.endswith("Trees and crops are not looked at")


def test_where_canopy_is_unknown_is_said_and_the_ground_alone_counts(tables):
    made = tables()
    unknown = ([0, 20, 20.5, 39.5, 40, 100], [0, 0, NAN, NAN, 0, 0])
    assert sights_of(made, canopy=unknown)["sees"].tolist() == ["next", "previous"]
    leaves = {"A": lambda chainage: np.interp(chainage, *unknown)}
    (note,) = notes_on_unknown_canopy(leaves, made["profile"])
    assert note.text == "canopy unknown at 21–39 m: sight lines there over the ground alone"
    assert (note.severity, note.line_id, note.chainage_m) == ("doubt", "A", 21.0)
    assert notes_on_unknown_canopy({"A": np.zeros_like}, made["profile"]) == []

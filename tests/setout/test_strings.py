"""The layer `strings` and its notes."""

import pytest

from fencegis.records.spec import Spec
from fencegis.setout.strings import notes_on_strings, string_table


def spec_of(**tables):
    return Spec.model_validate({"fence": {"kind": "post and rail", "rail_m": [4.8]}} | tables)


def strings_of(made, kind="post and rail", spec=None, fine=True):
    return string_table(
        made["bays"],
        made["posts"],
        runs=made["runs"],
        profile=made["profile"],
        kind_of_line={"A": kind},
        spec=spec or spec_of(),
        fine=fine,
    )


def test_a_string_runs_from_one_post_that_ends_it_to_the_next(tables):
    found = strings_of(tables(ends=(0.0, 40.0, 100.0), kinds={60.0: "key", 80.0: "junction"}))
    assert found[["from_m", "to_m"]].to_numpy().tolist() == [[0, 40], [40, 60], [60, 80], [80, 100]]
    assert found["from_post"].iloc[1] == "A-021"
    assert found["to_post"].iloc[0] == "A-021"
    assert found["length_m"].tolist() == pytest.approx([40, 20, 20, 20])
    assert found["string_id"].tolist() == ["A-L01", "A-L02", "A-L03", "A-L04"]
    assert set(found["strung"]) == {"cord 1.5 mm"}
    assert found["high_from_m"].tolist() == [1.2] * 4


def test_no_string_across_a_gate_nor_along_an_arc(tables):
    found = strings_of(tables(opens=((30.0, 34.0),)))
    assert found[["from_m", "to_m"]].to_numpy().tolist() == [[0, 30], [34, 100]]
    assert strings_of(tables(arc=True)).empty


def test_in_wire_the_string_is_the_bottom_wire_between_strainers(tables):
    found = strings_of(tables(ends=(0.0, 100.0), kinds={50.0: "key"}), kind="wire", spec=Spec())
    assert len(found) == 1
    assert found["strung"].iloc[0] == "bottom wire"
    assert found[["low_m", "high_from_m", "high_to_m"]].isna().all(axis=None)


def test_the_foot_string_goes_over_a_hump_and_is_unknown_on_coarse_cells(tables):
    made = tables(ends=(0.0, 40.0, 100.0), profile=([0, 18, 20, 22, 100], [0, 0, 0.5, 0, 0]))
    low = strings_of(made)["low_m"]
    assert low.iloc[0] > 0.6  # half a metre, a tenth over it, and the sag
    assert low.iloc[1] == pytest.approx(0.1, abs=0.02)
    assert strings_of(made, fine=False)["low_m"].isna().all()


def test_sag_between_pins_counts_for_the_foot_string_not_the_whole(tables):
    one = strings_of(tables(ends=(0.0, 40.0, 100.0)))
    assert one["pins"].tolist() == [0, 1]
    assert one["low_m"].iloc[1] - 0.1 == pytest.approx(one["sag_mm"].iloc[1] / 4000.0, rel=0.01)


def texts(found, spec, kind="post and rail"):
    return [note.text for note in notes_on_strings(found, kind_of_line={"A": kind}, spec=spec)]


def test_a_long_string_is_a_morning_job(tables):
    spec = spec_of()
    said = texts(strings_of(tables(ends=(0.0, 40.0, 100.0))), spec)
    (morning,) = [text for text in said if text.startswith("a morning job")]
    assert (
        "1 of 2 strings drift more than 10 mm in a breeze of 2 m/s (cord 1.5 mm; most A-021 to A-051, 60.0 m" in morning
    )
    assert not [text for text in texts(strings_of(tables(ends=(0.0, 40.0), length=40.0)), spec) if "morning" in text]


def test_the_cord_is_told_with_its_reach(tables):
    said = texts(strings_of(tables()), spec_of())
    assert (
        "cord 1.5 mm at 100 N in a breeze of 2 m/s: 10 mm at 43 m (common practice; drift and sag over 20 m 2"
        in said[0]
    )
    assert "No post touches either: 10 mm, by a block" in said[0]


def test_the_usual_string_agrees_with_the_usual_cord_and_a_slack_one_does_not(tables):
    made = strings_of(tables())
    assert not [text for text in texts(made, spec_of()) if "string_m" in text]
    (shorter,) = [text for text in texts(made, spec_of(string={"tension_n": 50.0})) if "string_m" in text]
    assert "strings of 43.0 m ([fence] string_m) drift more than 10 mm: the shorter counts, 30.1 m" in shorter


def test_a_cord_pulled_past_its_strength_is_a_doubt(tables):
    (text,) = [text for text in texts(strings_of(tables()), spec_of(string={"tension_n": 250.0})) if "part" in text]
    assert text == (
        "[string] tension_n: 250 N is more than cord 1.5 mm should be pulled to (200 N): it may part and whip back"
    )


def test_a_string_lifted_by_a_hump_is_named(tables):
    made = tables(ends=(0.0, 40.0, 100.0), profile=([0, 18, 20, 22, 100], [0, 0, 0.5, 0, 0]))
    (text,) = [text for text in texts(strings_of(made), spec_of()) if "pass over" in text]
    assert "A-L01 (0.62 m);" in text


def test_wire_is_lined_in_low_and_lifted_off_rises(tables):
    said = texts(strings_of(tables(), kind="wire", spec=Spec()), Spec(), kind="wire")
    assert "off the bottom wire, strained and low; at 1.1 kN a breeze of 2 m/s moves it 8 mm over 100 m" in said[0]
    assert not any("cord" in text for text in said)


def test_a_top_line_that_bends_is_not_given_by_its_string(tables):
    made = tables(ends=(0.0, 20.0, 40.0, 100.0))
    posts = made["posts"].assign(ground_m=0.0)
    bend = posts["chainage_m"].between(5.0, 15.0)
    made["posts"] = posts.assign(top_m=posts["top_m"].where(~bend, 1.15))
    found = strings_of(made)
    assert found["high_off_mm"].tolist() == pytest.approx([-50.0, 0.0, 0.0], abs=1e-9)
    (text,) = [text for text in texts(found, spec_of()) if text.startswith("tops:")]
    assert "of 3 strings 3 do not give" not in text
    assert "(most A-L01: top line -50 mm off, sag 5 mm)" in text


def test_a_straight_top_line_is_given_by_a_short_string(tables):
    made = tables(ends=(0.0, 20.0, 40.0), length=40.0)
    slope = made["posts"]["chainage_m"] * 0.03
    made["posts"] = made["posts"].assign(ground_m=slope)
    found = strings_of(made)
    assert found["high_off_mm"].tolist() == pytest.approx([0.0, 0.0], abs=1e-9)
    assert not [text for text in texts(found, spec_of()) if text.startswith("tops:")]
    made["posts"] = made["posts"].assign(ground_m=float("nan"))
    assert strings_of(made)["high_off_mm"].isna().all()

"""The rails' cut list: every rail once, sticks in walking order, and notes that say what is bought and what is left."""

from __future__ import annotations

import pandas as pd
import pytest

from fencegis.quantities.cut_list import bought, cut_list, with_sticks
from fencegis.records.spec import Fence
from fencegis.records.tables import checked, empty

FENCE = Fence(kind="post and rail", rail_m=(4.8,))
HALF_M = 2.373


def rails(*cut_m: float | None, line_ids: str | None = None, apart_m: float = 2.373) -> pd.DataFrame:
    count = len(cut_m)
    return checked(
        "rails",
        pd.DataFrame(
            {
                "line_id": list(line_ids or "A" * count),
                "from_m": [apart_m * place for place in range(count)],
                "to_m": [apart_m * (place + 1) for place in range(count)],
                "rail_id": [f"R{place + 1}" for place in range(count)],
                "row": 1,
                "bays": 1,
                "cut_m": pd.Series(cut_m, dtype="float64"),
            }
        ),
    )


def texts(notes) -> str:
    return "\n".join(note.text for note in notes)


def test_no_rails_no_cuts() -> None:
    for none in (empty("rails"), rails(None)):
        table, notes = cut_list(none, fence=FENCE)
        assert table.equals(empty("cuts"))
        assert notes == []


def test_each_rail_has_its_stick_its_place_and_what_is_left_after_it() -> None:
    table, _ = cut_list(rails(4.6, HALF_M, 2.0, 1.0), fence=FENCE)
    assert table.drop(columns=["line_id", "from_m"]).to_numpy().tolist() == [
        ["S1", "rail", 4.8, 1, "R1", 4.6, pytest.approx(0.146)],
        ["S2", "rail", 4.8, 1, "R2", HALF_M, pytest.approx(HALF_M)],
        ["S2", "rail", 4.8, 2, "R3", 2.0, pytest.approx(0.369)],
        ["S3", "rail", 4.8, 1, "R4", 1.0, pytest.approx(3.746)],
    ]


def test_a_rail_over_a_loops_start_is_cut_once() -> None:
    table, _ = cut_list(rails(4.6, None), fence=FENCE)
    assert table["rail_id"].tolist() == ["R1"]


def test_what_a_bay_is_over_its_limit_comes_off_the_trim() -> None:
    """Two half rails 10 mm over, from two bays within the tolerance, still come out of one stick; 11 mm do not."""
    table, notes = cut_list(rails(HALF_M + 0.010, HALF_M + 0.010), fence=FENCE)
    assert table["stick_id"].tolist() == ["S1", "S1"]
    assert table["cut_m"].tolist() == [2.383, 2.383]
    assert table["left_m"].tolist()[1] == 0.0
    assert "2 rails up to 10 mm over" in texts(notes)
    over, _ = cut_list(rails(HALF_M + 0.011, HALF_M + 0.011), fence=FENCE)
    assert over["stick_id"].tolist() == ["S1", "S2"]
    strict, _ = cut_list(rails(2.374, 2.374), fence=FENCE.model_copy(update={"bay_tolerance_mm": 0.0}))
    assert strict["stick_id"].tolist() == ["S1", "S2"]


def test_a_rail_over_two_bays_may_take_twice_the_tolerance() -> None:
    assert len(cut_list(rails(4.77), fence=FENCE)[0]) == 1
    one_bay = FENCE.model_copy(update={"rail_bays": 1})
    assert len(cut_list(rails(4.76), fence=one_bay)[0]) == 1
    assert cut_list(rails(4.77), fence=one_bay)[0].empty


def test_a_rail_longer_than_any_stock_is_named_and_not_listed() -> None:
    table, notes = cut_list(rails(4.6, 4.9), fence=FENCE)
    assert table["rail_id"].tolist() == ["R1"]
    (doubt,) = [note for note in notes if note.severity == "doubt"]
    assert doubt.text.startswith("R2: longer than a stick of 4.8 m gives")
    assert (doubt.line_id, doubt.chainage_m) == ("A", pytest.approx(2.373))


def test_the_note_says_sticks_metres_off_cuts_bound_and_first_fit() -> None:
    """4.6, 2.3 and 2.3 m out of two sticks: 9.2 of 9.6 m is rail, 4.2 % is not."""
    _, notes = cut_list(rails(4.6, 2.3, 2.3), fence=FENCE)
    assert "2 of 4.8 m: 9.6 m of stock for 9.2 m of rail, 4.2 % off-cuts" in texts(notes)
    assert "no cutting takes less" in texts(notes)
    assert "longest first, each out of the first that holds it: 9.6 m" in texts(notes)


def test_sums_of_the_table() -> None:
    fence = FENCE.model_copy(update={"rail_m": (4.8, 3.6)})
    table, notes = cut_list(rails(4.6, 3.3, 2.3), fence=fence)
    sums = bought(table)
    assert sums.sticks == {4.8: 1, 3.6: 2}
    assert sums.stock_m == pytest.approx(12.0)
    assert sums.rail_m == pytest.approx(10.2)
    assert sums.off_cut_pct == pytest.approx(15.0)
    assert (sums.usable, sums.usable_m) == (1, pytest.approx(3.55 - 2.3 - 0.004))
    assert "left at the end: 1, together 1.2 m" in texts(notes)
    assert bought(empty("cuts")).off_cut_pct == 0.0


def test_an_off_cut_that_travels_is_named() -> None:
    near, far = (cut_list(rails(HALF_M, HALF_M, apart_m=apart), fence=FENCE)[1] for apart in (2.373, 50.0))
    assert "carried on" not in texts(near)
    assert "S1: what is left after the first rail is carried on" in texts(far)
    assert "carried on" in texts(cut_list(rails(HALF_M, HALF_M, line_ids="AB"), fence=FENCE)[1])


def test_rails_carry_the_stock_length_of_the_cut_list() -> None:
    """Two half rails out of one long stick, though a short one would hold each."""
    fence = FENCE.model_copy(update={"rail_m": (4.8, 3.6)})
    table = rails(HALF_M, HALF_M, 3.3, 4.9, None)
    cuts, _ = cut_list(table, fence=fence)
    stick = with_sticks(table, cuts)["stick"]
    assert stick[:3].tolist() == [4.8, 4.8, 3.6]
    assert stick[3:].isna().all()
    assert with_sticks(rails(4.9), empty("cuts"))["stick"].isna().all()


def with_cap(*cut_m: float) -> pd.DataFrame:
    """Rails, and the same lengths again as boards of a cap."""
    boards = rails(*cut_m).assign(row=0, rail_id=[f"C{place}" for place in range(len(cut_m))])
    return checked("rails", pd.concat([rails(*cut_m), boards], ignore_index=True))


def test_boards_of_the_cap_come_out_of_their_own_stock() -> None:
    """One rail and one board of 2.3 m would share a stick of 4.8 m: rails and caps do not."""
    fence = FENCE.model_copy(update={"cap_m": (4.8, 3.6)})
    table, notes = cut_list(with_cap(2.3), fence=fence)
    assert table[["stick_id", "kind", "stick_m", "place", "rail_id"]].to_numpy().tolist() == [
        ["S1", "rail", 4.8, 1, "R1"],
        ["C1", "cap", 3.6, 1, "C0"],
    ]
    assert "rails come out of 1 of 4.8 m: 4.8 m of stock for 2.3 m of rail" in texts(notes)
    assert "cap boards come out of 1 of 3.6 m: 3.6 m of stock for 2.3 m of cap" in texts(notes)
    assert with_sticks(with_cap(2.3), table)["stick"].tolist() == [4.8, 3.6]
    assert bought(table[table["kind"] == "cap"]).sticks == {3.6: 1}


def test_without_boards_on_hand_a_cap_is_not_cut_and_rails_are_cut_as_ever() -> None:
    table, _ = cut_list(with_cap(4.6, 2.3), fence=FENCE)
    assert set(table["kind"]) == {"rail"}
    assert table.equals(cut_list(rails(4.6, 2.3), fence=FENCE)[0])


def test_a_board_longer_than_the_caps_stock_is_named_though_a_rails_would_hold_it() -> None:
    table, notes = cut_list(with_cap(4.6), fence=FENCE.model_copy(update={"cap_m": (3.6,)}))
    assert table["rail_id"].tolist() == ["R1"]
    assert "C0: longer than a stick of 3.6 m gives" in texts(notes)


def test_a_cap_over_two_bays_may_take_twice_the_tolerance_from_its_trims() -> None:
    fence = FENCE.model_copy(update={"cap_m": (4.8,)})
    table, notes = cut_list(with_cap(4.77), fence=fence)
    assert table.loc[table["kind"] == "cap", "cut_m"].tolist() == [4.77]
    assert "1 cap board up to 20 mm over what the stock gives" in texts(notes)


def test_between_posts_rails_are_cut_for_one_bay() -> None:
    """Half a rail of 2.38 m is over half a stick: with one bay to a rail no trim is spared for it."""
    centred = FENCE.model_copy(update={"rails_fixed": "centred"})
    assert cut_list(rails(HALF_M + 0.01, HALF_M + 0.01), fence=centred)[0]["stick_id"].tolist() == ["S1", "S2"]

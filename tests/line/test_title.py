"""A deed beside a traced line: which leg is which run, the swing between the norths, and what parts them."""

from __future__ import annotations

from itertools import permutations
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fencegis.line.chainage import Line
from fencegis.line.title import NO_BOUNDARY, sides_of_legs, straight_on, title_table
from fencegis.line.title_pairs import Sides, partial, swing, whole
from fencegis.records.spec import Spec
from fencegis.records.tables import LAYERS
from fencegis.records.title import TitleLeg

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.records.notes import Note

CORNERS = np.array([[0.0, 0.0], [300.0, 40.0], [420.0, 260.0], [200.0, 420.0], [-60.0, 250.0]]) + 50_000.0
LOOP, OPEN = Line("A", True, CORNERS), Line("A", False, CORNERS)
SIGMA_M = 0.9


def runs_of(line: Line, *, kind: str = "straight") -> pd.DataFrame:
    chainage = line.chainage_m
    return pd.DataFrame(
        {
            "line_id": line.line_id,
            "from_m": chainage[:-1],
            "to_m": chainage[1:],
            "run_id": [f"{line.line_id}-R{number}" for number in range(1, len(chainage))],
            "kind": kind,
            "sigma_length_m": SIGMA_M,
        }
    )


def deed(line: Line, *, swing_deg: float = 0.0, backward: bool = False, shift: int = 0) -> list[tuple[float, float]]:
    """Bearing and metres of each side as a deed would have them that walks from another corner, by another north."""
    steps = np.diff(line.path, axis=0)
    steps = -steps[::-1] if backward else steps
    steps = np.roll(steps, -shift, axis=0)
    bearing = (np.degrees(np.arctan2(steps[:, 0], steps[:, 1])) - swing_deg) % 360.0
    return list(zip(bearing.tolist(), np.hypot(*steps.T).tolist(), strict=True))


def legs_of(sides: Sequence[tuple[float, float]], *, chord: bool = False, run: Sequence[str] = ()) -> list[TitleLeg]:
    names = [*run, *[""] * len(sides)]
    return [
        TitleLeg(number + 2, "A", names[number] or None, bearing, metres, "m", chord)
        for number, (bearing, metres) in enumerate(sides)
    ]


def told(
    legs: Sequence[TitleLeg], line: Line = LOOP, *, runs: pd.DataFrame | None = None, **settings_: object
) -> tuple[pd.DataFrame, tuple[Note, ...]]:
    spec = Spec.model_validate({"boundary": settings_} if settings_ else {})
    return title_table(legs, runs_of(line) if runs is None else runs, lines=[line], spec=spec)


def texts(notes: Sequence[Note]) -> str:
    return "\n".join(note.text for note in notes)


def test_without_a_deed_the_layer_is_empty_and_nothing_is_said() -> None:
    table, notes = told([])
    assert len(table) == 0
    assert list(table.columns) == [column.name for column in LAYERS["title"].columns]
    assert notes == ()
    assert title_table(None, runs_of(LOOP), lines=[LOOP], spec=Spec())[1] == ()


@pytest.mark.parametrize("backward", [False, True])
@pytest.mark.parametrize("shift", range(5))
def test_an_exact_deed_is_recovered_from_any_corner_either_way_round(backward: bool, shift: int) -> None:
    table, notes = told(legs_of(deed(LOOP, swing_deg=11.5, backward=backward, shift=shift)))
    order = np.roll([5, 4, 3, 2, 1] if backward else [1, 2, 3, 4, 5], -shift)
    assert table["run_id"].tolist() == [f"A-R{run}" for run in order]
    np.testing.assert_allclose(table["length_difference_m"], 0.0, atol=1e-9)
    np.testing.assert_allclose(table["bearing_difference_deg"], 0.0, atol=1e-9)
    assert "turned 11.500° to the right" in texts(notes)
    assert ("against the chainage" in texts(notes)) == backward
    assert "5 legs, perimeter 1393.03 m, closing exactly; area 130400 m² (13.040 ha)" in texts(notes)
    assert "surveyor needed" not in texts(notes)
    assert notes[-1].text == NO_BOUNDARY


@pytest.mark.parametrize("backward", [False, True])
def test_an_open_line_is_walked_either_way_and_has_no_closure(backward: bool) -> None:
    table, notes = told(legs_of(deed(OPEN, swing_deg=-4.0, backward=backward)), OPEN)
    runs = [1, 2, 3, 4]
    assert table["run_id"].tolist() == [f"A-R{run}" for run in (runs[::-1] if backward else runs)]
    assert "turned 4.000° to the left" in texts(notes)
    assert "perimeter" not in texts(notes)


def test_differences_are_traced_less_title() -> None:
    sides = deed(LOOP)
    sides[1] = (sides[1][0] - 0.3, sides[1][1] - 2.0)
    row = told(legs_of(sides))[0].iloc[1]
    assert row["length_difference_m"] == pytest.approx(2.0)
    assert row["bearing_difference_deg"] > 0.2  # less what the swing took up
    assert "traced 2.00 m longer than the title" in row["says"]
    assert "to the right of it" in row["says"]


@pytest.mark.parametrize(("change", "word"), [((0.0, 9.0), "9.0"), ((10.0, 0.0), "10.0")])
def test_a_wrong_leg_is_found_and_named_and_does_not_turn_the_others(change: tuple[float, float], word: str) -> None:
    sides = deed(LOOP, swing_deg=3.2, shift=3)
    sides[1] = (sides[1][0] + change[0], sides[1][1] + change[1])
    table, notes = told(legs_of(sides))
    needed = table["says"].str.contains("surveyor needed")
    assert needed.tolist() == [False, True, False, False, False]
    (named,) = [note for note in notes if note.text.startswith("title.csv, leg 2 (A-R5): ")]
    assert (named.line_id, named.severity) == ("A", "doubt")
    assert named.chainage_m == pytest.approx(LOOP.chainage_m[4])
    assert word in named.text
    others = table.drop(index=1)
    np.testing.assert_allclose(others["length_difference_m"], 0.0, atol=1e-9)
    np.testing.assert_allclose(others["bearing_difference_deg"], 0.0, atol=1e-9)
    assert "rougher than 1:1000, or a leg is wrong or missing: surveyor needed" in texts(notes)


def test_a_closure_worse_than_one_in_a_thousand_needs_a_surveyor() -> None:
    for gap_m, needed in ((1.3, False), (1.5, True)):  # of 1393 m
        sides = deed(LOOP)
        sides[0] = (sides[0][0], sides[0][1] + gap_m)
        notes = told(legs_of(sides))[1]
        (note,) = [note for note in notes if "perimeter" in note.text]
        assert f"misclosure {gap_m:.3f} m" in note.text
        assert ("surveyor needed" in note.text) == needed
        assert (note.severity == "doubt") == needed
        assert ("ha)" in note.text) != needed


def test_one_standard_error_has_the_run_the_imagery_and_the_deeds_rounding() -> None:
    legs = [TitleLeg(2, "A", None, 90.0, 10.0, "chain", chord=False)]
    line = Line("A", False, np.array([[0.0, 0.0], [201.168, 0.0]]))
    link_m = 0.201168 / np.sqrt(12)
    for drawn_from, scale in (("imagery", 0.001), ("survey", 0.0), ("walked", 0.0)):
        row = told(legs, line, drawn_from=drawn_from)[0].iloc[0]
        assert row["difference_sigma_m"] == pytest.approx(np.sqrt(SIGMA_M**2 + (scale * 201.168) ** 2 + link_m**2))
    table, notes = told(legs, line)
    assert np.isnan(table["bearing_difference_deg"].iloc[0])
    assert "from one pair alone no bearing is compared" in texts(notes)


def test_a_slight_bend_leaves_the_length_in_doubt_and_not_the_bearing() -> None:
    """Along the line nobody can say where it bends by 3°; across it the ends are as good as the clicks."""
    runs = runs_of(LOOP).assign(sigma_length_m=9.0)
    table, _ = told(legs_of(deed(LOOP)), runs=runs, position_error_m=0.5)
    assert (table["difference_sigma_m"] > 9.0).all()
    one = np.degrees(np.sqrt(2.0) * 0.5 / table["traced_length_m"])
    together = 1.0 / np.sqrt((one**-2.0).sum())
    np.testing.assert_allclose(table["bearing_sigma_deg"], np.hypot(one, together), rtol=0.02)


def test_legs_that_go_straight_on_are_one_run_together() -> None:
    """A deed that begins in the middle of a side, and has a mark on another."""
    sides = deed(LOOP, swing_deg=5.0)
    (first, metres), (third, third_m) = sides[0], sides[2]
    split = [
        (first, 0.4 * metres),
        sides[1],
        (third, 100.0),
        (third, third_m - 100.0),
        *sides[3:],
        (first, 0.6 * metres),
    ]
    table, notes = told(legs_of(split))
    assert table["run_id"].tolist() == ["A-R1", "A-R2", "A-R3", "A-R3", "A-R4", "A-R5", "A-R1"]
    assert table["says"].iloc[0].startswith("legs 7 and 1 together: traced 0.00 m")
    assert table["says"].iloc[3].startswith("legs 3 and 4 together: ")
    np.testing.assert_allclose(table["length_difference_m"], 0.0, atol=1e-9)
    assert table["title_length_m"].tolist() == pytest.approx([metres for _, metres in split])
    assert "surveyor needed" not in texts(notes)


def test_what_goes_straight_on() -> None:
    bearings = [10.0, 11.0, 100.0, 190.0, 280.0, 9.0]
    assert straight_on(legs_of([(b, 10.0) for b in bearings]), loop=True) == [[2], [3], [4], [5, 0, 1]]
    assert straight_on(legs_of([(b, 10.0) for b in bearings]), loop=False) == [[0, 1], [2], [3], [4], [5]]
    assert straight_on(legs_of([(b, 10.0) for b in bearings], chord=True), loop=False) == [[k] for k in range(6)]
    assert straight_on(legs_of([(10.0, 5.0), (10.5, 5.0)]), loop=True) == [[0, 1]]


def test_a_leg_that_is_missing_leaves_its_run_alone() -> None:
    sides = deed(LOOP, swing_deg=2.0, shift=1)
    del sides[2]
    table, notes = told(legs_of(sides))
    assert table["run_id"].tolist() == ["A-R2", "A-R3", "A-R5", "A-R1"]
    np.testing.assert_allclose(table["length_difference_m"], 0.0, atol=1e-9)
    assert "title.csv has no leg that belongs to A-R4: not compared." in texts(notes)
    assert "surveyor needed" in texts(notes)  # it does not close


@pytest.mark.parametrize("backward", [False, True])
def test_a_deed_of_the_whole_lot_beside_a_fence_on_part_of_it(backward: bool) -> None:
    table, notes = told(legs_of(deed(LOOP, swing_deg=2.0, shift=2, backward=backward)), OPEN)
    alone = table["run_id"].isna()
    assert alone.sum() == 1
    assert table["says"][alone].tolist() == ["not matched: no run fits it in walking order"]
    assert table["title_length_m"][alone].tolist() == pytest.approx([float(np.hypot(*(CORNERS[4] - CORNERS[0])))])
    np.testing.assert_allclose(table["length_difference_m"][~alone], 0.0, atol=1e-9)
    assert "not matched" in texts(notes)
    assert "13.040 ha" in texts(notes)


def test_another_lots_deed_is_not_forced_on_the_line() -> None:
    table, notes = told(legs_of([(10.0, 55.0), (75.0, 140.0), (200.0, 90.0), (310.0, 460.0)]))
    assert table["run_id"].isna().all()
    assert table["says"].str.startswith("not matched").all()
    assert "title.csv has no leg that belongs to A-R1, A-R2, A-R3, A-R4, A-R5: not compared." in texts(notes)
    assert "turned" not in texts(notes)


def test_a_square_takes_the_least_turn_and_says_that_it_is_open() -> None:
    square = Line("A", True, np.array([[0.0, 0.0], [0.0, 100.0], [100.0, 100.0], [100.0, 0.0]]))
    table, notes = told(legs_of(deed(square, swing_deg=7.0, shift=1)), square)
    assert table["run_id"].tolist() == ["A-R2", "A-R3", "A-R4", "A-R1"]
    assert "turned 7.000° to the right" in texts(notes)
    assert "fits nearly as well another way round" in texts(notes)
    assert "another way round" not in texts(told(legs_of(deed(LOOP)))[1])


def test_runs_named_in_the_file_decide() -> None:
    sides = deed(LOOP, swing_deg=4.0, backward=True)
    runs = ["A-R5", "", "A-R3", "A-R9", "A-R1"]
    table, _ = told(legs_of(sides, run=runs))
    assert table["run_id"].fillna("").tolist() == ["A-R5", "", "A-R3", "", "A-R1"]
    assert table["says"].iloc[1] == "not matched: no run is named for it"
    assert table["says"].iloc[3] == "not matched: this line has no run of the name given"
    np.testing.assert_allclose(table["bearing_difference_deg"].dropna(), 0.0, atol=1e-9)
    swapped, notes = told(legs_of(sides, run=["A-R4", "A-R5", "A-R3", "A-R2", "A-R1"]))
    assert swapped["run_id"].tolist() == ["A-R4", "A-R5", "A-R3", "A-R2", "A-R1"]
    assert swapped["says"].str.contains("surveyor needed").tolist() == [True, True, False, False, False]
    assert "title.csv, leg 1 (A-R4)" in texts(notes)


def test_an_arc_is_compared_by_its_chord_and_only_when_the_deed_says_chord() -> None:
    runs = runs_of(LOOP).assign(kind=["straight", "arc", "straight", "straight", "straight"])
    sides = deed(LOOP, swing_deg=4.0)
    legs = legs_of(sides)
    table, notes = told(legs, runs=runs)
    assert table["run_id"].tolist() == ["A-R1", "A-R2", "A-R3", "A-R4", "A-R5"]
    assert "title.csv, leg 2 (A-R2): not compared: the run is an arc" in texts(notes)
    assert table["says"].iloc[1] == "not compared: the run is an arc, and the deed does not say chord"
    assert np.isnan(table["length_difference_m"].iloc[1])
    legs[1] = TitleLeg(3, "A", None, *sides[1], "m", chord=True)
    table, _ = told(legs, runs=runs)
    assert table["length_difference_m"].iloc[1] == pytest.approx(0.0, abs=1e-9)
    assert table["traced_length_m"].iloc[1] == pytest.approx(sides[1][1])


def test_a_line_that_is_planned_in_pieces_is_not_compared() -> None:
    legs = legs_of(deed(LOOP))
    table, notes = title_table(
        legs, runs_of(OPEN).assign(line_id="A.1"), lines=[Line("A.1", False, CORNERS)], spec=Spec()
    )
    assert table["says"].str.contains("planned in pieces").all()
    assert "line A is planned in pieces" in texts(notes)


def test_a_fence_beside_the_line_is_said() -> None:
    spec = Spec.model_validate({"fence": {"offset_m": -0.5}})
    notes = title_table(legs_of(deed(LOOP)), runs_of(LOOP), lines=[LOOP], spec=spec)[1]
    assert "the runs are planned 0.5 m beside the drawn line" in texts(notes)


def test_the_swing_is_the_weighted_mean_and_its_error_is_honest() -> None:
    difference, sigma = np.array([359.9, 0.3, 0.1]), np.array([0.1, 0.2, 0.1])
    value, error, used = swing(difference, sigma, start_deg=0.0)
    weight = sigma**-2
    assert value == pytest.approx(np.average([-0.1, 0.3, 0.1], weights=weight))
    off = np.array([-0.1, 0.3, 0.1]) - value
    scatter = np.sqrt((weight * off**2).sum() / 2)
    assert error == pytest.approx(max(1.0, scatter) / np.sqrt(weight.sum()))
    assert used.all()
    value, _, used = swing(np.array([180.2, 180.0, 179.9, 190.0]), np.full(4, 0.1), start_deg=180.0)
    assert abs(value) == pytest.approx(180.0, abs=0.05)
    assert used.tolist() == [True, True, True, False]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(-180.0, 180.0), st.booleans(), st.integers(0, 4), st.booleans())
def test_turning_the_site_leaves_differences_alone(
    seed: int, turn_deg: float, backward: bool, shift: int, closed: bool
) -> None:
    rng = np.random.default_rng(seed)
    corners = CORNERS + rng.normal(0.0, 0.6, CORNERS.shape)
    legs = legs_of(deed(LOOP if closed else OPEN, swing_deg=6.0, backward=backward, shift=shift if closed else 0))
    angle = np.radians(turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    middle = corners.mean(axis=0)
    still, turned = (Line("A", closed, places) for places in (corners, (corners - middle) @ turn + middle))
    first, second = told(legs, still)[0], told(legs, turned)[0]
    assert first["run_id"].tolist() == second["run_id"].tolist()
    for column in ("length_difference_m", "difference_sigma_m", "bearing_difference_deg"):
        np.testing.assert_allclose(first[column], second[column], atol=1e-6)


@pytest.mark.parametrize("seed", range(6))
def test_the_pairing_is_that_of_a_twin_that_tries_every_order(seed: int) -> None:
    """A deed with one leg more and one less than the plan: no other rising set of pairs has more that fit."""
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 360, 6))
    places = np.column_stack([np.sin(np.radians(angle)), np.cos(np.radians(angle))]) * rng.uniform(100, 300, 6)[:, None]
    line = Line("A", False, places)
    sides = deed(line, swing_deg=8.0)
    del sides[3]
    sides.insert(1, (rng.uniform(0, 360), rng.uniform(400, 500)))
    title = sides_of_legs(legs_of(sides), [[k] for k in range(len(sides))])
    plan = five_runs(places)
    found = partial(title, plan, loop=False)
    fits = max(
        (
            sum(_near(title, plan, leg, run, 8.0) for leg, run in zip(legs, runs, strict=True)),
            -len(legs),
            tuple(zip(legs, runs, strict=True)),
        )
        for count in range(1, 6)
        for legs in _rising(5, count)
        for runs in _rising(5, count)
    )
    assert [(leg, int(run)) for leg, run in enumerate(found.run) if run >= 0] == list(fits[2])
    assert found.swing_deg == pytest.approx(8.0)


def five_runs(path: np.ndarray) -> Sides:
    step = np.diff(path, axis=0)
    bearing_deg = np.degrees(np.arctan2(step[:, 0], step[:, 1])) % 360.0
    return Sides(bearing_deg, np.hypot(*step.T), np.full(5, 0.2), np.full(5, SIGMA_M), np.zeros(5, dtype=bool))


def _rising(n: int, count: int) -> list[tuple[int, ...]]:
    return [order for order in permutations(range(n), count) if list(order) == sorted(order)]


def _near(title: Sides, plan: Sides, leg: int, run: int, swing_deg: float) -> bool:
    off = (plan.bearing_deg[run] - title.bearing_deg[leg] - swing_deg + 180.0) % 360.0 - 180.0
    return bool(abs(off) < 1.0 and abs(plan.length_m[run] - title.length_m[leg]) < 5.0 * SIGMA_M)


def test_the_best_way_round_is_the_best_of_all() -> None:
    """On noisy loops the pairing found misses by no more than any other way round does."""
    rng = np.random.default_rng(3)
    for _ in range(20):
        corners = CORNERS + rng.normal(0.0, 0.6, CORNERS.shape)
        line = Line("A", True, corners)
        shift, backward = int(rng.integers(5)), bool(rng.integers(2))
        title = sides_of_legs(
            legs_of(deed(LOOP, swing_deg=-9.0, shift=shift, backward=backward)), [[k] for k in range(5)]
        )
        plan = five_runs(line.path)
        found = whole(title, plan, loop=True)
        assert found is not None
        assert found.backward == backward
        assert found.run.tolist() == np.roll([4, 3, 2, 1, 0] if backward else [0, 1, 2, 3, 4], -shift).tolist()
        assert found.swing_deg == pytest.approx(-9.0, abs=4 * found.swing_sigma_deg)


def test_a_long_deed_with_a_leg_missing_is_laid_on_its_line() -> None:
    rng = np.random.default_rng(5)
    sides = [((25.0 * k + rng.uniform(-9.0, 9.0)) % 360.0, rng.uniform(20.0, 300.0)) for k in range(200)]
    steps = np.array([[m * np.sin(np.radians(b)), m * np.cos(np.radians(b))] for b, m in sides])
    line = Line("A", False, np.vstack([[0.0, 0.0], np.cumsum(steps, axis=0)]))
    del sides[120]
    table, notes = told(legs_of(sides), line)
    assert table["run_id"].tolist() == [f"A-R{run}" for run in range(1, 201) if run != 121]
    assert "title.csv has no leg that belongs to A-R121: not compared." in texts(notes)

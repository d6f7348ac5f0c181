"""Names for every length: capitals and digits, each once, rising along the way; drawn at random, no case left out."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fencegis.exports.hand.names import piece_names, short_names
from fencegis.exports.key_points import LETTERS, Place, line_codes

KINDS = ["strainer", *LETTERS]
SHORTS = {
    "hazard": ["H1 overhead power begins", "H12 tree limb ends", "H3 side slope at line end", "=1+1 x begins", "ž"]
}


def walked(counts: list[int], kinds: list[str], *, letters: bool) -> list[Place]:
    """Places as `key_points` names them: so many on each line, kinds over and over."""
    ids = [chr(65 + n) if letters else f"line {n}" for n in range(len(counts))]
    codes, width = line_codes(ids), max(2, len(str(max(counts, default=1))))
    places = []
    for line_id, count in zip(ids, counts, strict=True):
        for number in range(1, count + 1):
            kind = kinds[len(places) % len(kinds)]
            options = SHORTS.get(kind, [kind])
            short = options[len(places) % len(options)]
            name = f"{codes[line_id]}{number:0{width}d}{LETTERS.get(kind, 'S')}"
            places.append(Place(name, line_id, 2.0 * number, kind, short, short, 0.0, 0.0, 0.0, 0.0, 0.0))
    return places


def check(names: list[str], length: int) -> None:
    assert all(re.fullmatch(f"[A-Z0-9]{{1,{length}}}", name) for name in names)
    assert all(one < other for one, other in pairwise(names))  # rising, so each stands once
    cut = [name[:length] for name in names]
    assert len(set(cut)) == len(cut)
    assert cut == sorted(cut)


PLANS = st.tuples(
    st.lists(st.integers(0, 60), min_size=1, max_size=26),
    st.lists(st.sampled_from(KINDS), min_size=1, max_size=8),
    st.booleans(),
)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(plan=PLANS, length=st.integers(3, 30))
def test_names_of_any_plan_fit_any_length_rise_and_stand_once(plan: tuple, length: int) -> None:
    counts, kinds, letters = plan
    places = walked(counts, kinds, letters=letters)
    check(short_names(places, length=length), length)


@pytest.mark.parametrize("length", [6, 8, 10, 14, 30])
@pytest.mark.parametrize("counts", [[1], [99, 1], [1000] * 3, [1] * 120, [12_000, 3], [1500] * 40])
def test_large_plans_fit_every_length_of_the_catalogue(counts: list[int], length: int) -> None:
    places = walked(counts, KINDS, letters=len(counts) <= 26)
    check(short_names(places, length=length), length)


@pytest.mark.parametrize(
    ("length", "names"),
    [
        (None, ["A01E", "A02H", "A03G"]),
        (6, ["A01END", "A02H", "A03G"]),
        (8, ["A01END", "A02H", "A03GATE"]),
        (9, ["A01END", "A02HAZARD", "A03GATE"]),
        (11, ["A01END", "A02H1BEGINS", "A03GATE"]),
        (30, ["A01END", "A02H1OVERHEADPOWERBEGINS", "A03GATE"]),
        (3, ["A01", "A02", "A03"]),
        (2, ["11", "12", "13"]),
        (1, ["1", "2", "3"]),
    ],
)
def test_what_the_kind_is_follows_where_there_is_room(length: int | None, names: list[str]) -> None:
    assert short_names(walked([3], ["end", "hazard", "gate"], letters=True)[:1], length=length) == names[:1]
    places = walked([3], ["end", "hazard", "gate"], letters=True)
    places[1] = Place("A02H", "A", 4.0, "hazard", "H1 overhead power begins", "", 0.0, 0.0, 0.0, 0.0, 0.0)
    assert short_names(places, length=length) == names


def test_a_length_that_cannot_tell_so_many_apart_is_refused() -> None:
    with pytest.raises(ValueError, match="1 letters and digits do not tell so many points apart"):
        short_names(walked([40], ["end"], letters=True), length=1)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(counts=st.lists(st.integers(1, 40), min_size=1, max_size=40), length=st.one_of(st.none(), st.integers(6, 30)))
def test_pieces_of_lines_have_names_of_their_own_in_order(counts: list[int], length: int | None) -> None:
    by_line = {f"l {n}": count for n, count in enumerate(counts)}
    both = []
    for letter, word in (("T", "LINE"), ("R", "ROUTE")):
        found = piece_names(by_line, letter=letter, word=word, length=length)
        assert {line: len(names) for line, names in found.items()} == by_line
        names = [name for line in found.values() for name in line]
        check(names, length or 99)
        both += names
    assert len(set(both)) == len(both)


def test_a_line_in_one_piece_keeps_its_name() -> None:
    assert piece_names({"A": 1, "B": 2}, letter="T", word="LINE", length=None) == {
        "A": ["ALINE"],
        "B": ["BLINE1", "BLINE2"],
    }
    assert piece_names({"A": 12}, letter="T", word="LINE", length=6)["A"][:2] == ["AT01", "AT02"]
    assert piece_names({f"{n}": 100 for n in range(100)}, letter="T", word="LINE", length=6)["99"][-1] == "T007PS"

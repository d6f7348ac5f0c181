"""What is said of the take-off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import pytest

from fencegis.quantities.bill_notes import notes_on_quantities
from fencegis.records.spec import Fence
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from fencegis.records.notes import Note


def bought(**changed: object) -> pd.DataFrame:
    row = {
        "item": "staple", "material": "staple", "supplier": "wire and mesh", "unit": "each", "exact": 480.0,
        "waste_pct": 0.0, "pack": 500.0, "packs": 1, "left_pct": 4.0, "mass_kg": 4.0, "basis": "", "rows": "posts 80",
        **changed,
    }  # fmt: skip
    return checked("quantities", pd.DataFrame([row]))


def notes(table: pd.DataFrame, *, fence: Fence | None = None, **layers: pd.DataFrame) -> list[Note]:
    tables = {name: empty(name) for name in ("posts", "strainers", "crossings")}
    return notes_on_quantities(table, {**tables, **layers}, fence=fence or Fence())


def about(found: list[Note], words: str) -> Note:
    (note,) = [note for note in found if words in note.text]
    return note


def test_nothing_bought_nothing_said() -> None:
    assert notes(empty("quantities")) == []


@pytest.mark.parametrize(("left_pct", "said"), [(30.0, False), (30.1, True)])
def test_left_over_is_told_of_past_thirty_per_cent(left_pct: float, said: bool) -> None:
    found = [note.text for note in notes(bought(left_pct=left_pct))]
    assert ("more than 30 % of what is bought is left over: staple (30 % of 1 x 500)" in found) == said


def test_freight_is_mass_longest_piece_and_what_nobody_weighed() -> None:
    assert about(notes(bought(mass_kg=2340.0, longest_m=4.8)), "freight").text == (
        "freight: what is ordered weighs about 2.3 t, timber green, without water; the longest piece is 4.80 m"
    )
    unknown = about(notes(bought(mass_kg=None)), "freight").text
    assert unknown.endswith("about 0.0 t, timber green, without water; no mass is known of staple")


@pytest.mark.parametrize("supplier", ["hire and services", "on hand"])
def test_work_and_what_is_on_hand_is_no_freight(supplier: str) -> None:
    assert not any("freight" in note.text for note in notes(bought(supplier=supplier)))


def test_a_crossing_without_parts_is_named_where_it_is() -> None:
    rows = [("X1", "measure first", 4.0), ("X2", "hung curtain", 4.0), ("X3", "swinging panel", None)]
    crossings = pd.DataFrame(
        [
            {
                "line_id": "A", "from_m": 10.0 * place, "to_m": 10.0 * place + 4.0, "crossing_id": name,
                "feature": "creek", "kind": "crossing", "treatment": treatment, "own_ends": True, "span_m": span_m,
                "basis": "",
            }
            for place, (name, treatment, span_m) in enumerate(rows)
        ]
    )  # fmt: skip
    found = [
        note for note in notes(bought(), crossings=checked("crossings", crossings)) if "nothing is taken" in note.text
    ]
    assert [(note.text[:2], note.chainage_m, note.severity) for note in found] == [
        ("X1", 0.0, "doubt"),
        ("X3", 20.0, "doubt"),
    ]
    assert "(measure first)" in found[0].text


def strained(face_mm: float, length_m: float) -> dict[str, pd.DataFrame]:
    place = {"line_id": "A", "chainage_m": [0.0, 50.0]}
    posts = {**place, "post_id": ["A1", "A2"], "kind": "strainer", "ground_chainage_m": [0.0, 50.0], "tape_m": 0.0}
    return {
        "posts": checked("posts", pd.DataFrame({**posts, "face_mm": [127.0, face_mm], "length_m": [2.44, length_m]})),
        "strainers": checked(
            "strainers", pd.DataFrame({**place, "strainer_id": ["S1", "S2"], "reason": "end", "pull_kn": 6.6})
        ),
    }


@pytest.mark.parametrize(
    ("face_mm", "length_m", "said"),
    [(127.0, 2.44, False), (125.0, 2.4, False), (100.0, 2.44, True), (127.0, 2.1, True)],
)
def test_strainers_less_than_the_braces_print_are_told_of(face_mm: float, length_m: float, said: bool) -> None:
    found = [note.text for note in notes(bought(), **strained(face_mm, length_m))]
    assert (
        any("1 of 2 strainers are slighter or shorter" in text and "127 mm x 2.44 m" in text for text in found) == said
    )


def test_a_brace_and_rail_fixings_say_what_they_rest_on() -> None:
    brace = about(notes(bought(material="brace post", exact=8.0), fence=Fence(brace="double H-brace")), "has one")
    assert "one double H-brace, 8 posts or stays beside the posts of the plan" in brace.text
    fixed = about(notes(bought(material="rail fixing"), fence=Fence(rail_fixings=3)), "rail_fixings")
    assert fixed.text.startswith("take-off: 3 screws or nails hold each rail at each post")
    assert "no handbook was seen that prints a number" in fixed.text

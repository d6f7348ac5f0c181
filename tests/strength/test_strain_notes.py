"""What is told of straining: the longest strain from its bays, and the sums of the wire for it."""

from __future__ import annotations

import pandas as pd
import pytest

from fencegis.records.spec import Fence
from fencegis.strength.strain_notes import longest_strain_m, notes_on_straining
from fencegis.strength.wire import stretch_m

POSTS = pd.DataFrame({"post_id": list("abcdef"), "kind": ["strainer", "line", "strainer", "line", "key", "strainer"]})
BAYS = pd.DataFrame(
    {
        "line_id": "A",
        "from_post": list("abcde"),
        "ground_length_m": [5.0, 4.0, 5.0, 5.0, 3.0],
        "length_m": [5.0, 4.0, 5.0, 5.0, 3.0],
    }
)


def test_the_longest_strain_is_from_strainer_to_strainer() -> None:
    assert longest_strain_m(BAYS, POSTS) == pytest.approx(13.0)


def test_a_line_of_wire_is_told_its_travel_and_a_line_of_rail_nothing() -> None:
    (note,) = notes_on_straining(BAYS, POSTS, kind_of_line={"A": "wire", "B": "post and rail"}, fence=Fence())
    assert note.line_id == "A"
    travel = float(stretch_m(13.0, diameter_mm=2.5, tension_kn=1.1))
    assert f"longest strain 13 m: a plain 2.5 mm wire stretches {travel:.2f} m" in note.text
    assert notes_on_straining(BAYS, POSTS, kind_of_line={"A": "post and rail"}, fence=Fence()) == []

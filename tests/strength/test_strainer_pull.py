"""What is written into the layer `strainers`."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from fencegis.records.spec import Fence
from fencegis.records.tables import checked, empty
from fencegis.strength.footing import brace_depth_m
from fencegis.strength.in_ground import end_depth_m
from fencegis.strength.strainer_pull import design_pull_kn, notes_on_pull, strainer_pull, wires_height_m
from fencegis.strength.wire import resultant_kn

FENCE = Fence(wires=6, tension_kn=1.1)
KINDS = {"A": "wire", "R": "post and rail"}


@pytest.fixture
def strainers() -> pd.DataFrame:
    rows = [
        ("A", 0.0, "end", None, np.nan),
        ("A", 100.0, "corner", None, 90.0),
        ("A", 200.0, "length", None, np.nan),
        ("A", 300.0, "corner", "gate", -10.0),
        ("A", 303.8, "gate", None, np.nan),
        ("R", 0.0, "end", None, np.nan),
    ]
    frame = pd.DataFrame(rows, columns=["line_id", "chainage_m", "reason", "also", "turn_deg"])
    return checked("strainers", frame.assign(strainer_id=[f"S{place}" for place in range(len(rows))]))


def filled(
    strainers: pd.DataFrame, *, soil: str | list[str] = "loam", fence: Fence = FENCE, braced: bool = True
) -> pd.DataFrame:
    return strainer_pull(strainers, kind_of_line=KINDS, fence=fence, soil=soil, braced=braced)


def test_one_side_alone_decides_until_a_corner_turns_more_than_sixty_degrees() -> None:
    pulls = design_pull_kn([np.nan, 0.0, 30.0, -60.0, 60.1, -120.0], wires=6, tension_kn=1.1)
    assert pulls[:4] == pytest.approx([6.6] * 4)
    assert pulls[4:] == pytest.approx(resultant_kn([60.1, 120.0], wires=6, tension_kn=1.1))
    assert pulls[5] > pulls[4] > 6.6


def test_every_strainer_in_wire_has_a_pull_and_in_rail_a_depth_alone(strainers: pd.DataFrame) -> None:
    after = filled(strainers)
    wire = after["line_id"].eq("A")
    assert after.loc[wire, "pull_kn"].tolist() == pytest.approx([6.6, 6.6 * np.sqrt(2.0), 6.6, 6.6, 6.6])
    assert after.loc[~wire, "pull_kn"].isna().all()
    assert after["embed_m"].tolist()[5] == end_depth_m("loam", height_m=Fence().height_m)
    assert after["embed_m"].notna().all()
    others = [column for column in after if column not in ("pull_kn", "embed_m")]
    pd.testing.assert_frame_equal(after[others], strainers[others])


def test_a_braced_strainer_stands_as_deep_as_the_rule_says_and_a_gate_post_as_deep_as_asked(
    strainers: pd.DataFrame,
) -> None:
    depths = filled(strainers)["embed_m"].tolist()
    assert depths[:3] == [brace_depth_m("loam")] * 3
    assert depths[3:5] == [FENCE.gate_embed_m] * 2
    assert filled(strainers, soil="sand")["embed_m"].tolist()[:3] == [brace_depth_m("sand")] * 3


@pytest.mark.parametrize("braced", [True, False])
def test_each_strainer_stands_in_its_own_soil(strainers: pd.DataFrame, braced: bool) -> None:
    soils = ["loam", "sand", "gravel", "loam", "sand", "clay"]
    mixed = filled(strainers, soil=soils, braced=braced)["embed_m"]
    alike = {soil: filled(strainers, soil=soil, braced=braced)["embed_m"] for soil in set(soils)}
    assert mixed.tolist() == pytest.approx([alike[soil][place] for place, soil in enumerate(soils)])


def test_without_a_brace_bog_has_no_depth_to_give(strainers: pd.DataFrame) -> None:
    after = filled(strainers, soil="bog", braced=False)["embed_m"]
    assert after[:5].isna().all()
    (note,) = notes_on_pull(filled(strainers, soil="bog"), fence=FENCE, soil="bog")
    assert "would ask for" not in note.text


@pytest.mark.parametrize("braced", [True, False])
def test_sand_is_deeper_than_loam(strainers: pd.DataFrame, braced: bool) -> None:
    sand, loam = (filled(strainers, soil=soil, braced=braced)["embed_m"][:5] for soil in ("sand", "loam"))
    assert (sand >= loam).all()


def test_without_a_brace_depth_follows_the_pull_and_the_post(strainers: pd.DataFrame) -> None:
    after = filled(strainers, braced=False)["embed_m"]
    assert after[1] > after[0] > brace_depth_m("loam")
    assert after[4] < after[0]  # a gate post is thicker
    thick = FENCE.model_copy(update={"post_mm": 240.0})
    assert filled(strainers, fence=thick, braced=False)["embed_m"][0] < after[0]
    dug = FENCE.model_copy(update={"post_set": "dug"})
    assert filled(strainers, fence=dug, braced=False)["embed_m"][0] > after[0]


def test_more_wires_pull_more(strainers: pd.DataFrame) -> None:
    eight = FENCE.model_copy(update={"wires": 8})
    assert filled(strainers, fence=eight)["pull_kn"][0] == pytest.approx(8.8)


def test_wires_pull_together_in_the_middle_of_their_heights() -> None:
    assert wires_height_m([0.4, 0.6, 0.8, 1.1]) == pytest.approx(0.725)
    assert 0.4 < wires_height_m() < 1.1


def test_the_note_says_what_the_depths_rest_on_and_what_they_are_not(strainers: pd.DataFrame) -> None:
    (note,) = notes_on_pull(filled(strainers), fence=FENCE, soil="loam")
    assert "published brace rule's for loam (0.91 m), each with a stay or a brace; without one" in note.text
    assert "greatest pull, 9.3 kN" in note.text
    assert "soil where no zone covers it, are assumed" in note.text
    assert "not an engineer's certificate; the code table behind it is for buildings" in note.text


def test_no_note_without_a_strainer_in_wire(strainers: pd.DataFrame) -> None:
    rail = filled(strainers[strainers["line_id"] == "R"])
    assert notes_on_pull(rail, fence=FENCE, soil="loam") == []
    assert notes_on_pull(filled(empty("strainers")), fence=FENCE, soil="loam") == []


def test_an_unknown_soil_is_refused(strainers: pd.DataFrame) -> None:
    with pytest.raises(ValueError, match="soil 'moss' is none of"):
        filled(strainers, soil="moss")

"""Posts that a bend pulls sideways, set beside what the ground holds."""

import numpy as np
import pandas as pd
import pytest

from fencegis.records.spec import Fence
from fencegis.records.tables import checked
from fencegis.strength.footing import depth_m, soil_named
from fencegis.strength.side_pull import held_sideways, notes_on_side_pull
from fencegis.strength.strainer_pull import wires_height_m


def posts(**columns):
    count = len(columns["side_pull_kn"])
    usual = {
        "line_id": ["A"] * count,
        "chainage_m": np.arange(count, dtype=float),
        "post_id": [f"A-{place:03d}" for place in range(1, count + 1)],
        "kind": ["line"] * count,
        "ground_chainage_m": np.arange(count, dtype=float),
        "tape_m": np.arange(count, dtype=float),
        "embed_m": [0.81] * count,
        "soil": ["gravel"] * count,
        "set_by": ["driven"] * count,
    }
    return checked("posts", pd.DataFrame(usual | columns))


def told(table, **settings):
    held = held_sideways(table, fence=Fence(**settings), assumed="sand")
    return held["tie_down"].astype(object).where(held["tie_down"].notna(), None).tolist()


def test_a_post_is_flagged_from_the_pull_whose_depth_is_its_own():
    asked = 0.81
    pulls = np.linspace(0.01, 1.0, 100)
    depths = depth_m(pulls, height_m=wires_height_m(), width_m=0.175, lateral_kpa_m=soil_named("gravel").lateral_kpa_m)
    assert (np.array(told(posts(side_pull_kn=pulls), post_mm=175)) != None).tolist() == (depths > asked).tolist()  # noqa: E711
    assert 0 < (depths > asked).sum() < 100


def test_straight_ends_and_strainers_ask_for_nothing():
    table = posts(side_pull_kn=[0.0, np.nan, 8.0], kind=["line", "line", "strainer"])
    assert told(table) == [None, None, None]


def test_soil_and_method_decide():
    table = posts(
        side_pull_kn=[0.2] * 3,
        embed_m=[1.0] * 3,
        soil=["gravel", "gravel", "bog"],
        set_by=["driven", "dug", "driven"],
    )
    assert told(table, post_mm=175) == [None, "stay or foot", "stay or foot"]  # nothing can be worked out in bog


def test_where_no_zone_says_the_soil_the_assumed_one_decides():
    table = posts(side_pull_kn=[0.13, 0.13], soil=["gravel", "not checked"])
    assert told(table, post_mm=175) == [None, "stay or foot"]


def test_a_depth_that_nobody_planned_holds_nothing():
    assert told(posts(side_pull_kn=[0.01], embed_m=[np.nan])) == ["stay or foot"]


def test_lift_and_pull_together_are_both_said():
    table = posts(side_pull_kn=[3.0, 0.0], tie_down=["tie down or foot", "tie down or foot"])
    assert told(table) == ["tie down and stay or foot", "tie down or foot"]


def test_one_note_a_line_counts_them_and_names_the_worst():
    held = held_sideways(posts(side_pull_kn=[0.5, 0.9, 0.0]), fence=Fence(), assumed="sand")
    (note,) = notes_on_side_pull(held)
    assert note.text.startswith(
        "2 posts take a bend that the ground alone does not hold: a stay or a foot, most of all"
    )
    assert "at A-002 (0.90 kN sideways)" in note.text
    assert (note.severity, note.line_id) == ("doubt", "A")
    assert notes_on_side_pull(posts(side_pull_kn=[0.0])) == []


def test_a_soil_that_nobody_knows_is_refused():
    with pytest.raises(ValueError, match="soil 'moon dust' is none of"):
        held_sideways(posts(side_pull_kn=[1.0], soil=["moon dust"]), fence=Fence(), assumed="sand")

"""Holes for the sticks chosen: by the butt, in the soil that each stands in."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from fencegis.records.tables import LAYERS
from fencegis.strength.holes import over_post_mm, water_l
from fencegis.strength.stick_holes import holes_for_sticks, notes_on_stick_holes


def posts_of(**columns: list) -> pd.DataFrame:
    count = len(columns["butt_mm"])
    frame = pd.DataFrame({column.name: [None] * count for column in LAYERS["posts"].columns})
    places = {"line_id": "A", "chainage_m": np.arange(count), "post_id": "A", "kind": "line", "embed_m": 0.9}
    usual = {**places, "ground_chainage_m": 0.0, "tape_m": 0.0, "settled": False, "hole_mm": 176.0, "water_l": 12.0}
    return frame.assign(**usual).assign(**columns)


def test_the_hole_takes_the_butt_with_what_its_soil_asks_over_it() -> None:
    posts = posts_of(butt_mm=[240.0, 240.0, np.nan], soil=["sand", "not checked", "sand"], set_by=["bored"] * 3)
    done = holes_for_sticks(posts, assumed="sand")
    wide = 240.0 + over_post_mm("sand", how="bored")
    assert done["hole_mm"].tolist() == [wide, wide, 176.0]
    by_hand = water_l(["sand"], hole_mm=[wide], post_mm=[240.0], embed_m=[0.9])[0]
    assert done["water_l"].tolist() == pytest.approx([by_hand, by_hand, 12.0])
    (said,) = notes_on_stick_holes(done)
    assert said.text.startswith(f"holes of 2 posts are for the sticks chosen, {wide:.0f} to {wide:.0f} mm")


def test_a_driven_post_has_no_hole_and_no_yard_changes_nothing() -> None:
    driven = holes_for_sticks(posts_of(butt_mm=[240.0], soil=["clay"], set_by=["driven"]), assumed="sand")
    assert driven["hole_mm"].isna().all()
    assert notes_on_stick_holes(driven) == []
    same = posts_of(butt_mm=[np.nan], soil=["clay"], set_by=["bored"])
    assert holes_for_sticks(same, assumed="sand") is same

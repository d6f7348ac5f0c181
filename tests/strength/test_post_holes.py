"""What is written into `posts` and `soils` of soil, depth, hole and water, and what is said of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pytest

from fencegis.line.zones import SoilSpan
from fencegis.records.spec import Fence
from fencegis.records.tables import checked
from fencegis.strength.footing import brace_depth_m
from fencegis.strength.in_ground import end_depth_m, line_depth_m
from fencegis.strength.post_holes import above_ground_m, notes_on_holes, set_in_ground, soil_table, taken_as
from fencegis.strength.strainer_pull import strainer_pull

if TYPE_CHECKING:
    from fencegis.records.spec import FenceKind

KINDS: dict[str, FenceKind] = {"A": "wire", "R": "post and rail"}
POSTS = [  # line, chainage, kind, soil
    ("A", 0.0, "strainer", "loam"),
    ("A", 5.0, "line", "loam"),
    ("A", 10.0, "key", "sand"),
    ("A", 15.0, "line", None),
    ("A", 20.0, "strainer", "rock"),
    ("A", 24.0, "strainer", "bog"),
    ("R", 0.0, "strainer", "sand"),
    ("R", 2.3, "line", "sand"),
    ("R", 4.6, "gate", "loam"),
]
REASONS = {("A", 0.0): "end", ("A", 20.0): "gate", ("A", 24.0): "gate", ("R", 0.0): "end", ("R", 4.6): "gate"}
SOILS = np.array([soil for *_, soil in POSTS], dtype=object)


def planned(**settings: str | float) -> tuple[pd.DataFrame, pd.DataFrame]:
    fence = Fence.model_validate({"post_mm": 175.0, **settings})
    frame = pd.DataFrame(POSTS, columns=["line_id", "chainage_m", "kind", "soil"]).drop(columns="soil")
    ids = [f"P{place}" for place in range(len(frame))]
    posts = checked("posts", frame.assign(post_id=ids, ground_chainage_m=frame["chainage_m"], tape_m=0.0))
    at = [place for place, (line, chainage, *_) in enumerate(POSTS) if (line, chainage) in REASONS]
    ends = frame.iloc[at][["line_id", "chainage_m"]].reset_index(drop=True)
    strainers = checked("strainers", ends.assign(strainer_id=[f"S{row}" for row in at], reason=list(REASONS.values())))
    strainers = strainer_pull(strainers, kind_of_line=KINDS, fence=fence, soil=taken_as(SOILS[at], "sand"))
    done = set_in_ground(posts, strainers, soils=SOILS, kind_of_line=KINDS, fence=fence, assumed="sand")
    return done, strainers


def spans(**lines: list[tuple[float, float, str | None]]) -> dict[str, list[SoilSpan]]:
    return {line: [SoilSpan(*span) for span in along] for line, along in lines.items()}


def test_every_post_says_its_soil_or_that_nobody_checked() -> None:
    assert planned()[0]["soil"].tolist() == [soil or "not checked" for soil in SOILS]


def test_depths_follow_kind_soil_and_height() -> None:
    posts, strainers = planned()
    depth = posts["embed_m"].tolist()
    wire, rail = above_ground_m("wire", fence=Fence()), Fence().height_m
    assert depth[:4] == [
        brace_depth_m("loam"),
        line_depth_m("loam", height_m=wire),
        end_depth_m("sand", height_m=wire),
        line_depth_m("sand", height_m=wire),  # nobody checked: the deeper assumption
    ]
    assert depth[6:8] == [end_depth_m("sand", height_m=rail), line_depth_m("sand", height_m=rail)]
    assert depth[8] == Fence().gate_embed_m
    assert sorted(posts.loc[posts["kind"].isin(["strainer", "gate"]), "embed_m"]) == sorted(strainers["embed_m"])


def test_driven_posts_have_no_hole_but_in_rock() -> None:
    posts, _ = planned()
    assert posts["set_by"].tolist() == ["driven"] * 4 + ["bored"] + ["driven"] * 4
    assert posts["hole_mm"].notna().tolist() == [how == "bored" for how in posts["set_by"]]
    assert posts["hole_mm"][4] == Fence().gate_post_mm  # a gate's post is thicker
    assert posts["water_l"].tolist() == [0.0] * 9


def test_bored_posts_take_a_wider_hole_and_water_in_sand_and_none_in_bog() -> None:
    posts, _ = planned(post_set="bored")
    assert posts["set_by"][5] == "driven"
    assert posts["hole_mm"].tolist() == pytest.approx(
        [175.0, 175.0, 235.0, 235.0, 240.0, np.nan, 235.0, 235.0, 240.0], nan_ok=True
    )
    assert (posts["water_l"][[2, 3, 6, 7]] > 10.0).all()
    assert posts["water_l"][[0, 1, 4, 5, 8]].tolist() == [10.0, 10.0, 0.0, 0.0, 10.0]


def test_the_layer_of_soils_covers_every_line_and_says_what_it_rests_on() -> None:
    zones = spans(A=[(0.0, 12.0, "loam"), (12.0, 24.0, None)], R=[(0.0, 4.6, "rock")])
    soils = soil_table(zones, kind_of_line=KINDS, fence=Fence(post_mm=150.0, post_set="dug"), assumed="sand")
    assert soils["soil"].tolist() == ["loam", "sand", "rock"]
    assert soils["basis"].tolist() == ["soils.geojson", "assumed, not checked", "soils.geojson"]
    assert soils["post_set"].tolist() == ["dug", "dug", "bored"]
    assert soils["hole_mm"].tolist() == [300.0, 300.0, 150.0]
    assert soils["embed_m"][1] == line_depth_m("sand", height_m=above_ground_m("wire", fence=Fence()))
    assert soils["water_l"][1] > soils["water_l"][0] > soils["water_l"][2] == 0.0


def said(zones: dict[str, list[SoilSpan]], **settings: str) -> list[str]:
    fence = Fence.model_validate({"post_mm": 175.0, **settings})
    posts, _ = planned(**settings)
    soils = soil_table(zones, kind_of_line=KINDS, fence=fence, assumed="sand")
    return [note.text for note in notes_on_holes(posts, soils, kind_of_line=KINDS, fence=fence)]


ZONES = spans(A=[(0.0, 12.0, "loam"), (12.0, 24.0, "rock")], R=[(0.0, 4.0, "sand"), (4.0, 4.6, None)])


def test_driven_posts_need_no_word_on_water() -> None:
    depths, rock = said(ZONES)
    assert "1.10 m (assumed for wire) or 1.20 m (height_m, for rail) above the ground" in depths
    assert "The first post in each soil (loam, rock, sand) is a trial" in depths
    assert rock == "rock from here to 24 m: breaker, moil point or rock drill first, then the post in its hole"


def test_bored_posts_in_sand_are_told_how_to_fill_and_how_much_water_to_cart() -> None:
    _, _, filling, water = said(ZONES, post_set="bored")
    assert filling.startswith("holes in sand are 235 mm wide for a 175 mm post (40 to 80 mm over the post), filled in")
    assert "layers of at most 200 mm" in filling
    assert "Silty sand is tamped damp, never flooded" in filling
    assert "take 0.4 of what the code's table bears" in filling
    litres = planned(post_set="bored")[0]["water_l"]
    assert water == (
        f"water to cart: {litres.sum():.0f} L for {(litres > 0).sum()} holes, re-set after the first 3;"
        " soil is assumed along a part"
    )


def test_bog_is_no_ground_to_work_anything_out_from() -> None:
    (bog,) = [text for text in said(spans(A=[(0.0, 24.0, "bog")])) if text.startswith("bog")]
    assert "presumes no bearing here" in bog

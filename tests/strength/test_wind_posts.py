"""The wind on each post: shares of bays, moments, depths, and what is said of them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from fencegis.records.spec import Fence, Wind
from fencegis.records.tables import checked, empty
from fencegis.strength.footing import depth_m, soil_named
from fencegis.strength.strainer_pull import wires_height_m
from fencegis.strength.values import value_of
from fencegis.strength.wind_posts import WindLoad, asked_m, notes_on_wind, post_diameter_m, wind_load, wind_on_posts

KINDS = {"A": "post and rail", "W": "wire"}
RAILS = Fence(kind="post and rail", rail_m=(4.8,), rails=3, rail_depth_mm=150.0, post_mm=175.0)
WIRES = Fence(wires=6, droppers_per_bay=0)
GUST = 40.0  # 1.00 kPa


def table(line: str, at: list[float], *, kinds: list[str] | None = None, **more: object) -> pd.DataFrame:
    posts = pd.DataFrame(
        {
            "line_id": line,
            "chainage_m": at,
            "post_id": [f"{line}{number}" for number in range(len(at))],
            "kind": kinds or ["line"] * len(at),
            "ground_chainage_m": at,
            "tape_m": at,
            **more,
        }
    )
    return checked("posts", posts)


def between(posts: pd.DataFrame, *, left_out: tuple[int, ...] = ()) -> pd.DataFrame:
    pairs = [place for place in range(len(posts) - 1) if place not in left_out]
    at, name = posts["chainage_m"].to_numpy(), posts["post_id"].to_numpy()
    rows = [
        {
            "line_id": posts["line_id"].iloc[0],
            "from_m": at[place],
            "to_m": at[place + 1],
            "bay_id": f"B{place}",
            "from_post": name[place],
            "to_post": name[place + 1],
            "length_m": at[place + 1] - at[place],
            "ground_length_m": at[place + 1] - at[place],
        }
        for place in pairs
    ]
    return checked("bays", pd.DataFrame(rows))


def loaded(posts: pd.DataFrame, bays: pd.DataFrame, fence: Fence, *, speed_m_s: float = GUST) -> WindLoad:
    load = wind_load(posts, bays, strainers=empty("strainers"), kind_of_line=KINDS, fence=fence, speed_m_s=speed_m_s)
    assert load is not None
    return load


def own_kn(diameter_m: float, top_m: float) -> float:
    return 1.0 * 1.2 * diameter_m * top_m


def test_a_post_carries_itself_and_half_of_the_bays_beside_it() -> None:
    posts = table("A", [0.0, 2.4, 4.4, 6.8])
    load = loaded(posts, between(posts), RAILS)
    top = Fence().height_m
    rails = 1.6 * 3 * 0.15 * np.array([1.2, 2.2, 2.2, 1.2])  # kN at 1 kPa
    assert load.force_kn == pytest.approx(rails + own_kn(0.175, top))
    assert load.moment_knm == pytest.approx(rails * (top + 0.45) / 2.0 + own_kn(0.175, top) * top / 2.0)
    assert load.height_m == pytest.approx(load.moment_knm / load.force_kn)


def test_a_caps_edge_carries_wind_on_top_of_the_posts() -> None:
    """50 mm of 1.2 m is sparse: twice the gust's pressure on it, 25 mm over the posts, shared out as the rails are."""
    posts = table("A", [0.0, 2.4, 4.4, 6.8])
    bare, capped = (
        loaded(posts, between(posts), RAILS.model_copy(update={"cap_m": cap_m})) for cap_m in (None, (4.8,))
    )
    edge = 2.0 * 0.05 * np.array([1.2, 2.2, 2.2, 1.2])
    assert capped.force_kn - bare.force_kn == pytest.approx(edge)
    assert capped.moment_knm - bare.moment_knm == pytest.approx(edge * (1.2 + 0.025))


def test_a_gate_takes_no_share_and_its_posts_are_thicker() -> None:
    posts = table("A", [0.0, 2.0, 6.0, 8.0], kinds=["line", "gate", "gate", "line"])
    load = loaded(posts, between(posts, left_out=(1,)), RAILS)
    assert load.force_kn[1] == pytest.approx(1.6 * 3 * 0.15 * 1.0 + own_kn(0.240, 1.2))
    assert load.force_kn[0] == pytest.approx(1.6 * 3 * 0.15 * 1.0 + own_kn(0.175, 1.2))


def test_wires_pull_at_the_mean_of_their_heights_and_droppers_add() -> None:
    posts = table("W", [0.0, 5.0, 10.0])
    bays = between(posts)
    bare, hung = loaded(posts, bays, WIRES), loaded(posts, bays, WIRES.model_copy(update={"droppers_per_bay": 2}))
    top = value_of("footing", "top wire")
    assert bare.force_kn[1] == pytest.approx(1.2 * 6 * 0.0025 * 5.0 + own_kn(0.175, top))
    assert bare.moment_knm[1] - own_kn(0.175, top) * top / 2.0 == pytest.approx(
        1.2 * 6 * 0.0025 * 5.0 * wires_height_m()
    )
    assert (hung.force_kn - bare.force_kn)[1] == pytest.approx(2.0 * 2 * 0.04 * 0.7)  # two bays' halves, 0.4 to 1.1 m


def test_planned_heights_count_where_they_are_known() -> None:
    posts = table("A", [0.0, 2.4, 4.8], top_m=[1.2, np.nan, 1.5])
    load = loaded(posts, between(posts), RAILS)
    assert load.moment_knm[2] > load.moment_knm[0]
    assert load.force_kn[0] == pytest.approx(loaded(table("A", [0.0, 2.4, 4.8]), between(posts), RAILS).force_kn[0])


def test_mesh_adds_to_the_rest_over_its_own_height() -> None:
    posts = table("W", [0.0, 5.0, 10.0])
    bays = between(posts)
    mesh = WIRES.model_copy(update={"mesh_solidity": 0.2, "mesh_m": 0.9})
    more = loaded(posts, bays, mesh).force_kn - loaded(posts, bays, WIRES).force_kn
    assert more == pytest.approx(1.3 * 0.2 * 0.9 * np.array([2.5, 5.0, 2.5]))
    high = loaded(posts, bays, WIRES.model_copy(update={"mesh_solidity": 0.2, "mesh_m": 1.8}))
    whole = loaded(posts, bays, WIRES.model_copy(update={"mesh_solidity": 0.2}))
    assert (high.force_kn > whole.force_kn).all()  # posts as high as the mesh, too


def test_a_solid_screen_presses_most_at_free_ends_and_beside_gates() -> None:
    cloth = WIRES.model_copy(update={"mesh_solidity": 1.0, "mesh_m": 1.0})
    posts = table("W", [2.0 * number for number in range(13)])
    forces = loaded(posts, between(posts, left_out=(6,)), cloth).force_kn
    without = loaded(posts, between(posts, left_out=(6,)), WIRES).force_kn
    screen = forces - without
    assert screen[[0, 6, 7, 12]] == pytest.approx([3.4] * 4)  # one half bay of a metre at the end
    assert screen[[1, 5, 8, 11]] == pytest.approx([2.1 * 2.0] * 4)
    assert screen[3] == pytest.approx(1.2 * 2.0)
    assert screen[9] == pytest.approx(1.7 * 2.0)  # four heights from the gate


def test_across_a_loops_start_the_nearest_end_counts() -> None:
    cloth = WIRES.model_copy(update={"mesh_solidity": 1.0, "mesh_m": 1.0})
    posts = table("W", [0.0, 2.0, 4.0, 6.0, 8.0, 20.0])
    last = pd.DataFrame(
        {"line_id": ["W"], "from_m": [20.0], "to_m": [22.0], "bay_id": ["L"], "from_post": ["W5"], "to_post": ["W0"]}
    ).assign(length_m=2.0, ground_length_m=2.0)
    round_ = checked("bays", pd.concat([between(posts, left_out=(4,)), last], ignore_index=True))
    screen = loaded(posts, round_, cloth).force_kn - loaded(posts, round_, WIRES).force_kn
    assert screen[5] == pytest.approx(3.4)  # the gate from 8 to 20 leaves an end there
    assert screen[0] == pytest.approx(2.1 * 2.0)  # 2 m from it, round the start


def test_both_lines_of_a_junction_press_on_its_one_post() -> None:
    along = table("A", [0.0, 2.4, 4.8])
    stem = table("W", [5.0, 10.0])
    to_node = checked(
        "bays",
        pd.DataFrame(
            {"line_id": ["W"], "from_m": [0.0], "to_m": [5.0], "bay_id": ["N"], "from_post": ["A1"], "to_post": ["W0"]}
        ).assign(length_m=5.0, ground_length_m=5.0),
    )
    posts = checked("posts", pd.concat([along, stem], ignore_index=True))
    bays = checked("bays", pd.concat([between(along), to_node, between(stem)], ignore_index=True))
    fence = RAILS.model_copy(update={"droppers_per_bay": 0})
    load = loaded(posts, bays, fence)
    alone = loaded(along, between(along), fence)
    assert load.force_kn[1] - alone.force_kn[1] == pytest.approx(1.2 * 6 * 0.0025 * 2.5)


def test_without_a_speed_nothing_is_filled_and_one_note_says_not_checked() -> None:
    posts = table("A", [0.0, 2.4])
    load = wind_load(
        posts, between(posts), strainers=empty("strainers"), kind_of_line=KINDS, fence=RAILS, speed_m_s=None
    )
    assert load is None
    assert wind_on_posts(posts, load)["wind_kn"].isna().all()
    (note,) = notes_on_wind(posts, load, strainers=empty("strainers"), fence=RAILS, wind=Wind(), assumed="sand")
    assert note.text.startswith("wind: not checked")
    assert "[wind] speed_m_s" in note.text


def test_with_a_speed_the_layer_holds_the_force() -> None:
    posts = table("A", [0.0, 2.4])
    load = loaded(posts, between(posts), RAILS)
    assert wind_on_posts(posts, load)["wind_kn"].tolist() == pytest.approx(load.force_kn.tolist())


def asked(load: WindLoad, soil: str, *, how: str = "driven", **more: bool) -> np.ndarray:
    each = {
        "soils": np.full(len(load.force_kn), soil, dtype=object),
        "set_by": np.full(len(load.force_kn), how, object),
    }
    return asked_m(load, diameter_m=np.full(len(load.force_kn), 0.175), **each, **more)


def test_the_depth_is_the_codes_and_in_sand_that_of_loam_if_it_is_more() -> None:
    load = WindLoad(np.array([1.0, 0.0]), np.array([0.8, 0.0]))
    loam = asked(load, "loam")
    assert loam[0] == pytest.approx(
        float(depth_m(1.0, height_m=0.8, width_m=0.175, lateral_kpa_m=soil_named("loam").lateral_kpa_m))
    )
    assert loam[1] == 0.0
    assert asked(load, "sand") == pytest.approx(loam)
    assert asked(load, "gravel")[0] < loam[0]
    assert asked(load, "loam", may_move=True)[0] < loam[0]
    assert asked(load, "loam", how="dug")[0] > loam[0]


def test_each_post_is_asked_by_its_own_soil_and_bog_answers_nothing() -> None:
    load = WindLoad(np.ones(3), np.ones(3))
    soils = np.array(["gravel", "loam", "bog"], dtype=object)
    depths = asked_m(load, diameter_m=np.full(3, 0.175), soils=soils, set_by=np.array(["driven", "dug", "driven"]))
    assert depths[0] == asked(load, "gravel")[0]
    assert depths[1] == asked(load, "loam", how="dug")[1]
    assert np.isnan(depths[2])


def test_an_unknown_soil_is_refused() -> None:
    with pytest.raises(ValueError, match="soil 'moss' is none of"):
        asked(WindLoad(np.ones(1), np.ones(1)), "moss")


def test_gate_posts_in_wire_are_thicker_too() -> None:
    posts = table("W", [0.0, 5.0], kinds=["strainer", "strainer"])
    strainers = checked(
        "strainers",
        pd.DataFrame(
            {"line_id": "W", "chainage_m": [0.0, 5.0], "strainer_id": ["S", "T"], "reason": ["end", "corner"]}
        ).assign(also=[None, "gate"]),
    )
    assert post_diameter_m(posts, strainers, fence=WIRES).tolist() == [0.175, 0.240]


def test_notes_tell_the_greatest_moment_and_where_the_depth_is_not_enough() -> None:
    posts = table("A", [0.0, 2.4, 4.8, 7.2], embed_m=[0.9, 0.9, 9.0, np.nan])
    load = loaded(posts, between(posts), RAILS)
    worst, on_line = notes_on_wind(
        posts, load, strainers=empty("strainers"), fence=RAILS, wind=Wind(speed_m_s=GUST), assumed="loam"
    )
    deep = asked(load, "loam")
    assert f"greatest wind moment {load.moment_knm[1]:.2f} kNm at post A1" in worst.text
    assert f"it needs {deep[1]:.2f} m of a 175 mm post in loam; planned 0.90 m" in worst.text
    assert "not an engineer's certificate" in worst.text
    assert "regional wind speed and the code's factors are for the engineer" in worst.text
    assert (worst.line_id, worst.chainage_m) == ("A", 2.4)
    assert on_line.line_id == "A"
    assert f"2 of 4 posts stand shallower than it asks, most of all A1 (0.90 m planned, {deep[1]:.2f} m" in on_line.text
    assert "1 of 4 posts not checked: no depth is planned, or none can be worked out" in on_line.text


def test_deep_enough_needs_no_note_of_its_own_and_movement_is_told() -> None:
    posts = table("A", [0.0, 2.4, 4.8], embed_m=5.0)
    load = loaded(posts, between(posts), RAILS)
    (note,) = notes_on_wind(
        posts,
        load,
        strainers=empty("strainers"),
        fence=RAILS,
        wind=Wind(speed_m_s=GUST, posts_may_move=True),
        assumed="loam",
    )
    assert "in loam, half an inch of movement taken as no harm; planned 5.00 m" in note.text


def test_no_posts_no_notes() -> None:
    none = empty("posts")
    assert notes_on_wind(none, None, strainers=empty("strainers"), fence=RAILS, wind=Wind(), assumed="sand") == []

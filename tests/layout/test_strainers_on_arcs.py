"""Strainers and posts where the line is an arc: an arena's two half circles, a road's curve."""

import numpy as np
import pytest

from fencegis.layout.post_tables import bay_table, named, post_table, strainer_table
from fencegis.layout.posts import shared_out
from fencegis.layout.strainers import fixed_posts
from fencegis.records.spec import Fence
from fencegis.strength.wire import greatest_turning_deg


def half_circle(centre, radius_m, from_deg, steps=80):
    angle = np.radians(np.linspace(from_deg, from_deg + 180.0, steps + 1))
    return np.array(centre) + radius_m * np.column_stack([np.sin(angle), np.cos(angle)])


def arena(course, *, radius_m=25.0, straight_m=60.0, kind="wire"):
    """Two straights going north and south, a half circle at each end."""
    side = np.linspace(0.0, straight_m, 13)[1:-1]
    up = np.column_stack([np.full(len(side), -radius_m), side])
    down = np.column_stack([np.full(len(side), radius_m), side[::-1]])
    top = half_circle((0.0, straight_m), radius_m, -90.0)
    path = np.vstack([up, top, down, half_circle((0.0, 0.0), radius_m, 90.0)])
    return course(*path.tolist(), closed=True, kind=kind)


def road(course, *, radius_m=100.0, kind="wire"):
    """100 m north, a quarter circle to the right, 100 m east."""
    angle = np.radians(np.linspace(0.0, 90.0, 81))
    curve = np.column_stack([radius_m * (1.0 - np.cos(angle)), 100.0 + radius_m * np.sin(angle)])
    before = np.column_stack([np.zeros(25), np.linspace(0.0, 96.0, 25)])
    after = np.column_stack([radius_m + np.linspace(4.0, 100.0, 25), np.full(25, 100.0 + radius_m)])
    return course(*np.vstack([before, curve, after]).tolist(), kind=kind)


def laid_out(course, **settings):
    fence = Fence(kind=course.kind, **settings)
    fixed = fixed_posts(
        course,
        gates=[],
        fence=fence,
        bay_m=fence.post_spacing_m,
        lift=np.zeros_like,
        turning_deg=greatest_turning_deg(),
    )
    (one,) = named([(course, fixed, shared_out(course, fixed=fixed, gates=[], fence=fence))])
    posts = post_table([one], lift=lambda before, _: 0.0 * before, bend=lambda turn: 6.6 * np.radians(np.abs(turn)))
    return one, strainer_table([one]), posts, bay_table([one])


def test_the_arc_is_found_and_a_post_stands_at_either_end(course):
    line = road(course)
    assert len(line.corner_m) == 0
    one, strainers, posts, _ = laid_out(line)
    assert line.tangent_m == pytest.approx([100.0, 100.0 + 50.0 * np.pi], abs=1.0)
    for place in line.tangent_m:
        assert (posts["chainage_m"] - place).abs().min() < 1e-6
    assert posts.loc[(posts["chainage_m"] - line.tangent_m[0]).abs() < 1e-6, "tape_m"].tolist() == [0.0]
    assert any("turning" in (row.reason, row.also) for row in strainers.itertuples())
    assert all(strain.turned_deg <= greatest_turning_deg() + 1e-6 for strain in one.fixed.strains)
    assert sum(strain.turned_deg for strain in one.fixed.strains) <= 90.0 + 0.5


def test_a_road_curve_of_90_degrees_takes_as_few_strains_as_friction_asks(course):
    """90° ÷ 41.2°: three strains, so two strainers between the ends, though length alone asks for one."""
    one, strainers, _, _ = laid_out(road(course), strain_m=300.0)
    assert len(strainers) == 4
    (chain,) = one.fixed.chains
    assert chain.by_length == 2


def test_posts_on_the_arc_are_pulled_inwards_all_alike(course):
    line = road(course)
    _, _, posts, bays = laid_out(line)
    begin, end = line.tangent_m
    inside = posts[posts["chainage_m"].between(begin + 6.0, end - 6.0)]
    before, after = (inside["post_id"].map(bays.set_index(f"{end}_post")["length_m"]) for end in ("to", "from"))
    metres = ((before + after) / 2.0).to_numpy()
    assert inside["side_pull_kn"].to_numpy() == pytest.approx(6.6 * metres / 100.0, rel=0.01)  # T ÷ R a metre
    straight = posts[posts["chainage_m"].between(1.0, begin - 6.0)]
    assert straight["side_pull_kn"].max() < 0.01


def test_an_arena_in_wire_strains_from_its_start_and_turns_no_strain_too_much(course):
    line = arena(course)
    assert len(line.corner_m) == 0
    one, strainers, posts, bays = laid_out(line)
    assert strainers["chainage_m"].iloc[0] == 0.0
    assert strainers["reason"].iloc[0] == "end"
    assert all(strain.turned_deg <= greatest_turning_deg() + 1e-6 for strain in one.fixed.strains)
    assert len(strainers) >= np.ceil(360.0 / greatest_turning_deg())
    assert len(posts) == len(bays)


def test_an_arena_in_rail_has_its_first_post_and_one_at_each_end_of_each_arc(course):
    line = arena(course, kind="post and rail")
    one, strainers, posts, bays = laid_out(line, rail_m=(4.8,))
    assert strainers.empty
    assert posts["chainage_m"].iloc[0] == 0.0
    for place in line.tangent_m:
        assert (posts["chainage_m"] - place).abs().min() < 1e-6
    assert len(posts) == len(bays)
    heavier = np.append(posts.loc[posts["kind"] == "key", "chainage_m"].to_numpy(), line.line.length_m)
    assert np.diff(heavier).max() <= 43.0 + 1e-3
    assert one.row.string_end.any()


@pytest.mark.parametrize("radius_m", [20.0, 50.0])
def test_bays_on_an_arc_tell_their_bend_and_versine(course, radius_m):
    """Against plain geometry: a bay of length b on a radius R bends by b ÷ R, its middle R (1 − cos(b ÷ 2R)) off."""
    _, _, _, bays = laid_out(arena(course, radius_m=radius_m, kind="post and rail"), rail_m=(4.8,))
    on_arc = bays[bays["bend_deg"].notna()]
    bend = on_arc["length_m"] / radius_m
    assert on_arc["bend_deg"].to_numpy() == pytest.approx(np.degrees(bend).to_numpy(), rel=0.01)
    assert on_arc["versine_mm"].to_numpy() == pytest.approx(
        (1000.0 * radius_m * (1.0 - np.cos(bend / 2.0))).to_numpy(), rel=0.02
    )
    assert on_arc["length_m"].sum() == pytest.approx(2.0 * np.pi * radius_m, rel=0.01)
    assert bays.loc[bays["bend_deg"].isna(), "versine_mm"].isna().all()

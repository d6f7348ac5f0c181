"""The top line: answers known by hand, a slow plain twin, and what must hold of any line."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from scipy.optimize import linprog, minimize

from fencegis.layout.bay_ground import bay_ground
from fencegis.layout.rail_limits import Limits, limits_of
from fencegis.layout.top_line import bends_over_pull, posts_to_cut, top_line
from fencegis.records.spec import Fence

KINDS = "flowing", "straight"
BAY_M = 2.4


def keep(posts, *, low=0.10, high=0.45, wanted=None, tallest=np.inf, through=False, pull=0.010):
    """Return limits under a drop of 1 m."""
    middle = (low + high) / 2.0 if wanted is None else wanted
    free = np.full(posts, np.nan)
    return Limits(1.0, low, high, middle, np.full(posts, tallest), np.full(posts, through), free, pull)


def over(*ground, posts=None, **more):
    """Return bays over ground given at each bay's ends, or with `posts` over (chainage, height) pairs."""
    if posts is None:
        posts = BAY_M * np.arange(len(ground))
        ground = list(zip(posts, ground, strict=True))
    station, height = np.array(ground, dtype=float).T
    return bay_ground(np.array(posts, dtype=float), station_m=station, ground_m=height, **more)


def rolling(seed, *, bays=60, rough_m=0.02, closed=False):
    """Return bays over invented ground: waves of 100, 40 and 10 m where they fit, whole ones, and roughness."""
    chance = np.random.default_rng(seed)
    whole = BAY_M * bays
    station = np.linspace(0.0, whole, round(whole / 0.25) + 1)
    ground = chance.normal(0.0, rough_m, len(station))
    for wave_m, swing_m in ((100.0, 2.0), (40.0, 0.5), (10.0, 0.05)):
        lag = chance.uniform(0.0, 6.0)
        if wave_m <= whole:
            ground += swing_m * np.sin(2.0 * np.pi * round(whole / wave_m) * station / whole + lag)
    ground[-1] = ground[0] if closed else ground[-1]
    posts = BAY_M * np.arange(bays if closed else bays + 1)
    return bay_ground(posts, station_m=station, ground_m=ground, round_m=whole if closed else None)


# known by hand


@pytest.mark.parametrize("kind", [*KINDS, "ground"])
@pytest.mark.parametrize("through", [False, True])
def test_on_a_plane_the_line_is_straight_with_the_gap_wanted_everywhere(kind, through):
    bays = over(*np.linspace(100.0, 104.0, 21))
    line = top_line(bays, limits=keep(21, wanted=0.2, through=through), kind=kind)
    np.testing.assert_allclose(line.level_m - bays.post_ground_m, 1.2, atol=1e-5)
    np.testing.assert_allclose(line.change_pct[1:-1], 0.0, atol=1e-4)
    assert np.isnan(line.change_pct[[0, -1]]).all()
    assert (line.breach_m, line.bends) == (0.0, 0)


@pytest.mark.parametrize(("kind", "cost"), [("flowing", 12.5**2), ("straight", 12.5)])
def test_one_hump_bends_the_line_by_what_the_limits_leave(kind, cost):
    """A hump of 0.30 m at a post, limits 0.15 apart: the post stands 0.15 m over its neighbours, 6.25 % each way."""
    line = top_line(over(0.0, 0.3, 0.0), limits=keep(3, low=0.10, high=0.25), kind=kind)
    np.testing.assert_allclose(line.level_m, [1.25, 1.4, 1.25], atol=1e-5)
    assert line.change_pct[1] == pytest.approx(-12.5, abs=1e-3)
    assert line.cost == pytest.approx(cost, rel=1e-4)
    assert line.bound == pytest.approx(cost, rel=1e-4)


@pytest.mark.parametrize("kind", KINDS)
def test_the_gap_is_kept_over_the_whole_bay(kind):
    """A stone of 0.2 m between posts lifts the whole line to clear it, and no more."""
    bays = over((0, 0), (3.5, 0), (3.6, 0.2), (3.7, 0), (7.2, 0), posts=[0, 2.4, 4.8, 7.2])
    line = top_line(bays, limits=keep(4, wanted=0.15), kind=kind)
    assert np.abs(line.change_pct[1:-1]).max() < 1e-4
    assert np.interp(3.6, bays.post_m, line.level_m) == pytest.approx(1.3, abs=1e-5)


def test_posts_no_longer_than_the_stock():
    """Level ground, but the middle post is short: the whole line comes down, as far as it must."""
    limits = replace(keep(3, wanted=0.4), tallest_m=np.array([np.inf, 1.2, np.inf]))
    line = top_line(over(0.0, 0.0, 0.0), limits=limits, kind="flowing")
    assert line.change_pct[1] == pytest.approx(0.0, abs=1e-3)
    assert line.level_m[1] == pytest.approx(1.2, abs=1e-5)
    assert line.breach_m == 0.0


@pytest.mark.parametrize("kind", KINDS)
def test_a_rail_that_runs_through_misses_its_middle_post_by_the_pull_at_most(kind):
    """Bays of 1 and 3 m; the hump would have the middle post 0.15 m over the straight from end to end."""
    bays = over((0, 0), (1, 0.3), (4, 0), posts=[0, 1, 4])
    line = top_line(bays, limits=keep(3, low=0.10, high=0.25, through=True, pull=0.02), kind=kind)
    off = line.level_m[1] - np.interp(1.0, [0.0, 4.0], line.level_m[[0, 2]])
    assert off == pytest.approx(0.02, abs=1e-5)
    # the other 0.13 m is cheapest had from the near end, which moves the middle by three quarters of itself
    assert line.high_m[0] == pytest.approx(0.13 / 0.75, abs=1e-5)
    assert line.breach_m == pytest.approx(0.13 / 0.75, abs=1e-5)
    assert line.least_breach_m == pytest.approx(0.13 / 0.75, abs=1e-5)


@pytest.mark.parametrize("kind", KINDS)
def test_what_cannot_be_kept_is_broken_by_as_little_as_can_be_and_where(kind):
    """A kerb of 0.5 m within one bay of level ground, limits 0.35 apart: 0.15 m short, in that bay and no other."""
    bays = over((0, 0), (6, 0), (6.001, 0.5), (6.4, 0.5), (6.401, 0), (12, 0), posts=BAY_M * np.arange(6))
    line = top_line(bays, limits=keep(6), kind=kind)
    assert line.least_breach_m == pytest.approx(0.15, abs=1e-4)
    assert line.breach_m == pytest.approx(0.15, abs=1e-4)
    np.testing.assert_array_equal(np.flatnonzero(line.low_m + line.high_m > 1e-4), [2])


def test_posts_that_are_all_too_short_cost_less_as_gaps():
    """Level, two bays: 0.05 m too tall at each of three posts, or 0.05 m of gap wanting in each of two bays."""
    line = top_line(over(0.0, 0.0, 0.0), limits=keep(3, tallest=1.05), kind="flowing")
    np.testing.assert_allclose(line.low_m, 0.05, atol=1e-5)
    np.testing.assert_array_equal(line.tall_m, 0.0)


def test_following_the_ground_says_where_it_breaks_the_limits():
    bays = over((0, 0), (1.2, 0.3), (2.4, 0), (4.8, 0), (6, -0.25), (7.2, 0), posts=[0, 2.4, 4.8, 7.2])
    line = top_line(bays, limits=keep(4, wanted=0.275, tallest=1.2), kind="ground")
    np.testing.assert_allclose(line.low_m, [0.125, 0.0, 0.0], atol=1e-9)
    np.testing.assert_allclose(line.high_m, [0.0, 0.0, 0.075], atol=1e-9)
    np.testing.assert_allclose(line.tall_m, 0.075, atol=1e-9)
    assert np.isnan([line.cost, line.bound, line.least_breach_m]).all()


def at(held, posts):
    return np.array([held.get(post, np.nan) for post in range(posts)])


@pytest.mark.parametrize("kind", KINDS)
def test_held_at_one_post_the_line_tilts_about_it_towards_the_height_wanted(kind):
    """Held 0.1 m over the height wanted at the first of five: least squares through that point."""
    limits = replace(keep(5), held_m=at({0: 1.375}, 5))
    line = top_line(over(0.0, 0.0, 0.0, 0.0, 0.0), limits=limits, kind=kind)
    along = np.arange(5)
    np.testing.assert_allclose(line.level_m, 1.375 - 0.1 * along.sum() / (along**2).sum() * along, atol=1e-5)
    assert (line.breach_m, line.held_breach_m, line.bends) == (0.0, 0.0, 0)


@pytest.mark.parametrize("kind", [*KINDS, "ground"])
def test_held_at_two_posts_the_line_runs_straight_between_them(kind):
    limits = replace(keep(5), held_m=at({0: 1.2, 4: 1.4}, 5))
    line = top_line(over(0.0, 0.0, 0.0, 0.0, 0.0), limits=limits, kind=kind)
    np.testing.assert_allclose(line.level_m, 1.275 if kind == "ground" else 1.2 + 0.05 * np.arange(5), atol=1e-5)


@pytest.mark.parametrize("kind", KINDS)
def test_a_loop_held_at_a_post_is_not_lifted(kind):
    bays = over((0, 0), (4 * BAY_M, 0), posts=BAY_M * np.arange(4), round_m=4 * BAY_M)
    line = top_line(bays, limits=replace(keep(4), held_m=at({2: 1.35}, 4)), kind=kind)
    np.testing.assert_allclose(line.level_m, 1.35, atol=1e-5)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("through", [False, True])
def test_a_height_that_is_held_beyond_a_limit_costs_what_it_must_and_is_kept(kind, through):
    """Held 0.1 m over the most at an end: the bay there has 0.1 m too much; rails may run on straight from it."""
    limits = replace(keep(4, through=through), held_m=at({0: 1.55}, 4))
    line = top_line(over(0.0, 0.0, 0.0, 0.0), limits=limits, kind=kind)
    assert line.level_m[0] == pytest.approx(1.55, abs=1e-6)
    np.testing.assert_allclose(line.high_m, [0.1, 0.0, 0.0], atol=1e-5)
    assert (line.least_breach_m, line.held_breach_m) == (pytest.approx(0.1, abs=1e-5), pytest.approx(0.1, abs=1e-5))


def test_two_posts_that_are_both_held_leave_nothing_to_choose():
    limits = replace(keep(2), held_m=at({0: 1.3, 1: 1.2}, 2))
    line = top_line(over((0, 0), (1.2, 0.2), (2.4, 0), posts=[0, 2.4]), limits=limits, kind="flowing")
    np.testing.assert_allclose(line.level_m, [1.3, 1.2], atol=1e-6)
    assert line.breach_m == pytest.approx(0.05, abs=1e-6)  # 0.05 m over the stone half way


def test_two_posts_and_one_rail():
    line = top_line(over((0, 0), (1.2, 0.2), (2.4, 0), posts=[0, 2.4]), limits=keep(2), kind="flowing")
    np.testing.assert_allclose(line.level_m, 1.3, atol=1e-5)
    assert line.cost == 0.0


# against slow plain twins


def cheapest_on_a_grid(bays, limits, *, power, step, slack=0.0, pull_slack=0.0):
    """Try every height on a grid at every post: least sum of changes to that power, and least total breach without it.

    Looks at every station, not only those that bind. Limits are widened by `slack`.
    """
    levels = np.arange(0.9, 2.1, step)
    height = levels[None, :] + bays.post_ground_m[:, None]
    allowed = []
    for bay in range(len(bays.bay_m)):
        inside = bays.bay == bay
        share = bays.share[inside]
        line = height[bay][:, None, None] * (1 - share) + height[bay + 1][None, :, None] * share
        gap = line - 1.0 - bays.ground_m[inside]
        allowed.append((gap.min(axis=2) >= limits.gap_min_m - slack) & (gap.max(axis=2) <= limits.gap_max_m + slack))
    grade = [100.0 * (height[bay + 1][None, :] - height[bay][:, None]) / bays.bay_m[bay] for bay in range(len(allowed))]
    cost = np.where(allowed[0], 0.0, np.inf)
    for bay in range(1, len(allowed)):
        change = np.abs(grade[bay][None, :, :] - grade[bay - 1][:, :, None])
        dear = change**power
        if limits.through[bay]:
            before, after = bays.bay_m[bay - 1 : bay + 1]
            # how far off the chord the middle post is
            off = change / 100.0 * before * after / (before + after)
            dear = np.where(off <= limits.pull_m + pull_slack, dear, np.inf)
        cost = np.where(allowed[bay], (cost[:, :, None] + dear).min(axis=0), np.inf)
    return cost.min()


@pytest.mark.parametrize("through", [False, True])
@pytest.mark.parametrize("seed", range(6))
def test_straight_grades_against_every_height_on_a_grid(seed, through):
    """The grid is no cheaper, and with limits wider by half a step no dearer but for the step's own bends."""
    chance = np.random.default_rng(seed)
    posts = np.concatenate([[0.0], np.cumsum(chance.uniform(1.5, 2.4, 4))])
    station = np.arange(0.0, posts[-1], 0.25)
    ground = np.cumsum(chance.normal(0.0, 0.04 if through else 0.07, len(station)))
    bays = over(*zip(station, ground, strict=True), posts=posts[:-1])
    limits = replace(keep(4, low=0.05, high=0.40), through=np.array([False, through, False, False]))
    line = top_line(bays, limits=limits, kind="straight")
    assert line.breach_m == 0.0
    step = 0.01
    assert line.cost <= cheapest_on_a_grid(bays, limits, power=1, step=step) + 1e-3
    wide = cheapest_on_a_grid(bays, limits, power=1, step=step, slack=step / 2, pull_slack=step)
    rounding = (100.0 * step / 2.0 * 2.0 * (1.0 / bays.bay_m[:-1] + 1.0 / bays.bay_m[1:])).sum()
    assert line.cost >= wide - rounding
    assert line.bound == pytest.approx(line.cost, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("meets", [(), (0,), (0, 5)])
@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("seed", range(6))
def test_flowing_against_a_general_optimiser(seed, closed, meets):
    """Sequential least squares on the plain statement of the thing, every station a limit, held at posts."""
    bays = rolling(seed, bays=8, rough_m=0.06, closed=closed)
    posts = len(bays.post_m)
    limits = replace(keep(posts, low=0.05, high=0.42), through=np.arange(posts) % 3 == 1, pull_m=0.03)
    free = top_line(bays, limits=limits, kind="flowing")
    level = {post: free.level_m[post] + (0.01 if post else -0.01) for post in meets}
    limits = replace(limits, held_m=at(level, posts))
    line = top_line(bays, limits=limits, kind="flowing")
    assert line.breach_m == 0.0
    before, middle, after = ((np.arange(posts) + shift) % posts for shift in (-1, 0, 1))
    inner = slice(None) if closed else slice(1, -1)
    pulled = np.flatnonzero(limits.through[inner])

    def changes(level):
        grade = 100.0 * (level[after] - level[middle]) / BAY_M
        return (grade - grade[before])[inner]

    def gaps(level):
        ends = np.append(level, level[0])
        return (1 - bays.share) * ends[bays.bay] + bays.share * ends[bays.bay + 1] - 1.0 - bays.ground_m

    def off(level):
        return (level - (level[before] + level[after]) / 2.0)[inner][pulled]

    held = [
        lambda level: gaps(level) - limits.gap_min_m,
        lambda level: limits.gap_max_m - gaps(level),
        lambda level: limits.pull_m - off(level),
        lambda level: limits.pull_m + off(level),
    ]
    twin = minimize(
        lambda level: (changes(level) ** 2).sum(), bays.post_ground_m + 1.25, method="SLSQP",
        constraints=[{"type": "ineq", "fun": limit} for limit in held]
        + [{"type": "eq", "fun": lambda height, post=post: height[post] - level[post]} for post in meets],
        options={"maxiter": 300, "ftol": 1e-8},
    )  # fmt: skip
    assert twin.success
    assert all(line.level_m[post] == pytest.approx(level[post], abs=1e-6) for post in meets)
    assert min(limit(line.level_m).min() for limit in held) > -1e-5
    assert line.cost == pytest.approx(twin.fun, rel=2e-3, abs=1e-2)
    assert line.bound <= twin.fun * (1 + 1e-6) + 1e-6


@pytest.mark.parametrize("seed", range(6))
def test_held_straight_grades_and_their_least_breach_against_a_plain_statement(seed):
    """One dense linear programme for the breach, one for the grades at that breach, every station a limit."""
    bays = rolling(seed, bays=7, rough_m=0.05)
    posts, stations, count = 8, len(bays.share), 7
    limits = replace(keep(posts, low=0.15, high=0.24), held_m=at({0: bays.post_ground_m[0] + 1.30}, posts))
    line = top_line(bays, limits=limits, kind="straight")
    straight = np.zeros((stations, posts))
    straight[np.arange(stations), bays.bay] = 1.0 - bays.share
    straight[np.arange(stations), bays.bay + 1] += bays.share
    own = np.eye(count)[bays.bay]
    none, bend = np.zeros((stations, count)), bays.bend.toarray()
    ups = np.zeros((stations, 6))
    # unknown: heights, want and excess of each bay, size of each bend
    below = np.vstack([np.hstack([-straight, -own, none, ups]), np.hstack([straight, none, -own, ups])])
    most = np.concatenate([-(1.15 + bays.ground_m), 1.24 + bays.ground_m])
    sizes = np.hstack([np.vstack([bend, -bend]), np.zeros((12, 2 * count)), -np.vstack([np.eye(6)] * 2)])
    bounds = [(None, None)] * posts + [(0.0, None)] * (2 * count + 6)
    hold = np.eye(1, posts + 2 * count + 6)
    every = {"A_eq": hold, "b_eq": [limits.held_m[0]], "bounds": bounds}
    total = np.concatenate([np.zeros(posts), np.ones(2 * count), np.zeros(6)])
    least = linprog(total, A_ub=below, b_ub=most, **every)
    assert line.least_breach_m == pytest.approx(least.fun, abs=1e-5)
    free = linprog(total, A_ub=below, b_ub=most, bounds=bounds)
    assert line.held_breach_m == pytest.approx(least.fun - free.fun, abs=1e-5)
    assert line.held_breach_m > 0.005
    below, most = np.vstack([below, total, sizes]), np.concatenate([most, [least.fun + 1e-6], np.zeros(12)])
    turned = linprog(np.concatenate([np.zeros(posts + 2 * count), np.ones(6)]), A_ub=below, b_ub=most, **every)
    assert line.cost == pytest.approx(turned.fun, rel=1e-3, abs=1e-2)
    assert line.bound <= line.cost + 1e-6
    assert line.bound == pytest.approx(line.cost, rel=1e-3, abs=1e-3)


def test_least_breach_against_every_height_on_a_grid():
    """Three posts, a rail running through without pull: every straight line over the hump, on a fine grid."""
    bays = over((0, 0), (1, 0.1), (2, 0.35), (2.4, 0.3), (4, -0.1), (4.8, 0), posts=[0, 2.4, 4.8])
    limits = keep(3, low=0.10, high=0.25, through=True, pull=0.0)
    line = top_line(bays, limits=limits, kind="straight")
    ends = np.arange(1.0, 1.8, 0.002)
    first, last = np.meshgrid(ends, ends, indexing="ij")
    total = np.zeros(first.shape)
    for bay in (0, 1):
        gaps = []
        for station, ground in zip(bays.station_m[bays.bay == bay], bays.ground_m[bays.bay == bay], strict=True):
            gaps.append(first + (last - first) * station / 4.8 - 1.0 - ground)
        total += np.maximum(0.10 - np.min(gaps, axis=0), 0) + np.maximum(np.max(gaps, axis=0) - 0.25, 0)
    assert line.least_breach_m > 0.1
    assert line.least_breach_m <= total.min() + 1e-6
    assert line.least_breach_m >= total.min() - 4 * 0.001  # each of four breaches, rounded to the grid
    assert line.breach_m == pytest.approx(line.least_breach_m, abs=1e-5)


@pytest.mark.parametrize("kind", KINDS)
def test_no_line_of_the_same_breach_costs_less_where_limits_give(kind):
    """Lines near by, at random, scaled back to the least breach: none is under the bound."""
    bays = rolling(2, bays=12, rough_m=0.08)
    limits = keep(13, low=0.20, high=0.24)
    line = top_line(bays, limits=limits, kind=kind)
    assert line.breach_m == pytest.approx(line.least_breach_m, abs=1e-4)
    assert line.breach_m > 0.05
    chance = np.random.default_rng(3)
    for _ in range(300):
        other = line.level_m + chance.normal(0.0, chance.choice([0.001, 0.01, 0.1]), 13)
        gap = bays.from_posts(other) - 1.0 - bays.ground_m
        start = np.flatnonzero(bays.share == 0.0)
        low = np.maximum(0.20 - np.minimum.reduceat(gap, start), 0.0).sum()
        breach = low + np.maximum(np.maximum.reduceat(gap, start) - 0.24, 0.0).sum()
        assert breach >= line.least_breach_m - 1e-9
        change = bays.bend @ other
        cost = (change**2).sum() if kind == "flowing" else np.abs(change).sum()
        assert cost >= line.bound or breach > line.least_breach_m + 1e-6


def test_posts_cut_against_every_choice():
    """As little breach as with every rail cut; and over all these lines, few more cuts than the fewest that do."""
    inner = range(1, 7)

    def breach(bays, limits, places):
        through = ~np.isin(np.arange(8), places)
        return top_line(bays, limits=replace(limits, through=through), kind="straight").least_breach_m

    ours = fewest = 0
    for seed in range(4):
        bays = rolling(seed, bays=7, rough_m=0.06)
        limits = keep(8, low=0.05, high=0.25, through=True)
        chosen = np.flatnonzero(posts_to_cut(bays, limits=limits))
        enough = breach(bays, limits, inner) + 1e-4
        assert breach(bays, limits, chosen) <= enough
        ours += len(chosen)
        fewest += next(
            count
            for count in range(len(chosen) + 1)
            if any(breach(bays, limits, places) <= enough for places in combinations(inner, count))
        )
    assert 8 < fewest <= ours <= 1.15 * fewest


# what must hold of any line


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("through", [False, True])
@pytest.mark.parametrize("kind", KINDS)
def test_limits_hold_everywhere_and_the_bound_is_met(kind, through, seed):
    bays = rolling(seed)
    limits = keep(61, low=-0.1, high=0.6, tallest=1.5, through=through)
    line = top_line(bays, limits=limits, kind=kind)
    gap = bays.from_posts(line.level_m) - 1.0 - bays.ground_m
    assert (gap >= -0.1 - line.low_m[bays.bay] - 1e-5).all()
    assert (gap <= 0.6 + line.high_m[bays.bay] + 1e-5).all()
    assert (line.level_m - bays.post_ground_m <= 1.5 + line.tall_m + 1e-5).all()
    assert line.breach_m == pytest.approx(line.least_breach_m, abs=1e-3)
    assert line.cost * (1 - 1e-3) <= line.bound <= line.cost + 1e-6
    assert line.cost == pytest.approx(line.squares_pct2 if kind == "flowing" else line.turned_pct)
    assert bends_over_pull(bays, line, pull_m=0.010).any() == (not through)


@pytest.mark.parametrize("seed", range(4))
def test_straight_grades_bend_at_fewer_posts_and_turn_less_but_their_squares_are_more(seed):
    bays = rolling(seed)
    flowing, straight = (top_line(bays, limits=keep(61), kind=kind) for kind in KINDS)
    assert straight.bends < 0.6 * flowing.bends
    assert straight.turned_pct < flowing.turned_pct
    assert straight.squares_pct2 > flowing.squares_pct2


@pytest.mark.parametrize("kind", KINDS)
def test_both_are_at_least_as_good_as_following_the_ground(kind):
    bays = rolling(7)
    limits = keep(61)
    ground = top_line(bays, limits=limits, kind="ground")
    own = replace(limits, gap_min_m=limits.gap_min_m - ground.low_m.max(), gap_max_m=0.45 + ground.high_m.max())
    line = top_line(bays, limits=own, kind=kind)
    assert line.breach_m == 0.0
    assert (line.squares_pct2 if kind == "flowing" else line.turned_pct) < {
        "flowing": ground.squares_pct2, "straight": ground.turned_pct}[kind]  # fmt: skip


def reversed_bays(bays):
    whole = bays.bay_m.sum()
    return bay_ground(whole - bays.post_m[::-1], station_m=whole - bays.station_m[::-1], ground_m=bays.ground_m[::-1])


@pytest.mark.parametrize("through", [False, True])
def test_walking_the_other_way_mirrors_the_line(through):
    bays = rolling(1)
    limits = keep(61, low=-0.2, high=0.7, through=through)
    there, back = (top_line(each, limits=limits, kind="flowing") for each in (bays, reversed_bays(bays)))
    np.testing.assert_allclose(back.level_m[::-1], there.level_m, atol=2e-4)
    assert back.cost == pytest.approx(there.cost, rel=1e-5)
    there, back = (top_line(each, limits=limits, kind="straight") for each in (bays, reversed_bays(bays)))
    assert back.cost == pytest.approx(there.cost, rel=1e-6)  # which of equal ones is found may differ


@pytest.mark.parametrize("kind", KINDS)
def test_ground_lifted_and_tilted_lifts_and_tilts_the_line(kind):
    bays = rolling(4)
    tilt = 350.0 + 0.12 * bays.post_m
    raised = bay_ground(bays.post_m, station_m=np.unique(bays.station_m),
                        ground_m=np.interp(np.unique(bays.station_m), bays.station_m, bays.ground_m)
                        + 350.0 + 0.12 * np.unique(bays.station_m))  # fmt: skip
    here, there = (top_line(each, limits=keep(61), kind=kind) for each in (bays, raised))
    assert there.cost == pytest.approx(here.cost, rel=1e-5)
    if kind == "flowing":
        np.testing.assert_allclose(there.level_m - tilt, here.level_m, atol=2e-4)


@pytest.mark.parametrize("kind", KINDS)
def test_a_loop_closes_and_may_start_anywhere(kind):
    bays = rolling(5, closed=True)
    here = top_line(bays, limits=keep(60), kind=kind)
    assert not np.isnan(here.change_pct).any()
    assert here.change_pct.sum() == pytest.approx(0.0, abs=1e-6)  # the grade comes back to itself
    station = np.concatenate([bays.station_m - 48.0, bays.station_m - 48.0 + 144.0])
    kept = (station >= 0.0) & (station <= 144.0)
    place, first = np.unique(station[kept].round(9), return_index=True)
    ground = np.concatenate([bays.ground_m, bays.ground_m])[kept][first]
    there = top_line(
        bay_ground(bays.post_m, station_m=place, ground_m=ground, round_m=144.0), limits=keep(60), kind=kind
    )
    assert there.cost == pytest.approx(here.cost, rel=1e-5)
    if kind == "flowing":
        np.testing.assert_allclose(np.roll(there.level_m, 20), here.level_m, atol=2e-4)


def test_a_level_loop_is_level():
    bays = over((0, 7.0), (20, 7.0), posts=[0, 5, 10, 15], round_m=20.0)
    line = top_line(bays, limits=keep(4), kind="flowing")
    np.testing.assert_allclose(line.level_m, 8.275, atol=1e-5)


def test_the_same_in_gives_the_same_out():
    bays = rolling(6)
    for kind in KINDS:
        first, second = (top_line(bays, limits=keep(61), kind=kind) for _ in range(2))
        np.testing.assert_array_equal(first.level_m, second.level_m)


def test_over_unknown_ground_the_line_flows_on():
    ground = np.append(np.linspace(0.0, 1.0, 11), np.linspace(1.0, 2.0, 11)[1:])
    ground[8:12] = np.nan
    bays = over(*ground)
    line = top_line(bays, limits=keep(21), kind="flowing")
    np.testing.assert_allclose(line.level_m, 1.275 + np.linspace(0.0, 2.0, 21), atol=1e-4)
    with pytest.raises(ValueError, match="the ground is known at no post"):
        top_line(over(np.nan, np.nan, np.nan), limits=keep(3), kind="flowing")


def test_a_gates_opening_sets_no_limit_but_the_eye_runs_on():
    """A hole of 1 m in the opening is no matter; beyond a gate that climbs, the grade changes at both gate posts."""
    bays = over((0, 0), (2.4, 0), (3.6, -1.0), (4.8, 0), (7.2, 0), posts=[0, 2.4, 4.8, 7.2],
                opens=np.array([False, True, False]))  # fmt: skip
    line = top_line(bays, limits=keep(4), kind="flowing")
    assert line.breach_m == 0.0
    np.testing.assert_allclose(line.level_m, 1.275, atol=1e-5)
    bays = over(0.0, 0.0, 1.0, 1.0, opens=np.array([False, True, False]))
    line = top_line(bays, limits=keep(4), kind="straight")
    assert line.change_pct[1] > 1.0
    assert line.change_pct[2] < -1.0


def test_on_a_plane_no_post_is_cut_and_on_a_ridge_its_own():
    assert not posts_to_cut(over(*np.linspace(0.0, 2.0, 11)), limits=keep(11, through=True)).any()
    ridge = over(*(1.5 - 0.15 * np.abs(np.arange(11) - 5)))
    limits = keep(11, low=0.20, high=0.25, through=True)
    np.testing.assert_array_equal(np.flatnonzero(posts_to_cut(ridge, limits=limits)), [5])
    free = replace(limits, through=np.zeros(11, dtype=bool))
    assert not posts_to_cut(ridge, limits=free).any()


def test_limits_from_a_fence():
    fence = Fence(kind="post and rail", rail_m=(4.8,), gap_min_m=0.1, gap_max_m=0.4, pull_mm=8.0)
    flags = np.array([False, True, False])
    limits = limits_of(fence, drop_m=1.1, tallest_m=np.full(3, 1.5), through=flags, held_m=np.full(3, np.nan))
    assert (limits.gap_min_m, limits.gap_max_m, limits.gap_wanted_m) == (0.1, 0.4, 0.25)
    assert (limits.drop_m, limits.pull_m) == (1.1, 0.008)


def test_two_thousand_bays_within_a_thousandth_of_the_best():
    bays = rolling(8, bays=2000)
    for kind in KINDS:
        line = top_line(bays, limits=keep(2001), kind=kind)
        assert line.cost * (1 - 1e-3) <= line.bound <= line.cost * (1 + 1e-6)

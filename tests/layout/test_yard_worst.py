"""The least worst step that any order can have: against every order of a few, and where it is known what it is."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from fencegis.layout.yard_bound import least_sum_mm
from fencegis.layout.yard_order import choose
from fencegis.layout.yard_places import NONE, Yard, step_list, steps_of
from fencegis.layout.yard_worst import FINE_MM, least_worst_mm


def row_of(sizes, *, least_mm=None, chain=None, closed=(False,)):
    """Places in a row where every stick as thick as asked for fits, whatever its length."""
    count = len(sizes) if least_mm is None else len(least_mm)
    least = np.zeros(count) if least_mm is None else np.asarray(least_mm, dtype=float)
    face = np.tile(np.asarray(sizes, dtype=float), (count, 1))
    return Yard(
        chain=np.zeros(count, dtype=int) if chain is None else np.asarray(chain),
        closed=np.array(closed),
        strong=least > 0.0,
        least_mm=least,
        face_mm=face,
        fits=face >= least[:, None],
        settled=np.full(count, NONE),
    )


def some_yard(seed):
    """Three to seven places on one to three lines, some loops; sticks that taper, too short for some, some settled."""
    rng = np.random.default_rng(seed)
    count, sticks, lines = int(rng.integers(3, 7)), int(rng.integers(3, 8)), int(rng.integers(1, 4))
    strong = rng.random(count) < 0.3
    least = np.where(strong, rng.choice([175.0, 195.0], count), 140.0)
    length, embed = rng.choice([2.1, 2.4, 2.7], sticks), rng.choice([0.8, 1.1], count)
    face = rng.normal(185.0, 20.0, sticks).round() - rng.integers(10, 40, sticks) * embed[:, None] / length
    settled = np.full(count, NONE)
    if rng.random() < 0.4:
        settled[rng.integers(count)] = rng.integers(sticks)
    fits = (face >= least[:, None]) & (length >= embed[:, None] + 1.2)
    return Yard(np.sort(rng.integers(0, lines, count)), rng.random(lines) < 0.5, strong, least, face, fits, settled)


def every_worst(yard, filled):
    """Return the worst step of each order that fills the same places."""
    free = [place for place in np.flatnonzero(filled) if yard.settled[place] == NONE]
    found = []
    for order in permutations(yard.free_sticks.tolist(), len(free)):
        if yard.fits[free, order].all():
            stick = yard.settled.copy()
            stick[free] = order
            found.append(max(step for _, _, step in step_list(yard, stick)))
    return found


def test_no_order_of_a_few_sticks_is_below_it_and_in_four_of_five_some_order_reaches_it():
    reached, looked_at = 0, 0
    for seed in range(100):
        yard = some_yard(seed)
        stick = choose(yard).stick
        if not step_list(yard, stick):
            continue
        best, bound = min(every_worst(yard, stick != NONE)), least_worst_mm(yard, stick)
        assert bound <= best + 1e-5
        looked_at, reached = looked_at + 1, reached + (bound > best - FINE_MM - 1e-6)
    assert looked_at > 80
    assert reached >= 0.8 * looked_at


@pytest.mark.parametrize("count", [15, 200])
def test_an_open_line_has_the_greatest_gap_in_size_and_reaches_it(count):
    sizes = np.random.default_rng(count).normal(190.0, 18.0, count)
    yard = row_of(sizes)
    choice = choose(yard)
    assert least_worst_mm(yard, choice.stick) == pytest.approx(np.diff(np.sort(sizes)).max())
    assert choice.worst_mm == pytest.approx(np.diff(np.sort(sizes)).max())


def test_a_loop_has_the_greatest_gap_over_one_stick_and_reaches_it():
    """Up one way and down the other: no two ways can use the one stick between."""
    sizes = np.random.default_rng(4).normal(190.0, 18.0, 40)
    ordered = np.sort(sizes)
    yard = row_of(sizes, closed=(True,))
    choice = choose(yard)
    assert least_worst_mm(yard, choice.stick) == pytest.approx((ordered[2:] - ordered[:-2]).max())
    assert choice.worst_mm == pytest.approx((ordered[2:] - ordered[:-2]).max())


def test_two_gates_on_a_line_ask_for_four_ways_up():
    """Both sides of both pairs go up: of four ways to climb one has none of three sticks, and steps over them all."""
    gates = [0.0] * 10 + [235.0] * 2 + [0.0] * 10 + [235.0] * 2 + [0.0] * 10
    sizes = [*range(181, 211), 240, 240, 241, 241]
    yard = row_of(sizes, least_mm=gates)
    assert least_worst_mm(yard, choose(yard).stick) == pytest.approx(33.0)  # from 207
    between = row_of([*range(184, 211), 220, 225, 230, 240, 240, 241, 241], least_mm=gates)
    choice = choose(between)
    assert least_worst_mm(between, choice.stick) == pytest.approx(30.0)
    assert choice.worst_mm >= 30.0


def test_lines_that_never_meet_ask_for_nothing_between_them():
    """Thin posts on one line, thick ones on the other: only where one line needs both is there a step."""
    sizes = [150.0, 151.0, 152.0, 220.0, 221.0, 222.0]
    apart = row_of(sizes, chain=[0, 0, 0, 1, 1, 1], closed=(False, False), least_mm=[0.0] * 6)
    assert least_worst_mm(apart, choose(apart).stick) == pytest.approx(1.0)
    longer = row_of(sizes, chain=[0, 0, 0, 0, 1, 1], closed=(False, False), least_mm=[0.0] * 6)
    assert least_worst_mm(longer, choose(longer).stick) == pytest.approx(68.0)


def test_of_long_lists_the_order_with_the_lesser_worst_step_is_taken_near_the_least_sum():
    """170 uneven posts, 10 heavy places: the worst step comes down by a quarter, for 3 % of the sum at most."""
    from fencegis.layout.yard_better import bettered
    from fencegis.layout.yard_order import LESSER, _first

    lower = 0
    for seed in range(4):
        rng = np.random.default_rng(seed)
        least = np.zeros(170)
        least[rng.choice(170, 10, replace=False)] = 200.0
        yard = row_of(rng.normal(190.0, 18.0, 190), least_mm=least)
        plain_sum, plain_worst = steps_of(yard, bettered(yard, _first(yard)))
        choice = choose(yard)
        assert choice.sum_mm <= (1.0 + LESSER) * plain_sum + 1e-6
        assert least_worst_mm(yard, choice.stick) <= choice.worst_mm
        assert least_sum_mm(yard, choice.stick) <= choice.sum_mm
        lower += choice.worst_mm < 0.75 * plain_worst
    assert lower >= 3


def test_nothing_to_compare_is_no_step():
    yard = row_of([180.0])
    assert least_worst_mm(yard, choose(yard).stick) == 0.0
    alike = row_of([180.0, 180.0, 180.0])
    assert least_worst_mm(alike, choose(alike).stick) == 0.0

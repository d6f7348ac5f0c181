"""The fewest stacks within the carry, and of those the least work: against every choice there is."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import numpy.typing as npt
import pytest

from fencegis.quantities.drop_points import fewest

Floats = npt.NDArray[np.float64]
CLIMB = 8.0


def work(at_m: Floats, ground_m: Floats, chosen: tuple[int, ...], loop_m: float | None) -> tuple[float, float]:
    """The work of carrying everything from the nearest of the stacks, and the longest carry."""
    off = np.abs(at_m[:, None] - at_m[list(chosen)][None, :])
    if loop_m is not None:
        off = np.minimum(off, loop_m - off)
    own = off.argmin(axis=1)
    carried = off[np.arange(len(at_m)), own]
    climbed = ground_m - ground_m[list(chosen)][own]
    return float((carried + CLIMB * climbed).sum()), float(carried.max())


def best_of_all(
    at_m: Floats, ground_m: Floats, carry_m: float, may: npt.NDArray[np.bool_], loop_m: float | None = None
) -> tuple[int, float] | None:
    """Number and least work of the fewest stacks, by trying every choice."""
    for count in range(1, len(at_m) + 1):
        tried = [work(at_m, ground_m, some, loop_m) for some in combinations(np.flatnonzero(may).tolist(), count)]
        held = [worked for worked, longest in tried if longest <= carry_m + 0.001]
        if held:
            return count, min(held)
    return None


def posts(seed: int, *, count: int = 11) -> tuple[Floats, Floats, float, npt.NDArray[np.bool_]]:
    rng = np.random.default_rng(seed)
    at_m = np.sort(rng.uniform(0.0, 100.0, count))
    return at_m, rng.normal(0.0, 2.0, count), float(rng.uniform(5.0, 30.0)), rng.random(count) > 0.3


@pytest.mark.parametrize("seed", range(120))
def test_no_choice_has_fewer_nor_as_few_with_less_work(seed: int) -> None:
    at_m, ground_m, carry_m, may = posts(seed)
    best = best_of_all(at_m, ground_m, carry_m, may)
    found = fewest(at_m, carry_m=carry_m, ground_m=ground_m, climb=CLIMB, may=may)
    if best is None:
        assert found is None
        return
    assert found is not None
    assert all(may[found])
    ours, longest = work(at_m, ground_m, tuple(found), None)
    assert longest <= carry_m + 0.001
    assert (len(found), ours) == (best[0], pytest.approx(best[1]))


@pytest.mark.parametrize("seed", range(80))
def test_on_a_loop_no_choice_has_fewer(seed: int) -> None:
    at_m, ground_m, carry_m, may = posts(seed)
    best = best_of_all(at_m, ground_m, carry_m, may, loop_m=103.0)
    found = fewest(at_m, carry_m=carry_m, ground_m=ground_m, climb=CLIMB, may=may, loop_m=103.0)
    if best is None:
        assert found is None
        return
    assert found is not None
    assert all(may[found])
    ours, longest = work(at_m, ground_m, tuple(found), 103.0)
    assert longest <= carry_m + 0.001
    assert len(found) == best[0]
    assert ours >= best[1] - 1e-6


def test_uphill_wins_where_as_few_do() -> None:
    """Eleven posts 10 m apart, one stack within 60 m: the middle on the level, further up on a slope."""
    at_m = np.arange(0.0, 101.0, 10.0)
    level = fewest(at_m, carry_m=60.0, climb=CLIMB)
    up = fewest(at_m, carry_m=60.0, ground_m=0.05 * at_m, climb=CLIMB)
    down = fewest(at_m, carry_m=60.0, ground_m=-0.05 * at_m, climb=CLIMB)
    assert (level, up, down) == ([5], [6], [4])


def test_heights_known_in_part_or_not_at_all_are_no_hindrance() -> None:
    at_m = np.arange(0.0, 101.0, 10.0)
    ground_m = np.where(at_m == 50.0, np.nan, 0.05 * at_m)
    assert fewest(at_m, carry_m=60.0, ground_m=ground_m, climb=CLIMB) == [6]
    assert fewest(at_m, carry_m=60.0, ground_m=np.full(11, np.nan), climb=CLIMB) == [5]


def test_nothing_to_carry_to_and_no_carry_at_all() -> None:
    assert fewest(np.array([]), carry_m=10.0) == []
    assert fewest(np.array([0.0, 5.0, 9.0]), carry_m=0.0) == [0, 1, 2]


def test_two_posts_side_by_side_share_a_stack() -> None:
    assert len(fewest(np.array([0.0, 0.0, 5.0, 5.0]), carry_m=0.0) or []) == 2


def test_a_post_a_millimetre_out_of_reach_is_in_reach() -> None:
    assert len(fewest(np.array([0.0, 10.0, 20.0005]), carry_m=10.0) or []) == 1

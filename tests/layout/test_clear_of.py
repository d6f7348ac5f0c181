"""Posts shared out round what must not be touched, against a twin that tries every row on a fine scale."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from fencegis.layout.clear_of import clear_marks_m


def bays(length_m, marks_m):
    return np.diff(np.concatenate([[0.0], marks_m, [length_m]]))


def test_nothing_forbidden_gives_equal_bays():
    found = clear_marks_m(10.0, greatest_m=2.4, least_m=1.2, forbidden=[])
    assert found.marks_m == pytest.approx([2.0, 4.0, 6.0, 8.0])
    assert found.in_the_way == ()


def test_a_post_in_the_way_moves_to_the_nearer_edge_and_its_bays_are_shared_out_again():
    found = clear_marks_m(10.0, greatest_m=2.4, least_m=1.2, forbidden=[(3.8, 4.1)])
    assert found.marks_m == pytest.approx([2.05, 4.1, 4.1 + 5.9 / 3, 4.1 + 2 * 5.9 / 3])
    assert found.in_the_way == ()


def test_an_edge_is_a_place_to_stand():
    assert clear_marks_m(10.0, greatest_m=2.4, least_m=1.2, forbidden=[(4.0, 4.5)]).marks_m[1] == pytest.approx(4.0)


def test_another_bay_is_bought_where_no_row_of_the_fewest_keeps_clear():
    found = clear_marks_m(4.8, greatest_m=2.4, least_m=1.0, forbidden=[(2.3, 2.5)])
    assert len(found.marks_m) == 2
    assert bays(4.8, found.marks_m).max() <= 2.4


def test_what_is_wider_than_a_bay_is_given_up_and_told():
    found = clear_marks_m(10.0, greatest_m=2.4, least_m=1.2, forbidden=[(3.0, 6.0), (7.9, 8.3)])
    assert found.in_the_way == ((3.0, 6.0),)
    assert not ((found.marks_m > 7.9) & (found.marks_m < 8.3)).any()


def test_a_stretch_shorter_than_the_least_bay_stays_one_bay():
    assert len(clear_marks_m(0.8, greatest_m=2.4, least_m=1.2, forbidden=[(0.2, 0.4)]).marks_m) == 0


@pytest.mark.parametrize("seed", range(40))
def test_no_row_on_a_scale_of_decimetres_is_better(seed):
    draw = np.random.default_rng(seed)
    length = float(draw.integers(40, 90)) / 10.0
    starts = draw.integers(0, int(length * 10) - 4, size=draw.integers(1, 4))
    spans = [(start / 10.0, (start + draw.integers(2, 12)) / 10.0) for start in starts]
    found = clear_marks_m(length, greatest_m=2.4, least_m=1.0, forbidden=spans)
    left = [span for span in spans if not any(low <= span[0] and span[1] <= high for low, high in found.in_the_way)]
    own = bays(length, found.marks_m)
    assert own.max() <= 2.4 + 1e-9
    assert own.min() >= 1.0 - 1e-9
    best = plain_twin(length, left)
    # the twin's posts stand on decimetres, so it can be no better, in bays first and then in evenness
    if best is not None:
        assert (len(own), float((own**2).sum())) <= (best[0], best[1] + 1e-9) or len(own) < best[0]
    for low, high in left:
        assert not ((found.marks_m > low + 1e-6) & (found.marks_m < high - 1e-6)).any()


def plain_twin(length, spans):
    """Return bays and sum of squares of the best row whose posts stand on whole decimetres, None when there is none."""
    tenths = round(length * 10)
    free = [at for at in range(1, tenths) if not any(low * 10 + 1e-6 < at < high * 10 - 1e-6 for low, high in spans)]
    for count in range(1, 6):
        rows = (np.diff([0, *row, tenths]) for row in combinations(free, count - 1))
        sums = [float((row**2).sum()) / 100.0 for row in rows if row.max() <= 24 and row.min() >= 10]
        if sums:
            return count, min(sums)
    return None

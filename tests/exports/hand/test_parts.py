"""Lists cut to a unit's limits: nothing lost, nothing twice, no part over the limit."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fencegis.exports.hand.parts import loads, pieces, split


@settings(max_examples=80, deadline=None, derandomize=True)
@given(sizes=st.lists(st.integers(0, 30), max_size=20), limit=st.one_of(st.none(), st.integers(1, 25)))
def test_split_keeps_all_in_order_and_runs_whole_where_they_fit(sizes: list[int], limit: int | None) -> None:
    groups = [[(run, at) for at in range(size)] for run, size in enumerate(sizes)]
    parts = split(groups, limit=limit)
    assert [thing for part in parts for thing in part] == [thing for group in groups for thing in group]
    assert limit is None or all(len(part) <= limit for part in parts)
    assert len(parts) == 1 or all(parts)
    for run, size in enumerate(sizes):
        in_parts = sum(any(thing[0] == run for thing in part) for part in parts)
        assert in_parts <= 1 or (limit is not None and size > limit)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(count=st.integers(0, 400), limit=st.one_of(st.none(), st.integers(2, 50)))
def test_pieces_join_end_to_end(count: int, limit: int | None) -> None:
    points = list(range(count))
    found = [points[part] for part in pieces(count, limit=limit)]
    assert limit is None or all(len(piece) <= limit for piece in found)
    joined = found[0] + [point for piece in found[1:] for point in piece[1:]]
    assert joined == points
    assert all(one[-1] == other[0] for one, other in pairwise(found))
    assert len(found) == 1 or all(len(piece) >= 2 for piece in found)


@pytest.mark.parametrize(
    ("sizes", "limit", "expected"),
    [([250, 250, 250], 500, [1, 1, 2]), ([10, 10], None, [1, 1]), ([600, 10], 500, [1, 2]), ([], 5, [])],
)
def test_loads(sizes: list[int], limit: int | None, expected: list[int]) -> None:
    assert loads(sizes, limit=limit) == expected

"""A cutting that others worked: a paper mill's order."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import pytest

from fencegis.quantities.cutting import cut
from fencegis.quantities.kinds import kinds_of
from fencegis.quantities.patterns import all_patterns
from fencegis.quantities.sticks import Stock, whole, yard_of

if TYPE_CHECKING:
    from collections.abc import Callable

PAPER_MM = {
    1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20,
    2000: 10, 2050: 12, 2100: 14, 2140: 16, 2150: 18, 2200: 20,
}  # fmt: skip
ROLL = [Stock(5.6)]


@pytest.mark.published(source="paper-rolls", where="least number of rolls, waste in per cent")
def test_a_paper_mills_order_takes_the_fewest_rolls(compare: Callable) -> None:
    pieces = [width / 1000.0 for width, number in PAPER_MM.items() for _ in range(number)]
    cutting = cut(pieces, stocks=ROLL, kerf_m=0.0, trim_m=0.0)
    compare(len(cutting.sticks), "73")
    compare(100.0 * (1.0 - sum(pieces) / cutting.cost), "0.401")
    assert cutting.proven


@pytest.mark.published(source="paper-rolls", where="possible patterns")
def test_no_pattern_of_the_paper_mill_is_missed(compare: Callable) -> None:
    """We list patterns with no room for another width; the print counts those with fewer widths too."""
    kinds = kinds_of([whole(width / 1000.0) for width, number in PAPER_MM.items() for _ in range(number)])
    listed = all_patterns(kinds, yard_of(ROLL, kerf_m=0.0, trim_m=0.0)) or []
    full = [[kind for kind, number in parts for _ in range(number)] for _, parts in listed]
    fewer = {part for one in full for count in range(1, len(one) + 1) for part in combinations(one, count)}
    compare(len(fewer), "308")

"""Board fences: how many boards a straight fence takes. The layout is common practice, the counts plain arithmetic."""

from __future__ import annotations

from fencegis.quantities.cutting import cut
from fencegis.quantities.sticks import Stock

FOOT_M = 0.3048


def boards(feet: list[float]) -> int:
    """How many boards of 16 ft; the counts of the test below leave out saw and trim."""
    return len(cut([foot * FOOT_M for foot in feet], stocks=[Stock(16 * FOOT_M)], kerf_m=0.0, trim_m=0.0).sticks)


def test_boards_of_a_straight_fence() -> None:
    """96 ft, three rows, bays of 8 ft and boards of 16 ft over two bays (a usual board fence): plain arithmetic.

    All joints in line: 6 boards a row, 18. One row staggered by a bay: 5 whole boards and 2 halves, 6 of stock still.
    """
    assert boards([16.0] * 18) == 18
    staggered = [8.0, *[16.0] * 5, 8.0]
    assert boards(staggered) == 6
    assert boards([*[16.0] * 12, *staggered]) == 18

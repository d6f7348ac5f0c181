"""How many assemblies a kilometre needs between its ends, by three agencies' greatest distances."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fencegis.line.counting import equal_parts

if TYPE_CHECKING:
    from collections.abc import Callable

FOOT_M = 0.3048


@pytest.mark.parametrize(
    ("greatest_m", "between"),
    [
        pytest.param(
            200.0, "4", id="660 ft, printed as 200 m",
            marks=pytest.mark.published(source="dot-607", where="cl. 607.04: 200 m between anchor assemblies"),
        ),
        pytest.param(
            330 * FOOT_M, "9", id="330 ft",
            marks=pytest.mark.published(source="nrcs-tn-382", where="woven wire: 330 ft (20 rods)"),
        ),
        pytest.param(
            1320 * FOOT_M, "2", id="1320 ft",
            marks=pytest.mark.published(source="nrcs-bw-382", where="1320 ft on straight, level runs"),
        ),
    ],
)  # fmt: skip
def test_assemblies_between_the_ends_of_a_kilometre(compare: Callable, greatest_m: float, between: str) -> None:
    """The agencies print the distance; the count is the least number of equal parts, less one."""
    compare(equal_parts(1000.0, greatest_m) - 1, between)

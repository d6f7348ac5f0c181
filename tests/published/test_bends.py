"""What a bend asks for, at the bounds that agencies print."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fencegis.line.run_table import bend_class

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.parametrize(
    ("turn_deg", "asked"),
    [
        (0.0, "line post"),
        (1.0, "line post"),
        (1.1, "strengthened line post"),
        (4.0, "strengthened line post"),
        (4.1, "line brace"),
        (29.9, "line brace"),
        (30.0, "corner"),
        (180.0, "corner"),
    ],
)
@pytest.mark.published(source="dot-607", where="cl. 607.05: over 1° to 4°, over 4° and less than 30°, 30° or more")
def test_item_607(compare: Callable, turn_deg: float, asked: str) -> None:
    compare(bend_class(turn_deg, "item-607"), asked)


@pytest.mark.parametrize(
    ("turn_deg", "post", "asked"),
    [
        (5.0, "steel", "alignment angle"),
        (5.1, "steel", "corner"),
        (5.1, "wood", "alignment angle"),
        (15.0, "wood", "alignment angle"),
        (15.1, "wood", "corner"),
    ],
)
@pytest.mark.published(source="caltrans-80-2", where="80-2.01B: a corner above 5° on steel posts, above 15° on wood")
def test_caltrans(compare: Callable, turn_deg: float, post: str, asked: str) -> None:
    compare(bend_class(turn_deg, "caltrans-80-2", post=post), asked)


@pytest.mark.parametrize(("turn_deg", "asked"), [(9.9, "line post"), (10.0, "corner")])
@pytest.mark.published(source="iowa-2519", where="2519.03 A.2: horizontal change of 10° or more")
def test_iowa(compare: Callable, turn_deg: float, asked: str) -> None:
    compare(bend_class(turn_deg, "iowa-2519"), asked)

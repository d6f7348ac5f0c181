"""Bends at the boundaries that the agencies print."""

import pytest

from fencegis.line.run_table import bend_class


@pytest.mark.published(source="dot-607", where="cl. 607.05")
@pytest.mark.parametrize(
    ("turn", "asks"),
    [
        (1.0, "line post"),
        (1.1, "strengthened line post"),
        (4.0, "strengthened line post"),
        (4.1, "line brace"),
        (29.9, "line brace"),
        (30.0, "corner"),
    ],
)
def test_item_607(turn, asks):
    assert bend_class(turn, "item-607") == asks

"""A hanging tape as others worked it: what a string loses by its sag, from the sag itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fencegis.line.hanging import curve_length
from fencegis.setout.string_line import Cord

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.published(source="tape-sag", where="problem 1: 0.32 N/m over 48.88 m at 100 N is 0.0498 m short")
def test_a_tape_held_at_its_ends_reads_too_much(compare: Callable) -> None:
    tape = Cord("tape", 0.0, 0.320, 100.0, 200.0)
    hang_m = tape.sag_mm(48.88) / 1000.0
    compare(curve_length(48.88, sag_m=hang_m) - 48.88, "0.0498")

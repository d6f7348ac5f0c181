"""The stretches that bays are shared out over, and how many bays another length takes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis.quantities.stretches import stretches
from fencegis.records.spec import Fence

if TYPE_CHECKING:
    from collections.abc import Callable

    from fencegis.quantities.what_if import WhatIf


@pytest.mark.parametrize(("kind", "begins"), [("wire", [0.0, 100.0]), ("post and rail", [0.0])])
def test_a_key_post_parts_wire_and_not_rail(straight: Callable[..., WhatIf], kind: str, begins: list[float]) -> None:
    what_if = straight(kind)
    posts = what_if.tables["posts"]
    posts.loc[posts["chainage_m"] == 100.0, "kind"] = "key"
    found = stretches(what_if.tables, kind_of_line=what_if.kind_of_line, fence=what_if.site.spec.fence)
    assert found.from_m.tolist() == begins
    assert found.bays.sum() == 80.0
    assert found.length_m.sum() == 400.0


def test_the_greatest_bay_is_the_set_spacing_in_wire_and_that_of_the_string_in_rail(
    straight: Callable[..., WhatIf],
) -> None:
    wire, rail = straight(), straight("post and rail", bays=20, bay_m=2.36, greatest_m=2.373)
    assert wire.stretches.greatest_m.tolist() == [5.01]
    assert rail.stretches.greatest_m == pytest.approx([2.383])


def test_moved_posts_take_as_many_more_as_go_into_the_length(straight: Callable[..., WhatIf]) -> None:
    """90 bays where 80 would do: they were moved, so 4.44 m each, and half of one more is one more."""
    what_if = straight()
    own = replace(what_if.stretches, bays=np.array([90.0]), greatest_m=np.array([np.nan]))
    assert own.more_bays(np.array([[0.0], [2.0], [2.5], [9.0], [-3.0]]))[:, 0].tolist() == [0.0, 0.0, 1.0, 2.0, -1.0]


def test_a_way_without_posts_stays_one_bay(straight: Callable[..., WhatIf]) -> None:
    what_if = straight(bays=1, bay_m=24.0)
    assert what_if.stretches.fixed.tolist() == [True]
    assert what_if.stretches.more_bays(np.array([[30.0]])).tolist() == [[0.0]]


def test_a_stretch_never_loses_its_last_bay(straight: Callable[..., WhatIf]) -> None:
    assert straight(bays=2).stretches.more_bays(np.array([[-10.0]])).tolist() == [[-1.0]]


def test_no_bays_no_stretches(straight: Callable[..., WhatIf]) -> None:
    tables = {**straight().tables, "bays": straight().tables["bays"].iloc[:0]}
    assert len(stretches(tables, kind_of_line={"A": "wire"}, fence=Fence()).bays) == 0
